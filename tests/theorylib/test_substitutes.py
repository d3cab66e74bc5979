"""Substitute arpeggios: check values of common practice (no source), and completeness against music21 (BSD-3).

The brute force builds every scale and every arpeggio as music21 pitches and counts on pitch-class sets alone; the
intervals of each kind of arpeggio are spelled in music21's own words below.
"""

from __future__ import annotations

from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib import Chord, Scale, substitutes
from theorylib.errors import ChordError
from theorylib.names.arpeggios import KINDS, arpeggio, as_arpeggio
from theorylib.names.spelling import NoteName
from theorylib.reading.substitutes import WEIGHTS, Substitute, candidate_count

INTERVALS = {
    "": "P1 M3 P5", "m": "P1 m3 P5", "dim": "P1 m3 d5", "aug": "P1 M3 A5", "sus2": "P1 M2 P5", "sus4": "P1 P4 P5",
    "maj7": "P1 M3 P5 M7", "m7": "P1 m3 P5 m7", "7": "P1 M3 P5 m7", "m7b5": "P1 m3 d5 m7", "dim7": "P1 m3 d5 d7",
    "mMaj7": "P1 m3 P5 M7", "maj7#5": "P1 M3 A5 M7", "maj7b5": "P1 M3 d5 M7", "7#5": "P1 M3 A5 m7",
    "7b5": "P1 M3 d5 m7", "7sus4": "P1 P4 P5 m7", "6": "P1 M3 P5 M6", "m6": "P1 m3 P5 M6", "add9": "P1 M3 P5 M9",
    "madd9": "P1 m3 P5 M9", "quartal triad": "P1 P4 m7", "quartal stack": "P1 P4 m7 m10",
    "major pentatonic": "P1 M2 M3 P5 M6", "minor pentatonic": "P1 m3 P4 P5 m7", "minor 6 pentatonic": "P1 m3 P4 P5 M6",
    "minor b5 pentatonic": "P1 m3 P4 d5 m7", "major b6 pentatonic": "P1 M2 M3 P5 m6",
    "dominant pentatonic": "P1 M2 M3 P5 m7",
}
CHORDS = [f"{root}{suffix}" for root, suffixes in {
    "E": ("7#9", "7alt", "7b9", "7", "m7", "mMaj7"), "C": ("maj7", "6", "m7", "7", "7#11", "maj7#11", "dim7", ""),
    "G": ("7", "9", "13", "7sus4", "m7b5", "7#5"), "F#": ("m7b5", "7b9b13", "m6", "maj7"),
    "Bb": ("13", "7", "maj9", "m9"),
    "Ab": ("maj7", "7b5", "m7", "aug"), "D": ("m7", "7", "m7b5", "6/9"), "Eb": ("maj7#5", "7#11", "dim", "sus4"),
}.items() for suffix in suffixes]


def over(chord: str, **choices: object) -> dict[str, Substitute]:
    return {str(one.arpeggio): one for one in substitutes(chord, **choices)}  # type: ignore[arg-type]


@pytest.mark.parametrize(("chord", "name", "degrees"), [
    ("E7#9", "Dm7b5", "b7 b9 3 b13"), ("E7#9", "Bb7", "b5 b7 b9 3"), ("E7#9", "G#dim7", "3 5 b7 b9"),
    ("E7#9", "FmMaj7", "b9 3 b13 1"), ("Am7", "Cmaj7", "b3 5 b7 9"), ("Am7", "Em7", "5 b7 9 11"),
    ("Cmaj7", "Em7", "3 5 7 9"), ("Cmaj7", "Bm", "7 9 #11"), ("G7", "Abm6", "b9 3 b13 b7"),
])
def test_what_each_note_becomes(chord: str, name: str, degrees: str) -> None:
    """Common practice, no source."""
    assert over(chord)[name].degrees == tuple(degrees.split())


def test_where_they_come_from() -> None:
    """Common practice, no source: D m7b5 is the 6th-degree arpeggio of F melodic minor, the altered scale's parent."""
    first = over("E7#9")["Dm7b5"].sources[0]
    assert str(first) == "6th-degree arpeggio of F melodic minor, E altered's parent"
    assert (first.parent, first.degree) == (Scale.parse("F melodic minor"), 6)


