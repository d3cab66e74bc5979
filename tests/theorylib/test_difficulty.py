"""Figures of difficulty against arithmetic done here, and the caution where a bound is passed."""

from fractions import Fraction

import pytest

from theorylib import STANDARD, Chart, Line, Mark, Note, Pitch, finger
from theorylib.names.scales import Scale
from theorylib.necks.areas import in_position
from theorylib.playing.difficulty import CAUTION, MODERATE_STRETCH_MM, line_difficulty, notes_a_second, stretch_mm
from theorylib.playing.lines import line_of

CHART = Chart.parse("tempo: 120\n| Am7 | D7 |")


def equal_temperament_mm(low: int, high: int, scale_length_mm: float = 648.0) -> float:
    """The distance between two frets by the rule of equal temperament: fret n at 1 − 2^(−n/12) of the scale length."""
    return float(scale_length_mm * (2 ** (-low / 12) - 2 ** (-high / 12)))


def test_a_stretch_is_the_distance_of_its_outer_frets():
    places = in_position(Scale.parse("A minor pentatonic"), 5)
    assert STANDARD.scale_length_mm == pytest.approx(648, abs=2)
    assert stretch_mm(places) == pytest.approx(equal_temperament_mm(5, 8, STANDARD.scale_length_mm))


def test_open_strings_stretch_nothing():
    assert stretch_mm([place for place in in_position(Scale.parse("A minor"), 1) if place.fret == 0]) == 0


@pytest.mark.parametrize(("length", "tempo", "expected"), [
    (Fraction(1, 2), 120, 4.0), (Fraction(1, 4), 120, 8.0), (Fraction(1, 3), 90, 4.5), (Fraction(1), 60, 1.0)])
def test_notes_a_second(length, tempo, expected):
    assert notes_a_second(line_of(["A3", "C4", "D4"], CHART, duration_beats=length), tempo) == expected


def test_shifts_and_crossings_are_counted():
    line = finger(line_of(["A2", "C3", "D3", "E3", "A4"], CHART), position=5)
    assert [note.string for note in line.notes] == [6, 6, 5, 5, 1]
    figures = line_difficulty(line)
    assert (figures.shifts, figures.crossings) == (0, 1 + 4)
    far = Line((Note(Pitch.parse("F2"), Fraction(0), Fraction(1), 6, 1), Note(Pitch.parse("F3"), Fraction(1),
                                                                             Fraction(1), 6, 13)), CHART)
    assert line_difficulty(finger(far)).shifts == 1


@pytest.mark.parametrize(("length", "bend", "word"), [
    (Fraction(1, 4), 0, "notes a second"), (Fraction(1, 2), 3, "bends 3 semitones")])
def test_a_caution_comes_with_its_reason(length, bend, word):
    marks = (Mark("bend", Fraction(bend)),) if bend else ()
    notes = tuple(Note(Pitch.parse("D4"), length * index, length, marks=marks) for index in range(3))
    figures = line_difficulty(finger(Line(notes, CHART), position=5), 130)
    assert figures.caution == CAUTION
    assert word in " ".join(figures.reasons)


def test_a_wide_reach_asks_for_care_and_a_plain_line_does_not():
    wide = Line((Note(Pitch.parse("F2"), Fraction(0), Fraction(1), 6, 1, 1),
                 Note(Pitch.parse("A2"), Fraction(1), Fraction(1), 6, 5, 4)), CHART)
    assert line_difficulty(wide).stretch_mm == pytest.approx(equal_temperament_mm(1, 5, STANDARD.scale_length_mm))
    assert equal_temperament_mm(1, 5) > MODERATE_STRETCH_MM
    assert line_difficulty(wide).caution
    assert line_difficulty(finger(line_of(["A3", "C4"], CHART), position=5)).caution == ""
