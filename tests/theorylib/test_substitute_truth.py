"""What a substitute says of itself is so: scale, degree, spelling and reach, worked out here from music21's scales.

music21 (BSD-3) gives the notes of each parent scale; stacked thirds are every second note of it, counted here. The
order is the same in every key, and what students rarely know comes after what says the same in plain chords.
"""

from __future__ import annotations

import os
import re
from functools import lru_cache

import pytest

from theorylib import Chord, Scale, substitutes
from theorylib.errors import VampError
from theorylib.names.arpeggios import GROUPS
from theorylib.reading.substitutes import Substitute
from workbook.lesson.prose import substitute_rows

EXPLORE = os.environ.get("VAMPBOOK_EXPLORE") == "1"
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
# In C: chord, key, next chord; moved to every root below.
CASES = [("Cmaj7", "C major", "Am7"), ("C7", "F major", "Fmaj7"), ("C7", "F minor", "Fm7"), ("C7alt", "F minor", "Fm6"),
         ("C7", "B major", "Bmaj7"), ("Cm7", "Bb major", "F7"), ("C7sus4", "F major", "C7"),
         ("Cm7b5", "Bb minor", "F7b9"),
         ("Cdim7", "Db major", "Dbmaj7"), ("CmMaj7", "C minor", "Fm7"), ("C7", "C blues", "F7"), ("C", "F minor", "Fm"),
         ("Cmaj7#5", "A minor", "Fmaj7")]
DEGREE = re.compile(r"the (\d)(?:st|nd|rd|th)-degree arpeggio of ([A-G][♭♯]* [a-z ]+?)(?:, parent|;|\.|$)")
ITS = re.compile(r"all of it inside ([A-G][♭♯]* [a-z♭♯0-9 ]+): its (\d)(?:st|nd|rd|th)-degree arpeggio")
LIES = re.compile(r"(?:notes of|inside) ([A-G][♭♯]* [a-z♭♯0-9-]+(?: [a-z♭♯0-9]+)*)")
SEMITONES = {"1": 0, "b9": 1, "9": 2, "#9": 3, "b3": 3, "3": 4, "11": 5, "#11": 6, "b5": 6, "5": 7, "#5": 8, "b13": 8,
             "6": 9, "13": 9, "bb7": 9, "b7": 10, "7": 11}


def plain(text: str) -> str:
    return text.replace("♭", "b").replace("♯", "#").replace("natural minor", "minor")


@lru_cache(maxsize=512)
def parent_classes(name: str) -> tuple[int, ...]:
    """Pitch classes of a seven-note parent, from its tonic up, as music21 has them."""
    from music21 import pitch, scale

    tonic, kind = name.split(" ", 1)
    start = pitch.Pitch(tonic.replace("b", "-") + "4")
    if kind == "melodic minor":
        up = scale.Direction.ASCENDING
        built = scale.MelodicMinorScale(start).getPitches(start, start.transpose(11), direction=up)
    elif kind == "harmonic minor":
        built = scale.HarmonicMinorScale(start).getPitches(start, start.transpose(11))
    else:
        assert kind in ("major", "harmonic major")
        built = scale.MajorScale(start).getPitches(start, start.transpose(11))
    classes = [one.pitchClass for one in built]
    if kind == "harmonic major":
        classes[5] = (classes[5] - 1) % 12
    assert len(classes) == 7
    return tuple(classes)


def moved(case: tuple[str, str, str], root: str) -> tuple[str, str, str]:
    from theorylib.names.spelling import Interval, NoteName

    step = Interval.of_fifths(NoteName(root).fifths)
    chord, key, following = case
    return str(Chord.parse(chord).up(step)), str(Scale.parse(key).up(step)), str(Chord.parse(following).up(step))


def found_in(root: str) -> list[tuple[tuple[str, str, str], tuple[Substitute, ...]]]:
    result = []
    for case in CASES:
        chord, key, following = moved(case, root)
        result.append(((chord, key, following), substitutes(chord, key, following)))
    return result