@pytest.mark.parametrize(("chord", "key", "name"), [
    ("G7", "C major", "Db7"), ("C7", "F major", "Gb7"), ("D7", "G major", "Ab7"), ("A7", "C major", "Eb7"),
    ("E7", "A major", "Bb7"), ("B7", "E major", "F7"), ("Bb7", "Eb major", "E7"), ("F#7", "B major", "C7")])
def test_a_tritone_substitute_has_the_name_that_everybody_knows(chord: str, key: str, name: str) -> None:
    """A flat fifth above the dominant, not a sharp fourth (common practice, no source)."""
    (found,) = [one for one in substitutes(chord, key) if (one.kind, one.step) == ("7", 6)]
    assert str(found.arpeggio) == name
    assert "all of it notes" not in found.reason


def test_a_tone_of_the_chord_keeps_the_chords_name() -> None:
    """Emaj7 is E G# B D#, in A flat minor too: the triad on its 5th is B (spelling by thirds)."""
    found = {(one.kind, one.step): one for one in substitutes("Emaj7", "Ab minor", scale="E lydian")}
    assert str(found["", 7].arpeggio) == "B"
    assert str(found["m", 4].arpeggio) == "G#m"


def test_how_far_out() -> None:
    """Over Am7 as ii of G both arpeggios are inside; the B minor triad over Cmaj7 is C lydian's colour."""
    inside = over("Am7", key="G major")
    assert inside["Cmaj7"].reach == inside["Em7"].reach == "inside"
    colour = over("Cmaj7")["Bm"]
    assert colour.reach == "colour"
    assert "C lydian" in [str(source.scale) for source in colour.sources]
    assert over("Cmaj7")["F#"].reach == "outside"


def test_how_they_get_home() -> None:
    """Abm6 over G7 into Cmaj7: Ab falls to G and Eb rises to E (common practice, no source)."""
    one = over("G7", next_chord="Cmaj7")["Abm6"]
    half = {(str(move.from_name), str(move.to_name)) for move in one.half_steps}
    assert {("Ab", "G"), ("Eb", "E")} <= half
    assert "A♭ falls to G" in one.reason
    assert "by a half step" in one.reason


@lru_cache(maxsize=1)
def outside_scales() -> dict[str, set[tuple[int, ...]]]:
    """Every transposition of every family as music21 builds it, from its tonic up; the harmonic major is the major
    scale with a minor sixth."""
    from music21 import interval, pitch, scale

    def transposed(names: list[pitch.Pitch]) -> set[tuple[int, ...]]:
        return {tuple((name.pitchClass + step) % 12 for name in names) for step in range(12)}

    major = scale.MajorScale("C").getPitches("C4", "B4")
    sixth = interval.Interval("m6").transposePitch(pitch.Pitch("C4"))
    return {
        "major": transposed(major), "melodic minor": transposed(
            scale.MelodicMinorScale("C").getPitches("C4", "B4", direction=scale.Direction.ASCENDING)),
        "harmonic minor": transposed(scale.HarmonicMinorScale("C").getPitches("C4", "B4")),
        "harmonic major": transposed([sixth if name.step == "A" else name for name in major]),
        "whole tone": transposed(scale.WholeToneScale("C").getPitches("C4", "B-4")),
        "diminished": transposed(scale.OctatonicScale("C", 1).getPitches("C4", "B4")),
    }


@lru_cache(maxsize=1)
def outside_arpeggios() -> dict[tuple[str, int], frozenset[int]]:
    from music21 import interval, pitch

    root = pitch.Pitch("C4")
    classes = {kind: [interval.Interval(word).transposePitch(root).pitchClass for word in words.split()]
               for kind, words in INTERVALS.items()}
    return {(kind, step): frozenset((one + step) % 12 for one in found)
            for kind, found in classes.items() for step in range(12)}


def shares_third(tones: dict[str, int], scale: tuple[int, ...], family: str) -> bool:
    """Is the scale's third note the chord's third? In scales of six or eight notes it must be the only one there.

    The seventh mode of the melodic minor is the altered scale: over a dominant its fourth is heard as the third.
    """
    third = tones.get("3", tones.get("b3"))
    if third is None:
        return True
    root = tones["1"]
    place = scale.index(root)
    if len(scale) == 7:
        altered = family == "melodic minor" and place == 6 and {"3", "b7"} <= set(tones)
        return scale[(place + 2) % 7] == third or altered
    return third in scale and ("3" in tones or (root + 4) % 12 not in scale)


