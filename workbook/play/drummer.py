"""Drums: from a style's rows and a plan to strokes, a phrase being A A A′ B.

In the first three bars of a phrase the kit mostly plays its usual bar, in the fourth mostly another one: then one drum
or more plays another row, what keeps time least often. A section after the first has a usual bar of its own. Fills
stand where the plan puts them, a crash where it answers one. Common practice, no source; how much bars repeat was held
against bands that people wrote (tests/bench/band_outside.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from .arrangement import ENDING, STOP, Arrangement, Slot
from .grouping import TIMEKEEPERS, distinct, pulses_felt, steps_of
from .style import FULL, LIGHT, MAIN, VELOCITIES, Fill, Kit, Rows, Style

_OTHER_BAR = (0.15, 0.35, 0.3, 0.95)  # how likely a bar is another than the usual one, by its place in the phrase
_OTHER_TIME, _OTHER_ROW = 0.2, 0.6    # how likely then a drum plays another row: one that keeps time, one of the others
_OWN_ROWS = 2                         # of so many rows, the first ones, a section chooses its usual ones


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke: the beat in the track before swing, the drum's name and its sign's loudness."""

    beat: Fraction
    drum: str
    velocity: int


def strokes(plan: Arrangement, style: Style, groups: tuple[int, ...], chance: Random) -> Iterator[Stroke]:
    """Every stroke of the plan's bars."""
    usual = _Usual(chance)
    for slot in plan.slots:
        if slot.kind == ENDING:
            yield from ending_strokes(slot.start_beats, slot.density)
        elif slot.density == STOP:
            yield Stroke(slot.start_beats, "kick", VELOCITIES["X"])
            yield Stroke(slot.start_beats, "crash" if slot.crash else "hat", VELOCITIES["X"])
        else:
            yield from _bar(plan, slot, style, groups, usual)


def kit_of(style: Style, density: str) -> Kit:
    """The rows of a density; where a style has none of it, the main ones."""
    return style.drums.get(density) or style.drums[MAIN]


def _bar(plan: Arrangement, slot: Slot, style: Style, groups: tuple[int, ...], usual: _Usual) -> Iterator[Stroke]:
    meter = plan.chart.meter
    fill, fill_from = _fill(plan, slot, style, groups, usual.chance)
    thin = plan.chart.tempo > style.thin_above
    kit = {drum: distinct(meter, groups, style.steps, rows, drum) for drum, rows in kit_of(style, slot.density)}
    for drum, row in usual.rows_for(slot, kit).items():
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


class _Usual:
    """The usual bar of each section in each density, and how a bar departs from it."""

    def __init__(self, chance: Random) -> None:
        self.chance = chance
        self._first: str | None = None                            # the section with which the track began
        self._bars: dict[tuple[str, str], dict[str, str]] = {}    # of (density, section) the usual row of each drum

    def rows_for(self, slot: Slot, kit: Mapping[str, Rows]) -> dict[str, str]:
        """The row of each drum in a bar."""
        found = dict(self._usual(slot, kit))
        if self.chance.random() >= _OTHER_BAR[slot.place]:
            return found
        free = [drum for drum, rows in kit.items() if len(rows) > 1]
        changed = [drum for drum in free
                   if self.chance.random() < (_OTHER_TIME if drum in TIMEKEEPERS else _OTHER_ROW)]
        for drum in changed or free[-1:]:
            found[drum] = self.chance.choice([row for row in kit[drum] if row != found[drum]])
        return found

    def _usual(self, slot: Slot, kit: Mapping[str, Rows]) -> dict[str, str]:
        if self._first is None:
            self._first = slot.section
        name = slot.density, slot.section
        if name not in self._bars:
            own = {drum: rows[0] for drum, rows in kit.items()}
            if slot.section != self._first:
                own |= {drum: self.chance.choice(rows[:_OWN_ROWS]) for drum, rows in kit.items()
                        if drum not in TIMEKEEPERS}
            self._bars[name] = own
        return self._bars[name]


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

