"""A backing found in a take, and a device's latency from claps on a click."""

from __future__ import annotations

from typing import Any

import numpy as np

from .recording import ListenError, Recording
from .spectra import FRAMES_A_SECOND, flux_of
from .strikes import strikes_of

STANDS_OUT = 6.0          # deviations by which the likeness at the right place exceeds that at others
_FEWEST_CLAPS, _EVEN_MS = 6, 40.0
_CLAP_SHARE = 0.5         # of what begins with the sixth loudest clap: less is the room


def backing_in(take: Recording, track: Recording) -> float | None:
    """Seconds into the take at which the track begins; None where the track is not heard in it.

    What begins is compared, and not the waves: a microphone and a room change a backing's sound, but not when it comes.
    """
    from scipy.signal import fftconvolve

    one, two = flux_of(take).whole, flux_of(track).whole
    one, two = one - one.mean(), two - two.mean()
    likeness = fftconvolve(one, two[::-1])
    apart = likeness - _smoothed(likeness)
    best = int(apart.argmax())
    if apart[best] < STANDS_OUT * apart.std():
        return None
    return (best + _finer(apart, best) - len(two) + 1) / FRAMES_A_SECOND


def _finer(values: Any, at: int) -> float:
    if not 0 < at < len(values) - 1:
        return 0.0
    left, middle, right = values[at - 1:at + 2]
    bend = left - 2 * middle + right
    return float(np.clip(0.5 * (left - right) / bend, -0.5, 0.5)) if bend < 0 else 0.0


def _smoothed(values: Any) -> Any:
    from scipy.ndimage import uniform_filter1d

    return uniform_filter1d(values, int(0.2 * FRAMES_A_SECOND))


def latency_of(claps: Recording, tempo: float) -> tuple[float, float]:
    """(ms late, deviation in ms) of claps on every beat of a click with which the recording began.

    A latency of half a beat or more cannot be told from one that is a beat shorter: clap to a slow click. Raises
    ListenError where the claps are few or uneven.
    """
    flux = flux_of(claps)
    seconds = strikes_of(claps, flux).seconds
    beat = 60 / tempo
    begins = flux.whole[np.minimum(np.round(seconds * FRAMES_A_SECOND).astype(int), len(flux.whole) - 1)]
    loudest = np.sort(begins)[-_FEWEST_CLAPS:]
    strong = seconds[begins > _CLAP_SHARE * loudest[:1]] if len(seconds) else seconds
    turns = np.exp(2j * np.pi * strong / beat)
    if len(strong) < _FEWEST_CLAPS:
        raise ListenError(f"{len(strong)} claps were found", value=len(strong),
                          expected=f"at least {_FEWEST_CLAPS}, one on each click")
    late = float(np.angle(turns.mean()) / (2 * np.pi)) * beat * 1000
    off = np.angle(turns * np.exp(-2j * np.pi * late / 1000 / beat)) / (2 * np.pi) * beat * 1000
    spread = float(np.median(np.abs(off)) * 1.4826)
    if spread > _EVEN_MS:
        raise ListenError(f"the claps lie {spread:.0f} ms around the click", value=spread,
                          expected=f"claps on a click of {tempo:g} a minute, within {_EVEN_MS:.0f} ms")
    return late, spread
