"""Where something is struck in a take, and which pitch each stroke added.

Strokes are peaks of the flux, placed between its frames by a parabola. A stroke's pitch is judged by what its spectrum
has over the spectrum just before, summed along the partials of each semitone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .recording import RATE, Recording
from .spectra import FRAMES_A_SECOND, Flux

LOWEST, HIGHEST = 36, 96             # MIDI numbers that a guitar may sound, bends and low tunings counted
NEAREST_SECONDS = 0.035              # two strokes closer than that are one
NEAR_SEMITONES = 9                    # around a pitch, within which a hand slips
SMOOTH_FRAMES = 1.2                  # deviation of what smooths the flux
KEPT_SHARE = 0.7                     # of what sounded before is taken off: it has decayed
LEAST_SHARE = 0.06                  # of a strong stroke's flux: less is no stroke
AFTER, BEFORE = 0.008, 0.006       # seconds left out on either side of a stroke
WINDOW, PADDED = 2_048, 8_192
PARTIALS, FALL = 8, 0.82           # partials summed, and how much less each counts
BESIDE_CENTS = 35


@dataclass(frozen=True, slots=True, eq=False)
class Strikes:
    """`seconds` of each stroke, its `strength` (1 is a strong one), and (strokes, semitones) of salience, best 1."""

    seconds: Any
    strength: Any
    salience: Any

    def heard(self, number: int) -> int:
        """The MIDI number that the stroke most likely sounds."""
        return LOWEST + int(self.salience[number].argmax())

    def heard_near(self, number: int, midi: int, reach: int = NEAR_SEMITONES) -> int:
        """The same among the semitones around a pitch: where a hand slips it slips by a few frets or a string."""
        low = max(0, midi - reach - LOWEST)
        return LOWEST + low + int(self.salience[number, low:max(low + 1, midi + reach + 1 - LOWEST)].argmax())

    def share_of(self, number: int, midi: int) -> float:
        """How salient a pitch is beside the most salient one, 0 to 1."""
        place = midi - LOWEST
        return float(self.salience[number, place]) if 0 <= place < self.salience.shape[1] else 0.0


def strikes_of(recording: Recording, flux: Flux) -> Strikes:
    """The strokes of a take, weak ones too: what they are is for the alignment to say."""
    seconds, strength = _peaks(flux.whole)
    salience = _saliences(recording.samples, seconds)
    body = salience.max(axis=1, initial=0.0)
    usual = float(np.quantile(body, 0.75)) if len(body) else 1.0
    # The click of a finger that leaves a string begins something and adds no note.
    sounds = np.sqrt(np.minimum(1.0, body / max(usual, 1e-9)))
    return Strikes(seconds, strength * sounds, salience / np.maximum(body, 1e-9)[:, None])


def _peaks(flux: Any) -> tuple[Any, Any]:
    from scipy.ndimage import gaussian_filter1d, maximum_filter1d, median_filter

    smooth = gaussian_filter1d(flux.astype(float), SMOOTH_FRAMES)
    near = int(NEAREST_SECONDS * FRAMES_A_SECOND)
    risen = smooth - median_filter(smooth, int(0.2 * FRAMES_A_SECOND) | 1)
    tops = np.flatnonzero((smooth == maximum_filter1d(smooth, 2 * near + 1)) & (risen > 0))
    if not len(tops):
        return np.zeros(0), np.zeros(0)
    strong = np.quantile(risen[tops], 0.9)
    tops = tops[risen[tops] > LEAST_SHARE * strong]
    tops = tops[(tops > 0) & (tops < len(smooth) - 1)]
    left, middle, right = smooth[tops - 1], smooth[tops], smooth[tops + 1]
    shift = 0.5 * (left - right) / np.minimum(left - 2 * middle + right, -1e-9)
    return (tops + np.clip(shift, -0.5, 0.5)) / FRAMES_A_SECOND, np.minimum(1.0, risen[tops] / strong)


def _saliences(samples: Any, seconds: Any) -> Any:
    bins, weights = _comb()
    found = np.zeros((len(seconds), HIGHEST - LOWEST + 1))
    ends = np.append(seconds, len(samples) / RATE)[1:]
    for number, (start, end) in enumerate(zip(seconds, ends, strict=True)):
        after = _spectrum(samples, start + AFTER, min(end - BEFORE, start + AFTER + WINDOW / RATE))
        before = _spectrum(samples, start - BEFORE - WINDOW / RATE, start - BEFORE)
        added = np.sqrt(np.maximum(0.0, after - KEPT_SHARE * before))
        # The highest of the bins near a partial stands for it.
        found[number] = (np.maximum.reduceat(added[bins.ravel()], np.arange(0, bins.size, bins.shape[2]))
                         .reshape(bins.shape[:2]) * weights).sum(axis=1)
    return found


def _spectrum(samples: Any, start: float, end: float) -> Any:
    """Magnitudes of a stretch (at least 30 ms), on bins of RATE / PADDED Hz."""
    from scipy.fft import rfft

    first = max(0, round(start * RATE))
    last = min(len(samples), max(round(end * RATE), first + int(0.03 * RATE)))
    part = samples[first:last]
    if len(part) < 64:
        return np.zeros(PADDED // 2 + 1)
    return np.abs(rfft(part * np.hanning(len(part)), PADDED)) / len(part)


def _comb() -> tuple[Any, Any]:
    """(semitones, partials, bins nearby) of bin numbers, and (semitones, partials) of weights."""
    midis = np.arange(LOWEST, HIGHEST + 1)
    partials = np.arange(1, PARTIALS + 1)
    hz = 440 * 2 ** ((midis[:, None] - 69) / 12) * partials
    cents = np.linspace(-BESIDE_CENTS, BESIDE_CENTS, 7)
    bins = np.round(hz[:, :, None] * 2 ** (cents / 1200) * PADDED / RATE).astype(int)
    inside = hz < 0.45 * RATE
    return np.minimum(bins, PADDED // 2), FALL ** (partials - 1) * inside
