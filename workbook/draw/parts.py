"""Pieces of SVG that the engraving and its overlay share."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from ..fonts import FONT_STACK

SVG = "http://www.w3.org/2000/svg"
INK = "#000000"


def overlay_text(x: float, y: float, text: str, size: float, *, bold: bool = False, anchor: str = "start",
                 colour: str = INK) -> ElementTree.Element:
    """A line of text in our font; y is the baseline."""
    element = ElementTree.Element(f"{{{SVG}}}text", {
        "x": f"{x:.0f}", "y": f"{y:.0f}", "font-size": f"{size:.0f}px", "font-family": FONT_STACK,
        "text-anchor": anchor, "fill": colour, "font-weight": "bold" if bold else "normal", "font-style": "normal"})
    element.text = text
    return element
