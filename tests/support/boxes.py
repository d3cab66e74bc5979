"""Boxes of the text in an engraving, from the SVG itself and the widths of the font that it names."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass

from workbook.fonts import CAP_HEIGHT, text_width

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Box:
    text: str
    left: float
    right: float
    top: float
    bottom: float

    def overlaps(self, other: Box, slack: float = 12.0) -> bool:
        return (self.left + slack < other.right and other.left + slack < self.right
                and self.top + slack < other.bottom and other.top + slack < self.bottom)


def text_boxes(svg: str) -> list[Box]:
    """Every text that is drawn, in overlay coordinates (ten to a unit of the picture); digits span their cap height."""
    found = []
    for node in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        words = "".join(node.itertext()).strip()
        sizes = [float(part.get("font-size", "0").removesuffix("px")) for part in node.iter() if part.get("font-size")]
        size = max(sizes, default=0.0)
        if not words or not size:
            continue
        wide = text_width(words, size, bold=node.get("font-weight") == "bold")
        x, y = float(node.get("x", "0")), float(node.get("y", "0"))
        left = {"middle": x - wide / 2, "end": x - wide}.get(node.get("text-anchor", "start"), x)
        found.append(Box(words, left, left + wide, y - size * CAP_HEIGHT, y))
    return found


def collisions(svg: str) -> list[tuple[str, str]]:
    boxes = text_boxes(svg)
    return [(one.text, two.text) for index, one in enumerate(boxes) for two in boxes[index + 1:] if one.overlaps(two)]
