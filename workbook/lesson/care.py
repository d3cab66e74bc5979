"""Practice plans and the care text as a lesson prints them."""

from __future__ import annotations

from fractions import Fraction

from theorylib.changes.chart_text import print_tempo, tempo_words
from theorylib.playing.difficulty import CAUTION, FAST_NOTES_A_SECOND, notes_a_second
from theorylib.playing.lines import Line
from theorylib.practice.drills import tempo_ladder
from theorylib.practice.pace import highest_tempo, value_words

CARE = f"> **Care** {CAUTION}"


def practice_plan(line: Line, target: Fraction | int, steps: int = 4, start: int | None = None) -> str:
    """A Markdown table of tempos with the notes a second at each, its rule, a list to tick and the caution.

    It begins at `start` quarter notes a minute (None: at the usual share of the target).
    """
    rows = ["| Step | Tempo (♩ a minute) | Notes a second | Clean passes |", "|---|---|---|---|"]
    share = {} if start is None else {"lowest_share": min(Fraction(1), Fraction(start) / Fraction(target))}
    *below, _ = tempo_ladder(Fraction(target), steps, **share)
    for index, tempo in enumerate([*map(Fraction, below), Fraction(target)], 1):  # the last is what the lesson names
        said = tempo_words(tempo, line.chart.meter).removeprefix("♩ = ")
        rows.append(f"| {index} | {said} | {notes_a_second(line, tempo):.1f} | ☐ ☐ |")
    rule = ("Start slowly. Two clean passes in a row, in time and relaxed, earn the next step; "
            "after two failed tries go back one.")
    return "\n".join([rule, *_warning(line, Fraction(target)), "", *rows, "", CARE])


def _warning(line: Line, target: Fraction) -> list[str]:
    """A sentence where the target asks too much of most hands, with the tempo that does not."""
    if notes_a_second(line, target) <= FAST_NOTES_A_SECOND:
        return []
    shortest = min(note.duration_beats for note in line.notes)
    return [(f"♩ = {print_tempo(target)} is fast for {value_words(shortest)}: up to ♩ = {highest_tempo(shortest)} most "
             "hands play them cleanly, and that is far enough until it feels easy.")]
