"""The one family of errors: each names the value, where it stands, what was expected and the nearest valid choice."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

LONGEST_MESSAGE = 600  # signs: what a person reads
Word = TypeVar("Word", bound=str)


class VampError(ValueError):
    """Base of every error that this project raises on purpose.

    `value` is the text or number that was refused, `where` the place it stands in ("line 2, column 9",
    "cell 4"), `expected` what would have been taken and `nearest` the closest valid choices (may be empty).
    """

    def __init__(
        self,
        message: str,
        *,
        value: object = None,
        where: str = "",
        expected: str = "",
        nearest: Iterable[str] = (),
    ) -> None:
        self.message, self.value, self.where = shortened(message), value, where
        self.expected, self.nearest = expected, tuple(nearest)
        super().__init__(self._sentence())

    def _sentence(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        if self.expected:
            text += f"; expected {self.expected}"
        if self.nearest:
            text += f"; did you mean {' or '.join(self.nearest)}?"
        return text

    def at(self, where: str) -> VampError:
        """The same error, placed: an outer reader (a chart, a cell) adds where the value stands."""
        return type(self)(
            self.message,
            value=self.value,
            where=where,
            expected=self.expected,
            nearest=self.nearest,
        )


def shortened(text: str, most: int = LONGEST_MESSAGE) -> str:
    """A text of more than `most` signs without its middle, and how much that was."""
    if len(text) <= most:
        return text
    head, tail = most * 2 // 3, most // 4
    return f"{text[:head]} … ({len(text) - head - tail:,} characters left out) … {text[-tail:]}"


class NumberError(VampError):
    """A number that cannot be read, or lies outside what music can hold."""


class SpellingError(VampError):
    """A note name, interval, degree or pitch that cannot be read."""


class ChordError(VampError):
    """A chord symbol that cannot be read."""


class ScaleError(VampError):
    """A scale or key name that cannot be read."""


class ChartError(VampError):
    """Changes that cannot be read: the message gives line and column."""


class NeckError(VampError):
    """A tuning, string, fret or place that does not exist."""


class LineError(VampError):
    """A line of notes that breaks its own promise (an overlap, a bar that does not add up)."""


class MusicFileError(VampError):
    """A file of music (MusicXML, MIDI) that cannot be read: the message gives the measure or the line of the file."""


class FingeringError(VampError):
    """A line that cannot be played within the stated bounds."""


class DrillError(VampError):
    """A drill that cannot be made from the choices given."""


def shown(value: object, most: int = 40) -> str:
    """A value as a message shows it."""
    if isinstance(value, int) and abs(value) >= 10**15:
        return f"a number of {value.bit_length()} bits"  # Python refuses to print some
    text = str(value)
    return text if len(text) <= most else text[:most] + "…"


def as_text(value: object, what: str, expected: str, kind: type[VampError] = VampError) -> str:
    """`value`, which must be a text; raises `kind` with what it should have been."""
    if isinstance(value, str):
        return value
    raise kind(f"“{shown(value)}” is no {what}", value=value, expected=expected)


def listed(
    value: object, what: str, expected: str, kind: type[VampError] = VampError
) -> tuple[Any, ...]:
    """The members of `value`, which must be a list of some sort and no text; raises `kind`."""
    if isinstance(value, Iterable) and not isinstance(value, str | bytes):
        return tuple(value)
    raise kind(f"“{shown(value)}” is no {what}", value=value, expected=expected)


def one_of(
    value: object, choices: Iterable[Word], what: str, kind: type[VampError] = VampError
) -> Word:
    """`value`, which must be one of the choices; raises `kind` with the nearest."""
    pool = tuple(choices)
    if isinstance(value, str) and value in pool:
        return pool[pool.index(value)]
    raise kind(
        f"“{shown(value)}” is no {what}",
        value=value,
        expected=", ".join(pool),
        nearest=closest(str(value), pool),
    )


def closest(text: str, choices: Iterable[str], count: int = 2) -> tuple[str, ...]:
    """The `count` choices most like `text`, best first; empty when none is close."""
    # Imported on the error path only: it is not needed to start.
    from difflib import get_close_matches

    pool = list(dict.fromkeys(choices))
    exact = [choice for choice in pool if choice.lower() == text.lower()]
    return tuple(exact or get_close_matches(text, pool, n=count, cutoff=0.5))
