"""Many chords in a bar: the drill keeps one note value; a refusal names how many notes fit."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from theorylib import Chart, Tuning, continuous_arpeggio
from theorylib.errors import VampError
from workbook.lesson.chosen import Choices
from workbook.lesson.fitting import check_rhythm
from workbook.lesson.writing import new_lesson


@pytest.mark.parametrize("changes", ["| Am7 D7 G C F |", "| Am7 D7 | G C E |", "| C | Am7 D7 G C E F A |"])
@pytest.mark.parametrize("meter", ["4/4", "5/4", "7/8", "6/8"])
def test_full_bars_keep_one_note_value(changes, meter):
    chart = Chart.parse(changes, meter=meter)
    check_rhythm(chart, 8, Tuning.parse("standard"))
    line = continuous_arpeggio(chart, 8)
    assert {note.duration_beats for note in line.notes} == {Fraction(1, 2)} or len(chart.events) > 7
    assert {chart.event_at(note.onset_beats) for note in line.notes} == set(chart.events)


def test_the_refusal_names_the_option_that_helps():
    chart = Chart.parse("| C | " + "C " * 12 + "|")
    with pytest.raises(VampError, match="bar 1") as refused:
        new_lesson(chart, Choices("Full bars", per_chord=64))
    fits = int(re.search(r"--per-chord (\d+)", str(refused.value))[1])
    assert f"per_chord={fits}" in str(refused.value)
    check_rhythm(chart, fits, Tuning.parse("standard"))
    with pytest.raises(VampError):  # it is the most
        check_rhythm(chart, fits + 1, Tuning.parse("standard"))
