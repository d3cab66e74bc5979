"""From what each half bar sounds like to one row of chords: repeats averaged, a key favoured, changes made to cost.

Log-probabilities of stretches that stand at the same place of the cycle are averaged; then the path of most gain is
found (Viterbi), and what each stretch thinks of its chord along with its rivals becomes a confidence, calibrated on the
training's own pieces.
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
CHANGE, CHANGE_IN_BAR = 0.4, 1.5
REPEATS_COUNT = 2              # of a cycle's repeats so many count as evidence of their own: they are played alike
MOST_CYCLE_BARS = 36
_AS_GOOD = 0.94                 # of the greatest likeness, which a shorter cycle must reach


@dataclass(frozen=True, slots=True)
class Choice:
    """A stretch's chord as a class of the model, how sure it is (0 to 1), and the two next ones."""

    chord: int
    confidence: float
    rivals: tuple[int, ...]


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


def decoded(logs: Any, favours: Any, bar_starts: Any) -> list[Choice]:
    """The chord of each stretch; `bar_starts` says which stretch begins a bar."""
    weighed = logs + favours
    path = _best_path(weighed, np.where(bar_starts, CHANGE, CHANGE_IN_BAR))
    found = []
    for row, chord in zip(weighed, path, strict=True):
        order = [int(one) for one in np.argsort(-row) if one != chord][:2]
        found.append(Choice(chord, _confidence(row, chord), tuple(order)))
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


def _best_path(gains: Any, costs: Any) -> list[int]:
    """Classes on the path of most gain, where a change to another class before stretch i costs `costs[i]`."""
    total = gains[0].copy()
    before = np.zeros((len(gains), CLASSES), dtype=int)
    for number in range(1, len(gains)):
        best = int(total.argmax())
        changed = total[best] - costs[number]
        stays = total >= changed
        before[number] = np.where(stays, np.arange(CLASSES), best)
        total = np.where(stays, total, changed) + gains[number]
    path = [int(total.argmax())]
    for number in range(len(gains) - 1, 0, -1):
        path.append(int(before[number, path[-1]]))
    return path[::-1]


def _confidence(row: Any, chord: int) -> float:
    """How sure a chord is, from its lead over the others, by the calibration of the training."""
    others = np.delete(row, chord)
    top = others.max()
    lead = row[chord] - (top + np.log(np.exp(others - top).sum()))
    weights = trained()
    return float(1 / (1 + np.exp(-np.clip(weights.slope * lead + weights.level, -30, 30))))


