"""The font that pages and figures are set in, and how wide its text is.

DejaVu Sans (a free licence, beside the files) has the signs that chords need: ♯ ♭ ♮ Δ ø °. `widths.json` holds the
advance of each common sign in thousandths of an em, read from the font files (a test reads them again).
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

FONT_FAMILY = "DejaVu Sans"
FONT_STACK = "'DejaVu Sans', Verdana, sans-serif"  # Verdana was drawn to much the same widths
FONT_DIR = Path(__file__).parent
CAP_HEIGHT = 0.73  # of an em: the height of H in the font
_UNKNOWN = 700     # thousandths of an em for a sign that is not in the table


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of `text` set at `size`, in the unit of `size`."""
    table = _widths()["bold" if bold else "regular"]
    return sum(table.get(sign, _UNKNOWN) for sign in text) * size / 1000


@lru_cache(maxsize=1)
def _widths() -> dict[str, dict[str, int]]:
    return json.loads((FONT_DIR / "widths.json").read_text(encoding="utf-8"))