@pytest.mark.parametrize("root", ROOTS)
def test_every_source_is_what_it_says(root: str) -> None:
    """For all chords and sources in every key: thirds stacked on that degree, or at least notes of that scale."""
    stacked = 0
    for _, found in found_in(root):
        for one in found if EXPLORE else found[:120:4]:
            heard = [(one.arpeggio.root.pitch_class + name.pitch_class - one.arpeggio.names[0].pitch_class) % 12
                     for name in one.arpeggio.names]
            for source in one.sources:
                claims = re.match(r"(\d)..-degree arpeggio of ([^,]+)", str(source))
                names = [name.pitch_class for name in source.parent.names]
                if len(names) == 7:
                    assert sorted(names) == sorted(parent_classes(str(source.parent)))
                assert set(heard) <= set(names) == source.scale.pitch_classes
                assert names[source.degree - 1] == heard[0]
                if claims:
                    held, start = parent_classes(claims[2]), int(claims[1]) - 1
                    assert [held[(start + 2 * count) % 7] for count in range(len(heard))] == heard, str(source)
                    stacked += 1
                else:
                    assert str(source).startswith("notes of ")
                    thirds = [names[(source.degree - 1 + 2 * count) % len(names)] for count in range(len(heard))]
                    assert len(names) != 7 or thirds != heard, f"{one.arpeggio} is more than notes of {source.parent}"
    assert stacked > 60


@pytest.mark.parametrize("root", ROOTS)
def test_every_reason_is_true(root: str) -> None:
    """Read as a student would: degrees against the chord, the scale named, the degree named, the half steps."""
    told = {"degree": 0, "lies": 0, "its": 0}
    for (chord, _, following), found in found_in(root):
        below = Chord.parse(chord).root.pitch_class
        for one in found if EXPLORE else found[:12] + found[12::13]:
            text = one.reason
            heard = [name.pitch_class for name in one.arpeggio.names]
            degrees = plain(text.split(" gives ")[1].split(",")[0]).split()
            assert [(below + SEMITONES[degree]) % 12 for degree in degrees] == heard, text
            for match in DEGREE.finditer(text):
                held, start = parent_classes(plain(match[2])), int(match[1]) - 1
                assert [held[(start + 2 * count) % 7] for count in range(len(heard))] == heard, text
                told["degree"] += 1
            for match in ITS.finditer(text):
                held, start = parent_classes(plain(match[1])), int(match[2]) - 1
                assert [held[(start + 2 * count) % 7] for count in range(len(heard))] == heard, text
                told["its"] += 1
            for match in LIES.finditer(text):
                assert set(heard) <= Scale.parse(plain(match[1])).pitch_classes, text
                told["lies"] += 1
            assert ("degree arpeggio" in text) == bool(DEGREE.search(text) or ITS.search(text)), text
            for start, way, end in re.findall(r"([A-G][♭♯]*)(?: \([A-G]\))? (falls|rises) to ([A-G][♭♯]*)", text):
                low, high = (Chord.parse(plain(name)).root.pitch_class for name in (start, end))
                assert low in heard, text
                assert plain(end) in map(str, Chord.parse(following).names), text
                assert (high - low) % 12 == (11 if way == "falls" else 1), text
    assert told["degree"] > 20
    assert told["lies"] > 60


@pytest.mark.parametrize("root", ROOTS)
def test_roots_are_spelled_from_the_scale_they_come_from(root: str) -> None:
    for (chord, key, _), found in found_in(root):
        for one in found if EXPLORE else found[:120:5]:
            name = one.arpeggio.root
            assert abs(name.accidental) <= 1
            if not one.step:  # A flat half-diminished over A flat 7, whatever the scale calls it
                assert name == Chord.parse(chord).root
                continue
            if one.reach == "outside":
                continue
            home = Scale.parse(key)
            sources = {spelled for source in one.sources[:1] for spelled in source.parent.names}
            inside = one.reach == "inside" and {tone.pitch_class for tone in one.arpeggio.names} <= home.pitch_classes
            spelled = {*sources, *(home.names if inside else ())}
            simple = {other.simple() for other in spelled}
            # The key's own name where the scale's asks for double sharps: E flat 7 in G flat, not D sharp 7.
            readable = all(abs(other.accidental) < 2 for other in one.arpeggio.names) and name in home.names
            assert name in spelled or name in simple or readable, f"{one.arpeggio}: {one.reason}"


