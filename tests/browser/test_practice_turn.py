"""Where a line on the practice page begins again: in the form of its changes, so that the band goes on."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from support.practice_pages import choose, notebook, opened, play, written

from theorylib import Chart, Line, Note, Pitch
from workbook.handouts.practice import _turn


def held(*onsets: int, length: int) -> Line:
    """Notes of two beats over two bars of changes."""
    notes = tuple(Note(Pitch.parse("G4"), Fraction(onset), Fraction(2)) for onset in onsets)
    return Line(notes, Chart.parse("| Gm7 | C9 |"), length_beats=Fraction(length))


@pytest.mark.parametrize(("line", "turn"), [
    (held(0, 4, length=8), 8), (held(0, 4, 8, length=12), 8), (held(0, 4, 8, 12, length=16), 16),
    (held(0, length=4), 4),  # less than the form
    (held(0, 4, 8, 10, length=12), 12),  # two notes are no rest
])
def test_a_line_begins_again_at_its_end_or_where_it_rests_after_whole_forms(line: Line, turn: int) -> None:
    assert _turn(line) == turn


@pytest.fixture(scope="module")
def silent(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("page"), notebook())


@pytest.mark.browser
def test_a_line_that_rests_a_bar_after_its_changes_begins_again_in_their_form(browser: Any, silent: Path) -> None:
    """Two bars of changes twice and the bar of rest: a loop of five would have the band stumble."""
    with opened(browser, silent) as page:
        choose(page, "p-typed", "180")
        choose(page, "p-count", "0")
        page.evaluate("""() => {
          window.bars = [];
          setInterval(() => {
            const bar = Math.floor(practice.state().beat / 4);
            if (bars.at(-1) !== bar) bars.push(bar);
          }, 20);
        }""")
        assert "from bar 4 it goes back to the first" in page.locator("#p-say").inner_text()
        play(page)
        page.wait_for_function("() => bars.length > 6", timeout=30_000)
        assert page.evaluate("bars.slice(0, 7)") == [0, 1, 2, 3, 0, 1, 2]
        for _ in range(4):
            page.keyboard.press("ArrowRight")
        page.wait_for_function("() => bars.includes(4)", timeout=15_000)  # who begins in it hears it
