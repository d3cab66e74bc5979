"""Variations of a phrase: expected notes typed by hand, and what must hold of every drill that is varied."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from support.drills import DRILLS, made

from theorylib import DrillError, Line, finger
from theorylib.practice.variations import backwards, displaced, from_degree, moved_by, through_changes

LICK = Line.parse("e A3 C4[h] D4[b2] C4 q E4 A3", chart="key: A minor\n| Am7 |")


def names(line: Line) -> str:
    return " ".join(str(note.pitch) for note in line.notes)


def test_through_the_changes_a_third_stays_a_third() -> None:
    made = through_changes(Line.parse("q A3 C4 E4 G4", chart="key: A minor\n| Am7 |"), "| Am7 | D7 | Gmaj7 | Bm7b5 |")
    assert names(made) == "A3 C4 E4 G4 D4 F#4 A4 C5 G3 B3 D4 F#4 B3 D4 F4 A4"
    assert [note.degree for note in made.notes[4:8]] == ["1", "3", "5", "b7"]


def test_a_chromatic_approach_keeps_its_distance() -> None:
    made = through_changes(Line.parse("q C4 D#4 E4 G4", chart="key: C major\n| C |"), "| F | Dm |")
    assert names(made) == "F4 Ab4 A4 C5 D4 E4 F4 A4"


def test_a_bend_goes_to_the_number_that_it_went_to() -> None:
    made = through_changes(LICK, "| D7 |")
    assert names(made) == "D4 F#4 G4 F#4 A4 D4"
    assert made.notes[2].marks[0].value == 2  # G to A, as D to E before
    minor_second = from_degree(Line.parse("h D4[b2] q C4 A3", chart="key: A minor\n| Am |"), 1)
    assert (names(minor_second), minor_second.notes[0].marks[0].value) == ("E4 D4 B3", 1)  # E to F


def test_from_another_degree_of_the_scale() -> None:
    line = Line.parse("q A3 B3 C4 E4", chart="key: A minor\n| Am |")
    assert names(from_degree(line, 2)) == "C4 D4 E4 G4"
    assert names(from_degree(line, -1)) == "G3 A3 B3 D4"
    assert names(from_degree(line, 7)) == "A4 B4 C5 E5"


def test_backwards_the_rhythm_stays_and_joins_turn() -> None:
    made = backwards(LICK)
    assert names(made) == "A3 E4 C4 D4 C4 A3"
    assert [note.duration_beats for note in made.notes] == [note.duration_beats for note in LICK.notes]
    assert [mark.kind for mark in made.notes[-1].marks] == ["pull"]  # A3 C4 was hammered
    assert not made.notes[4].marked("hammer")


def test_displaced_by_half_a_beat() -> None:
    made = displaced(LICK, "1/2")
    assert [note.onset_beats for note in made.notes] == [note.onset_beats + Fraction(1, 2) for note in LICK.notes]
    assert made.length_beats == 8


def test_moved_to_another_key_it_is_spelled_there() -> None:
    assert names(moved_by(LICK, 3)) == "C4 Eb4 F4 Eb4 G4 C4"
    assert names(moved_by(LICK, -1, "key: G# minor\n| G#m7 |")) == "G#3 B3 C#4 B3 D#4 G#3"


@pytest.mark.parametrize("name", DRILLS)
def test_every_drill_varies_truly(name: str) -> None:
    line = finger(made(name, "Bb", "standard", "straight 8"))
    for varied in (backwards(line), from_degree(line, 2), displaced(line), moved_by(line, 5)):
        assert not varied.problems()
        assert len(varied.notes) == len(line.notes)
    assert backwards(backwards(line)).notes[0].pitch.midi == line.notes[0].pitch.midi
    moved = moved_by(line, 5)
    assert [note.pitch.midi - 5 for note in moved.notes] == [note.pitch.midi for note in line.notes]
    over = through_changes(line, "| Bbm7 | Eb7 | Abmaj7 | Fm7 |")
    assert not over.problems()
    for one, two in pairwise(over.notes):
        for mark in two.marks:
            if mark.kind in ("hammer", "pull"):
                assert (two.pitch.midi > one.pitch.midi) == (mark.kind == "hammer")



@pytest.mark.parametrize("wrong", [0, 15, "2", 1.5])
def test_what_cannot_be_varied_is_refused(wrong: object) -> None:
    with pytest.raises(DrillError):
        from_degree(LICK, wrong)  # type: ignore[arg-type]
    with pytest.raises(DrillError):
        displaced(LICK, 9)
