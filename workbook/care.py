"""Cautions and practice plans: what a drill asks of hands and ears, and the care text that goes with it.

The bounds are a judgement, marked so; they are not medical advice. A drill that stretches beyond a moderate span or
raises its tempo carries the caution in the notebook and on the handout.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from theorylib.drills import tempo_ladder
from theorylib.lines import Line

MODERATE_STRETCH_MM = 110.0  # about five frets from the 5th (common practice, no source)
FAST_NOTES_A_SECOND = 8.0    # sixteenths at 120 (common practice, no source)

CAUTION = (
    "> **Care** Warm up first, keep the volume moderate and rest your hands and ears every ten minutes. "
    "Move up a step only when it feels easy. Stop if anything hurts or goes numb, and ask a health professional "
    "before you go on."
)


def widest_stretch_mm(line: Line) -> float:
    """The widest reach in mm between two fretted notes that follow each other within a beat."""
    fretted = [note for note in line.notes if note.fret]
    pairs = pairwise(fretted)
    return max((line.tuning.span_mm(one.fret or 0, two.fret or 0) for one, two in pairs
                if two.onset_beats - one.onset_beats <= 1), default=0.0)


def notes_a_second(line: Line, tempo: Fraction | int) -> float:
    """The fastest notes of the line at a tempo in quarter notes a minute."""
    shortest = min((note.duration_beats for note in line.notes), default=Fraction(4))
    return float(Fraction(tempo) / 60 / shortest)


def practice_plan(line: Line, target: Fraction | int, steps: int = 4) -> str:
    """A Markdown table of tempos with the notes a second at each, its rule, a list to tick and the caution."""
    rows = ["| Step | Tempo (♩ a minute) | Notes a second | Clean passes |", "|---|---|---|---|"]
    tempos = tempo_ladder(Fraction(target), steps)
    for index, tempo in enumerate(tempos, 1):
        rows.append(f"| {index} | {tempo} | {notes_a_second(line, tempo):.1f} | ☐ ☐ |")
    rule = ("Start slowly. Two clean passes in a row, in time and relaxed, earn the next step; "
            "after two failed tries go back one.")
    return "\n".join([rule, "", *rows, "", CAUTION])


def needs_care(line: Line, target: Fraction | int) -> tuple[str, ...]:
    """Why a line carries the caution: every reason that holds, in words; empty when none does."""
    reasons = []
    stretch = widest_stretch_mm(line)
    if stretch > MODERATE_STRETCH_MM:
        reasons.append(f"it stretches {stretch:.0f} mm")
    speed = notes_a_second(line, target)
    if speed > FAST_NOTES_A_SECOND:
        reasons.append(f"it reaches {speed:.1f} notes a second")
    return tuple(reasons)