def brute_force(chord: Chord) -> tuple[int, set[tuple[str, int, frozenset[int]]]]:
    """(candidates, pairs of arpeggio and scale) over a chord, on pitch-class sets."""
    tones = {tone.degree: tone.name.pitch_class for tone in chord.tones}
    altered = "b7" in tones and ("3" in tones or "11" in tones) and "b3" not in tones and (
        {"b9", "#9", "b5", "#5", "b13"} & set(tones))
    needed = {pitch for degree, pitch in tones.items() if not (altered and degree in ("5", "b5", "#5"))}
    scales = {frozenset(found) for family, keys in outside_scales().items() for found in keys
              if chord.root.pitch_class in found and needed <= set(found) and shares_third(tones, found, family)}
    candidates = {key: notes for key, notes in outside_arpeggios().items()
                  if not (key[1] == chord.root.pitch_class and notes == frozenset(tones.values()))}
    return len(candidates), {(*key, found) for key, notes in candidates.items() for found in scales if notes <= found}


@pytest.mark.parametrize("symbol", CHORDS)
def test_complete_against_brute_force(symbol: str) -> None:
    chord = Chord.parse(symbol)
    count, pairs = brute_force(chord)
    found = substitutes(chord)
    assert len(found) == candidate_count(chord) == count
    # A symmetric scale holds several roots and stands once for each mode name: compare as sets of sounds.
    ours = {(one.kind, one.arpeggio.root.pitch_class, source.scale.pitch_classes)
            for one in found for source in one.sources}
    assert ours == pairs
    assert {one.reach for one in found if one.sources} <= {"inside", "colour"}


def test_at_least_forty_chords_are_compared() -> None:
    assert len(set(CHORDS)) >= 40
    assert set(INTERVALS) == set(KINDS)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(CHORDS), st.sampled_from(CHORDS), st.sampled_from(["C major", "A minor", "F dorian", None]))
def test_every_result_agrees_with_itself(symbol: str, following: str, key: str | None) -> None:
    for one in substitutes(symbol, key, following)[:40]:
        assert one.score == pytest.approx(sum(value for _, value in one.parts))
        assert len(one.degrees) == len(one.arpeggio.names)
        said = one.reason.split(" gives ")[1].split(",")[0]
        assert said.replace("♭", "b").replace("♯", "#") == " ".join(one.degrees)
        assert (one.reach == "outside") == (not one.sources and one.reach != "inside")
        assert set(one.clashes).isdisjoint(one.chord_tones)
        assert len(one.resolutions) == len(one.arpeggio.names)


def test_the_order_is_fixed_and_the_weights_are_the_teachers() -> None:
    one = [str(found.arpeggio) for found in substitutes("G7")]
    assert one == [str(found.arpeggio) for found in substitutes("G7")]
    other = [str(found.arpeggio) for found in substitutes("G7", weights={**WEIGHTS, "colours": 4.0, "clashes": 0.0})]
    assert sorted(one) == sorted(other)
    assert one != other
    assert all(found.reach == "outside" for found in substitutes("G7", reach="outside"))


@pytest.mark.parametrize(("make", "message"), [
    (lambda: substitutes("N.C."), "no chord has no substitutes"),
    (lambda: substitutes("H7"), "is not a chord symbol"),
    (lambda: substitutes("G7", reach="far"), "“far” is not known here; expected weights"),
    (lambda: substitutes("G7", weights={"beauty": 1.0}), "“beauty” is not known here"),
    (lambda: as_arpeggio("D quartal traid"), "did you mean quartal triad"),
])
def test_refusals(make: object, message: str) -> None:
    with pytest.raises(ChordError, match=message):
        make()  # type: ignore[operator]


@pytest.mark.parametrize("kind", KINDS)
def test_arpeggios_read_back(kind: str) -> None:
    for fifths in range(-6, 7):
        value = arpeggio(NoteName.at(fifths), kind)
        assert as_arpeggio(str(value)) == value
        assert value.pretty
