"""Drums: from a style's rows and a plan to strokes, a phrase being A A A′ B.

In the first three bars of a phrase each drum mostly plays its usual row, in the fourth mostly another; what keeps time
changes least. Fills stand where the plan puts them, a crash where it answers one. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from .arrangement import ENDING, STOP, Arrangement, Slot
from .grouping import TIMEKEEPERS, distinct, pulses_felt, steps_of
from .style import FULL, LIGHT, MAIN, VELOCITIES, Fill, Kit, Rows, Style

# How likely the usual row is, by the bar of the phrase: of what keeps time, and of the other drums.
_USUAL_TIME, _USUAL = (0.9, 0.8, 0.8, 0.35), (0.75, 0.5, 0.6, 0.15)


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke: the beat in the track before swing, the drum's name and its sign's loudness."""

    beat: Fraction
    drum: str
    velocity: int


def strokes(plan: Arrangement, style: Style, groups: tuple[int, ...], chance: Random) -> Iterator[Stroke]:
    """Every stroke of the plan's bars."""
    for slot in plan.slots:
        if slot.kind == ENDING:
            yield from ending_strokes(slot.start_beats, slot.density)
        elif slot.density == STOP:
            yield Stroke(slot.start_beats, "kick", VELOCITIES["X"])
            yield Stroke(slot.start_beats, "crash" if slot.crash else "hat", VELOCITIES["X"])
        else:
            yield from _bar(plan, slot, style, groups, chance)


def kit_of(style: Style, density: str) -> Kit:
    """The rows of a density; where a style has none of it, the main ones."""
    return style.drums.get(density) or style.drums[MAIN]


def _bar(plan: Arrangement, slot: Slot, style: Style, groups: tuple[int, ...], chance: Random) -> Iterator[Stroke]:
    meter = plan.chart.meter
    fill, fill_from = _fill(plan, slot, style, groups, chance)
    thin = plan.chart.tempo > style.thin_above
    for drum, rows in kit_of(style, slot.density):
        row = _row_of(drum, distinct(meter, groups, style.steps, rows, drum), slot.place, chance)
        if thin and drum in TIMEKEEPERS:
            row = thinned(row)
        for beat, sign in steps_of(meter, groups, style.steps, row, drum):
            if sign == "." or beat >= fill_from or (slot.crash and not beat and drum in TIMEKEEPERS):
                continue
            yield Stroke(slot.start_beats + beat, "open hat" if sign == "O" else drum, VELOCITIES[sign])
    if slot.crash:
        yield Stroke(slot.start_beats, "crash", VELOCITIES["X"] - 6)
    softer = 12 if slot.density == LIGHT else 0
    for drum, row in fill:
        for beat, sign in _fill_steps(plan, groups, row):
            if sign != ".":
                yield Stroke(slot.start_beats + fill_from + beat, drum, VELOCITIES[sign] - softer)


def _row_of(drum: str, rows: Rows, place: int, chance: Random) -> str:
    usual = (_USUAL_TIME if drum in TIMEKEEPERS else _USUAL)[place]
    return rows[0] if len(rows) == 1 or chance.random() < usual else chance.choice(rows[1:])


def thinned(row: str) -> str:
    """A row without every second step of a pulse: what a hand no longer plays at speed."""
    return " ".join("".join("." if number % 2 else sign for number, sign in enumerate(pulse)) for pulse in row.split())


def _fill(plan: Arrangement, slot: Slot, style: Style, groups: tuple[int, ...],
          chance: Random) -> tuple[Fill, Fraction]:
    """A fill of the plan's length, or the next shorter one that there is, and the beat of the bar where it begins."""
    felt = pulses_felt(plan.chart.meter, groups, 4)
    fitting = [length for length in style.fills if length <= min(slot.fill, len(felt))]
    if not fitting:
        return (), plan.chart.bar_beats
    length = max(fitting)
    return chance.choice(style.fills[length]), felt[len(felt) - length].onset_beats


def _fill_steps(plan: Arrangement, groups: tuple[int, ...], row: str) -> Iterator[tuple[Fraction, str]]:
    """(beat from the fill's start, sign): its pulses on the bar's last ones."""
    pulses = row.split()
    felt = pulses_felt(plan.chart.meter, groups, 4)[-len(pulses):]
    for signs, pulse in zip(pulses, felt, strict=True):
        step = pulse.length_beats / len(signs)
        start = pulse.onset_beats - felt[0].onset_beats
        yield from ((start + number * step, sign) for number, sign in enumerate(signs))


def ending_strokes(beat: Fraction, density: str) -> Iterator[Stroke]:
    """The last stroke: kick and crash, softer after a light chorus."""
    softer = 24 if density == LIGHT else 0 if density == FULL else 8
    for drum in ("kick", "crash"):
        yield Stroke(beat, drum, VELOCITIES["X"] - softer)

