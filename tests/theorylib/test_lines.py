"""Lines keep their promises, and their text gives the same line back."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from theorylib import Chart, Line, Mark, Note, Pitch, Tuning, continuous_arpeggio
from theorylib.errors import LineError

CHART = Chart.parse("key: C minor\n| Cm7 | G7#9 |")


def note(pitch: str, onset: object, length: object = 1, **more: object) -> Note:
    return Note(Pitch.parse(pitch), Fraction(str(onset)), Fraction(str(length)), **more)  # type: ignore[arg-type]


def test_text_round_trip() -> None:
    line = continuous_arpeggio(CHART, 6, position=3, tuning=Tuning.parse("drop D capo 2"))
    marked = line.with_notes(lambda one: replace(one, marks=(Mark("vibrato", Fraction(30), Fraction(1, 2)),)))
    assert Line.from_json(marked.to_json()) == marked
    assert marked.to_json() == Line.from_json(marked.to_json()).to_json()


@pytest.mark.parametrize("text", ["", "{}", "[1]", '{"notes": 3}'])
def test_other_text_is_refused(text: str) -> None:
    with pytest.raises(LineError, match="not a line"):
        Line.from_json(text)


def test_overlaps_and_empty_notes_are_refused() -> None:
    with pytest.raises(LineError, match="before C3 has ended"):
        Line((note("C3", 0, 2), note("D3", 1)), CHART)
    with pytest.raises(LineError, match="lasts 0 beats"):
        Line((note("C3", 0, 0),), CHART)
    assert Line((note("C3", 0), note("G3", 0)), CHART).bar_count == 1


def test_a_wrong_place_or_degree_is_a_problem() -> None:
    """MIDI arithmetic (MIDI 1.0): C3 is 48, string 5 open is 45, so fret 3 sounds it and fret 4 does not."""
    good = Line((note("C3", 0, string=5, fret=3, finger=2, degree="1"),), CHART)
    assert good.problems() == ()
    wrong = Line((note("C3", 0, string=5, fret=4, finger=2, degree="1"),), CHART)
    assert "string 5 fret 4 does not sound C3" in wrong.problems()[0]
    wrong = Line((note("C3", 0, degree="b3"),), CHART)
    assert wrong.problems() == ("note 1 (C3, bar 1): is not the b3 of Cm7",)
    wrong = Line((note("E2", 0, string=6, fret=0, finger=3),), CHART)
    assert "finger 3 at fret 0" in wrong.problems()[0]


def test_unknown_marks_are_refused_with_the_nearest() -> None:
    with pytest.raises(LineError, match="did you mean hammer"):
        Mark("hamer")


def test_chords_repeat_under_a_long_line() -> None:
    line = Line((note("C3", 0), note("C3", 20)), CHART)
    assert [str(event.chord) for event in line.chords()] == ["Cm7", "G7#9"] * 3
    assert [event.bar for event in line.chords()] == [0, 1, 2, 3, 4, 5]