@pytest.mark.parametrize(("chord", "key", "following", "right", "wrong"), [
    ("Db7alt", None, None, "Bm7b5", "Cbm7b5"), ("Db7", "C major", "Cmaj7", "Bm7b5", "Cbm7b5"),
    ("G7", "C minor", "Cm7", "Bdim7", "Cbdim7"), ("Bb7#9", "Eb minor", "Ebm7", "E7", "Fb7"),
    ("Ab7", "Db major", "Dbmaj7", "Cdim7", "B#dim7"), ("E7#9", "A minor", "Am7", "Dm7b5", "Ebbm7b5"),
    ("F#7", "B minor", "Bm7", "A#dim7", "Bbdim7"), ("Gbmaj7", "Gb major", "Abm7", "Ebm7", "D#m7"),
    ("Edim7", "Gb major", "Abm7", "Eb7", "D#7"),
    ("C7", "F minor", "Fm7", "Edim7", "Fbdim7"), ("F7#9", "Bb minor", "Bbm7", "B7", "Cb7"),
])
def test_names_that_people_use(chord: str, key: str | None, following: str | None, right: str, wrong: str) -> None:
    """Common practice, no source."""
    names = [str(one.arpeggio) for one in substitutes(chord, key, following)]
    assert right in names
    assert wrong not in names


@pytest.mark.parametrize(("chord", "key", "following", "arpeggio", "said"), [
    ("C#7", "F# major", "F#maj7", "E#m7b5", "into F♯maj7, B falls to A♯"),
    ("G#7b9", "C# minor", "C#m9", "Cdim7", "here from B♯, over G♯7♭9"),
    ("G#7b9", "C# minor", "C#m9", "Cdim7", "of C♯ harmonic minor; into C♯m9, B♯ falls to B and A falls to G♯"),
    ("C7", "F minor", "Fm7", "Bbm7b5", "D♭ falls to C and E falls to E♭"),
    ("Bb7alt", "Eb minor", "Ebm7", "G#m7b5", "of B melodic minor"),
    ("Bb7alt", "Eb minor", "Ebm7", "E7", "into E♭m7, E falls to E♭ and C♭ falls to B♭"),
])
def test_a_reason_names_notes_as_the_key_does(chord: str, key: str, following: str, arpeggio: str, said: str) -> None:
    """Common practice, no source: C sharp minor knows no D flat, and F minor no F flat."""
    found = {str(one.arpeggio): one for one in substitutes(chord, key, following)}
    assert said in found[arpeggio].reason


@pytest.mark.parametrize("case", CASES)
def test_the_list_moves_with_the_key(case: tuple[str, str, str]) -> None:
    """Kinds, places, degrees, reach and scores are the same in all keys; names differ."""
    def facts(root: str) -> list[tuple[object, ...]]:
        chord, key, following = moved(case, root)
        return [(one.kind, one.step, one.reach, one.score, one.far, one.degrees if number < 25 else ())
                for number, one in enumerate(substitutes(chord, key, following))]

    first = facts("C")
    for root in ROOTS:
        assert facts(root) == first, root


