"""The look of notes on the neck: a shape, a fill and an ink for each function, shared by both renderers.

Shape carries the meaning, colour supports it: the fills differ in lightness too, so a grey print-out loses nothing.
Contrast follows WCAG 2 (text 4.5:1 on its fill, shape 3:1 on the white ground); a test computes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

GROUND = "#ffffff"
INK = "#1a1a1a"
QUIET = "#6b6b6b"   # fret numbers and string names: 5.3:1 on white
WIRE = "#8f8f8f"    # fret wires and strings: 3.2:1 on white
BEND = "#7a1fa0"    # arrows of bends: 8.5:1 on white
INLAY = "#e4e4e4"   # decoration, carries no meaning


@dataclass(frozen=True, slots=True)
class Marker:
    """How a role is drawn: `corners` are offsets from the centre in radii (none: a circle); sizes are shares of it."""

    word: str
    fill: str
    stroke: str
    ink: str
    corners: tuple[tuple[float, float], ...] = ()
    size: float = 1.0
    text: float = 1.0
    dashed: bool = False


def _polygon(sides: int, turn: float = 0.0, stretch: float = 1.0) -> tuple[tuple[float, float], ...]:
    angles = (2 * pi * (index + turn) / sides for index in range(sides))
    return tuple((round(stretch * sin(angle), 4), round(-cos(angle), 4)) for angle in angles)


_SQUARE = ((-0.92, -0.92), (0.92, -0.92), (0.92, 0.92), (-0.92, 0.92))
# In the order in which a legend names them.
MARKERS: dict[str, Marker] = {
    "root": Marker("root", "#1a1a1a", "#1a1a1a", "#ffffff", _SQUARE),
    "third": Marker("3rd", "#0b5c94", "#0b5c94", "#ffffff"),
    "fifth": Marker("5th", "#ffffff", "#1a1a1a", "#1a1a1a", _polygon(5), 1.14),
    "seventh": Marker("7th or 6th", "#d9a27a", "#1a1a1a", "#1a1a1a", _polygon(4, 0, 1.18), 1.16),
    "tension": Marker("tension", "#f2e3b3", "#1a1a1a", "#1a1a1a", _polygon(6, 0.5), 1.06),
    "scale": Marker("scale note", "#ffffff", "#6b6b6b", "#3d3d3d", (), 0.86),
}


def contrast(one: str, two: str) -> float:
    """Contrast ratio of two colours "#rrggbb", 1 to 21 (WCAG 2.1, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[index:index + 2], 16) / 255 for index in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
