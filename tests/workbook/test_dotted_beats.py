"""Tempo where a foot taps dotted quarters: quarters stay the unit, and everything that names them names the beat too.

Three eighths are a dotted quarter, a quarter two: of N quarters a minute two thirds are dotted ones (arithmetic).
"""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from theorylib import Chart
from theorylib.changes.chart_text import tempo_words
from theorylib.errors import ChartError
from theorylib.practice.outline import outline
from workbook.draw.chart import heading_words
from workbook.draw.outline_sheet import outline_picture
from workbook.draw.score import about
from workbook.kit import arpeggio_drill, backing
from workbook.lesson.chosen import KINDS, Choices
from workbook.lesson.writing import new_lesson
from workbook.play.backing import CLICK
from workbook.play.backing import backing as recorded

BARS = "| Am7 | D7 | Am7 | E7 |"
SAID = re.compile(r"♩ = (\d+(?:\.\d+)?)(?: \(♩\. ([=≈]) (\d+)\))?")


def held(text: str, dotted: bool) -> int:
    """How many tempos a text names, each with its dotted beat or none."""
    found = SAID.findall(text)
    for quarters, sign, beats in found:
        assert bool(beats) == dotted, text
        if dotted:
            exact = Fraction(quarters) * 2 / 3
            assert abs(exact - int(beats)) <= Fraction(1, 2)
            assert (sign == "=") == (exact == int(beats))
    return len(found)


@pytest.mark.parametrize("meter", ["12/8", "6/8", "9/8", "4/4", "3/4", "7/8"])
def test_all_that_names_a_tempo_names_the_same_beat(meter: str) -> None:
    dotted = meter in ("12/8", "6/8", "9/8")
    for number, tempo in enumerate((60, 90, 92, 144)):
        chart = Chart.parse(BARS, meter=meter, tempo=tempo, title="Any").transpose(5 * number)
        drill = arpeggio_drill(chart, 5)
        shown = (heading_words(chart), about(drill.line), outline_picture(outline(chart, bars=8)).svg,
                 repr(backing(chart)))
        assert [held(text, dotted) for text in shown] == [1] * len(shown), shown
        lesson = new_lesson(chart, Choices("Any", "intermediate", kind=KINDS[number]))
        words = ["".join(cell["source"]) for cell in lesson["cells"] if cell["cell_type"] == "markdown"]
        words = [text for text in words if "has its own time" not in text]  # bends stand in 4/4
        assert sum(held(text, dotted) for text in words) >= 3
        rows = drill.plan().markdown.split("|---|---|---|---|")[1].strip().splitlines()[:4]
        assert all(("♩." in row) == dotted for row in rows)


@pytest.mark.parametrize(("text", "quarters"), [
    ("♩. = 60", 90), ("♩.=61", Fraction(183, 2)), ("♩ = 60", 60), ("90", 90), ("72.5 bpm", Fraction(145, 2))])
def test_a_tempo_may_be_typed_by_its_dotted_beat(text: str, quarters: Fraction) -> None:
    chart = Chart.parse(f"meter: 12/8\ntempo: {text}\n{BARS}")
    assert chart.tempo == quarters
    assert Chart.parse(str(chart)) == chart
    if quarters == 90:
        assert tempo_words(chart.tempo, chart.meter) == "♩ = 90 (♩. = 60)"


@pytest.mark.parametrize("text", ["♩. = 10", "♩. = 300", "♩.. = 60", ". = 60"])
def test_a_dotted_tempo_has_the_same_limits(text: str) -> None:
    with pytest.raises(ChartError, match="is not a tempo"):
        Chart.parse(f"meter: 12/8\ntempo: {text}\n{BARS}")


def test_the_click_falls_on_the_dotted_beat() -> None:
    chart = Chart.parse(BARS, meter="12/8", tempo=90)
    clicks = recorded(chart, passes=1, click=True).of(CLICK)
    assert {hit.start_beats % Fraction(3, 2) for hit in clicks} == {0}
    assert len(clicks) >= 4 * 4
