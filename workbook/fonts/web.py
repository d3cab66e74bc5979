"""Our faces as a page carries them: style rules with the fonts in them, cut by tests/tables/cut_web_fonts.py."""

from __future__ import annotations

import base64
from functools import lru_cache

from . import FONT_DIR, FONT_FAMILY, TEXT_FAMILY

# family, style, weight, file
_CUTS = (
    (FONT_FAMILY, "normal", 400, "VampbookSans-Regular"), (FONT_FAMILY, "normal", 700, "VampbookSans-Bold"),
    (TEXT_FAMILY, "normal", 400, "VampbookSerif-Regular"), (TEXT_FAMILY, "italic", 400, "VampbookSerif-Italic"),
    (TEXT_FAMILY, "normal", 700, "VampbookSerif-Bold"),
)


@lru_cache(maxsize=1)
def faces_css() -> str:
    """The @font-face rules of all cuts; nothing in them is fetched."""
    return "".join(f"@font-face {{ font-family: '{family}'; font-style: {style}; font-weight: {weight}; "
                   f"src: url(data:font/woff2;base64,{_text(name)}) format('woff2'); }}\n"
                   for family, style, weight, name in _CUTS)


def _text(name: str) -> str:
    return base64.b64encode((FONT_DIR / "web" / f"{name}.woff2").read_bytes()).decode()
