"""Where the beats lie when the tempo is known: a path of even steps through the flux, each beat then put to its place.

The path is Ellis's (JNMR 36, 2007): dynamic programming over onsets against a cost for uneven steps. Each beat then
moves to the nearest peak of the fine flux, and a straight line fitted robustly through its neighbours says what remains
of that: players push and drag, a beat grid does so only slowly.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .spectra import FRAMES_A_SECOND, Flux
from .tempo import COARSE, coarse

TIGHTNESS = 300.0          # cost of a step's squared log ratio to the period, in deviations of the flux
_NEAR_SECONDS = 0.045      # how far a beat may move to a peak
_NEIGHBOURS = 8            # beats on either side through which the line is laid


def beats_at(flux: Flux, tempo: float) -> Any:
    """Seconds of each beat, for `tempo` beats a minute, from the first to the last that the recording reaches."""
    onsets = coarse(flux.whole) + 0.6 * coarse(flux.low)
    rate = FRAMES_A_SECOND / COARSE
    path = _path(onsets, 60 * rate / tempo)
    return _retimed(flux.whole, path / rate, 60 / tempo)


def _path(onsets: Any, period: float) -> Any:
    """Frames of the path of least cost."""
    count = len(onsets)
    steps = np.arange(round(2 * period), round(period / 2) - 1, -1)
    steps = steps[steps >= 1]
    cost = -TIGHTNESS * np.log(steps / period) ** 2
    longest = int(steps[0])
    gain = np.concatenate([np.zeros(longest), onsets.astype(float)])
    before = np.full(count + longest, -1)
    for at in range(longest, count + longest):
        earlier = gain[at - longest:at - int(steps[-1]) + 1] + cost
        best = int(earlier.argmax())
        if earlier[best] > 0:
            gain[at] += earlier[best]
            before[at] = at - longest + best
    tail = gain[-longest:]
    at = count + longest - len(tail) + int(tail.argmax())
    path = []
    while at >= longest:
        path.append(at - longest)
        at = int(before[at])
        if at < 0:
            break
    return np.array(path[::-1], dtype=float)


def _retimed(flux: Any, beats: Any, period: float) -> Any:
    if len(beats) < 3:
        return beats
    reach = int(min(_NEAR_SECONDS, 0.2 * period) * FRAMES_A_SECOND)
    offsets = np.arange(-reach, reach + 1)
    bell = np.exp(-0.5 * (offsets / (0.6 * reach)) ** 2)
    moved, weight = np.empty(len(beats)), np.empty(len(beats))
    for number, beat in enumerate(beats):
        middle = round(beat * FRAMES_A_SECOND)
        around = np.clip(middle + offsets, 0, len(flux) - 1)
        shaped = flux[around] * bell
        best = int(shaped.argmax())
        shift = _parabola(shaped, best)
        moved[number] = (middle + offsets[best] + shift) / FRAMES_A_SECOND
        weight[number] = shaped[best]
    return _smoothed(moved, weight / (weight.mean() + 1e-9))


def _parabola(values: Any, at: int) -> float:
    """Where between two values the peak lies, from -0.5 to 0.5."""
    if not 0 < at < len(values) - 1:
        return 0.0
    left, middle, right = values[at - 1:at + 2]
    bend = left - 2 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _smoothed(times: Any, weight: Any) -> Any:
    """Each beat on the straight line through its neighbours; those far off it count less (Huber's weights, twice)."""
    found = times.copy()
    for number in range(len(times)):
        low, high = max(0, number - _NEIGHBOURS), min(len(times), number + _NEIGHBOURS + 1)
        place, here = np.arange(low, high) - number, times[low:high]
        near = weight[low:high] * np.exp(-0.5 * (place / (0.6 * _NEIGHBOURS)) ** 2)
        share = near
        for _ in range(3):
            slope, level = _line(place, here, share)
            off = np.abs(here - level - slope * place)
            share = near * np.minimum(1, 0.006 / np.maximum(off, 1e-6))
        found[number] = level
    return found


def _line(place: Any, values: Any, weight: Any) -> tuple[float, float]:
    """(slope, level at 0) of the weighted straight line."""
    total = weight.sum()
    x, y = (weight * place).sum() / total, (weight * values).sum() / total
    spread = (weight * (place - x) ** 2).sum()
    slope = (weight * (place - x) * (values - y)).sum() / spread if spread > 0 else 0.0
    return float(slope), float(y - slope * x)
