"""How the pitch of one held note moves: bends by level, vibrato by rate, width and start, in cents.

A coarse path by the sum of partials over a grid of cents; then the note's partials are brought down to zero frequency
along that path (heterodyned) and what their phases still turn is added to it, partials weighed by their strength.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .recording import RATE

STEP_SECONDS = 0.005
LOWEST_CENTS, HIGHEST_CENTS = -160.0, 560.0  # around the fretted note: a bend of more than four semitones is none
_GRID_CENTS = 10.0
_WINDOW, _PADDED = 1_024, 4_096
_PARTIALS = (1, 2, 3, 4)
_SOFTEN_SECONDS = 0.02                       # over which the phases are averaged
_RATES_HZ = (2.5, 9.5)                       # of what is taken for vibrato
_LEAST_WIDTH_CENTS = 8.0


@dataclass(frozen=True, slots=True)
class Vibrato:
    """`rate_hz`, `width_cents` from the lowest to the highest, `start_seconds` from the note's onset."""

    rate_hz: float
    width_cents: float
    start_seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class PitchPath:
    """Cents above the fretted pitch each STEP_SECONDS from the note's onset; not a number where it cannot be told."""

    cents: Any

    def level(self, start: float, end: float) -> float | None:
        """The median between two seconds from the onset; None where too little is known."""
        part = self.cents[max(0, int(start / STEP_SECONDS)):max(1, int(end / STEP_SECONDS))]
        known = part[np.isfinite(part)]
        return float(np.median(known)) if len(known) >= 3 else None


def path_of(samples: Any, onset: float, length: float, midi: int) -> PitchPath:
    """The path of a note that begins at `onset` (seconds) and lasts `length`; `midi` is its fretted pitch."""
    hz = 440 * 2 ** ((midi - 69) / 12)
    steps = max(2, int(length / STEP_SECONDS))
    first = int(onset * RATE)
    part = samples[max(0, first - _WINDOW):first + int(length * RATE) + _WINDOW].astype(float)
    lead = first - max(0, first - _WINDOW)
    middles = lead + (np.arange(steps) * STEP_SECONDS * RATE).astype(int)
    coarse, strength = _coarse(part, middles, hz)
    fine = _fine(part, middles, hz, coarse)
    fine[strength < 0.03 * strength.max(initial=0.0)] = np.nan
    return PitchPath(fine)


def vibrato_in(path: PitchPath, start: float, end: float) -> Vibrato | None:
    """The vibrato between two seconds from the onset; None where there is none."""
    first, last = int(start / STEP_SECONDS), int(end / STEP_SECONDS)
    part = path.cents[first:last]
    part = part[:_known(part)]
    if len(part) * STEP_SECONDS < 0.3:
        return None
    centred = _without_trend(part)
    rate = _rate(centred)
    if rate is None:
        return None
    swings, width = _width(centred, rate)
    if width < _LEAST_WIDTH_CENTS:
        return None
    return Vibrato(rate, width, start + swings * STEP_SECONDS)


def _known(part: Any) -> int:
    """How many values come before the first gap."""
    gaps = np.flatnonzero(~np.isfinite(part))
    return int(gaps[0]) if len(gaps) else len(part)


