"""The font that pages and figures are set in, and how wide its text is.

DejaVu Sans (a free licence, beside the files) has the signs that chords need: ♯ ♭ ♮ Δ ø °. `widths.json` holds the
advance of each common sign in thousandths of an em, read from the font files (a test reads them again). `mono/` has the
face of code, in which columns stay below each other; Typst finds it there, and none of our own texts is measured by it.
"""

from __future__ import annotations

import json
import unicodedata
from functools import lru_cache
from pathlib import Path

FONT_FAMILY = "DejaVu Sans"
FONT_STACK = "'DejaVu Sans', Verdana, sans-serif"  # Verdana was drawn to much the same widths
FONT_DIR = Path(__file__).parent
CAP_HEIGHT = 0.73  # of an em: the height of H in the font
_UNKNOWN, _WIDE, _EMOJI = 700, 1000, 1250  # thousandths of an em for signs that are not in the table, by kind


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of `text` set at `size`, in the unit of `size`."""
    table = widths()["bold" if bold else "regular"]
    return sum(table[sign] if sign in table else _width(sign) for sign in text) * size / 1000


def _width(sign: str) -> int:
    """The usual advance of a sign that is not in the table, in thousandths of an em."""
    kind = unicodedata.category(sign)
    if kind in ("Mn", "Me", "Cf"):
        return 0
    if unicodedata.east_asian_width(sign) not in "WF":
        return _UNKNOWN
    return _EMOJI if kind in ("So", "Sk") else _WIDE


@lru_cache(maxsize=1)
def widths() -> dict[str, dict[str, int]]:
    """The advances of common signs, "regular" and "bold": each cut of the font has them all."""
    return json.loads((FONT_DIR / "widths.json").read_text(encoding="utf-8"))
