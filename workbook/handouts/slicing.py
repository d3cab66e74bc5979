"""A tall figure cut into slices at heights of its own, each with what stands in it and nothing else.

A figure that says what belongs together has a group of class `system` for each slice (draw.stacking); what stands
outside them is common to all. Of any other figure each slice holds the whole and shows its part.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from .clean import read_drawing
from .errors import HandoutError

SVG, XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
_COMMON = (f"{{{SVG}}}defs", f"{{{SVG}}}style", f"{{{SVG}}}title")
ElementTree.register_namespace("", SVG)
ElementTree.register_namespace("xlink", XLINK)


def slices(svg: str, cuts: Iterable[float], *, together: bool = False) -> list[tuple[str, float]]:
    """(svg, share of the width that its height is) for each slice, top first.

    Each stands by itself; with `together` they share a page, and only the first has the shapes and styles of them all.
    Raises HandoutError for a figure without a viewBox, and as read_drawing does.
    """
    root = read_drawing(svg, in_parts=True)
    x, y, width, height = _box(root, svg)
    _name_by_class(root)
    edges = [y, *(cut for cut in sorted(cuts) if y < cut < y + height), y + height]
    systems = _taken_out(root, len(edges) - 1)
    common = [child for child in root if child.tag in _COMMON]
    shapes = {shape.attrib["id"]: shape for node in common for shape in node if shape.get("id")}
    found = []
    for number, (low, high) in enumerate(pairwise(edges)):
        root.set("viewBox", " ".join(map(_number, (x, low, width, high - low))))
        root.set("width", _number(width))
        root.set("height", _number(high - low))
        if number == 1 and together:
            _without(root, common)
        if not systems:
            found.append((ElementTree.tostring(root, encoding="unicode"), (high - low) / width))
            continue
        parent, at, system = systems[number]
        parent.insert(at, system)
        if not together:
            _only(common, shapes, set(_pointed_at(root)))
        found.append((ElementTree.tostring(root, encoding="unicode"), (high - low) / width))
        parent.remove(system)
    return found


def _number(value: float) -> str:
    """Plainly, to a thousandth of a unit: a power of ten is no length to every reader of SVG."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _box(root: ElementTree.Element, svg: str) -> tuple[float, float, float, float]:
    try:
        x, y, width, height = (float(part) for part in root.get("viewBox", "").replace(",", " ").split())
    except ValueError as error:
        raise HandoutError("a figure has no viewBox", value=svg[:60], expected="an SVG with a viewBox") from error
    if not 0 < width < float("inf") or not 0 < height < float("inf"):
        raise HandoutError("a figure has no size", value=root.get("viewBox"), expected="a viewBox with a size")
    return x, y, width, height


def _taken_out(root: ElementTree.Element, count: int) -> list[tuple[ElementTree.Element, int, ElementTree.Element]]:
    """(parent, place, group) of each slice's own group, out of the tree; none unless there is one for each."""
    found = [(parent, at, child) for parent in root.iter() for at, child in enumerate(parent)
             if child.get("class") == "system"]
    if len(found) != count:
        return []
    for parent, _, child in found:
        parent.remove(child)
    first = {id(parent): at for parent, at, _ in reversed(found)}  # the others before it are out as well
    return [(parent, first[id(parent)], child) for parent, _, child in found]


def _name_by_class(root: ElementTree.Element) -> None:
    """Styles that name the whole figure by its id name it by a class: its slices share a page."""
    name = root.attrib.pop("id", "")
    if not name:
        return
    root.set("class", " ".join(filter(None, (root.get("class"), name))))
    for style in root.iter(f"{{{SVG}}}style"):
        style.text = (style.text or "").replace(f"#{name} ", f".{name} ")


def _without(root: ElementTree.Element, common: list[ElementTree.Element]) -> None:
    """Leave out what the first slice holds for all, and names that would stand twice on the page."""
    for node in common:
        root.remove(node)
    for node in root.iter():
        node.attrib.pop("id", None)


def _only(common: list[ElementTree.Element], shapes: Mapping[str, ElementTree.Element], used: set[str]) -> None:
    for node in common:
        if node.tag == f"{{{SVG}}}defs":
            node[:] = [shape for name, shape in shapes.items() if name in used]


def _pointed_at(root: ElementTree.Element) -> Iterator[str]:
    for node in root.iter():
        for value in node.attrib.values():
            if value.startswith("#"):
                yield value[1:]
