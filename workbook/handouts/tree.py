"""A saved notebook as a plain tree of blocks, the one source of both the PDF and the page.

Cell tags: `remove-cell`, `remove-input`,
`remove-output`, `show-input` (code is hidden otherwise), `page-break` (a new page before), `answer` (moved to the end),
`injected-parameters` (left out). Markdown is parsed by mistune; raw HTML in it stays text. Figures take `image/svg+xml`
with alt, caption, width and cuts from the bundle's metadata, else a PNG. An error output stops the export.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.claims import without_marks

from ..lesson.lesson import Lesson, as_lesson
from ..lesson.saved import PNG_MIME, Cell, Output
from ..mimes import SOUND_MIME, SVG_MIME
from .errors import HandoutError
from .slicing import slices as slices  # the exporters take it from here

_WITHOUT_CELL = {"remove-cell", "injected-parameters"}
_SAFE_LINKS = ("http://", "https://", "mailto:", "#")
Block = dict[str, Any]


def tree_of(lesson: Lesson | Mapping[str, Any] | Path) -> dict[str, Any]:
    """{"title", "about", "blocks"} of a lesson (or of a notebook's JSON, or a path to it).

    Raises HandoutError for an error output, a figure without alt text, or a file that is not a notebook.
    """
    lesson = as_lesson(lesson)
    about = dict(lesson.about.raw)
    blocks: list[Block] = []
    answers: list[Block] = []
    for cell in lesson.cells:
        if _WITHOUT_CELL.intersection(cell.tags):
            continue
        found = [{**block, "cell": cell.number} for block in _cell_blocks(cell)]
        is_answer = "answer" in cell.tags
        if "page-break" in cell.tags and found and not is_answer:
            blocks.append({"t": "page-break"})
        (answers if is_answer else blocks).extend(found)
    if answers:
        blocks += [{"t": "page-break"}, {"t": "heading", "level": 2, "c": [_text("Answers")]}, *answers]
    if about.get("student"):
        at = next((index + 1 for index, block in enumerate(blocks) if block["t"] == "heading"), 0)
        name = {"t": "strong", "c": [_text(str(about["student"]))]}
        blocks.insert(at, {"t": "paragraph", "c": [_text("For "), name]})
    title = str(about.get("title") or _first_heading(blocks) or "Lesson")
    return {"title": title, "about": about, "blocks": list(_levelled(blocks))}


def plain_text(inlines: Iterable[Block]) -> str:
    """The words of some inlines, without their form."""
    return "".join(one.get("text", "") or plain_text(one.get("c", ())) for one in inlines)


def _cell_blocks(cell: Cell) -> Iterator[Block]:
    where = f"cell {cell.number}"
    if cell.is_text:
        yield from markdown_blocks(without_marks(cell.source), where)
        return
    if not cell.is_code:
        return
    if "show-input" in cell.tags and "remove-input" not in cell.tags and not cell.is_empty:
        yield {"t": "code", "text": cell.source}
    if "remove-output" not in cell.tags:
        for index, output in enumerate(cell.outputs):
            yield from _output_blocks(output, index, where)


def _output_blocks(output: Output, index: int, where: str) -> Iterator[Block]:
    if output.kind == "error":
        raise HandoutError(f"the cell raised {output.error}", where=where, value=output.raw.get("ename"),
                           expected="a lesson that runs without an error")
    data = output.data
    is_shown = output.kind in ("display_data", "execute_result")
    if not is_shown or SOUND_MIME in data:  # a player is for the notebook alone
        return
    if output.figures:
        yield _figure(output, index, where)
    elif "text/markdown" in data:
        yield from markdown_blocks(output.text("text/markdown"), where)
    elif "text/plain" in data:
        yield {"t": "code", "text": output.text("text/plain")}


def _figure(output: Output, index: int, where: str) -> Block:
    """A picture with what it says of itself; "line" says which output carries the line that it shows."""
    mime = output.figures[0]
    said = output.said_of(mime)
    alt = str(said.get("alt") or "").strip()
    if not alt:
        raise HandoutError("a figure has no alt text", where=where,
                           expected=f"metadata {{'{mime}': {{'alt': '…'}}}} on the output")
    figure: Block = {
        "t": "figure", "alt": alt, "caption": str(said.get("caption") or ""),
        "width_mm": float(said.get("width_mm") or 170.0), "cuts": [float(cut) for cut in said.get("cuts", ())],
    }
    if output.carries_line:
        figure["line"] = [output.cell, index]
    drawn = output.svg if mime == SVG_MIME else output.text(mime)
    return {**figure, "where": where, **_drawing(mime, drawn, where)}


def _drawing(mime: str, text: str, where: str) -> Block:
    """A figure's drawing; raises HandoutError for an SVG that is none."""
    if mime == PNG_MIME:
        return {"png": text}
    from xml.parsers import expat

    reader = expat.ParserCreate(namespace_separator=" ")
    names: list[str] = []
    reader.StartElementHandler = lambda name, _: names.append(name) if not names else None
    try:
        reader.Parse(text, True)
    except expat.ExpatError as error:
        raise HandoutError(f"a figure is not well-formed SVG: {error}", value=text[:60], where=where) from error
    if names[0].rpartition(" ")[2] != "svg":
        raise HandoutError(f"a figure is <{names[0][-40:]}>", value=text[:60], where=where, expected="an SVG")
    return {"svg": text}


# -- Markdown --------------------------------------------------------------------------------------------------------
@lru_cache(maxsize=1)
def _parser() -> Any:
    import mistune

    return mistune.create_markdown(renderer=None, plugins=["table", "task_lists"])


def markdown_blocks(text: str, where: str = "") -> list[Block]:
    """Markdown as blocks; what it cannot say (raw HTML) comes out as the text that was typed."""
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise HandoutError("a text holds half a character (a lone surrogate)", value=ascii(text[:40]),
                           where=where) from error
    return list(_blocks(_parser()(text), where))


def _blocks(tokens: Iterable[Mapping[str, Any]], where: str) -> Iterator[Block]:
    for token in tokens:
        kind, children = token["type"], token.get("children", ())
        if kind == "heading":
            inlines = _inlines(children, where)
            if plain_text(inlines).strip():
                yield {"t": "heading", "level": token["attrs"]["level"], "c": inlines, **_direction(inlines)}
        elif kind in ("paragraph", "block_text"):
            inlines = _inlines(children, where)
            yield {"t": "paragraph", "c": inlines, **_direction(inlines)}
        elif kind == "list":
            yield {"t": "list", "ordered": bool(token["attrs"].get("ordered")),
                   "items": [_item(child, where) for child in children]}
        elif kind == "block_quote":
            inside = list(_blocks(children, where))
            yield {"t": "care" if _is_care(inside) else "note", "c": inside}
        elif kind == "table":
            yield _table(token, where)
        elif kind == "block_code":
            yield {"t": "code", "text": token["raw"].rstrip("\n")}
        elif kind == "block_html":
            yield {"t": "paragraph", "c": [_text(token["raw"].strip())]}
        elif kind == "thematic_break":
            yield {"t": "rule"}


def _direction(inlines: Iterable[Block]) -> Block:
    """{"rtl": True} for words that begin from right to left (by their first strong sign, as browsers find it)."""
    strong = (unicodedata.bidirectional(sign) for sign in plain_text(inlines))
    first = next((kind for kind in strong if kind in ("L", "R", "AL")), "L")
    return {} if first == "L" else {"rtl": True}


def _item(token: Mapping[str, Any], where: str) -> Block:
    box = token["attrs"]["checked"] if token["type"] == "task_list_item" else None
    return {"box": box, "c": list(_blocks(token.get("children", ()), where))}


def _table(token: Mapping[str, Any], where: str) -> Block:
    head: list[list[Block]] = []
    rows: list[list[list[Block]]] = []
    for part in token["children"]:
        if part["type"] == "table_head":
            head = [_inlines(cell.get("children", ()), where) for cell in part["children"]]
        else:
            rows += [[_inlines(cell.get("children", ()), where) for cell in row["children"]]
                     for row in part["children"]]
    return {"t": "table", "head": head, "rows": rows}


def _is_care(blocks: list[Block]) -> bool:
    first = blocks[0].get("c", [{}])[0] if blocks and blocks[0]["t"] == "paragraph" else {}
    return first.get("t") == "strong" and plain_text(first["c"]).strip(" :.") == "Care"


def _inlines(tokens: Iterable[Mapping[str, Any]], where: str) -> list[Block]:
    found: list[Block] = []
    for token in tokens:
        kind, children = token["type"], token.get("children", ())
        if kind in ("text", "inline_html"):
            found.append(_text(token["raw"]))
        elif kind == "strong":
            found.append({"t": "strong", "c": _inlines(children, where)})
        elif kind == "emphasis":
            found.append({"t": "em", "c": _inlines(children, where)})
        elif kind == "codespan":
            found.append({"t": "mono", "text": token["raw"]})
        elif kind == "softbreak":
            found.append(_text(" "))
        elif kind == "linebreak":
            found.append({"t": "break"})
        elif kind == "link":
            address = token["attrs"]["url"]
            inside = _inlines(children, where)
            found += [{"t": "link", "href": address, "c": inside}] if may_lead_to(address) else inside
        elif kind == "image":
            raise HandoutError("an image in the text points outside the notebook", where=where,
                               value=token["attrs"].get("url"), expected="a figure made by a cell")
        else:
            found.append(_text(token.get("raw") or plain_text(_inlines(children, where))))
    return found


def may_lead_to(address: str) -> bool:
    """Whether a link may lead there: the web, mail, a place of the page, a file beside it; not another machine's disk.

    Browsers skip tabs, line ends and control signs within an address and read a backslash as a slash: none may stand.
    """
    if re.search(r"[\x00-\x20\x7f\\]", address) or address.startswith("//"):
        return False
    return address.lower().startswith(_SAFE_LINKS) or ":" not in address.split("/")[0]


def _text(text: str) -> Block:
    return {"t": "text", "text": text}


def _levelled(blocks: Iterable[Block]) -> Iterator[Block]:
    """Headings that skip no level: PDF/UA and screen readers need each level under the one above."""
    allowed = 1
    for block in blocks:
        if block["t"] == "heading":
            level = min(block["level"], allowed)
            allowed = level + 1
            block = {**block, "level": level}
        yield block


def _first_heading(blocks: Iterable[Block]) -> str:
    return next((plain_text(block["c"]).strip() for block in blocks if block["t"] == "heading"), "")
