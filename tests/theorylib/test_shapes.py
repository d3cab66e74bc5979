"""Target-note shapes: every place sounds its degree, every cluster is found, bends arrive where they say.

Outside sources: music21 (BSD-3) for pitches and intervals, equal temperament for cents. The blues cluster is common
practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import log2

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib.errors import NeckError, SpellingError
from theorylib.necks.shapes import Target, bend_refused, by_geometry, target_shapes
from theorylib.necks.tunings import STANDARD, Tuning

ROOTS = ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")
TUNINGS = ("standard", "drop D", "DADGAD", "all fourths", "seven-string", "bass")
# music21's names of the intervals that the degrees stand for.
INTERVALS = {"1": "P1", "b3": "m3", "3": "M3", "5": "P5", "6": "M6", "b7": "m7", "9": "M9"}


def blues_cluster():
    wanted = {(2, 8), (2, 10), (3, 9)}
    return next(shape for shape in target_shapes("G7", ["1", "9", "6"])
                if {(place.string, place.fret) for place in shape.places} == wanted)


def test_the_blues_cluster() -> None:
    """Over G: G at string 2 fret 8, A at string 2 fret 10, E at string 3 fret 9; the A bends to the b3 and to the 3."""
    shape = blues_cluster()
    assert {(place.string, place.fret): place.degree for place in shape.places} == {
        (2, 8): "1", (2, 10): "9", (3, 9): "6"}
    from_a = {bend.semitones: bend.degree for bend in shape.bends if (bend.string, bend.fret) == (2, 10)}
    assert from_a[1] == "b3"
    assert from_a[2] == "3"


@pytest.mark.parametrize("tuning", TUNINGS)
@pytest.mark.parametrize("root", ROOTS)
def test_every_place_sounds_its_degree(root: str, tuning: str) -> None:
    from music21 import interval, pitch

    neck = Tuning.parse(tuning)
    below = pitch.Pitch(root.replace("b", "-"))
    for degrees in (("1", "9", "6"), ("1", "b3", "5", "b7")):
        expected = {degree: interval.Interval(INTERVALS[degree]).transposePitch(below).pitchClass for degree in degrees}
        shapes = target_shapes(f"{root}7", degrees, neck)
        assert shapes
        for shape in shapes:
            assert {place.degree for place in shape.places} == set(degrees)
            for place in shape.places:
                sounding = pitch.Pitch(midi=pitch.Pitch(str(neck.open_strings[place.string - 1]).replace("b", "-")).midi
                                       + place.fret)
                assert sounding.pitchClass == expected[place.degree]


def test_a_bend_arrives_by_cents() -> None:
    """Equal temperament: a semitone is 100 cents, so A4 bent a tone sounds 200 cents above 440 Hz (ISO 16)."""
    for bend in blues_cluster().bends:
        start = STANDARD.pitch(bend.string, bend.fret).hz
        cents = 1200 * log2(start * 2 ** (bend.semitones / 12) / start)
        assert cents == pytest.approx(100 * bend.semitones)
    assert STANDARD.pitch(2, 10).hz == pytest.approx(440.0)


def test_complete_on_a_small_neck() -> None:
    """Brute force over all sets of places on four strings and five frets."""
    neck = replace(Tuning.parse("bass"), frets=5)
    degrees = {"1": 7, "3": 11, "5": 2}  # G B D as pitch classes
    every = [Target(string, fret, degree) for string in range(1, 5) for fret in range(6)
             for degree, pitch_class in degrees.items()
             if (neck.open_strings[string - 1].midi + fret) % 12 == pitch_class]
    expected = set()
    for places in combinations(every, 3):
        strings = sorted({place.string for place in places})
        frets = [place.fret for place in places]
        if ({place.degree for place in places} == set(degrees) and max(frets) - min(frets) <= 3
                and strings == list(range(strings[0], strings[-1] + 1))):
            expected.add(tuple(sorted(places)))
    found = [shape.places for shape in target_shapes("G", list(degrees), neck)]
    assert len(found) == len(set(found))
    assert set(found) == expected


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(ROOTS), st.integers(1, 5), st.sampled_from(TUNINGS))
def test_moving_the_chord_moves_the_shapes(root: str, frets: int, tuning: str) -> None:
    """A chord n semitones higher has each fretted shape n frets higher, with the same geometry."""
    from theorylib.names.chords import Chord
    from theorylib.names.spelling import Interval

    neck = Tuning.parse(tuning)
    low = target_shapes(root, ["1", "3", "5"], neck)
    up = {1: (1, 1), 2: (1, 2), 3: (2, 3), 4: (2, 4), 5: (3, 5)}[frets]
    high = target_shapes(Chord.parse(root).up(Interval(*up)), ["1", "3", "5"], neck)
    moved = {tuple(sorted(replace(place, fret=place.fret + frets) for place in shape.places)): shape.geometry
             for shape in low if shape.high_fret + frets <= neck.last_fret}
    assert moved.items() <= {shape.places: shape.geometry for shape in high}.items()


def test_the_same_shape_on_other_strings_is_one_geometry() -> None:
    """In all fourths every string pair has one offset: the same frets; in standard the pair 2-3 moves by one."""
    groups = by_geometry(target_shapes("A", ["1", "3"], "all fourths"))
    for members in groups.values():
        frets = {tuple(place.fret - member.low_fret for place in member.places) for member in members}
        assert len(frets) == 1
    standard = by_geometry(target_shapes("A", ["1", "3"], "standard"))
    assert any(len({tuple(place.fret - member.low_fret for place in member.places) for member in members}) == 2
               for members in standard.values())


@pytest.mark.parametrize(("place", "semitones", "finger", "reason"), [
    ((1, 0), 1, 3, "open string"), ((6, 5), 3, 3, "wound"), ((2, 2), 2, 3, "near the nut"),
    ((2, 8), 2, 1, "first finger"), ((2, 10), 2, 3, ""), ((3, 9), 3, 3, ""),
])
def test_impossible_bends_are_refused_with_the_reason(place: tuple[int, int], semitones: int, finger: int,
                                                      reason: str) -> None:
    """Limits: common practice, no source."""
    said = bend_refused(STANDARD, *place, semitones, finger)
    assert (reason in said) if reason else said == ""


def test_spans_in_mm_and_refusals() -> None:
    wide = target_shapes("G7", ["1", "9", "6"])
    narrow = target_shapes("G7", ["1", "9", "6"], span_mm=60)
    assert 0 < len(narrow) < len(wide)
    assert all(shape.span_mm() <= 60 for shape in narrow)
    with pytest.raises(NeckError, match="1 to 7 frets"):
        target_shapes("G7", ["1"], span_frets=9)
    with pytest.raises(SpellingError, match="not a degree"):
        target_shapes("G7", ["x"])


@pytest.mark.parametrize(("chord", "sour"), [
    ("G7", {"b9", "7", "b13", "11"}), ("Am7", {"b9", "7", "3", "b5", "b13", "6"}),
    ("C", {"b9", "b3", "b5", "b13", "7"}),
])
def test_a_bend_ends_on_a_tone_or_a_colour_of_the_chord(chord: str, sour: set[str]) -> None:
    """Never on the b9 or the major 7th of a dominant; degrees typed from common practice, no source."""
    reached = set()
    for degrees in (("1", "9", "6"), ("1", "11", "5"), ("3", "b7"), ("b3", "b7"), ("1", "5")):
        for shape in target_shapes(chord, degrees):
            reached |= {bend.degree for bend in shape.bends}
            for refusal in shape.refused:
                assert refusal.reason
    assert reached
    assert not reached & sour


def test_what_the_chord_itself_asks_for_is_no_sour_end() -> None:
    """The b9 of G7b9 is a tone of it."""
    ends = {bend.degree for shape in target_shapes("G7b9", ("1", "5")) for bend in shape.bends}
    assert "b9" in ends
    assert "7" not in ends
