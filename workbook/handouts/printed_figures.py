"""A figure of the tree as paper takes it: its parts with their sizes in mm, engraved or drawn anew where its line or
chart is known, so that large print enlarges the music and no figure is shrunk to fit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.playing.lines import Line
from theorylib.practice.outline import read_outline

from ..draw.chart import ROW, WIDTH, chart_picture, heading_words, lines_of
from ..draw.neck_svg import MM_A_UNIT as NECK_MM
from ..draw.neck_svg import legend_picture
from ..draw.outline_sheet import outline_picture
from ..draw.pictures import Picture
from ..draw.score import about
from ..draw.screen import staves_in
from ..draw.spoken import spoken_bars, summary
from .look import TEXT_MM, Look
from .remembered import print_of
from .slicing import slices

Block = dict[str, Any]


def printed_figure(block: Block, look: Look) -> Block:
    """The figure with "parts" (each {"t": "part", "w", "h", "data", "format", "alt"}) and the "head" over them.

    "kind" is "score", "chart", "neck" or "picture". Raises HandoutError for a drawing that cannot be cut.
    """
    if block.get("score"):
        return _score(block, look)
    if block.get("chart"):
        return _chart(block, look)
    if block.get("legend"):
        return _neck(block, look)
    if block.get("outline") and not look.columns:
        return _outline(block, look)
    return _picture(block, look)


def legend_part(roles: list[str], look: Look) -> Block:
    """The legend of some necks, once for all of them."""
    drawn = legend_picture(roles)
    scale = look.neck / NECK_MM
    width = (drawn.width_mm or 0.0) * scale
    return {"t": "part", "w": min(width, TEXT_MM), "h": _height(drawn.svg, min(width, TEXT_MM)), "data": drawn.svg,
            "format": "svg", "alt": drawn.alt, "side": "center"}


def _score(block: Block, look: Look) -> Block:
    line = block["score"] if isinstance(block["score"], Line) else Line.from_json(block["score"])
    systems = print_of(line, TEXT_MM, look.music, staves_in(block.get("svg", "")))
    said, parts = spoken_bars(line), []
    for number, one in enumerate(systems):
        alt = " ".join([*([summary(line)] if number == 0 else []), *said[one.first_bar:one.end_bar]])
        parts.append({"t": "part", "w": one.width_mm, "h": one.height_mm, "data": one.svg, "format": "svg", "alt": alt})
    return {**_head(block, line.title, about(line)), "kind": "score", "parts": parts}


def _chart(block: Block, look: Look) -> Block:
    chart = block["chart"] if isinstance(block["chart"], Chart) else Chart.parse(block["chart"])
    drawn = _drawn(chart, look, 0.0)
    parts = list(_parts(drawn.svg, list(drawn.cuts), drawn.alt, TEXT_MM))
    if len(parts) == 1:
        parts[0] |= {"chart": chart, "lines": lines_of(chart, large_print=not look.columns)}
    return {**_head(block, "", heading_words(chart)), "kind": "chart", "parts": parts}


def _drawn(chart: Chart, look: Look, more_mm: float) -> Picture:
    return chart_picture(chart, large_print=not look.columns, heading=False, size=look.symbol,
                         row=ROW + more_mm * WIDTH / TEXT_MM)


def taller_chart(part: Block, more_mm: float, look: Look) -> Block:
    """A chart's one part drawn anew, so much higher, shared among its lines of bars."""
    svg = _drawn(part["chart"], look, more_mm / part["lines"]).svg
    return {**part, "data": svg, "h": _height(svg, part["w"])}


def _neck(block: Block, look: Look) -> Block:
    part, share = slices(block["svg"], [block["legend"]["at"]])[0]
    width = min(TEXT_MM, _units(part) * look.neck)
    shown = {"t": "part", "w": width, "h": width * share, "data": part, "format": "svg", "alt": block["alt"],
             "caption": _named(block["caption"]), "side": "center"}
    return {**block, "svg": "", "kind": "neck", "parts": [shown]}


def _named(caption: str) -> str:
    """A name as a title: a number at its end does not stand in a line of its own."""
    title = caption[:1].upper() + caption[1:]
    words, _, last = title.rpartition(" ")
    return f"{words}\N{NO-BREAK SPACE}{last}" if words and last.isdigit() else title


def _outline(block: Block, look: Look) -> Block:
    """An outline drawn anew for large print, where it is over the chart that stands before it: then it is what is
    stored, to the letter, when drawn as usual."""
    try:
        plan = read_outline(block["outline"], block.get("over", ""))
    except VampError:
        return _picture(block, look)
    if outline_picture(plan).svg != block["svg"]:
        return _picture(block, look)
    drawn = outline_picture(plan, large_print=True)
    parts = list(_parts(drawn.svg, list(drawn.cuts), drawn.alt, TEXT_MM))
    return {**block, "svg": "", "kind": "picture", "parts": parts}


def with_necks(blocks: Sequence[Block], share: float) -> list[Block]:
    """Prepared blocks with every neck that much as large; the very same for 1."""
    if share == 1.0:
        return list(blocks)
    return [{**block, "parts": [{**part, "w": part["w"] * share, "h": part["h"] * share} for part in block["parts"]]}
            if block.get("kind") == "neck" else block for block in blocks]


def _picture(block: Block, look: Look) -> Block:
    width = min(block["width_mm"] * look.picture, TEXT_MM)
    parts = list(_parts(block["svg"], block["cuts"], block["alt"], width))
    if block["caption"]:
        parts[0]["caption"] = block["caption"]
    return {**block, "svg": "", "kind": "picture", "parts": parts}


def _parts(svg: str, cuts: list[float], alt: str, width: float) -> Iterator[Block]:
    found = slices(svg, cuts) if cuts else [(svg, _height(svg, 1.0))]
    for number, (part, share) in enumerate(found, 1):
        said = alt if number == 1 else f"Part {number} of {len(found)}."
        yield {"t": "part", "w": width, "h": width * share, "data": part, "format": "svg", "alt": said,
               "side": "center"}


def _head(block: Block, left: str, right: str) -> Block:
    head = {"t": "head", "left": left, "right": right}
    return {**block, "svg": "", "score": "", "chart": "", "head": head}


def _height(svg: str, width: float) -> float:
    """The height of a drawing as wide as `width`, by its own box or size."""
    return width * slices(svg, [])[0][1]


def _units(svg: str) -> float:
    return float(svg.split('viewBox="', 1)[1].split('"', 1)[0].split()[2])

