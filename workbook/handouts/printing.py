"""What paper can show of a tree (tree.py): signs beyond our own face from fallback faces, codes where none has them.

A browser falls back by itself, so the page takes the tree as it is.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from ..fonts.scripts import is_common, lacking, printable, stand_in
from .outlines import SVG_TEXT, outlined

Block = dict[str, Any]


def printed(block: Block, language: str) -> Block:
    """A block or inline with every text in it as it can be printed; the very same where our own face has all."""
    found = {key: _inside(value, language) for key, value in block.items()}
    for key in ("text", "caption"):
        if key in block:
            found[key] = printable(block[key])
    if "svg" in block:
        found["svg"] = outlined(block["svg"], language)
    return found


def texts_of(block: Any) -> Iterator[str]:
    """Every text that a block (or a list of them) shows, those in its drawings too."""
    if isinstance(block, Mapping):
        for key, value in block.items():
            if key in ("text", "caption"):
                yield value
            elif key == "svg":
                yield from (match[3] for match in SVG_TEXT.finditer(value))
            else:
                yield from texts_of(value)
    elif isinstance(block, list):
        for one in block:
            yield from texts_of(one)


def unprintable(tree: Mapping[str, Any]) -> dict[int, tuple[str, ...]]:
    """The signs of a lesson that no face has, by the number of their cell (0: the lesson's own title)."""
    found: dict[int, tuple[str, ...]] = {}
    for block in tree["blocks"]:
        signs = lacking("".join(text for text in texts_of(block) if not is_common(text)))
        if signs:
            number = block.get("cell", 0)
            found[number] = tuple(dict.fromkeys((*found.get(number, ()), *signs)))
    return found


def told(signs: Iterable[str]) -> str:
    """“no font here has U+12000 CUNEIFORM SIGN A: the handout shows [U+12000] in its place”."""
    signs = tuple(signs)
    names = ", ".join(f"U+{ord(sign):04X} {unicodedata.name(sign, 'without a name')}" for sign in signs[:5])
    more = f" and {len(signs) - 5} more" * (len(signs) > 5)
    return f"no font here has {names}{more}: the handout shows {stand_in(signs[0])} in its place"


def _inside(value: Any, language: str) -> Any:
    if isinstance(value, dict):
        return printed(value, language) if "t" in value else {key: _inside(one, language) for key, one in value.items()}
    return [_inside(one, language) for one in value] if isinstance(value, list) else value