def _coarse(part: Any, middles: Any, hz: float) -> tuple[Any, Any]:
    """(cents, strength) of each moment: the best of the grid, jumps smoothed away by a running median."""
    from scipy.fft import rfft
    from scipy.ndimage import median_filter

    cents = np.arange(LOWEST_CENTS, HIGHEST_CENTS + 1, _GRID_CENTS)
    padded = np.pad(part, (_WINDOW // 2, _WINDOW))
    frames = np.stack([padded[middle:middle + _WINDOW] for middle in middles])
    spectrum = np.sqrt(np.abs(rfft(frames * np.hanning(_WINDOW), _PADDED, axis=1)))
    sums = np.zeros((len(middles), len(cents)))
    for partial in range(1, 7):
        place = hz * partial * 2 ** (cents / 1200) * _PADDED / RATE
        whole = np.minimum(place.astype(int), _PADDED // 2 - 1)
        share = np.minimum(place - whole, 1.0)
        sums += (spectrum[:, whole] * (1 - share) + spectrum[:, whole + 1] * share) / partial ** 0.5
    # A pitch moves by little within a few milliseconds: neighbours are heard together.
    smooth = median_filter(cents[sums.argmax(axis=1)], 9, mode="nearest")
    return smooth, np.abs(frames).max(axis=1)


def _fine(part: Any, middles: Any, hz: float, coarse: Any) -> Any:
    places = np.arange(len(part))
    along = _softened(np.interp(places, middles, coarse), 0.012 * RATE)
    turns = 2 * np.pi * np.cumsum(hz * 2 ** (along / 1200)) / RATE
    total, weight = np.zeros(len(part)), np.full(len(part), 1e-12)
    for partial in _PARTIALS:
        if hz * partial > 0.4 * RATE:
            break
        low = (_softened(part * np.cos(partial * turns), _SOFTEN_SECONDS * RATE / 4)
               - 1j * _softened(part * np.sin(partial * turns), _SOFTEN_SECONDS * RATE / 4))
        turned = np.angle(low[1:] * np.conj(low[:-1]))
        off_hz = np.concatenate([turned[:1], turned]) * RATE / (2 * np.pi) / partial
        strength = np.abs(low) ** 2 * partial  # a higher partial turns more for the same cents
        total += strength * off_hz
        weight += strength
    off = _softened(total / weight, 0.002 * RATE)
    ratio = np.maximum(1 + off / (hz * 2 ** (along / 1200)), 0.5)
    return np.interp(middles, places, along + 1200 * np.log2(ratio))


def _softened(values: Any, deviation: float) -> Any:
    """Averaged by three boxes, which together come near a bell of that deviation, in samples."""
    from scipy.ndimage import uniform_filter1d

    width = max(1, round(2 * deviation)) | 1
    for _ in range(3):
        values = uniform_filter1d(values, width, mode="nearest")
    return values


def _without_trend(part: Any) -> Any:
    from scipy.ndimage import gaussian_filter1d

    return part - gaussian_filter1d(part, 0.16 / STEP_SECONDS, mode="nearest")


def _rate(centred: Any) -> float | None:
    """Swings a second: the greatest of the spectrum, placed between bins by a parabola; None where none stands out."""
    size = 8_192
    spectrum = np.abs(np.fft.rfft(centred * np.hanning(len(centred)), size))
    hz = np.arange(len(spectrum)) / (size * STEP_SECONDS)
    inside = np.flatnonzero((hz >= _RATES_HZ[0]) & (hz <= _RATES_HZ[1]))
    best = inside[int(spectrum[inside].argmax())]
    if spectrum[best] < 2.0 * np.median(spectrum[(hz > 1) & (hz < 25)]):
        return None
    left, middle, right = spectrum[best - 1:best + 2]
    shift = 0.5 * (left - right) / min(left - 2 * middle + right, -1e-12)
    return float((best + shift) / (size * STEP_SECONDS))


def _width(centred: Any, rate: float) -> tuple[int, float]:
    """(first step of the vibrato, cents from lowest to highest): a sine of the rate, fitted window by window."""
    span = max(8, int(1.0 / rate / STEP_SECONDS))
    times = np.arange(len(centred)) * STEP_SECONDS
    waves = np.stack([np.cos(2 * np.pi * rate * times), np.sin(2 * np.pi * rate * times)], axis=1)
    fits = (np.linalg.lstsq(waves[at:at + span], centred[at:at + span], rcond=None)[0]
            for at in range(0, max(1, len(centred) - span), 2))
    sizes = [float(np.hypot(*fit)) for fit in fits]
    usual = float(np.median(sizes))
    begins = next((2 * place for place, size in enumerate(sizes) if size > 0.5 * usual), 0)
    return begins, 2 * usual


