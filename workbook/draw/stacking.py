"""Verovio's pages as one tall picture, and only what draws something kept of them.

A longer score than a page holds comes in several pages: their systems are stacked, one group each. Shapes of signs are
shared by the whole picture. Ids are ours alone: of notes (`n`, `t`, `g` and a number) and of chord symbols (`c`).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence

from .parts import SVG, XLINK

STROKE, SOLID = 26, "solid"  # the width of a line of the overlay, and the class of its filled shapes
# Lines and shapes are stroked, texts and the grounds under them (rect) are not.
STYLE = (".engraved path,.engraved polygon,.engraved polyline,.engraved ellipse{stroke:currentColor}"
         f".engraved .overlay path{{fill:none;stroke-width:{STROKE};stroke-linecap:round;stroke-linejoin:round}}"
         f".engraved .overlay .{SOLID}{{fill:#000000;stroke:none}}")
_OURS = re.compile(r"^[ntgc]\d+(\.\d+)?$")
_LINE = re.compile(r"^M-?[\d.]+ (-?[\d.]+) L-?[\d.]+ \1$")
_BARE = {"notehead", "stem", "tabGrp"}  # kinds of groups that say nothing that what is in them does not say
_NAMED = {"note", "harm"}              # kinds of groups that carry ids of ours; Verovio's own look like them at times
_PLACE = re.compile(r"translate\((-?[\d.]+),? (-?[\d.]+)\)")
_SIGN = re.compile(r"^translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+), \3\)$")
_GROUP = f"{{{SVG}}}g"


def stacked(pages: Sequence[ElementTree.Element], bottom: int, top: int,
            gap: int) -> tuple[ElementTree.Element, ElementTree.Element, float, float]:
    """(tree, group of the systems, width, height) of the pages one under the other, in units.

    `bottom` and `top` are the pages' margins, `gap` what stands between systems.
    """
    for page in pages:
        _outdent(page)
    root = pages[0]
    margin = _margin(root)
    _, _, width, height = _box(root)
    signs = {name: sign for page in pages for name, sign in _signs(page)}
    for page in pages[1:]:
        down = height - bottom + gap - top
        for system in _margin(page).iter(_GROUP):
            if system.get("class") == "system":
                system.set("transform", f"translate(0 {10 * down:.0f})")
                margin.append(system)
        height = down + _box(page)[3]
    for old in [child for child in root if child.tag in (f"{{{SVG}}}{name}" for name in ("defs", "style", "desc"))]:
        root.remove(old)
    shared = ElementTree.Element(f"{{{SVG}}}defs")
    shared.extend(signs[name] for name in sorted(signs))
    style = ElementTree.Element(f"{{{SVG}}}style")
    style.text = STYLE
    root[:0] = [style, shared]
    for name in ("id", "version", "overflow"):
        root.attrib.pop(name, None)
    root.set("class", "engraved")
    root.set("viewBox", f"0 0 {width:.0f} {height:.0f}")
    inner = next(node for node in root.iter(f"{{{SVG}}}svg") if node.get("class") == "definition-scale")
    inner.set("viewBox", f"0 0 {10 * width:.0f} {10 * height:.0f}")
    return root, margin, width, height


def place_of(group: ElementTree.Element) -> tuple[float, float]:
    """Where a group is moved to, in overlay coordinates."""
    match = _PLACE.search(group.get("transform", ""))
    return (float(match[1]), float(match[2])) if match else (0.0, 0.0)


def slim(node: ElementTree.Element) -> None:
    """Drop what draws nothing: groups without content, names that nothing points at; join the pieces of a string."""
    kept: list[ElementTree.Element] = []
    for child in node:
        slim(child)
        hidden = "placeholder" in child.get("class", "").split() or child.get("visibility") == "hidden"
        if child.tag == _GROUP and (hidden or not len(child)):
            continue
        if child.get("class") in _BARE and not child.get("id"):
            kept += child
        elif kept and _same_line(kept[-1], child):
            kept[-1].set("d", f"{kept[-1].get('d')} {child.get('d')}")
        else:
            kept.append(child)
    node[:] = kept
    if node.tag == _GROUP and not (node.get("class") in _NAMED and _OURS.match(node.get("id", ""))):
        node.attrib.pop("id", None)
    placed = _SIGN.match(node.get("transform", ""))
    if placed is not None:
        node.set("transform", f"translate({placed[1]} {placed[2]})scale({placed[3]})")


def _same_line(one: ElementTree.Element, two: ElementTree.Element) -> bool:
    """Are both pieces of one level line, which a string is cut into at its digits?"""
    if one.tag != f"{{{SVG}}}path" or two.tag != one.tag or one.get("stroke-width") != two.get("stroke-width"):
        return False
    first, second = _LINE.match(one.get("d", "").rsplit(" M")[0]), _LINE.match(two.get("d", ""))
    return first is not None and second is not None and first[1] == second[1]


def _outdent(page: ElementTree.Element) -> None:
    """Drop the white space that only indents; stroke Verovio's own boxes."""
    for node in page.iter():
        if node.text and not node.text.strip():
            node.text = None
        if node.tail and not node.tail.strip():
            node.tail = None
        if node.tag == f"{{{SVG}}}rect":
            node.set("stroke", "currentColor")


def _margin(root: ElementTree.Element) -> ElementTree.Element:
    return next(node for node in root.iter(_GROUP) if node.get("class") == "page-margin")


def _box(root: ElementTree.Element) -> list[float]:
    return [float(part) for part in (root.get("viewBox") or "").split()]


def _signs(page: ElementTree.Element) -> list[tuple[str, ElementTree.Element]]:
    """(name, shape) of each sign that a page uses; the page's own ending is taken off the names."""
    ending = f"-{page.get('id')}"
    found = []
    for defs in page.findall(f"{{{SVG}}}defs"):
        for sign in defs:
            sign.set("id", sign.get("id", "").removesuffix(ending))
            found.append((sign.attrib["id"], sign))
    for use in page.iter(f"{{{SVG}}}use"):
        use.set(f"{{{XLINK}}}href", use.get(f"{{{XLINK}}}href", "").removesuffix(ending))
    return found
