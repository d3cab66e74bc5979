"""Samples that can be held as long as wanted: a level loop at the end, which joins without a seam.

The loop is a whole number of periods long, so that it ends in the phase in which it began; its last stretch is faded
into what stands before its start. What the sound loses there in loudness is taken out of it and told, so that whoever
plays it lets it fade by so much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from .plucked import A4, RATE

_RATE = RATE // 2              # of the bank's samples
LOOP_SECONDS, SEAM_SECONDS = 0.5, 0.1
MOST_FADE_DB = 40.0            # decibels a second: what dies away faster has ended anyway


@dataclass(frozen=True, slots=True)
class Loop:
    """Where a loop begins, in samples (it ends with the sound), and how fast the sound fades, in decibels a second."""

    start: int
    fade_db: float


def looped(sample: Any, midi: int) -> tuple[Any, Loop | None]:
    """The sample of a note with its loop; as it is, and None, where it is too short or silent at its end."""
    import numpy as np

    seam, whole = round(SEAM_SECONDS * _RATE), np.array(sample, dtype=np.float32)
    # The very end is faded out when a sample is cut: it is no part of the loop.
    whole = whole[:len(whole) - round(0.02 * _RATE)]
    length = _loop_length(whole, midi, seam)
    start = len(whole) - length
    if start < seam or length < seam:
        return sample, None
    early, late = _level(whole[start - seam:start]), _level(whole[-seam:])
    if late < 1e-4 or early < 1e-4:
        return sample, None
    fade_db = max(0.0, min(MOST_FADE_DB, 20 * math.log10(early / late) * _RATE / length))
    growth = 10 ** (fade_db / 20 * np.arange(length) / _RATE)
    whole[start:] *= growth
    over = np.linspace(0, 1, seam)
    whole[-seam:] = whole[-seam:] * (1 - over) + whole[start - seam:start] * over
    return whole, Loop(start, fade_db)


def _loop_length(whole: Any, midi: int, seam: int) -> int:
    """The whole number of periods, near LOOP_SECONDS, after which the end is most like itself."""
    import numpy as np

    period = _RATE / (A4 * 2 ** ((midi - 69) / 12))
    end, best = whole[-seam:], (-2.0, 0)
    for count in range(max(1, round(0.8 * LOOP_SECONDS * _RATE / period)), round(LOOP_SECONDS * _RATE / period) + 1):
        for length in {math.floor(count * period), math.ceil(count * period)}:
            before = whole[len(whole) - seam - length:len(whole) - length]
            if len(before) == seam:
                alike = float(np.dot(end, before)) / (float(np.linalg.norm(end) * np.linalg.norm(before)) or 1.0)
                best = max(best, (alike, length))
    return best[1]


def _level(sample: Any) -> float:
    import numpy as np

    return float(np.sqrt((sample ** 2).mean()))
