"""How hard a shape or a line is on the hands, as figures with stated bounds, and the caution that goes with them.

The bounds are a judgement (common practice, no source) and not medical advice. Figures are measured: mm on the real
neck, notes a second at the tempo, shifts and string crossings of the fingering.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from ..limits import TEMPO, number_in
from ..necks.shapes import Target, as_targets
from ..necks.tunings import STANDARD, Tuning, as_tuning
from .fingering import fingering_cost
from .lines import Line, as_line
from .marks import LIFTING

MODERATE_STRETCH_MM = 110.0  # about four frets' reach in 5th position (common practice, no source)
FAST_NOTES_A_SECOND = 8.0  # sixteenths at 120 (common practice, no source)
WIDE_BEND_SEMITONES = 3  # from here on a bend asks for care (common practice, no source)
CAUTION = (
    "Warm up first, keep the volume moderate and rest your hands and ears every ten minutes. Move up a step "
    "only when it feels easy. Stop if anything hurts or goes numb, and ask a health professional before "
    "you go on."
)


@dataclass(frozen=True, slots=True)
class Difficulty:
    """Measured figures; `reasons` says which bound they pass, in words, and is empty where none is passed."""

    stretch_mm: float
    shifts: int
    notes_a_second: float
    crossings: int
    widest_bend: Fraction
    reasons: tuple[str, ...]

    @property
    def caution(self) -> str:
        """The care text where a bound is passed, else empty."""
        return CAUTION if self.reasons else ""


def stretch_mm(places: Iterable[Target], tuning: Tuning | str = STANDARD) -> float:
    """The reach in mm between the lowest and the highest fretted place of a shape held or played in one position."""
    frets = [place.fret for place in as_targets(places) if place.fret]
    return as_tuning(tuning).span_mm(min(frets), max(frets)) if frets else 0.0


def line_difficulty(line: Line | str, tempo: Fraction | int | str | None = None) -> Difficulty:
    """The figures of a fingered line at a tempo in quarter notes a minute (None: the chart's)."""
    line = as_line(line)
    speed = notes_a_second(line, line.chart.tempo if tempo is None else tempo)
    stretch = widest_stretch_mm(line)
    bend = max(
        (mark.value for note in line.notes for mark in note.marks if mark.kind in LIFTING),
        default=Fraction(0),
    )
    placed = bool(line.notes) and all(note.place is not None for note in line.notes)
    cost = fingering_cost(line) if placed else None
    reasons = [
        words
        for passed, words in (
            (stretch > MODERATE_STRETCH_MM, f"it stretches {stretch:.0f} mm"),
            (speed > FAST_NOTES_A_SECOND, f"it reaches {speed:.1f} notes a second"),
            (bend >= WIDE_BEND_SEMITONES, f"it bends {float(bend):g} semitones"),
        )
        if passed
    ]
    return Difficulty(
        stretch,
        cost.shifts if cost else 0,
        speed,
        cost.strings_crossed if cost else 0,
        bend,
        tuple(reasons),
    )


def widest_stretch_mm(line: Line | str) -> float:
    """The widest reach in mm between two fretted notes that follow each other within a beat, the hand not moving."""
    line = as_line(line)
    fretted = [note for note in line.notes if note.fret]
    return max(
        (
            line.tuning.span_mm(one.fret or 0, two.fret or 0)
            for one, two in pairwise(fretted)
            if two.onset_beats - one.onset_beats <= 1
            and abs((one.fret or 0) - (two.fret or 0)) <= 6
        ),
        default=0.0,
    )


def notes_a_second(line: Line | str, tempo: Fraction | int | str) -> float:
    """The fastest notes of the line at a tempo in quarter notes a minute."""
    shortest = min((note.duration_beats for note in as_line(line).notes), default=Fraction(4))
    return float(number_in(tempo, TEMPO, "tempo in quarter notes a minute") / 60 / shortest)
