"""What music may hold, stated once: the widest range of each number, and the readers of numbers that keep to it.

A number from outside is checked here before anything counts up to it. The ranges are common practice, no source: each
leaves room beyond what is played and written, so that what lies outside is a slip and not a style.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from numbers import Integral

from .errors import NumberError, shown

TEMPO = (20, 400)  # quarter notes a minute; beyond it a number is taken for a slip
METER_BEATS = (1, 32)  # notes of a bar ...
METER_UNITS = (1, 2, 4, 8, 16)  # ... and their value, as a part of a whole note
# Of a chart or a line as played, repeats counted: over two hours in 4/4 at 120.
MOST_BARS = 4000
MOST_CHORDS_A_BAR = 32  # one for each note of the longest bar
PASSES = (1, 64)  # through a chart in one drill
PER_CHORD = (1, 64)  # notes over one chord
STEPS = (0, 64)  # of a practice plan; below two it is the target alone
BARS = (1, MOST_BARS)  # that a drill is asked for
NOTES_A_BEAT = (1, 16)
# Semitones: from a shade to two tones and a half, the widest that a string bears.
BEND = (Fraction(1, 4), Fraction(5))
GRACE = (-24, 24)  # semitones from a grace note to its note: as far as a neck reaches
VIBRATO = (1, 300)  # cents: from what can be heard to a tone and a half
SPAN_MM = (0, 2000)  # from one finger to the next: no neck is longer
VELOCITY = (1, 127)  # MIDI 1.0: a note that sounds

_NUMBER = re.compile(r"([+-]?\d{1,10})(?:/(\d{1,10})|\.(\d{1,20}))?", re.ASCII)


def exact(value: object, what: str = "number") -> Fraction:
    """A number as people write it ("3", "1/2", "92.5"), exactly; raises NumberError for anything else.

    Ten digits before the point are enough for music, and keep a number such as 1e99999999 from being worked out.
    """
    if isinstance(value, str):
        return _read(value.strip(), what)
    if (
        isinstance(value, Fraction | int | float)
        and not isinstance(value, bool)
        and -(10**10) < value < 10**10
    ):
        return Fraction(value).limit_denominator(10**9)
    raise _refused(value, what)


def within(value: Fraction | int, limits: tuple[Fraction | int, Fraction | int], what: str) -> None:
    """Raise NumberError where a number lies outside its limits."""
    low, high = limits
    if not low <= value <= high:
        raise NumberError(f"{shown(value)} is no {what}", value=value, expected=f"{low} to {high}")


def number_in(value: object, limits: tuple[Fraction | int, Fraction | int], what: str) -> Fraction:
    """A number (or its text) within limits, exactly; raises NumberError."""
    found = exact(value, what)
    within(found, limits, what)
    return found


def is_whole(value: object, low: int, high: int) -> bool:
    """Is it a whole number from `low` to `high`?"""
    counts = type(value) is int or (isinstance(value, Integral) and not isinstance(value, bool))
    return counts and low <= value <= high  # type: ignore[operator]


def whole(value: object, limits: tuple[int, int], what: str) -> int:
    """A whole number within limits; raises NumberError."""
    if type(value) is not int:
        raise NumberError(
            f"{shown(value)} is no {what}", value=value, expected=f"{limits[0]} to {limits[1]}"
        )
    within(value, limits, what)
    return value


@lru_cache(maxsize=4096)
def _read(text: str, what: str) -> Fraction:
    match = _NUMBER.fullmatch(text)
    if match is None or (match[2] is not None and int(match[2]) == 0):
        raise _refused(text, what)
    if match[3] is not None:
        parts = 10 ** len(match[3])
        sign = -1 if text.startswith("-") else 1
        return int(match[1]) + Fraction(sign * int(match[3]), parts)
    return Fraction(int(match[1]), int(match[2] or 1))


def _refused(value: object, what: str) -> NumberError:
    return NumberError(
        f"“{shown(value)}” is no {what}",
        value=value,
        expected="a number such as 3, 1/2 or 92.5, of ten digits at most",
    )
