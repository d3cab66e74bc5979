"""Room that a page has left, put into the rows of its tables and the lines of its charts. Lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable

from .look import Look
from .printed_figures import Block, taller_chart

_MOST_MM = {"table": 2.4, "part": 10.0}  # that is put to a row of a table, and to a line of a chart
_MOST_ROWS = 12                          # of a table; a longer one may be broken


def most_air(blocks: Iterable[Block]) -> float:
    """How much higher blocks side by side, or under each other, may be set."""
    return max((_lines_of(block) * _MOST_MM[block["t"]] for block in blocks if _lines_of(block)), default=0.0)


def with_air(block: Block, more_mm: float, look: Look) -> Block:
    """A block set so much higher, shared among its rows; the very same where it has none."""
    lines = _lines_of(block)
    if not more_mm or not lines:
        return block
    if block["t"] == "table":
        return {**block, "air": more_mm / lines / 2}  # above and below each row
    return taller_chart(block, more_mm, look)


def _lines_of(block: Block) -> int:
    """The rows of a table that may not be broken, the lines of a chart in one part; 0 of all else."""
    if block["t"] == "table":
        return len(block["rows"]) if len(block["rows"]) <= _MOST_ROWS else 0
    return int(block.get("lines", 0)) if block["t"] == "part" else 0
