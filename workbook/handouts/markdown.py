"""Markdown as blocks of the tree: what Lab renders of it, by mistune (GFM's tables, tasks and strikes, formulas, HTML).

Lab's own reader is marked with MathJax, without footnotes and definition lists; these stay as typed here too.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from .brought import Block, Place
from .errors import HandoutError
from .html_blocks import Body
from .inlines import formula_or_text, inlines, plain_text

_A_TABLE = re.compile(r"\|\s{0,9}:?-+:?\s{0,9}\|")  # the line under a table's head
_NOT_PRINTED = {"mermaid": "a mermaid diagram is printed as the text that was typed"}


@lru_cache(maxsize=1)
def _parser() -> Any:
    import mistune
    from mistune.plugins import math, table

    everywhere = [table.table_in_list, table.table_in_quote, math.math_in_list, math.math_in_quote]
    return mistune.create_markdown(
        renderer=None, plugins=["table", "task_lists", "strikethrough", "math", "url", *everywhere])


def markdown_blocks(text: str, place: Place | str = "") -> list[Block]:
    """Markdown as blocks; what it cannot say comes out as the text that was typed. Raises HandoutError.

    `place` is the cell that the text stands in, or its name where it brings nothing from beside it.
    """
    place = Place(name=place) if isinstance(place, str) else place
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise HandoutError("a text holds half a character (a lone surrogate)", value=ascii(text[:40]),
                           where=place.where) from error
    return _blocks(_parser()(text), place)


def _blocks(tokens: Iterable[Mapping[str, Any]], place: Place) -> list[Block]:
    body = Body(place)
    for token in tokens:
        if token["type"] == "block_html":
            body.html(token["raw"])
        else:
            body.add(*_block(token, place))
    return [one for block in body.done() for one in _lifted(block)]


def _block(token: Mapping[str, Any], place: Place) -> Iterator[Block]:
    kind, children = token["type"], token.get("children", ())
    if kind == "heading":
        words = inlines(children, place)
        if plain_text(words).strip():
            yield {"t": "heading", "level": token["attrs"]["level"], "c": words, **direction(words)}
    elif kind in ("paragraph", "block_text"):
        words = inlines(children, place)
        if _A_TABLE.search(plain_text(words)):
            place.tell("a table is printed as typed: each of its rows needs as many cells as its head")
        yield {"t": "paragraph", "c": words, **direction(words)}
    elif kind == "list":
        start = token["attrs"].get("start")
        yield {"t": "list", "ordered": bool(token["attrs"].get("ordered")), **({"start": start} if start else {}),
               "items": [_item(child, place) for child in children]}
    elif kind == "block_quote":
        inside = _blocks(children, place)
        yield {"t": "care" if _is_care(inside) else "note", "c": inside}
    elif kind == "table":
        yield _table(token, place)
    elif kind == "block_code":
        told = _NOT_PRINTED.get((token.get("attrs") or {}).get("info", "").strip())
        if told:
            place.tell(told)
        yield {"t": "code", "text": token["raw"].rstrip("\n")}
    elif kind == "block_math":
        yield {"t": "paragraph", "align": "center", "c": formula_or_text(token["raw"], place, "$$")}
    elif kind == "thematic_break":
        yield {"t": "rule"}


def _lifted(block: Block) -> Iterator[Block]:
    """A paragraph of pictures alone as figures, in what a block holds too."""
    if block["t"] in ("details", "note", "care"):
        yield {**block, "c": [one for inner in block["c"] for one in _lifted(inner)]}
        return
    inside = block.get("c", ()) if block["t"] == "paragraph" else ()
    images = [one for one in inside if one["t"] == "image"]
    others = [one for one in inside if one["t"] not in ("image", "break") and not (one["t"] == "text"
                                                                                 and not one["text"].strip())]
    if images and not others:
        yield from ({**one, "t": "figure", "width_mm": one["whole_mm"]} for one in images)
    else:
        yield block


def direction(words: Iterable[Block]) -> Block:
    """{"rtl": True} for words that begin from right to left (by their first strong sign, as browsers find it)."""
    strong = (unicodedata.bidirectional(sign) for sign in plain_text(words))
    first = next((kind for kind in strong if kind in ("L", "R", "AL")), "L")
    return {} if first == "L" else {"rtl": True}


def _item(token: Mapping[str, Any], place: Place) -> Block:
    box = token["attrs"]["checked"] if token["type"] == "task_list_item" else None
    return {"box": box, "c": _blocks(token.get("children", ()), place)}


def _table(token: Mapping[str, Any], place: Place) -> Block:
    head: list[list[Block]] = []
    rows: list[list[list[Block]]] = []
    align: list[str] = []
    for part in token["children"]:
        if part["type"] == "table_head":
            head = [inlines(cell.get("children", ()), place) for cell in part["children"]]
            align = [cell["attrs"].get("align") or "" for cell in part["children"]]
        else:
            rows += [[inlines(cell.get("children", ()), place) for cell in row["children"]]
                     for row in part["children"]]
    return {"t": "table", "head": head, "rows": rows, "align": align}


def _is_care(blocks: list[Block]) -> bool:
    inside = blocks[0].get("c") if blocks and blocks[0]["t"] == "paragraph" else None
    first = inside[0] if inside else {}
    return first.get("t") == "strong" and plain_text(first["c"]).strip(" :.") == "Care"
