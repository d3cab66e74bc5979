"""A thing that a sentence names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Mention:
    """A thing named: its kind (a key of compare.JUDGES), the words, where they stand, what they mean.

    It is `bound` where its own words say that it speaks of the lesson ("the key is …"): then a word for something else
    in the same sentence does not excuse it.
    """

    kind: str
    words: str
    start: int
    end: int
    value: Any
    bound: bool = False
