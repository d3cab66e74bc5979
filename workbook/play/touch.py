"""Time and touch: what a player adds to a row. Milliseconds before or behind the beat, accents by meter, a swell.

All of it is seeded. Offsets come from the style's pocket; drift is a triangle about it, narrow enough that nobody hears
it as a mistake. Accents and swells in MIDI velocities, common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from theorylib.changes.meters import Meter

from .arrangement import STOP, Arrangement
from .grouping import pulses_felt
from .style import FULL, LIGHT, MAIN, Style

_FIRST, _GROUP, _OFF = 5, 2, -5                      # velocity on the first beat, on a group's, between pulses
_DENSITY = {LIGHT: -9, MAIN: 0, FULL: 5, STOP: 4}
_SWELL = 5                                           # from the first bar of a chorus to its last
_WAVER = 4                                           # at most, up or down, by chance


@dataclass(frozen=True, slots=True)
class Touch:
    """How one part is played over a plan: asked for each stroke in turn."""

    plan: Arrangement
    style: Style
    groups: tuple[int, ...]
    chance: Random

    def late_ms(self, *names: str) -> int:
        """Milliseconds behind the beat: the first of these names that the style's pocket has, and a drift."""
        pocket = next((self.style.pocket_ms[name] for name in names if name in self.style.pocket_ms), 0)
        drift = self.style.drift_ms
        return pocket + round(self.chance.triangular(-drift, drift, 0))

    def velocity(self, beat: Fraction, usual: int) -> int:
        """How loud a stroke is, for its usual loudness."""
        bar, inside = divmod(beat, self.plan.chart.bar_beats)
        accent = accent_of(inside, self.plan.chart.meter, self.groups)
        loud = usual + accent + self._grown(int(bar)) + self.chance.randint(-_WAVER, _WAVER)
        return max(1, min(127, loud))

    def _grown(self, bar: int) -> int:
        """What density and the chorus so far add: a player leans into its end."""
        place = bar - int(self.plan.slots[0].start_beats / self.plan.chart.bar_beats)
        slot = self.plan.slots[max(0, min(place, len(self.plan.slots) - 1))]
        form = max(1, self.plan.chart.form_bars)
        return _DENSITY[slot.density] + round(_SWELL * (slot.bar % form) / form)


def accent_of(inside: Fraction, meter: Meter, groups: tuple[int, ...]) -> int:
    """Velocity added at a beat of the bar: the first most, a group's first more, between pulses less."""
    if inside == 0:
        return _FIRST
    for pulse in pulses_felt(meter, groups, 4):
        if pulse.onset_beats == inside:
            return _GROUP if pulse.leads else 0
    return _OFF
