"""Reading random text: a value, or a refusal in our own words."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from theorylib.errors import VampError

T = TypeVar("T")


def read_or_refuse(read: Callable[[str], T], text: str) -> T | None:
    """What `read` makes of `text`, None where it refuses with our error and says why; other errors pass through."""
    try:
        return read(text)
    except VampError as error:
        message = str(error)
    assert message
    return None
