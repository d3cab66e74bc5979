"""Where the TAB stands in a pasted text: its systems, their rows of strings, the bars in each, the rows beside them.

A row of strings is mostly dashes and numbers, with the string's name or number before it or not. Rows that follow each
other are a system; so are rows with a blank line between each two. What a mail program does to a text is undone first:
marks of quotation, wide spaces, typographic dashes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from .marks import MARKS, OVER
from .typed import EM_DASH, Typed, dashes

MOST_STRINGS = 9
_HEAD = re.compile(r"\s*(?:(?P<name>[A-Ga-g][#b]?|[1-9](?=\s?[|:)]))(?=\s*[-|:)]))?\s*(?P<open>\|\|?|:(?!\|)|\))?")
_QUOTED = re.compile(r"\s{0,2}>\s?")
_OVER_WORDS = tuple(word for row in MARKS.values() if row.where == OVER for word in row.tab)


@dataclass(frozen=True, slots=True)
class Row:
    """A string's row: line and name as typed, and the columns of each of its bars, from and to."""

    line: int
    name: str
    text: str
    bars: tuple[tuple[int, int], ...]
    closed: bool  # does it end with a bar line?


@dataclass(frozen=True, slots=True)
class System:
    """Rows that sound together, top to bottom, and the lines right above and below them, from top to bottom."""

    rows: tuple[Row, ...]
    above: tuple[int, ...]
    below: tuple[int, ...]


def has_tab(typed: Typed) -> bool:
    """Does the text hold rows of TAB?"""
    return any(_head(line) is not None for line in _unquoted(typed).lines)


def find_systems(typed: Typed, strings: int) -> tuple[Typed, tuple[System, ...]]:
    """The text as it was meant, and its systems; `strings` is how many rows a system has where no names tell.

    Raises PhraseError where the rows of a system do not have the same bars.
    """
    text = _unquoted(typed)
    if any(EM_DASH in line for line in text.lines):
        text = _with_dashes(text, strings)
    runs = _runs(text)
    groups = [group for run in runs for group in _cut(run, strings)]
    spans = [(group[0].line, group[-1].line) for group in groups]
    found = []
    for number, group in enumerate(groups):
        before = spans[number - 1][1] if number else -1
        after = spans[number + 1][0] if number + 1 < len(groups) else len(text.lines)
        _same_bars(text, group)
        found.append(System(tuple(group), _beside(text, spans[number][0], before, -1),
                            _beside(text, spans[number][1], after, 1)))
    return text, tuple(found)


def _unquoted(typed: Typed) -> Typed:
    """Without the marks of a quoted mail, where rows of TAB stand behind them."""
    lines = typed.lines
    while any(_QUOTED.match(line) and _head(_without_quotes(line)) for line in lines):
        lines = tuple(_QUOTED.sub("", line, count=1) if _QUOTED.match(line) else line for line in lines)
    return Typed(lines)


def _without_quotes(line: str) -> str:
    while match := _QUOTED.match(line):
        line = line[match.end():]
    return line


def _with_dashes(typed: Typed, strings: int) -> Typed:
    """Em dashes as one dash or as two, whichever makes the rows of every system equally long."""
    for each in (1, 2):
        text = dashes(typed, each)
        groups = [group for run in _runs(text) for group in _cut(run, strings)]
        if all(_even(group) for group in groups):
            return text
    return dashes(typed, 1)


def _even(group: Sequence[Row]) -> bool:
    return len({tuple(end - start for start, end in row.bars) for row in group}) == 1


def _head(line: str) -> re.Match[str] | None:
    """What stands before a row of strings; None where the line is none."""
    match = _HEAD.match(line)
    if match is None or line.lstrip().startswith(_OVER_WORDS):
        return None
    body = line[match.end():].replace(" ", "").replace(EM_DASH, "-")
    strokes = body.count("-")
    if strokes >= 2 and strokes * 3 >= len(body):
        return match
    plain = sum(sign in "-|0123456789" for sign in body)
    framed = match["open"] is not None and (match["name"] is not None or strokes > 1)
    return match if framed and plain * 2 > len(body) and (strokes or line.rstrip().endswith("|")) else None


def _row(line: str, number: int) -> Row | None:
    match = _head(line)
    if match is None:
        return None
    bars, start = [], match.end()
    for bar_line in re.finditer(r"\|+", line[match.end():]):
        bars.append((start, match.end() + bar_line.start()))
        start = match.end() + bar_line.end()
    closed = start >= len(line) and bool(bars)
    if not closed:
        bars.append((start, len(line)))
    return Row(number, match["name"] or "", line, tuple(bars), closed)


def _runs(typed: Typed) -> list[list[Row]]:
    """Rows that follow each other; blank lines part them unless a blank line stands between every two."""
    rows = [row for number, line in enumerate(typed.lines) if (row := _row(line, number)) is not None]
    spread = len(rows) > 3 and all(two.line - one.line > 1 for one, two in pairwise(rows))
    runs: list[list[Row]] = []
    for row in rows:
        between = typed.lines[runs[-1][-1].line + 1:row.line] if runs else ("",)
        together = runs and (not between or (spread and not any(line.strip() for line in between)))
        if together:
            runs[-1].append(row)
        else:
            runs.append([row])
    told = [run for run in runs if len(run) > 1 or run[0].name or re.search(r"\d", run[0].text)]
    return told if told else runs


def _cut(run: Sequence[Row], strings: int) -> Iterator[list[Row]]:
    """A run of rows as systems: where the names begin anew, else after so many strings."""
    names = [row.name for row in run]
    count = len(run)
    if all(names):
        count = next((size for size in range(4, MOST_STRINGS + 1)
                      if len(run) % size == 0 and names == names[:size] * (len(run) // size)), len(run))
    elif len(run) % strings == 0:
        count = strings
    for start in range(0, len(run), count):
        yield list(run[start:start + count])


def _same_bars(typed: Typed, group: Sequence[Row]) -> None:
    most = max(group, key=lambda row: len(row.bars))
    for row in group:
        if len(row.bars) != len(most.bars):
            extra = most.bars[len(row.bars)][0]
            raise typed.wrong(f"this row has {len(most.bars)} bars and another of its system {len(row.bars)}",
                              most.line, min(extra, len(most.text)), value=most.text.strip()[:40],
                              expected="the same bar lines in every row")


def _beside(typed: Typed, edge: int, stop: int, way: int) -> tuple[int, ...]:
    """The lines right above (way -1) or below the edge of a system, up to a blank line or the next system."""
    found = []
    line = edge + way
    if 0 <= line < len(typed.lines) and not typed.lines[line].strip() and line != stop:
        line += way  # one blank line may lie between
    while line != stop and 0 <= line < len(typed.lines) and typed.lines[line].strip():
        found.append(line)
        line += way
    return tuple(found[::way])
