"""What an ear takes from a recording: where something begins (flux), and which pitches sound (peaks in two registers).

Flux: log-spaced bands of a short spectrum, compressed, each band's rise summed (after Bello et al., IEEE TSAP 13, 2005,
and Ellis, JNMR 36, 2007; from memory). Frames are HOP samples apart: RATE / HOP = 344.53 a second. Notes: peaks of a
longer spectrum, placed between bins by a parabola and gathered by semitone once the tuning was found: a short window
for the treble, a long one for the bass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from .recording import RATE, Recording

HOP = 64
FRAMES_A_SECOND = RATE / HOP
NOTES_RATE = RATE / 1024             # frames of notes a second: 21.5
LOWEST_MIDI, SEMITONES = 24, 84      # C1 to B7
_WINDOW, _BANDS, _LAG = 512, 36, 4   # of the flux: samples, bands, frames over which a rise is measured
_LOWEST_HZ, _HIGHEST_HZ = 40.0, 10_000.0
_LOW_HZ, _HIGH_HZ = 160.0, 2_500.0   # a bass drum and a bass lie under, a hi-hat and a snare's wires over
_TREBLE_HZ, _BASS_HZ = (130.0, 3_000.0), (38.0, 400.0)
_SHARPNESS = 0.12                    # of a semitone: how far beside its note a peak counts; a 7th partial lies 0.31
_BLOCK = 8_192                       # frames worked on at a time


@dataclass(frozen=True, slots=True, eq=False)
class Flux:
    """How much begins at each frame (FRAMES_A_SECOND of them a second): in all, in the bass, in the highs."""

    whole: Any
    low: Any
    high: Any


@dataclass(frozen=True, slots=True, eq=False)
class Notes:
    """Strength by frame (NOTES_RATE a second) and semitone from LOWEST_MIDI up, heard through two windows.

    `tuning_cents` is how far A4 lies from 440 Hz.
    """

    treble: Any
    bass: Any
    tuning_cents: float


def flux_of(recording: Recording) -> Flux:
    """The flux of a recording; frame i stands at i / FRAMES_A_SECOND seconds."""
    bands, centres = _bands(_WINDOW, RATE)
    rises = []
    before = None
    for spectrum in _spectra(recording.samples, _WINDOW, HOP):
        levels = np.log1p(100 * (spectrum @ bands))
        joined = np.concatenate([np.repeat(levels[:1], _LAG, axis=0) if before is None else before, levels])
        rises.append(np.maximum(joined[_LAG:] - joined[:-_LAG], 0))
        before = joined[-_LAG:]
    rise = np.concatenate(rises)
    # A rise over _LAG frames is at its steepest between them, and is noted at its end.
    rise = np.roll(rise, -_LAG // 2, axis=0)
    low, high = centres < _LOW_HZ, centres > _HIGH_HZ
    return Flux(rise.mean(axis=1), rise[:, low].mean(axis=1), rise[:, high].mean(axis=1))


def notes_of(recording: Recording) -> Notes:
    """The notes of a recording; frame i stands at i / NOTES_RATE seconds."""
    from scipy.signal import resample_poly

    half = resample_poly(recording.samples, 1, 2).astype(np.float32)
    eighth = resample_poly(half, 1, 4).astype(np.float32)
    treble = _peaks(half, RATE / 2, 512, _TREBLE_HZ)
    bass = _peaks(eighth, RATE / 8, 128, _BASS_HZ)
    tuning = _tuning(treble)
    frames = min(treble.frames, bass.frames)
    return Notes(_gathered(treble, tuning)[:frames], _gathered(bass, tuning)[:frames], 100 * tuning)


def _spectra(samples: Any, window: int, hop: int) -> Iterator[Any]:
    """Magnitudes of the frames centred on each multiple of `hop`, some thousand frames at a time."""
    from scipy.fft import rfft

    shape = np.hanning(window + 1)[:-1].astype(np.float32)
    padded = np.pad(samples, window // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, window)[::hop]
    for start in range(0, len(frames), _BLOCK):
        yield np.abs(rfft(frames[start:start + _BLOCK] * shape, axis=1)) / window


def _bands(window: int, rate: float) -> tuple[Any, Any]:
    """(bins, bands) of triangles whose centres lie in equal ratios; and the centres in Hz."""
    bins = np.arange(window // 2 + 1) * rate / window
    edges = np.geomspace(_LOWEST_HZ, _HIGHEST_HZ, _BANDS + 2)
    rising = (bins[:, None] - edges[:-2]) / np.diff(edges)[:-1]
    falling = (edges[2:] - bins[:, None]) / np.diff(edges)[1:]
    shapes = np.maximum(0, np.minimum(rising, falling))
    nearest = np.abs(bins[:, None] - edges[1:-1]).argmin(axis=0)
    shapes[nearest, np.arange(_BANDS)] = np.maximum(shapes[nearest, np.arange(_BANDS)], 0.5)  # no band without a bin
    return shapes.astype(np.float32), edges[1:-1]


@dataclass(frozen=True, slots=True, eq=False)
class _Peaks:
    """Peaks of all frames in one row: the frame, the pitch in semitones (69 is 440 Hz), the strength."""

    frame: Any
    pitch: Any
    strength: Any
    frames: int


def _peaks(samples: Any, rate: float, hop: int, register: tuple[float, float]) -> _Peaks:
    window = 2_048
    low, high = (int(hz * window / rate) for hz in register)
    found: list[tuple[Any, Any, Any]] = []
    count = 0
    for spectrum in _spectra(samples, window, hop):
        part = spectrum[:, low - 1:high + 2]
        inner = part[:, 1:-1]
        floor = 0.02 * inner.max(axis=1, keepdims=True) + 1e-7
        frame, at = np.nonzero((inner > part[:, :-2]) & (inner >= part[:, 2:]) & (inner > floor))
        left, middle, right = (np.log(part[frame, at + step] + 1e-9) for step in (0, 1, 2))
        shift = 0.5 * (left - right) / np.minimum(left - 2 * middle + right, -1e-6)
        hz = (at + low + np.clip(shift, -0.5, 0.5)) * rate / window
        found.append((frame + count, 69 + 12 * np.log2(hz / 440), np.sqrt(inner[frame, at])))
        count += len(spectrum)
    frames, pitches, strengths = (np.concatenate(column) for column in zip(*found, strict=True))
    return _Peaks(frames, pitches, strengths, count)


def _tuning(peaks: _Peaks) -> float:
    """How far the recording's notes lie above equal temperament at 440 Hz, in semitones from -0.5 to 0.5."""
    turned = np.sum(peaks.strength * np.exp(2j * np.pi * peaks.pitch))
    return float(np.angle(turned) / (2 * np.pi)) if abs(turned) > 0 else 0.0


def _gathered(peaks: _Peaks, tuning: float) -> Any:
    pitch = peaks.pitch - tuning
    note = np.round(pitch)
    strength = peaks.strength * np.exp(-0.5 * ((pitch - note) / _SHARPNESS) ** 2)
    semitone = note.astype(int) - LOWEST_MIDI
    inside = (semitone >= 0) & (semitone < SEMITONES)
    place = (peaks.frame * SEMITONES + semitone)[inside]
    found = np.bincount(place, strength[inside], minlength=peaks.frames * SEMITONES)
    return found.reshape(peaks.frames, SEMITONES).astype(np.float32)
