"""A thousand lines of TAB are read in under a second, and twice as many in twice the time."""

from __future__ import annotations

from time import process_time

from support.tabs import pieces

from theorylib import Line

NEAR = 3.2  # the most that twice the lines may cost, to half of them: a square would cost four times


def seconds(lines: int) -> float:
    piece = next(piece for piece in pieces("tabs.txt") if piece.name == "hammer, pull and slide, eight notes")
    text = (piece.text.strip("\n") + "\n\n") * (lines // 8)
    best = 9.0
    for _ in range(3):
        start = process_time()
        found = Line.parse("   " + text)
        best = min(best, process_time() - start)
    assert len(found.notes) == lines  # eight notes and eight lines a system
    return best


def test_a_thousand_lines_take_less_than_a_second_and_the_cost_grows_with_the_length() -> None:
    small, large = seconds(1000), seconds(2000)
    assert small < 1
    assert large < NEAR * small
