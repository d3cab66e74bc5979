"""From what bars and their halves sound like to one row of chords: repeats averaged, a key favoured, changes dear.

Log-probabilities of stretches that stand at the same place of the cycle are averaged; then the path of most gain is
found (Viterbi). A bar is one chord or two: heard as one, its evidence is that of the whole bar (a walking bass says its
root on the first beat alone), and counts as that of both halves together. How far a chord leads over all others in its
own half bar becomes a confidence, calibrated on the training's own pieces: of what is wrong there, the half bars tell
more by their doubt than the bars.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .chord_model import CLASSES, QUALITIES, trained

STEPS = {"": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "maj7": (0, 4, 7, 11), "m7": (0, 3, 7, 10),
         "m7b5": (0, 3, 6, 10)}  # semitones over the root
MAJOR_STEPS, MINOR_STEPS = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10)
IN_KEY, GIVEN_KEY = 0.6, 1.2   # what a chord of the key is favoured by
CHANGE, CHANGE_IN_BAR = 0.4, 0.3
REPEATS_COUNT = 2              # of a cycle's repeats so many count as evidence of their own: they are played alike
MOST_CYCLE_BARS = 36
_AS_GOOD = 0.94                 # of the greatest likeness, which a shorter cycle must reach


@dataclass(frozen=True, slots=True)
class Choice:
    """A half bar's chord as a class of the model, its lead over all others there (in logarithms), the two next ones."""

    chord: int
    lead: float
    rivals: tuple[int, ...]

    @property
    def confidence(self) -> float:
        """How sure it is, 0 to 1, by the calibration of the training."""
        weights = trained()
        return float(1 / (1 + np.exp(-np.clip(weights.slope * self.lead + weights.level, -30, 30))))


def cycle_bars(by_bar: Any) -> int:
    """After how many bars the changes begin again; 0 where they never do. `by_bar` is (bars, values)."""
    bars = len(by_bar)
    rows = by_bar / (np.linalg.norm(by_bar, axis=1, keepdims=True) + 1e-9)
    longest = min(MOST_CYCLE_BARS, bars // 2)
    if longest < 1:
        return 0
    alike = np.array([(rows[step:] * rows[:-step]).sum(axis=1).mean() for step in range(1, longest + 1)])
    overall = float((rows @ rows.T).mean())
    best = float(alike.max())
    if best - overall < 0.3 * (1 - overall):
        return 0 if best < 0.97 else 1
    enough = overall + _AS_GOOD * (best - overall)
    return int(np.flatnonzero(alike >= enough)[0]) + 1


def averaged(logs: Any, cycle: int) -> Any:
    """Log-probabilities with those of all repeats put together: `cycle` in stretches, 0 for none."""
    if not cycle:
        return logs
    found = np.empty_like(logs)
    for place in range(min(cycle, len(logs))):
        repeats = logs[place::cycle]
        found[place::cycle] = repeats.mean(axis=0) * np.sqrt(min(len(repeats), REPEATS_COUNT))
    return found


def in_key(logs: Any) -> tuple[int, bool]:
    """(tonic, is minor) of the key whose chords are likeliest over all stretches."""
    chances = np.exp(logs)
    scores = [(float(np.log(1e-3 + chances @ (0.3 + _favours(tonic, minor))).sum()), tonic, minor)
              for minor in (False, True) for tonic in range(12)]
    _, tonic, minor = max(scores)
    return tonic, minor


def favoured(key: tuple[int, bool], *, given: bool) -> Any:
    """What each class gains by its key."""
    return (GIVEN_KEY if given else IN_KEY) * _favours(*key)


def decoded(halves: Any, bars: Any, favours: Any) -> list[Choice]:
    """The chord of each half bar from the log-likelihoods of the halves and of the bars.

    `halves` has two rows a bar; where bars are not divided one, the same as that of `bars`.
    """
    parts = len(halves) // len(bars)
    whole, split = parts * (bars + favours), halves + favours
    path = _best_path(whole, split.reshape(len(bars), parts, CLASSES))
    found = []
    for number, chord in enumerate(path):
        bar = number // parts
        is_one = len(set(path[bar * parts:(bar + 1) * parts])) == 1
        row = whole[bar] if is_one else split[number]
        rivals = [int(one) for one in np.argsort(-row) if one != chord][:2]
        found.append(Choice(chord, _lead(split[number], chord), tuple(rivals)))
    return found


def pitch_classes(chord: int) -> frozenset[int]:
    """Of a class of the model."""
    return frozenset((chord % 12 + step) % 12 for step in STEPS[QUALITIES[chord // 12]])


def _favours(tonic: int, minor: bool) -> Any:
    """1 for each class whose notes lie in the key; for a minor key the chords on its dominant with a raised 7th too."""
    scale = {(tonic + step) % 12 for step in (MINOR_STEPS if minor else MAJOR_STEPS)}
    found = np.array([float(pitch_classes(chord) <= scale) for chord in range(CLASSES)])
    if minor:
        for quality in ("", "7"):
            found[QUALITIES.index(quality) * 12 + (tonic + 7) % 12] = 1.0
    return found


def _best_path(whole: Any, split: Any) -> list[int]:
    """Classes of all parts on the path of most gain: a bar has the gain of the whole, or of two parts with a change."""
    parts = split.shape[1]
    total, steps = np.zeros(CLASSES), []
    for bar, (one, each) in enumerate(zip(whole, split, strict=True)):
        best = int(total.argmax())
        entered = np.maximum(total, total[best] - CHANGE) if bar else total
        before = np.where(entered > total, best, np.arange(CLASSES))
        total, first = entered + one, np.arange(CLASSES)
        if parts > 1:
            opening = entered + each[0]
            other = int(opening.argmax())
            divided = opening[other] - CHANGE_IN_BAR + each[1]
            first = np.where(divided > total, other, first)
            total = np.maximum(total, divided)
        steps.append((before, first))
    return _traced(int(total.argmax()), steps, parts)


def _traced(chord: int, steps: list[tuple[Any, Any]], parts: int) -> list[int]:
    """The path backwards from its last chord: each bar's first chord, and the chord from which that was entered."""
    path: list[int] = []
    for before, first in reversed(steps):
        opening = int(first[chord])
        path += [chord, opening][:parts]
        chord = int(before[opening])
    return path[::-1]


def _lead(row: Any, chord: int) -> float:
    """By how much a chord is likelier than all others together."""
    others = np.delete(row, chord)
    top = others.max()
    return float(row[chord] - (top + np.log(np.exp(others - top).sum())))
