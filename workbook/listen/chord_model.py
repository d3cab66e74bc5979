"""Which chord a stretch of sound is: a softmax over twelve roots and six qualities whose weights all roots share.

A stretch is 84 values, by pitch class in seven parts, each of length 1: the middle register and the high one, without
what the overtones of lower notes explain (the bass's too: its seventh partial alone makes sevenths of triads), the
bass, the bass of the first beat, and three octaves as they sound. For a root they are turned so that it comes first; a
quality has a weight for each of them and one constant. The weights come from tests/tables/train_chords.py, which
writes chord_weights.json with how it made them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from .spectra import LOWEST_MIDI, NOTES_RATE, Notes

# As chord symbols have them; all else is read as the nearest of them (a ninth chord as its seventh chord).
QUALITIES = ("", "m", "7", "maj7", "m7", "m7b5")
CLASSES = 12 * len(QUALITIES)  # class number: quality * 12 + root (C is 0)
VALUES = 84
OVERTONES = ((19, 0.3), (28, 0.2), (31, 0.15), (34, 0.18))  # semitones up to partials 3, 5, 6 and 7, and their share
MIDDLE, HIGH, BASS = (52, 68), (68, 96), (24, 56)  # registers as MIDI numbers, the second not counted
OCTAVES = ((48, 60), (60, 72), (72, 84))
WEIGHTS = Path(__file__).with_name("chord_weights.json")


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """`by_quality` has a row of weights and a constant for each quality; `slope` and `level` calibrate confidence."""

    by_quality: Any
    slope: float
    level: float


@cache
def trained() -> Weights:
    """The weights that come with us."""
    read = json.loads(WEIGHTS.read_text(encoding="utf-8"))
    rows = np.array([read["weights"][quality] for quality in QUALITIES])
    return Weights(rows, read["confidence"]["slope"], read["confidence"]["level"])


def stretches(notes: Notes, edges: Sequence[float], beat_seconds: Any) -> Any:
    """(stretches, VALUES) of the stretches between `edges` (seconds); `beat_seconds` is the length of a beat there."""
    return values_of(notes, np.asarray(edges[:-1], float), np.asarray(edges[1:], float), beat_seconds)


def values_of(notes: Notes, starts: Any, ends: Any, beat_seconds: Any) -> Any:
    """The same of stretches that may lie anywhere."""
    first_ends = np.minimum(ends, starts + beat_seconds)
    treble, bass = means(notes.treble, starts, ends), means(notes.bass, starts, ends)
    alone = _without_overtones(_joined(treble, bass))
    parts = [folded(alone, MIDDLE), folded(alone, HIGH), folded(bass, BASS),
             folded(means(notes.bass, starts, first_ends), BASS), *(folded(treble, octave) for octave in OCTAVES)]
    return np.concatenate([unit(part) for part in parts], axis=1)


def log_likelihoods(values: Any, weights: Weights | None = None) -> Any:
    """(stretches, CLASSES): the logarithm of each chord's probability, each stretch taken for itself."""
    scores = class_scores(values, (weights or trained()).by_quality)
    top = scores.max(axis=1, keepdims=True)
    return scores - top - np.log(np.exp(scores - top).sum(axis=1, keepdims=True))


def turned(values: Any) -> Any:
    """(stretches, 12, VALUES + 1): the values as each root has them, a 1 for the constant at their end."""
    by_register = values.reshape(len(values), VALUES // 12, 12)
    roots = [np.roll(by_register, -root, axis=2).reshape(len(values), VALUES) for root in range(12)]
    stacked = np.stack(roots, axis=1)
    return np.concatenate([stacked, np.ones((len(values), 12, 1))], axis=2)


def class_scores(values: Any, by_quality: Any) -> Any:
    found = np.einsum("nrk,qk->nqr", turned(values), by_quality)
    return found.reshape(len(values), CLASSES)


def means(strength: Any, starts: Any, ends: Any) -> Any:
    """Mean strength between two moments, parts of frames counted."""
    summed = np.concatenate([np.zeros((1, strength.shape[1])), np.cumsum(strength, axis=0, dtype=float)])

    def until(seconds: Any) -> Any:
        at = np.clip(np.asarray(seconds) * NOTES_RATE + 0.5, 0, len(strength))
        whole = np.minimum(at.astype(int), len(strength) - 1)
        return summed[whole] + (at - whole)[:, None] * strength[whole]

    length = np.maximum((np.asarray(ends) - np.asarray(starts)) * NOTES_RATE, 0.5)
    return (until(ends) - until(starts)) / length[:, None]


def folded(strength: Any, register: tuple[int, int]) -> Any:
    """By pitch class (C is 0), of the semitones of a register."""
    low, high = register[0] - LOWEST_MIDI, register[1] - LOWEST_MIDI
    found = np.zeros((len(strength), 12))
    for semitone in range(low, high):
        found[:, (semitone + LOWEST_MIDI) % 12] += strength[:, semitone]
    return found


def unit(rows: Any) -> Any:
    return rows / (np.linalg.norm(rows, axis=1, keepdims=True) + 1e-6)


def _joined(treble: Any, bass: Any) -> Any:
    """One row of semitones: what lies under the middle register as the long window has it."""
    under = MIDDLE[0] - LOWEST_MIDI
    return np.concatenate([bass[:, :under], treble[:, under:]], axis=1)


def _without_overtones(strength: Any) -> Any:
    found = strength.copy()
    for semitones, share in OVERTONES:
        found[:, semitones:] -= share * strength[:, :-semitones]
    return np.maximum(found, 0)
