"""Words cut for columns: where a run of paragraphs begins and ends, and a list's items one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from .inlines import plain_text
from .printed_figures import Block

WORDS = ("paragraph", "list", "meta")
_LONG_SIGNS = 110  # of a paragraph that is more than a line of a page


def items_of(block: Block) -> list[Block]:
    """A list in lists of one item each, and so two columns of it; nothing of another block."""
    if block["t"] != "list":
        return []
    start = block.get("start") or 1
    return [{**block, "items": [item], **({"start": start + number} if block["ordered"] else {})}
            for number, item in enumerate(block["items"])]


def joined(pieces: Sequence[Block]) -> list[Block]:
    """Single items as one list again; other blocks as they are."""
    if not pieces or pieces[0]["t"] != "list":
        return list(pieces)
    return [{**pieces[0], "items": [item for piece in pieces for item in piece["items"]]}]


def words_first(blocks: Sequence[Block]) -> int:
    """How many blocks at the start are words."""
    return next((index for index, block in enumerate(blocks) if block["t"] not in WORDS), len(blocks))


def runs(blocks: Sequence[Block]) -> Iterator[tuple[int, int]]:
    """(start, end) of paragraphs of some length that follow each other, and of every other block by itself."""
    start = 0
    while start < len(blocks):
        end = start + 1
        if _is_long(blocks[start]):
            while end < len(blocks) and _is_long(blocks[end]):
                end += 1
        yield start, end
        start = end


def _is_long(block: Block) -> bool:
    return block["t"] == "paragraph" and len(plain_text(block["c"])) > _LONG_SIGNS


def is_headed(blocks: Sequence[Block]) -> bool:
    return bool(blocks) and blocks[0]["t"] == "heading" and blocks[0]["level"] == 2


def balanced(heights: Sequence[float]) -> int:
    """Where to cut pieces of these heights so that the higher of two columns is lowest."""
    return min(range(1, len(heights)), key=lambda cut: max(sum(heights[:cut]), sum(heights[cut:])))
