"""How a table's width is shared among its columns: none is given more than it needs, and where that is not enough those
whose words fill most lines get most, so that no row is higher than it must be. Widths in mm, type in points.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..fonts import text_width
from .inlines import plain_text
from .printed_figures import Block

PADDING_MM = 4.0    # at the sides of a cell, as the template sets it; the first column has half of it
_MM = 25.4 / 72     # of a point
_SLACK_MM = 0.3     # in a cell, for what typesetting rounds
_CLOSE = 1.01       # of the room: what kerning saves
_MOST_LINES = 12


def shared(table: Block, width_mm: float, size: float) -> list[float]:
    """The widths of the columns of a table in which several must have more than one line; none for every other."""
    rows = [table["head"], *table["rows"]]
    if any("parts" in one or "svg" in one for row in rows for cell in row for one in cell):
        return []  # a picture is as wide as it is
    columns = [_cells(rows, column, size) for column in range(max(map(len, rows)))]
    room = width_mm - PADDING_MM * (len(columns) - 0.5)
    if sum(_least(cells, 1) for cells in columns) <= room * _CLOSE:
        return []
    lines = [1] * len(columns)
    while True:
        needed = [_least(cells, most) + _SLACK_MM for cells, most in zip(columns, lines, strict=True)]
        if sum(needed) <= room:
            break
        gained = [width - _SLACK_MM - _least(cells, most + 1)
                  for width, cells, most in zip(needed, columns, lines, strict=True)]
        if max(lines) >= _MOST_LINES or max(gained) <= 0:
            return []
        low = min(most for most, gain in zip(lines, gained, strict=True) if gain > 0)
        lines[max((column for column, most in enumerate(lines) if most == low), key=gained.__getitem__)] += 1
    long = sum(most > 1 for most in lines)
    if long == 1:
        return []  # it has the rest
    spare = (room - sum(needed)) / long
    return [round(width + spare * (most > 1) + PADDING_MM / (2 if column == 0 else 1), 2)
            for column, (width, most) in enumerate(zip(needed, lines, strict=True))]


def _cells(rows: Sequence[Sequence[Sequence[Block]]], column: int, size: float) -> list[list[float]]:
    """The widths of the words of each cell, the space before each but the first with it."""
    found = []
    for number, row in enumerate(rows):
        words = plain_text(row[column]).split() if column < len(row) else []
        is_bold = number == 0 or (column < len(row) and any(one["t"] == "strong" for one in row[column]))
        spaced = [*words[:1], *(f" {word}" for word in words[1:])]
        found.append([text_width(word, size, bold=is_bold) * _MM for word in spaced])
    return found


def _least(cells: Sequence[Sequence[float]], lines: int) -> float:
    """The least width in which every cell has so many lines and no more."""
    low, high = max((max(words, default=0.0) for words in cells), default=0.0), max(map(sum, cells), default=0.0)
    if all(_lines(words, low) <= lines for words in cells):
        return low
    while high - low > 0.2:
        middle = (low + high) / 2
        if all(_lines(words, middle) <= lines for words in cells):
            high = middle
        else:
            low = middle
    return high


def _lines(words: Sequence[float], width: float) -> int:
    count, left = 1, width
    for word in words:
        if word > left and left < width:
            count, left = count + 1, width
        left -= word
    return count
