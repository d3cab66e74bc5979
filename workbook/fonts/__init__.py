"""The faces that pages and figures are set in, and how wide the text of figures is.

A serif for text and a sans for figures, captions and tables, both with the accidentals of a music font, are made by
tests/tables/cut_fonts.py from faces under the Open Font License (beside the files). `widths.json` holds the advance of
each common sign of the sans in thousandths of an em (a test reads them again). `web/` has what
pages carry of them (web.py), `others/` the face of code, in which columns stay below each other, and one that lends
signs that ours lack.
"""

from __future__ import annotations

import json
import unicodedata
from functools import lru_cache
from pathlib import Path

FONT_FAMILY, TEXT_FAMILY = "Vampbook Sans", "Vampbook Serif"
FONT_STACK = "'Vampbook Sans', 'Fira Sans', 'Segoe UI', Roboto, Arial, sans-serif"  # of much the same widths
LENT = "DejaVu Sans"
FONT_DIR = Path(__file__).parent
CAP_HEIGHT = 0.69  # of an em: the height of H in the font
_UNKNOWN, _WIDE, _EMOJI = 700, 1000, 1250  # thousandths of an em for signs that are not in the table, by kind


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of `text` set at `size`, in the unit of `size`."""
    table = widths()["bold" if bold else "regular"]
    return sum(table[sign] if sign in table else _width(sign) for sign in text) * size / 1000


def in_lines(words: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """A text in as many lines as it takes to be no wider than that; a longer word stands by itself."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size, bold=bold) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


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
