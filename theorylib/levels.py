"""The levels that lessons are written for and students stand on, from the first up: one ladder for everybody."""

from __future__ import annotations

from typing import Literal, get_args

Level = Literal["beginner", "intermediate", "advanced"]
LEVELS: tuple[Level, ...] = get_args(Level)


def is_above(level: object, other: object) -> bool:
    """Does `level` ask for more than `other`? False where either is none of LEVELS.

    >>> is_above("advanced", "beginner"), is_above("beginner", "beginner"), is_above("hard", "beginner")
    (True, False, False)
    """
    if level not in LEVELS or other not in LEVELS:
        return False
    return LEVELS.index(level) > LEVELS.index(other)
