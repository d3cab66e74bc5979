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
    has_picture = any("parts" in one or "svg" in one for row in rows for cell in row for one in cell)
    if has_picture:
        return []  # it is as wide as it is
    columns = [_cells(rows, column, size) for column in range(max(map(len, rows)))]
    room = width_mm - PADDING_MM * (len(columns) - 0.5)
    fits_in_single_lines = sum(_least(cells, 1) for cells in columns) <= room * _CLOSE
    lines = None if fits_in_single_lines else _lines_to_fit(columns, room)
    if lines is None:
        return []
    broken = [most > 1 for most in lines]
    if sum(broken) == 1:
        return []  # it has the rest
    needed = _needed(columns, lines)
    spare = (room - sum(needed)) / sum(broken)
    words = [width + spare * is_broken for width, is_broken in zip(needed, broken, strict=True)]
    return [round(wide + PADDING_MM / (2 if column == 0 else 1), 2) for column, wide in enumerate(words)]


def _lines_to_fit(columns: Sequence[list[list[float]]], room: float) -> list[int] | None:
    """How many lines each column must have to fit into the room; None where no number of lines does it.

    One more goes to a column of the fewest lines that becomes narrower by it, there to that which gains most.
    """
    lines = [1] * len(columns)
    while sum(_needed(columns, lines)) > room:
        narrower = _needed(columns, [most + 1 for most in lines])
        gained = [now - then for now, then in zip(_needed(columns, lines), narrower, strict=True)]
        if max(lines) >= _MOST_LINES or max(gained) <= 0:
            return None
        fewest = min(most for most, gain in zip(lines, gained, strict=True) if gain > 0)
        candidates = [column for column, most in enumerate(lines) if most == fewest]
        lines[max(candidates, key=gained.__getitem__)] += 1
    return lines


def _needed(columns: Sequence[list[list[float]]], lines: Sequence[int]) -> list[float]:
    """The least width of each column with so many lines."""
    return [_least(cells, most) + _SLACK_MM for cells, most in zip(columns, lines, strict=True)]


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
