"""JSON from outside as plain values: what the standard does not have, or nobody can write again, is refused.

Python's own reader takes NaN and Infinity, and lets numbers of any length and lists of any depth stop it with errors of
its own.
"""

from __future__ import annotations

import json
from math import isfinite
from typing import Any

from .errors import VampError

# Lists and objects within each other: far beyond any notebook, far below what Python can walk.
DEEPEST = 100


class JsonError(VampError):
    """A text that is not JSON, or holds what JSON cannot say."""


def read_json(text: str) -> Any:
    """The values of a JSON text; raises JsonError with the line and column, or with the keys that lead to the fault."""
    try:
        data = json.loads(text, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise JsonError(
            error.msg,
            value=text[error.pos : error.pos + 40],
            where=f"line {error.lineno}, column {error.colno}",
        ) from error
    except RecursionError as error:
        raise _too_deep() from error
    except ValueError as error:
        if isinstance(error, JsonError):
            raise
        raise JsonError(
            "a number is too long to be read", expected="numbers that fit on a line"
        ) from error
    _check(data)
    return data


def _no_number(word: str) -> Any:
    raise JsonError(f"{word} is no JSON number", value=word, expected="a finite number, or null")


def _too_deep(where: str = "") -> JsonError:
    return JsonError(
        "it is nested too deeply",
        where=where,
        expected=f"at most {DEEPEST} lists and objects within each other",
    )


def _check(data: Any) -> None:
    """Walk the values without recursion: depth, numbers that are finite, texts that can be written."""
    # Value, its place (outer place, key), depth.
    waiting: list[tuple[Any, tuple[Any, ...], int]] = [(data, (), 0)]
    while waiting:
        value, place, depth = waiting.pop()
        if isinstance(value, str):
            _writable(value, place)
        elif isinstance(value, float):
            if not isfinite(value):
                raise JsonError(
                    "a number is too large", where=_said(place), expected="a finite number"
                )
        elif isinstance(value, dict | list):
            if depth >= DEEPEST:
                raise _too_deep(_said(place))
            for key in value if isinstance(value, dict) else ():
                _writable(key, place)
            items = value.items() if isinstance(value, dict) else enumerate(value, 1)
            waiting += [(inner, (place, key), depth + 1) for key, inner in items]


def _writable(text: str, place: tuple[Any, ...]) -> None:
    if text.isascii():
        return
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise JsonError(
            "a text holds half a character (a lone surrogate)",
            value=ascii(text[:40]),
            where=_said(place),
            expected="text that can be written as UTF-8",
        ) from error


def _said(place: tuple[Any, ...], most: int = 4) -> str:
    """The keys that lead to a place, from the outside, counted from 1: “cells 3, outputs 1, data”."""
    keys: list[Any] = []
    while place:
        place, key = place
        keys.append(key)
    words: list[str] = []
    for key in keys[::-1][: 2 * most]:
        if isinstance(key, int) and words:
            words[-1] += f" {key}"
        else:
            words.append(str(key)[:40])
    return ", ".join(words[:most])
