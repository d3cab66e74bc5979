"""The stored form of a line: the JSON object that holds it, checked field by field, so that an error names the field.

FORM is what version 1 holds; a text without a `version` is of version 1. Later forms must say theirs, and a kit refuses
what is newer than itself: it could only guess.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ..errors import LineError, VampError, as_text, closest
from ..limits import exact
from ..plain_json import read_json

VERSION = 1
_HIGHEST = 99         # of a string, fret, finger or position: what is no such place is then said in its own words
_LONGEST_MM = 2000.0  # of a string


@dataclass(frozen=True, slots=True)
class StoredNote:
    """A note's fields as stored; marks are (kind, value, beat)."""

    pitch: str
    onset_beats: Fraction
    duration_beats: Fraction
    string: int | None
    fret: int | None
    finger: int | None
    degree: str
    marks: tuple[tuple[str, Fraction, Fraction], ...]


def read_line_text(text: str) -> tuple[dict[str, Any], tuple[StoredNote, ...]]:
    """(head, notes) of a stored line: the head by FORM, its tuning by TUNING. Raises LineError that names the field."""
    as_text(text, "line", "the text that Line.to_json gives", LineError)
    try:
        data = read_json(text)
    except VampError as error:
        raise LineError(f"this text is not a line: {error.message}", value=text[:40], where=error.where,
                        expected="the text that Line.to_json gives") from error
    if not isinstance(data, dict):
        raise LineError("this text is not a line", value=text[:40], expected="the text that Line.to_json gives")
    version = data.get("version", 1)
    if type(version) is not int or version < 1:
        raise LineError(f"{version!r:.40} is no version", value=version, where="version", expected="a whole number")
    if version > VERSION:
        raise LineError(f"the line is stored in version {version}, by a newer kit", value=version, where="version",
                        expected=f"version {VERSION} or older")
    head = _fields(data, FORM, "")
    head["tuning"] = _fields(head["tuning"], TUNING, "tuning")
    return head, tuple(_note(row, f"note {number}") for number, row in enumerate(head.pop("notes"), 1))


def _fields(data: Mapping[str, Any], form: Mapping[str, tuple[Callable[[Any], Any], bool]],
            where: str) -> dict[str, Any]:
    """The values of an object's fields; every needed one must be there, and none that the form does not know."""
    found: dict[str, Any] = {}
    for name in data:
        if name not in form:
            raise LineError(f"“{name:.40}” is no field of a stored line", value=name, where=where,
                            expected=", ".join(form), nearest=closest(name, form))
    for name, (read, needed) in form.items():
        place = ", ".join(filter(None, (where, name)))
        if name in data:
            found[name] = _placed(read, data[name], place)
        elif needed:
            raise LineError(f"this is not a line: it has no “{name}”", where=place, expected=", ".join(form))
    return found


def _note(row: Any, where: str) -> StoredNote:
    if not isinstance(row, list) or len(row) != len(_NOTE):
        raise LineError("this is no stored note", value=str(row)[:40], where=where, expected=f"[{', '.join(_NOTE)}]")
    return StoredNote(*(_placed(read, value, f"{where}, {name}")
                        for value, (name, read) in zip(row, _NOTE.items(), strict=True)))


def _placed(read: Callable[[Any], Any], value: Any, where: str) -> Any:
    try:
        return read(value)
    except VampError as error:
        raise LineError(error.message, value=error.value, where=where, expected=error.expected,
                        nearest=error.nearest) from error


# -- kinds of value --------------------------------------------------------------------------------------------------
def _wrong(value: Any, expected: str) -> LineError:
    return LineError(f"“{str(value)[:40]}” stands here", value=value, expected=expected)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise _wrong(value, "text")
    return value


def _number(value: Any) -> Fraction:
    return exact(_text(value))


def _place(value: Any) -> int | None:
    if value is not None and (type(value) is not int or not 0 <= value <= _HIGHEST):
        raise _wrong(value, f"null, or a whole number from 0 to {_HIGHEST}")
    return value


def _count(value: Any) -> int:
    if type(value) is not int or not 0 <= value <= _HIGHEST:
        raise _wrong(value, f"a whole number from 0 to {_HIGHEST}")
    return value


def _length_mm(value: Any) -> float:
    if type(value) not in (int, float) or not 0 < value <= _LONGEST_MM:
        raise _wrong(value, f"a length in mm, at most {_LONGEST_MM:g}")
    length: float = value
    return length


def _object(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise _wrong(value, "an object")
    return value


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise _wrong(value, "a list")
    return value


def _marks(value: Any) -> tuple[tuple[str, Fraction, Fraction], ...]:
    found = []
    for mark in _list(value):
        if not isinstance(mark, list) or len(mark) != 3:
            raise _wrong(mark, "[kind, value, beat]")
        found.append((_text(mark[0]), _number(mark[1]), _number(mark[2])))
    return tuple(found)


# field: (how its value is read, whether it must be there).
FORM: dict[str, tuple[Callable[[Any], Any], bool]] = {
    "version": (_count, False), "title": (_text, True), "chart": (_text, True), "length_beats": (_number, True),
    "position": (_place, True), "tuning": (_object, True), "promise": (_text, False), "notes": (_list, True),
}
TUNING: dict[str, tuple[Callable[[Any], Any], bool]] = {
    "strings": (_text, True), "capo": (_count, True), "frets": (_count, True), "scale_length_mm": (_length_mm, True),
}
# A note is a list of these, in this order.
_NOTE: dict[str, Callable[[Any], Any]] = {
    "pitch": _text, "onset": _number, "length": _number, "string": _place, "fret": _place, "finger": _place,
    "degree": _text, "marks": _marks,
}
