"""A hand that plays a fingered line through, note by note, and says what it cannot do: reach, shift or keep up.

The model knows nothing of our fingering's costs. A finger k at fret f stands in a hand whose index is at f - k + 1,
give or take one fret of stretch to either side; notes that no one place of the hand can take are a shift, which needs
time. Open strings and the picking hand's taps bind nothing. Every figure is common practice, no source: a judgement
that errs to the side of the weaker hand.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import Any

import workbook.kit
from theorylib import Line
from workbook.cells.drill import Drill

GIVE = 1  # frets of stretch to either side of a finger's own fret
RUN = 4  # notes over which speed is counted
SCALE_MM = 648.0  # a long scale: fret n lies at 1 - 2^(-n/12) of it


@dataclass(frozen=True)
class Limits:
    """What a level's hand does: notes a second, mm between fingers held down, ms to lift off and land, mm a ms."""

    notes_a_second: float
    stretch_mm: float
    landing_ms: float
    mm_a_ms: float


LEVELS = {
    "beginner": Limits(4.0, 120.0, 180.0, 0.5),
    "intermediate": Limits(8.0, 135.0, 100.0, 1.0),
    "advanced": Limits(32 / 3, 145.0, 80.0, 1.25),
}


def mm(one: int, two: int) -> float:
    return SCALE_MM * abs(2 ** (-one / 12) - 2 ** (-two / 12))


def faults(line: Line, limits: Limits) -> Iterator[str]:
    """What the hand cannot do of a line at its chart's tempo, in words."""
    yield from _too_fast(line, limits)
    low, high, since = 1, 24, Fraction(0)
    for onset, notes in groupby(line.notes, lambda note: note.onset_beats):
        pressed = [note for note in notes if note.finger]
        if not pressed:
            continue
        if mm(min(note.fret for note in pressed), max(note.fret for note in pressed)) > limits.stretch_mm:
            yield f"bar {_bar(line, onset)}: a stretch over frets {[note.fret for note in pressed]}"
        stands = [note.fret - note.finger + 1 for note in pressed]
        new_low, new_high = max(stands) - GIVE, min(stands) + GIVE
        if new_low > new_high:
            yield f"bar {_bar(line, onset)}: fingers {[(note.fret, note.finger) for note in pressed]} of one hand"
            continue
        both = max(low, new_low), min(high, new_high)
        if both[0] > both[1]:
            travel = mm(max(1, high), new_low) if high < new_low else mm(max(1, new_high), low)
            slides = any(note.marked("slide") or note.marked("legato slide") for note in pressed)
            ms = float((onset - since) * 60_000 / line.chart.tempo)
            if not slides and ms < limits.landing_ms + travel / limits.mm_a_ms:
                yield f"bar {_bar(line, onset)}: a shift of {travel:.0f} mm in {ms:.0f} ms"
            both = new_low, new_high
        (low, high), since = both, onset


def _too_fast(line: Line, limits: Limits) -> Iterator[str]:
    """Speed over four strokes in a row: two that come close together are no run."""
    onsets = sorted({note.onset_beats for note in line.notes})
    spans = [after - before for before, after in zip(onsets, onsets[RUN - 1:], strict=False)]
    if spans:
        rate = float((RUN - 1) * line.chart.tempo / 60 / min(spans))
        if rate > limits.notes_a_second * 1.001:
            yield f"{rate:.1f} notes a second"


def _bar(line: Line, onset: Fraction) -> int:
    return int(onset // line.chart.bar_beats) + 1


def drills_of(notebook: dict[str, Any]) -> dict[str, Line]:
    """The lines of a lesson as its cells make them, without drawing any: what is only shown is left out."""
    space: dict[str, Any] = {name: getattr(workbook.kit, name) for name in workbook.kit.__all__}
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            tree = ast.parse("".join(cell["source"]))
            kept = [node for node in tree.body if isinstance(node, ast.Assign | ast.AnnAssign)]
            exec(compile(ast.Module(kept, []), "lesson", "exec"), space)  # the kit's own code
    return {name: value.line for name, value in space.items() if isinstance(value, Drill)}