@pytest.mark.parametrize(("chord", "key", "following", "arpeggio", "reach", "where"), [
    ("A7", "C major", "Dm7", "C#dim7", "inside", "A phrygian dominant"),  # applied: its own scale judges
    ("A7", "C major", "Dm7", "Em7", "colour", ""),                        # in C, and not in the scale of this A7
    ("G7", "C minor", "Cm7", "Bbmaj7", "outside", ""),                    # in C minor, against the B of the chord
    ("G7", "C minor", "Cm7", "Bdim7", "inside", "G phrygian dominant"),
    ("Fm6", "C major", "Cmaj7", "Dm7b5", "inside", "F"),                  # borrowed
    ("D7", "C major", "G7", "F#m7b5", "inside", "D mixolydian"),
    ("Bb7", "A minor", "Am7", "Dm7b5", "inside", "Bb lydian dominant"),
    ("D7", "F major", "Dbmaj7", "AmMaj7", "inside", "D lydian dominant"),  # a half step down: a tritone substitute
    ("Dm7", "C major", "G7", "Fmaj7", "inside", "C major"), ("C7", "C blues", "F7", "Em7b5", "inside", "C mixolydian"),
    ("Abmaj7", "C major", "Bb7", "Cm7", "inside", "Ab"),
    ("E", "A minor", "Am", "G#dim7", "inside", "E phrygian dominant"),
])
def test_reach_is_judged_by_the_chords_own_scale(chord: str, key: str, following: str, arpeggio: str, reach: str,
                                                 where: str) -> None:
    one = next(one for one in substitutes(chord, key, following) if str(one.arpeggio) == arpeggio)
    assert one.reach == reach
    if where:
        assert f"inside {where}" in plain(one.reason)


def test_a_scale_from_the_reading_judges_an_outside_chord_only() -> None:
    found = {scale: {str(one.arpeggio): one.reach for one in substitutes("A7", "C major", scale=scale)}
             for scale in ("A mixolydian", "A altered")}
    assert found["A mixolydian"]["C#m7b5"] == found["A altered"]["Gm7b5"] == "inside"
    assert found["A altered"]["C#m7b5"] == found["A mixolydian"]["Gm7b5"] == "colour"
    assert substitutes("Dm7", "C major", scale="D minor") == substitutes("Dm7", "C major")
    with pytest.raises(VampError, match="no scale is called"):
        substitutes("A7", "C major", scale="A mixolidian")


@pytest.mark.parametrize("root", ROOTS if EXPLORE else ROOTS[::3])
def test_no_natural_third_leads_over_a_sus_dominant(root: str) -> None:
    for suffix in ("7sus4", "9sus4", "13sus4", "7sus4b9", "11"):
        for key in (None, f"{root} mixolydian", f"{root} minor"):
            for following in (None, f"{root}7"):
                chord = Chord.parse(root + suffix)
                found = substitutes(chord, key, following)
                third = (chord.root.pitch_class + 4) % 12
                for one in found[:3]:
                    assert third not in one.arpeggio.pitch_classes, f"{one.arpeggio} over {chord} in {key}"
                assert all("3" in one.clashes for one in found if third in one.arpeggio.pitch_classes)
    first = substitutes(f"{root}9sus4", f"{root} mixolydian")[0]  # the triad or seventh a tone below: F over G
    assert (first.arpeggio.root.pitch_class - Chord.parse(root).root.pitch_class) % 12 == 10


def test_the_source_named_first_is_the_judging_scale() -> None:
    """C#dim lies in D major, D melodic and D harmonic minor; over an A7 that leads to Dm it is named by the last."""
    found = {str(one.arpeggio): one for one in substitutes("A7", "C major", "Dm7")}
    assert str(found["C#dim"].sources[0]) == "7th-degree arpeggio of D harmonic minor, A phrygian dominant's parent"
    major = {str(one.arpeggio): one for one in substitutes("A7", "D major", "Dmaj7")}
    assert str(major["C#dim"].sources[0]) == "7th-degree arpeggio of D major, A mixolydian's parent"


@pytest.mark.parametrize("case", CASES)
def test_what_comes_first_does_not_clash(case: tuple[str, str, str]) -> None:
    """A half step above a chord tone is no place to rest: not in the first four, and a clash always costs."""
    found = substitutes(*case)
    assert not any(one.clashes for one in found[:4])
    assert all(dict(one.parts)["clashes"] < 0 for one in found if one.clashes)


