"""How loud audio is, and bringing it to a loudness under a peak: one gain curve, which stems share with their mix.

Loudness is ITU-R BS.1770's (pyloudnorm), true peak by eightfold oversampling. Audio is float32, RATE, two channels.
"""

from __future__ import annotations

import math
from typing import Any

from .plucked import RATE

LOUDNESS_LUFS, PEAK_DBFS = -18.0, -1.0
_NEAR_DB = 0.1             # of the loudness wanted
_OVERSAMPLED_DB = 0.1      # for what oversampling does not see
_STRETCH = 2048            # samples limited together: more than the limiter reaches
_BLOCK, _MARGIN = 128, 24  # samples looked at together for the true peak, and what the filter needs on either side


def levelled(audio: Any, lufs: float = LOUDNESS_LUFS, peak_dbfs: float = PEAK_DBFS) -> Any:
    """The audio at a loudness, turned down where its true peak would pass the limit; silence stays silence."""
    gain = levelling(audio, lufs, peak_dbfs)
    return audio if gain is None else audio * gain[:, None]


def levelling(audio: Any, lufs: float = LOUDNESS_LUFS, peak_dbfs: float = PEAK_DBFS) -> Any:
    """The gain at each sample that does it; None for silence. What a stem is given of it adds up to the mix's.

    Loudness is measured once; what the limiter takes away is told by the power that is left, and given back.
    """
    import numpy as np

    loud = loudness(audio)
    if loud == float("-inf"):
        return None
    limit = 10 ** ((peak_dbfs - _OVERSAMPLED_DB) / 20)
    heights, power = _heights(audio), float(np.mean(audio ** 2))
    wanted = 10 ** ((lufs - loud) / 20)
    gain, ceiling = wanted, limit * 0.97
    for _ in range(6):
        curve = np.float32(gain) * limiting(heights * np.float32(gain), ceiling)
        found = audio * curve[:, None]
        missing = 10 * math.log10(wanted ** 2 * power / float(np.mean(found ** 2)))
        highest = true_peak(found, curve * heights)
        if abs(missing) < _NEAR_DB and highest <= limit:
            return curve
        gain *= 10 ** (missing / 20)
        ceiling *= min(1.0, limit / highest)
    return curve * np.float32(min(1.0, limit / highest))


def limiting(heights: Any, limit: float, seconds: float = 0.004) -> Any:
    """The gain at each sample, smooth over a few milliseconds around each peak, that keeps heights to the limit."""
    import numpy as np
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    gain = np.ones(len(heights), dtype=np.float32)
    over = np.flatnonzero(heights > limit)
    if not len(over):
        return gain
    width = 2 * int(seconds * RATE) + 1
    # Only stretches near a peak are looked at, each with what the two filters reach on either side.
    near = np.unique(over // _STRETCH + np.array([[-1], [0], [1]]))
    near = near[(near >= 0) & (near * _STRETCH < len(heights))]
    padded = np.pad(heights, (2 * width, 2 * width + _STRETCH))
    windows = padded[near[:, None] * _STRETCH + np.arange(_STRETCH + 4 * width)]
    needed = np.float32(limit) / np.maximum(windows, np.float32(limit))
    smooth = uniform_filter1d(minimum_filter1d(needed, width, axis=1), width, axis=1)[:, 2 * width:2 * width + _STRETCH]
    places = near[:, None] * _STRETCH + np.arange(_STRETCH)
    inside = places < len(heights)
    gain[places[inside]] = smooth[inside]
    return gain


def under_full_scale(audio: Any) -> Any:
    """The audio turned down as a whole where it would pass full scale: what is written must not be cut off."""
    import numpy as np

    highest = float(np.max(np.abs(audio), initial=0.0))
    return audio if highest <= 1 else audio / highest


def _heights(audio: Any) -> Any:
    """The higher channel's absolute value at each sample (by columns: numpy is slow along short rows)."""
    import numpy as np

    levels = np.abs(audio)
    return np.maximum.reduce([levels[:, channel] for channel in range(audio.shape[1])])


def loudness(audio: Any) -> float:
    """Integrated loudness in LUFS; minus infinity for silence or less than a measuring block of 0.4 s."""
    import numpy as np
    import pyloudnorm

    if len(audio) < 0.4 * RATE or not audio.any():
        return float("-inf")
    with np.errstate(divide="ignore"):  # a silent stretch within is minus infinity, and gated
        return float(pyloudnorm.Meter(RATE).integrated_loudness(audio))


def true_peak(audio: Any, heights: Any = None, around: float = 0.75) -> float:
    """The highest absolute value between the samples too: eightfold oversampled where the samples come near the top."""
    import numpy as np
    from scipy.signal import resample_poly

    levels = _heights(audio) if heights is None else heights
    highest = float(np.max(levels, initial=0.0))
    if not highest:
        return 0.0
    blocks = np.unique(np.flatnonzero(levels >= around * highest) // _BLOCK)
    windows = blocks[:, None] * _BLOCK + np.arange(-_MARGIN, _BLOCK + _MARGIN)
    silent = ((windows < 0) | (windows >= len(audio)))[:, :, None]
    between = resample_poly(np.where(silent, np.float32(0), audio[windows.clip(0, len(audio) - 1)]), 8, 1, axis=1)
    return max(highest, float(np.max(np.abs(between))))
