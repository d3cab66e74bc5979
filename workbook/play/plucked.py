"""Voices made of numbers alone, for machines on which no SoundFont renderer installs: plucked strings and drums.

A string is a burst of noise in a delay line that loses its highs at each turn (Karplus and Strong, 1983); the delay's
length, corrected by a one-pole allpass, gives the exact pitch. Bent notes are read along their path. Plain, but in tune
and in time to the sample.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

RATE = 48_000
A4 = 440.0  # Hz, ISO 16
_DECAY = {"bass": 0.9985, "keys": 0.9965, "pad": 0.9992, "clean": 0.9975, "muted": 0.95, "harmonics": 0.9988}


@lru_cache(maxsize=512)
def string(midi: int, seconds: float, voice: str = "clean") -> Any:
    """A plucked note as float32 samples at RATE, peak 1; the same numbers each time."""
    import numpy as np
    from scipy.signal import lfilter

    hz = A4 * 2 ** ((midi - 69) / 12)
    period = RATE / hz
    # The averaging filter delays by half a sample; the allpass makes up the fraction.
    whole = int(period - 0.5 - 0.1)
    fraction = period - 0.5 - whole
    allpass = (1 - fraction) / (1 + fraction)
    count = int(seconds * RATE)
    noise = np.zeros(count)
    burst = np.random.default_rng(midi).uniform(-1, 1, whole)
    noise[:min(whole, count)] = burst[:count]
    damp = _DECAY.get(voice, 0.997) ** (220 / hz if hz > 220 else 1)
    # y[n] = x[n] + damp * (allpass o average)(y[n - whole])
    b = np.array([1.0, allpass])
    a = np.zeros(whole + 3)
    a[0], a[1] = 1.0, allpass
    a[whole] -= damp * 0.5 * allpass
    a[whole + 1] -= damp * 0.5 * (allpass + 1)
    a[whole + 2] -= damp * 0.5
    out = lfilter(b, a, noise)
    fade = min(count, int(0.02 * RATE))
    out[count - fade:] *= np.linspace(1, 0, fade)
    peak = np.max(np.abs(out)) or 1.0
    return (out / peak).astype(np.float32)


@lru_cache(maxsize=64)
def drum(key: int) -> Any:
    """A General MIDI percussion key as float32 samples at RATE, peak 1: a thump, a burst of noise or a ring of it."""
    import numpy as np

    def tone(hz: float, fall: float, seconds: float) -> Any:
        time = np.arange(int(seconds * RATE)) / RATE
        return np.sin(2 * np.pi * hz * (time + fall * (1 - np.exp(-time * 30)) / 30)) * np.exp(-time * 6 / seconds)

    def hiss(seconds: float, high: bool) -> Any:
        noise = np.random.default_rng(key).uniform(-1, 1, int(seconds * RATE))
        if high:
            noise = np.diff(noise, prepend=0.0)
        return noise * np.exp(-np.arange(len(noise)) / RATE * 6 / seconds)

    def both(one: Any, two: Any) -> Any:
        out = np.zeros(max(len(one), len(two)))
        out[:len(one)] += one
        out[:len(two)] += two
        return out

    def swept(noise: Any) -> Any:  # it grows and dies away
        return noise * np.minimum(1.0, np.arange(len(noise)) / RATE / 0.12)

    makers: dict[int, Callable[[], Any]] = {
        36: lambda: tone(52, 2.2, 0.32), 38: lambda: both(tone(190, 0.4, 0.14) * 0.7, hiss(0.2, False) * 0.7),
        37: lambda: tone(420, 0.2, 0.06), 42: lambda: hiss(0.06, True), 44: lambda: hiss(0.05, True) * 0.7,
        46: lambda: hiss(0.35, True), 51: lambda: hiss(0.5, True), 49: lambda: hiss(1.3, True),
        45: lambda: tone(98, 0.8, 0.3), 47: lambda: tone(130, 0.8, 0.28), 50: lambda: tone(170, 0.8, 0.26),
        82: lambda: hiss(0.08, True) * 0.6, 40: lambda: swept(hiss(0.45, False)),
    }
    out = makers.get(key, lambda: hiss(0.1, True))()
    return (out / (np.max(np.abs(out)) or 1.0)).astype(np.float32)


def along(samples: Any, cents: Any) -> Any:
    """The samples read at a speed that follows `cents` (one value a sample of the result)."""
    import numpy as np

    position = np.concatenate([[0.0], np.cumsum(2.0 ** (np.asarray(cents)[:-1] / 1200))])
    return np.interp(position, np.arange(len(samples)), samples, right=0.0).astype(np.float32)
