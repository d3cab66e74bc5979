"""A tempo that rises on its way: by so much every few passes or bars, to a highest tempo, a track's length kept."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.limits import TEMPO, is_whole

HIGHEST = Fraction(3, 2)  # of the chart's tempo, where no highest is said (common practice, no source)
MOST_STEP, MOST_EVERY = 100, 4000

Tempos = tuple[tuple[Fraction, Fraction], ...]


class LadderError(VampError):
    """A tempo ladder that cannot be climbed."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Quarter notes a minute added (`step`; below 0 it falls) every `passes` passes, or every `bars` bars if not 0.

    `top` is the tempo at which it stays, in quarter notes a minute; None: half as fast again as the chart, or half as
    fast where it falls. Raises LadderError.

    >>> [int(Ladder(8, top=Fraction(120)).tempo_at(Fraction(100), steps)) for steps in (0, 1, 2, 3)]
    [100, 108, 116, 120]
    """

    step: int = 0
    passes: int = 1
    bars: int = 0
    top: Fraction | None = None

    def __post_init__(self) -> None:
        numbers = ((self.step, -MOST_STEP, MOST_STEP, "step"), (self.passes, 1, MOST_EVERY, "passes"),
                   (self.bars, 0, MOST_EVERY, "bars"))
        for value, low, high, what in numbers:
            if not is_whole(value, low, high):
                raise LadderError(f"a ladder's {what} of {value!s:.40}", value=value, expected=f"{low} to {high}")
        if self.top is not None and not TEMPO[0] <= self.top <= TEMPO[1]:
            raise LadderError(f"a ladder up to {self.top!s:.40}", value=self.top, expected=f"{TEMPO[0]} to {TEMPO[1]}")

    def tempo_at(self, tempo: Fraction, steps: int) -> Fraction:
        """The tempo after so many steps: never past the top, nor past what a tempo may be."""
        if not self.step:
            return tempo
        if self.step > 0:
            most = min(Fraction(TEMPO[1]), HIGHEST * tempo) if self.top is None else self.top
            return max(tempo, min(most, tempo + steps * self.step))
        least = max(Fraction(TEMPO[0]), tempo / 2) if self.top is None else self.top
        return min(tempo, max(least, tempo + steps * self.step))

    def step_beats(self, chart: Chart) -> Fraction:
        """From one step to the next."""
        return self.bars * chart.bar_beats if self.bars else self.passes * chart.length_beats


def tempos_of(chart: Chart, length_beats: Fraction, ladder: Ladder) -> Tempos:
    """(beat, quarter notes a minute): the first at 0, then each where it changes."""
    found = [(Fraction(0), chart.tempo)]
    number = 1
    while number * ladder.step_beats(chart) < length_beats:
        tempo = ladder.tempo_at(chart.tempo, number)
        if tempo == found[-1][1]:
            break  # the top is reached
        found.append((number * ladder.step_beats(chart), tempo))
        number += 1
    return tuple(found)


def seconds_between(tempos: Tempos, start: Fraction, end: Fraction | float) -> float:
    """Seconds from one beat to a later one; before the first tempo's beat it holds already."""
    seconds, at, tempo = 0.0, start, tempos[0][1]
    for begins, following in tempos[1:]:
        if end <= begins:
            break
        if begins > at:
            seconds += float(begins - at) * 60 / float(tempo)
            at = begins
        tempo = following
    return seconds + float(end - at) * 60 / float(tempo)


def passes_for(chart: Chart, minutes: float, ladder: Ladder, most: int) -> int:
    """How many passes, one at least, come nearest to so many minutes while the tempo rises."""
    tempos = tempos_of(chart, most * chart.length_beats, ladder)
    best, before = 1, float("inf")
    for passes in range(1, most + 1):
        off = abs(seconds_between(tempos, Fraction(0), passes * chart.length_beats) - 60 * minutes)
        if off >= before:
            break
        best, before = passes, off
    return best
