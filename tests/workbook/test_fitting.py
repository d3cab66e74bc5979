"""Many chords in a bar: the refusal names how many notes over each fit, and with so many the lesson is written."""

from __future__ import annotations

import re

import pytest

from theorylib import Chart, Tuning
from theorylib.errors import VampError
from workbook.lesson.chosen import Choices
from workbook.lesson.fitting import check_rhythm
from workbook.lesson.writing import new_lesson


@pytest.mark.parametrize(("changes", "asked", "place"), [
    ("| Am7 D7 G C F |", 8, "bar 1"), ("| Am7 D7 | G C E |", 7, "bar 2"), ("| C | Am7 D7 G C E F A |", 8, "bar 2"),
])
def test_the_refusal_names_the_option_that_helps(changes, asked, place):
    chart = Chart.parse(changes)
    with pytest.raises(VampError, match=place) as refused:
        new_lesson(chart, Choices("Full bars", per_chord=asked))
    fits = int(re.search(r"--per-chord (\d+)", str(refused.value))[1])
    assert f"per_chord={fits}" in str(refused.value)
    new_lesson(chart, Choices("Full bars", per_chord=fits))
    with pytest.raises(VampError):  # it is the most
        new_lesson(chart, Choices("Full bars", per_chord=fits + 1))


def test_what_no_number_of_notes_mends_is_refused_with_its_own_reason():
    with pytest.raises(VampError) as refused:
        check_rhythm(Chart.parse("| " + "C " * 32 + "|"), 8, Tuning.parse("standard"))
    assert "--per-chord" not in str(refused.value) or "--per-chord 1" in str(refused.value)
