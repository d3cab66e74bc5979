"""The rows beside the strings of a TAB that say more of its notes: palm mute, let ring, strokes, marks, fingers.

A sign belongs to the note over (or under) whose fret it stands, a column to either side allowed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..errors import VampError
from ..limits import exact
from .lines import Mark
from .marks import MARKS, OVER, UNDER
from .tab_heads import Head
from .tab_rows import System
from .typed import Typed

_NEAR = 1  # columns
Columns = dict[int, list[Head]]
_SPANS = {word: kind for kind, row in MARKS.items() if row.where == OVER for word in row.tab}
_SPAN = re.compile("(" + "|".join(map(re.escape, sorted(_SPANS, key=len, reverse=True))) + r")\s*([-.\s]*[-|⌐¬]?)")
# Any mark may stand in the row under the strings, by its sign in a line of words; those that have their place there
# may do so without the row's name.
_SIGNS = {row.sign: kind for kind, row in MARKS.items()} | {
    sign: kind for kind, row in MARKS.items() if row.where == UNDER for sign in row.tab}
_NUMBERS = frozenset("01234")
_BARE = frozenset({"d", "u", "D", "U", ">", "."})
_SIGN = re.compile("(?:([1-9]):)?(" + "|".join(map(re.escape, sorted(_SIGNS, key=len, reverse=True)))
                   + r")(-?\d{1,4}(?:/\d{1,4})?)?(?:@(\d{1,4}(?:/\d{1,4})?))?")
_NAMES = re.compile(r"_|(?:[A-G](?:#{1,3}|b{1,3})?-?\d)?(?:\([#b]{0,2}\d{0,2}\))?")
_LABEL = re.compile(r"\s*(marks|pick(?:ing)?|strokes|fingers?|fingering|names)\b:?", re.IGNORECASE)


def beside(typed: Typed, system: System, struck: Sequence[Head], values: set[int]) -> None:
    """Give the heads of a system what the rows beside it say; `values` are the lines of note values."""
    heads: Columns = {}
    for head in struck:
        heads.setdefault(head.column, []).append(head)
    for line in (*system.above, *system.below):
        text = typed.lines[line]
        if line in values:
            continue
        if text.strip().startswith(tuple(_SPANS)):
            _spans(typed, line, heads)
            continue
        label = _LABEL.match(text)
        words = text[label.end() if label else 0:].split()
        if label and label[1].lower().startswith("finger"):
            _fingers(typed, line, label.end(), heads)
        elif label and label[1].lower() == "names":
            _names(typed, line, label.end(), heads)
        elif not label and len(words) > 1 and all(word in _NUMBERS for word in words):
            raise typed.wrong("numbers beside the strings: fingers, or beats?", line, len(text) - len(text.lstrip()),
                              value=text.strip()[:40], expected="“fingers” before them, or note values instead")
        elif label or (words and all(word in _BARE for word in words)):
            _marks(typed, line, label.end() if label else 0, heads)


def _spans(typed: Typed, line: int, heads: Columns) -> None:
    """PM and let ring: from the word to the end of its dashes, or the one note under it."""
    for match in _SPAN.finditer(typed.lines[line]):
        dashed = match[2].rstrip(" ")
        end = match.start(2) + len(dashed) if "-" in dashed else match.start() + len(match[1])
        under = [head for column in range(match.start() - _NEAR, end) for head in heads.get(column, ())]
        if not under:
            raise typed.wrong(f"“{match[1]}” stands over no note", line, match.start(), value=match[1],
                              expected="a word over its first note")
        kind = _SPANS[match[1]]
        for head in under:
            head.spans.append(Mark(kind))


def _marks(typed: Typed, line: int, start: int, heads: Columns) -> None:
    text = typed.lines[line]
    for word in re.finditer(r"\S+", text[start:]):
        column = start + word.start()
        for part in re.finditer(r"[^,]+", word[0]):
            match = _SIGN.fullmatch(part[0])
            if match is None:
                raise typed.wrong(f"“{part[0]:.20}” is no mark", line, column, value=part[0][:20],
                                  expected=" ".join(_SIGNS))
            head = _under(typed, line, column, heads, int(match[1]) if match[1] else None)
            head.more.append(_mark(typed, line, column, match))


def _mark(typed: Typed, line: int, column: int, match: re.Match[str]) -> Mark:
    kind = _SIGNS[match[2]]
    try:
        return Mark(kind, exact(match[3] or MARKS[kind].usual or 0), exact(match[4] or 0))
    except VampError as error:
        raise typed.wrong(error.message, line, column, value=match[0], expected=error.expected) from error


def _fingers(typed: Typed, line: int, start: int, heads: Columns) -> None:
    text = typed.lines[line]
    for word in re.finditer(r"\S+", text[start:]):
        column = start + word.start()
        if re.fullmatch(r"[0-4.](?:,[0-4.])*", word[0]) is None:
            raise typed.wrong(f"“{word[0]:.20}” are no fingers", line, column, value=word[0][:20],
                              expected="0 to 4; of a chord one for each string from low to high, such as 1,3,4")
        head = _under(typed, line, column, heads, None)
        chord = sorted(heads[head.column], key=lambda one: -one.string)
        said = word[0].split(",")
        if len(said) != len(chord):
            raise typed.wrong(f"{len(said)} fingers for {len(chord)} notes", line, column, value=word[0][:20])
        for one, finger in zip(chord, said, strict=True):
            one.finger = None if finger == "." else int(finger)


def _names(typed: Typed, line: int, start: int, heads: Columns) -> None:
    """How notes are spelled and what they are over their chords, where the changes alone would say otherwise."""
    text = typed.lines[line]
    for word in re.finditer(r"\S+", text[start:]):
        column = start + word.start()
        chord = sorted(heads[_under(typed, line, column, heads, None).column], key=lambda one: -one.string)
        said = word[0].split("+")
        if len(said) != len(chord) or not all(map(_NAMES.fullmatch, said)):
            raise typed.wrong(f"“{word[0]:.20}” are no names for {len(chord)} notes", line, column, value=word[0][:20],
                              expected="a pitch, its degree in brackets, or both: Gb4(b9)")
        for one, name in zip(chord, said, strict=True):
            one.names = name.replace("_", "")


def _under(typed: Typed, line: int, column: int, heads: Columns, string: int | None) -> Head:
    """The head that a sign in a column belongs to: the nearest, of a chord the lowest string unless it is named."""
    near = [head for place in range(column - _NEAR, column + _NEAR + 1) for head in heads.get(place, ())
            if string in (None, head.string)]
    if not near:
        raise typed.wrong("no note stands here", line, column, expected="a sign right under the fret that it is for")
    return min(near, key=lambda head: (abs(head.column - column), -head.string))
