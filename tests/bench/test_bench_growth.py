"""A long line against as many short ones in the same run: what four times the music may cost."""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import pytest
from support.music import arpeggio

from theorylib import Line
from workbook.draw.score import score
from workbook.exchange.musicxml import musicxml_text
from workbook.handouts.page import lesson_page
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.practice import MUTE
from workbook.play.smf import midi_bytes

FOUR_TIMES = 1.6  # of four short ones; growth with the square would cost four times as much


def line_of(bars: int) -> Line:
    chance = random.Random(7)
    return arpeggio("key: G major\n" + "".join(f"| {chance.choice(('Gmaj7', 'Am7', 'D7', 'Em7'))} "
                                              for _ in range(bars)) + "|", 3)


def book(line: Line) -> dict[str, object]:
    data, about = score(line)._repr_mimebundle_()
    output = {"output_type": "display_data", "data": data, "metadata": about}
    return {"cells": [{"cell_type": "markdown", "source": "# T"}, {"cell_type": "code", "source": "1",
                                                                  "outputs": [output]}], "metadata": {}}


def cpu_seconds(make: Callable[[Line], object], line: Line) -> float:
    """The least of two runs, as this process's own time."""
    found = []
    for _ in range(2):
        start = time.process_time()
        make(line)
        found.append(time.process_time() - start)
    return min(found)


def test_long_lines(capsys: pytest.CaptureFixture[str]) -> None:
    short, long = line_of(16), line_of(64)
    pages = {id(line): book(line) for line in (short, long)}
    makers: dict[str, Callable[[Line], object]] = {
        "engraving": score, "page": lambda line: lesson_page(pages[id(line)], MUTE),
        "PDF": lambda line: handout_pdf(pages[id(line)]), "MIDI": lambda line: midi_bytes([line]),
        "MusicXML": lambda line: musicxml_text([line])}
    for name, make in makers.items():
        one, two = cpu_seconds(make, short), cpu_seconds(make, long)
        with capsys.disabled():
            print(f"\n{name}: 16 bars {1000 * one:.0f} ms, 64 bars {1000 * two:.0f} ms: "
                  f"{two / (4 * one):.2f} of four times 16 bars")
        assert two < FOUR_TIMES * 4 * one, name
