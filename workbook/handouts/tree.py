"""A lesson as a plain tree of blocks, the one source of both the PDF and the page.

Cell tags, by the conventions of nbconvert and Jupyter Book where they have one: `remove-cell`, `remove-input`,
`remove-output`; `show-input` (code is hidden otherwise), `page-break` (a new page before), `column` (side by side with
the cells next to it that bear it too), `answer` (moved to the end), `teacher` (in the teacher's own handout alone),
`injected-parameters` (left out). Markdown is read by markdown.py. Figures take `image/svg+xml` with alt, caption, width
and cuts from the bundle's metadata, else a photograph. An error output stops the export.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from itertools import groupby
from pathlib import Path
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.claims import without_marks
from theorylib.playing.lines import Line

from ..lesson.lesson import Lesson, as_lesson
from ..lesson.saved import Cell, Output
from ..mimes import EAR_MIME, OUTLINE_MIME, SOUND_MIME, SVG_MIME
from .brought import Block, Brought, Place, asked_mm, decoded, picture_block
from .errors import HandoutError
from .inlines import may_lead_to as may_lead_to
from .inlines import plain_text as plain_text
from .markdown import markdown_blocks as markdown_blocks
from .slicing import slices as slices  # the exporters take it from here

TEACHER, ANSWER, COLUMN, PAGE_BREAK = "teacher", "answer", "column", "page-break"
_WITHOUT_CELL = {"remove-cell", "injected-parameters"}
_MOST_COLUMNS = 4


def tree_of(lesson: Lesson | Mapping[str, Any] | Path, *, teacher: bool = False) -> dict[str, Any]:
    """{"title", "about", "blocks", "files", "told"} of a lesson (or of a notebook's JSON, or a path to it).

    "files" are those beside the lesson that it shows; "told" what its maker should know of its cells (brought.Told).
    With `teacher` the cells for the teacher alone are among the blocks. Raises HandoutError for an error output, a
    drawing of ours without alt text, or a file that is not a notebook; MediaError for a picture that cannot be shown.
    """
    lesson = as_lesson(lesson)
    brought = Brought(lesson.folder)
    about = dict(lesson.about.raw)
    blocks: list[Block] = []
    answers: list[Block] = []
    for cells in _rows_of_cells(lesson.cells, teacher):
        first = cells[0]
        found = [[{**block, "cell": cell.number} for block in _cell_blocks(cell, brought)] for cell in cells]
        shown = found[0] if len(found) == 1 else [{"t": "columns", "columns": found, "cell": first.number}]
        if PAGE_BREAK in first.tags and shown and ANSWER not in first.tags:
            blocks.append({"t": "page-break"})
        (answers if ANSWER in first.tags else blocks).extend(shown)
    if answers:
        blocks += [{"t": "page-break", "soft": True}, {"t": "heading", "level": 2, "c": [_text("Answers")]}, *answers]
    if about.get("student"):
        at = next((index + 1 for index, block in enumerate(blocks) if block["t"] == "heading"), 0)
        name = {"t": "strong", "c": [_text(str(about["student"]))]}
        blocks.insert(at, {"t": "paragraph", "c": [_text("For "), name]})
    title = str(about.get("title") or _first_heading(blocks) or "Lesson")
    return {"title": title, "about": about, "blocks": _with_charts(_levelled(blocks)), "files": brought.files,
            "told": [asdict(one) for one in brought.told]}


def _with_charts(blocks: list[Block]) -> list[Block]:
    """Each outline with the last chart that is drawn before it, over which it is likely to be."""
    chart: Chart | str = ""
    for index, block in enumerate(blocks):
        chart = block.get("chart") or chart
        if "outline" in block and chart:
            blocks[index] = {**block, "over": chart}
    return blocks


def has_teachers_cells(lesson: Lesson) -> bool:
    """Whether a lesson holds cells for the teacher alone."""
    return any(TEACHER in cell.tags for cell in lesson.cells)


def _rows_of_cells(cells: Iterable[Cell], teacher: bool) -> Iterator[tuple[Cell, ...]]:
    """The cells that are shown: each by itself, those of columns with their neighbours."""
    shown = [cell for cell in cells if not _WITHOUT_CELL.intersection(cell.tags)
             and (teacher or TEACHER not in cell.tags)]
    for in_columns, row in groupby(shown, key=lambda cell: COLUMN in cell.tags):
        side_by_side = tuple(row)
        if not in_columns:
            yield from ((cell,) for cell in side_by_side)
            continue
        for start in range(0, len(side_by_side), _MOST_COLUMNS):
            yield side_by_side[start:start + _MOST_COLUMNS]


def _cell_blocks(cell: Cell, brought: Brought) -> Iterator[Block]:
    place = Place(cell.number, cell.raw.get("attachments", {}), brought)
    found = list(_shown(cell, place))
    if TEACHER in cell.tags and found:
        yield {"t": "note", "c": [{"t": "paragraph", "c": [{"t": "strong", "c": [_text("For the teacher")]}]}, *found]}
    else:
        yield from found


def _shown(cell: Cell, place: Place) -> Iterator[Block]:
    if cell.is_text:
        yield from markdown_blocks(without_marks(cell.source), place)
        return
    if not cell.is_code:
        return
    if "show-input" in cell.tags and "remove-input" not in cell.tags and not cell.is_empty:
        yield {"t": "code", "text": cell.source}
    if "remove-output" not in cell.tags:
        for index, output in enumerate(cell.outputs):
            yield from _output_blocks(output, index, place)


def _output_blocks(output: Output, index: int, place: Place) -> Iterator[Block]:
    if output.kind == "error":
        raise HandoutError(f"the cell raised {output.error}", where=place.where, value=output.raw.get("ename"),
                           expected="a lesson that runs without an error")
    data = output.data
    is_shown = output.kind in ("display_data", "execute_result")
    if not is_shown or SOUND_MIME in data:  # a player is for the notebook alone
        return
    if output.figures:
        yield _figure(output, index, place)
    elif "text/markdown" in data:
        blocks = list(markdown_blocks(output.text("text/markdown"), place))
        if EAR_MIME in data and blocks:
            blocks[0] = {**blocks[0], "ear": [output.cell, index]}  # what the page plays instead
        yield from blocks
    elif "text/plain" in data:
        plain = output.text("text/plain")
        if "text/html" in data and plain.startswith("<") and plain.endswith(">"):
            place.tell(f"its output is HTML, of which only {plain[:60]} is printed: show it as Markdown or a picture")
        yield {"t": "code", "text": plain}


def _figure(output: Output, index: int, place: Place) -> Block:
    """A picture with what it says of itself; "line" says which output carries the line that it shows."""
    mime = output.figures[0]
    said = output.said_of(mime)
    alt, caption = str(said.get("alt") or "").strip(), str(said.get("caption") or "")
    if mime != SVG_MIME:
        width = float(said.get("width_mm") or 0) or asked_mm(str(said.get("width") or ""))
        return picture_block(place, decoded(output.text(mime)), f"the picture of {place.where}", alt, caption, width)
    if not alt:
        raise HandoutError("a figure has no alt text", where=place.where,
                           expected=f"metadata {{'{mime}': {{'alt': '…'}}}} on the output, or picture(…, alt=\"…\")")
    figure: Block = {
        "t": "figure", "alt": alt, "caption": caption, "width_mm": float(said.get("width_mm") or 170.0),
        "cuts": [float(cut) for cut in said.get("cuts", ())],
    }
    if output.carries_line:
        figure["line"] = [output.cell, index]
    figure |= _meant(output, said)
    return {**figure, "where": place.where, "svg": _drawing(output.svg, place.where)}


def stored(value: Line | Chart) -> str:
    """A line or chart of a tree as its text, for a tree that is kept as JSON; paper reads it back."""
    return value.to_json() if isinstance(value, Line) else str(value)


def _meant(output: Output, said: Mapping[str, Any]) -> Block:
    """What the figure draws, for paper to draw it anew: a line, a chart, or a neck's legend."""
    if isinstance(output.line, Line):
        return {"score": output.line}
    if isinstance(output.chart, Chart):
        return {"chart": output.chart}
    if OUTLINE_MIME in output.data:
        return {"outline": output.text(OUTLINE_MIME)}
    legend = said.get("legend")
    at, roles = (legend.get("at"), legend.get("roles")) if isinstance(legend, Mapping) else (None, None)
    if isinstance(at, int | float) and isinstance(roles, list):
        return {"legend": {"at": float(at), "roles": [str(role) for role in roles]}}
    return {}


def _drawing(text: str, where: str) -> str:
    """A figure's drawing; raises HandoutError for an SVG that is none."""
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
    return text


def _text(text: str) -> Block:
    return {"t": "text", "text": text}


def _levelled(blocks: Iterable[Block]) -> list[Block]:
    """Headings that skip no level, in columns and folded parts too: PDF/UA and screen readers need each under one."""
    allowed = 1

    def level(found: Iterable[Block]) -> list[Block]:
        nonlocal allowed
        made = []
        for block in found:
            if block["t"] == "heading":
                block = {**block, "level": min(block["level"], allowed)}
                allowed = block["level"] + 1
            elif block["t"] in ("details", "note", "care"):
                block = {**block, "c": level(block["c"])}
            elif block["t"] == "columns":
                block = {**block, "columns": [level(column) for column in block["columns"]]}
            made.append(block)
        return made

    return level(blocks)


def _first_heading(blocks: Iterable[Block]) -> str:
    return next((plain_text(block["c"]).strip() for block in blocks if block["t"] == "heading"), "")
