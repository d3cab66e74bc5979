"""The grid that a recording lies on: tempo with rivals, meter, beats, and the first beat of its first bar."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np

from theorylib.changes.meters import Meter

from .bars import LENGTHS, BarGuess, bar_guesses, witnesses
from .beats import beats_at
from .recording import ListenError
from .spectra import FRAMES_A_SECOND, Flux, Notes
from .tempo import FASTEST, SLOWEST, nearby, tempos
from .wishes import Wishes

EIGHTHS_FROM = 170.0      # pulses a minute above which a bar of seven or five is taken to count eighths
_LOUD_SHARE = 0.15        # of what usually begins: less is silence before and after the music


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """`tempo` in quarter notes a minute, `rivals` with it; `beats` in seconds, one a pulse of the meter.

    `first` is the number of the beat with which the first bar begins; `meter_rivals` are meters, the likeliest first.
    """

    tempo: float
    rivals: tuple[float, ...]
    meter: Meter
    meter_rivals: tuple[Meter, ...]
    beats: Any
    first: int

    @property
    def pulses(self) -> int:
        return self.meter.pulses

    @property
    def bar_count(self) -> int:
        return (len(self.beats) - self.first) // self.pulses

    @property
    def downbeats(self) -> Any:
        return self.beats[self.first::self.pulses]

    @property
    def bar_edges(self) -> Any:
        """Seconds at which the whole bars begin, and at which the last one ends."""
        following = np.append(self.beats, 2 * self.beats[-1] - self.beats[-2])
        return following[self.first + self.pulses * np.arange(self.bar_count + 1)]

    def seconds_at(self, bar: int, share: float) -> float:
        """The moment in a bar, `share` of its way through."""
        at = self.first + self.pulses * (bar + share)
        following = np.append(self.beats, 2 * self.beats[-1] - self.beats[-2])
        return float(np.interp(at, np.arange(len(following)), following))


def find_grid(flux: Flux, notes: Notes, wished: Wishes) -> Grid:
    """The grid, as far as wished for as it was wished; raises ListenError where no beat is found."""
    if wished.bars:
        return _as_given(wished)
    heard = tempos(flux)
    pulse_beats = float(wished.meter.pulse_beats) if wished.meter else 1.0
    if wished.tempo is not None:
        pulse = nearby(flux, wished.tempo / pulse_beats)
    elif heard:
        pulse = _likeliest(tuple(one for one, _ in heard), wished.meter, pulse_beats)
    else:
        raise ListenError("no beat was found", expected="music with a pulse, or its tempo with --tempo")
    beats = _where_it_sounds(beats_at(flux, pulse), flux)
    if len(beats) < 4:
        raise ListenError("fewer than four beats were found", value=len(beats), expected="a few bars of music")
    if wished.first_bar_seconds is not None:
        beats = _through(beats, wished.first_bar_seconds)
    ranked = bar_guesses(witnesses(notes, flux, beats), (wished.meter.pulses,) if wished.meter else LENGTHS)
    meters = tuple(dict.fromkeys(_meter_of(one, pulse) for one in ranked))
    meter = wished.meter or (meters[0] if meters else Meter())
    pulse = 60 * (len(beats) - 1) / float(beats[-1] - beats[0])  # as it is played, over the whole length
    tempo = pulse * float(meter.pulse_beats)
    rivals = tuple(one * float(meter.pulse_beats) for one, _ in heard if abs(one / pulse - 1) > 0.02)
    first = _first(ranked, beats, wished, meter)
    return Grid(tempo, rivals, meter, tuple(one for one in meters if one != meter), beats, first)


def _as_given(wished: Wishes) -> Grid:
    """The grid of bars that a person confirmed: their beats lie evenly within each."""
    meter = wished.meter or Meter()
    count = len(wished.bars) - 1
    beats = np.interp(np.arange(count * meter.pulses) / meter.pulses, np.arange(count + 1), wished.bars)
    tempo = 60 * count * float(meter.bar_beats) / (wished.bars[-1] - wished.bars[0])
    return Grid(tempo, (), meter, (), beats, 0)


def _likeliest(heard: tuple[float, ...], meter: Meter | None, pulse_beats: float) -> float:
    """The first tempo; where the meter counts eighths, twice it, for that is what the pulse then is."""
    pulse = heard[0]
    if meter is not None and pulse_beats < 1 and pulse < EIGHTHS_FROM and 2 * pulse <= 2 * FASTEST:
        return 2 * pulse
    return max(SLOWEST, pulse)


def _meter_of(guess: BarGuess, pulse: float) -> Meter:
    counts_eighths = pulse > EIGHTHS_FROM and guess.beats in (5, 7)
    return Meter(guess.beats, 8 if counts_eighths else 4)


def _first(ranked: tuple[BarGuess, ...], beats: Any, wished: Wishes, meter: Meter) -> int:
    if wished.first_bar_seconds is not None:
        return int(np.abs(beats - wished.first_bar_seconds).argmin())
    return next((one.first for one in ranked if one.beats == meter.pulses), 0)


def moved(grid: Grid, first: int) -> Grid:
    """The same beats, the first bar beginning on another."""
    return replace(grid, first=first)


def _where_it_sounds(beats: Any, flux: Flux) -> Any:
    """The beats from the first sound to the last."""
    from scipy.ndimage import maximum_filter1d

    near = maximum_filter1d(flux.whole, int(0.5 * FRAMES_A_SECOND))
    sounding = np.flatnonzero(flux.whole > _LOUD_SHARE * np.quantile(near, 0.8))
    if not len(sounding):
        return beats
    early, late = sounding[0] / FRAMES_A_SECOND - 0.1, sounding[-1] / FRAMES_A_SECOND + 0.1
    return beats[(beats >= early) & (beats <= late)]


def _through(beats: Any, second: float) -> Any:
    """The beats moved, where they went between the true ones, so that one of them stands at `second`."""
    lengths = np.diff(beats)
    nearest = int(np.abs(beats - second).argmin())
    off = second - beats[nearest]
    period = float(np.median(lengths))
    if abs(off) <= 0.25 * period:
        return beats
    if abs(off) > 0.75 * period:  # before the first or after the last beat that was found
        count = int(np.ceil(abs(off) / period))
        steps = period * np.arange(1, count + 1)
        more = beats[0] - steps[::-1] if off < 0 else beats[-1] + steps
        beats = np.sort(np.concatenate([beats, more]))
        off = second - beats[np.abs(beats - second).argmin()]
    moved_ = beats + off
    return moved_[moved_ >= 0]


def as_fraction(tempo: float) -> Fraction:
    """A tempo as charts hold it, to a tenth."""
    return Fraction(round(tempo * 10), 10)