@pytest.mark.parametrize("root", ROOTS if EXPLORE else ROOTS[::3])
def test_plain_chords_come_before_what_says_the_same(root: str) -> None:
    """An altered pentatonic or a quartal stack comes after each triad or seventh on its root, of its notes, that states
    the same guide tones and reaches as far."""
    compared = 0
    for (chord, _, _), found in found_in(root):
        telling = set(Chord.parse(chord).guide_degrees)
        known = [(place, one, {*one.arpeggio.pitch_classes}) for place, one in enumerate(found)
                 if GROUPS[one.kind] in ("triad", "seventh") and "sus" not in one.kind]
        for place, one in enumerate(found):
            if GROUPS[one.kind] not in ("pentatonic", "quartal") or one.reach == "outside":
                continue
            for before, other, notes in known:
                same = telling & set(one.degrees) == telling & set(other.degrees)
                if other.step == one.step and notes <= one.arpeggio.pitch_classes and same and other.reach == one.reach:
                    assert before < place, f"{one.arpeggio} before {other.arpeggio} over {chord}"
                    compared += 1
    assert compared > 100


@pytest.mark.parametrize("root", ROOTS[::3])
def test_the_printed_table_is_true_too(root: str) -> None:
    """The column of origins says an arpeggio's degree only where thirds stack up to it."""
    told = {"stacked": 0, "notes": 0}
    for _, found in found_in(root):
        for one, row in zip(found[:20], substitute_rows(found[:20]), strict=True):
            heard = [name.pitch_class for name in one.arpeggio.names]
            origin = re.fullmatch(r"(\d)(?:st|nd|rd|th)-degree arpeggio of (.+)", plain(row[2]))
            if origin:
                held, start = parent_classes(origin[2]), int(origin[1]) - 1
                assert [held[(start + 2 * count) % 7] for count in range(len(heard))] == heard, row
                told["stacked"] += 1
            else:
                assert set(heard) <= Scale.parse(plain(row[2]).removeprefix("notes of ")).pitch_classes, row
                told["notes"] += 1
    assert min(told.values()) > 20


def test_double_accidentals_stand_beside_their_simple_names() -> None:
    """Over F7#9 the G flat minor triad's B double flat is the A of the chord; by itself it stands beside A."""
    one = next(one for one in substitutes("F7#9", "Bb minor", "Bbm7") if str(one.arpeggio) == "Gbm6")
    assert "A falls to A♭" in one.reason
    assert "B♭♭ (A) falls to A♭" in one.reason_by_itself
    assert "A–A♭" in substitute_rows([one])[0][4]
    for found in (substitutes("G#7", "C# minor", "C#m7"), substitutes("Bb7alt", "Eb minor", "Ebm7")):
        for one in found[:60]:
            for text in (one.reason, substitute_rows([one])[0][4]):
                assert not re.search(r"[A-G](?:♭♭|♯♯)(?! \([A-G][♭♯]?\))", text), text


def test_a_half_step_into_the_next_chord_is_written_as_one() -> None:
    """A half step stands on a letter and the next, or on one letter: A sharp to C flat would be read as a third."""
    letters, seen = "CDEFGAB", 0
    for chord, key, following in [
        ("E7#9", "Ab minor", "Abm7"), ("E7", "Eb minor", "Ebm7"), ("Edim7", "Ab minor", "Abm7"),
        ("A7alt", "Db major", "Dbmaj7"), ("B7", "Gb major", "Cbmaj7"), ("F#7", "Cb major", "Cb"),
    ]:
        for one in substitutes(chord, key, following)[:80]:
            for move in one.half_steps:
                apart = abs(letters.index(move.from_name[0]) - letters.index(move.to_name[0]))
                assert min(apart, 7 - apart) <= 1, f"{one.arpeggio} over {chord}: {move.from_name} to {move.to_name}"
                assert abs(move.from_name.accidental) < 2 or move.from_name in Chord.parse(chord).names
                seen += 1
    assert seen > 200
