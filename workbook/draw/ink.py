"""How high and how low the ink of a system stands, so that a page can set systems close without touching.

Read from the SVG: paths and glyphs by their outlines' control points, texts by their size. In overlay coordinates.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Mapping
from functools import lru_cache

from ..fonts.outline_bounds import outline_bounds
from .parts import SVG, XLINK

_SIGN = re.compile(r"translate\((-?[\d.]+),? (-?[\d.]+)\) ?(?:scale\((-?[\d.]+))?")
_STRAIGHT = re.compile(r"[ML](-?[\d.]+) (-?[\d.]+) ?")
_OVER, _UNDER = 0.8, 0.24  # of a text's size: over and under its baseline


def ink_of(system: ElementTree.Element, signs: Mapping[str, str]) -> tuple[float, float]:
    """(top, bottom) of what is drawn in a system's group; `signs` are outlines of glyphs by name."""
    heights = list(_heights(system, signs))
    return min(heights), max(heights)


def signs_of(root: ElementTree.Element) -> dict[str, str]:
    """The outline of each glyph that a picture shares."""
    return {shape.get("id", ""): path.get("d", "") for defs in root.iter(f"{{{SVG}}}defs") for shape in defs
            for path in shape.iter(f"{{{SVG}}}path")}


def _heights(node: ElementTree.Element, signs: Mapping[str, str]) -> Iterator[float]:
    kind = node.tag.removeprefix(f"{{{SVG}}}")
    if kind == "path":
        yield from _path_heights(node.get("d", ""))
    elif kind == "use":
        yield from _glyph_heights(node, signs)
    elif kind == "text":
        yield from _text_heights(node)
    elif kind in ("polygon", "polyline"):
        yield from (float(one) for one in re.findall(r"-?[\d.]+[ ,]+(-?[\d.]+)", node.get("points", "")))
    elif kind == "rect" and node.get("fill") != "#ffffff":
        y = float(node.get("y", "0"))
        yield from (y, y + float(node.get("height", "0")))
    elif kind == "ellipse":
        y, radius = float(node.get("cy", "0")), float(node.get("ry", "0"))
        yield from (y - radius, y + radius)
    if kind != "text":
        for child in node:
            yield from _heights(child, signs)


def _path_heights(outline: str) -> Iterator[float]:
    points = _STRAIGHT.findall(outline)
    if "".join(f"M{x} {y} " for x, y in points).replace("M", "").replace(" ", "") == re.sub("[ML ]", "", outline):
        yield from (float(y) for _, y in points)
    else:
        low, high = _bounds(outline)
        yield from (low, high)


def _glyph_heights(node: ElementTree.Element, signs: Mapping[str, str]) -> Iterator[float]:
    outline = signs.get(node.get(f"{{{XLINK}}}href", "").removeprefix("#"), "")
    placed = _SIGN.search(node.get("transform", ""))
    if not outline or placed is None:
        return
    y, scale = float(placed[2]), float(placed[3] or 1)
    low, high = _bounds(outline)
    yield from (y - high * scale, y - low * scale)  # glyphs are drawn upwards


def _text_heights(node: ElementTree.Element) -> Iterator[float]:
    size = float(node.get("font-size", "0").removesuffix("px"))
    if size:
        y = float(node.get("y", "0"))
        yield from (y - _OVER * size, y + _UNDER * size)


@lru_cache(maxsize=4096)
def _bounds(outline: str) -> tuple[float, float]:
    return outline_bounds(outline)
