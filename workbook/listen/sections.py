"""Sections of a recording: stretches of equal length that are alike bar by bar bear the same letter.

Of several lengths the one is taken that describes the whole with the fewest letters and turns.
"""

from __future__ import annotations

from itertools import groupby
from typing import Any

import numpy as np

LENGTHS = (8, 4, 16, 12)  # bars in a section, the commonest first
ALIKE = 0.55              # mean likeness of the bars of two stretches that bear one letter
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def sections_of(likeness: Any, cycle: int) -> tuple[tuple[str, int], ...]:
    """(letter, bars) of each section; `likeness` is (bars, bars), `cycle` in bars, 0 where nothing returns."""
    count = len(likeness)
    lengths = [cycle] if cycle > max(LENGTHS) // 2 else [one for one in LENGTHS if not cycle or one % cycle == 0]
    described = [_runs(_letters(likeness, length), length, count) for length in lengths if count >= 2 * length]
    if not described:
        return (("A", count),)
    return min(described, key=lambda runs: len(runs) + len({letter for letter, _ in runs}))


def _letters(likeness: Any, length: int) -> list[int]:
    """The number of the first stretch that each whole stretch is like."""
    found: list[int] = []
    kinds: list[int] = []  # where the first stretch of each kind begins
    for start in range(0, len(likeness) - length + 1, length):
        alike = [float(np.mean(np.diagonal(likeness[first:first + length, start:start + length]))) for first in kinds]
        best = int(np.argmax(alike)) if alike else 0
        if not alike or alike[best] < ALIKE:
            best = len(kinds)
            kinds.append(start)
        found.append(best)
    return found


def _runs(letters: list[int], length: int, count: int) -> tuple[tuple[str, int], ...]:
    runs = [(_LETTERS[letter % len(_LETTERS)], length * len(list(same))) for letter, same in groupby(letters)]
    name, bars = runs[-1]
    return (*runs[:-1], (name, bars + count - length * len(letters)))  # what is left over goes with the last
