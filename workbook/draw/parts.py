"""Pieces of SVG that the engraving and its overlay share."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from ..fonts import FONT_STACK

SVG, XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
INK = "#000000"


def overlay_text(x: float, y: float, text: str, size: float, *, bold: bool = False,
                 anchor: str = "start") -> ElementTree.Element:
    """A line of text in our font; y is the baseline."""
    look = {"x": f"{x:.0f}", "y": f"{y:.0f}", "font-size": f"{size:.0f}px", "font-family": FONT_STACK}
    if anchor != "start":
        look["text-anchor"] = anchor
    if bold:
        look["font-weight"] = "bold"
    element = ElementTree.Element(f"{{{SVG}}}text", look)
    element.text = text
    return element
