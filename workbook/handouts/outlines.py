"""Texts of a drawing that its reader in Typst cannot set, as outlines that Typst sets itself.

Typst reads the text of an SVG sign by sign where our face lacks one, which tears syllables apart, and writes shaped
signs (Arabic, Devanagari) in a way that PDF/UA forbids. So a text with such signs becomes a small drawing in its place.
"""

from __future__ import annotations

import json
import re
import unicodedata
import xml.etree.ElementTree as ElementTree
from functools import lru_cache
from html import unescape
from typing import Any

from ..fonts import FONT_DIR, FONT_FAMILY
from ..fonts.scripts import families, font_dirs, is_common, printable, runs, stand_in

SVG_TEXT = re.compile(r"<((?:\w+:)?)text\b([^>]*)>(.*?)</\1text>", re.DOTALL)
_ATTRIBUTE = re.compile(r'([\w:-]+)\s*=\s*"([^"]*)"')
_NUMBER = re.compile(r"\s*(-?[\d.]+)(?:px)?\s*")
_SPACES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
_SHARES = {"start": 0.0, "middle": 0.5, "end": 1.0}  # of its width that a text lies before its place
_SNIPPET = """#let data = json(bytes(sys.inputs.data))
#set page(width: auto, height: auto, margin: 0pt, fill: none)
#set text(font: data.font, fallback: false, size: data.size * 1pt, weight: data.weight, fill: rgb(data.fill),
  top-edge: 1em, bottom-edge: -0.5em)
#data.words
"""


def outlined(svg: str, language: str) -> str:
    """The drawing with an outline for each text that needs one; the very same where none does."""
    return svg if is_common("".join(set(svg))) else SVG_TEXT.sub(lambda found: _outlined(found, language), svg)


@lru_cache
def fonts(fallback: bool) -> Any:
    """Typst's fonts: our own face, with `fallback` the other faces too; never the system's."""
    import typst

    places = [FONT_DIR, *font_dirs()] if fallback else [FONT_DIR]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=list(map(str, places)))


def _outlined(found: re.Match[str], language: str) -> str:
    if not _is_hard(found[3]):
        return found[0]
    named = dict(_ATTRIBUTE.findall(found[2]))
    about = {**named, **dict(re.findall(r"([\w-]+)\s*:\s*([^;]+)", named.get("style", "")))}
    numbers = [_NUMBER.fullmatch(about.get(key, "0" if key != "font-size" else "")) for key in ("x", "y", "font-size")]
    if "<" in found[3] or None in numbers:  # a text in parts, of another's making: what it lacks stands as codes
        return found[0].replace(found[3], _coded(found[3]))
    x, y, size = (float(number[1]) for number in numbers if number)
    drawing, width = _drawn(unescape(found[3]), size, about.get("font-weight", "normal"), about.get("fill", "#000000"),
                            language)
    left = x - width * _SHARES.get(about.get("text-anchor", "start").strip(), 0.0)
    moved = f' transform="{named["transform"]}"' if "transform" in named else ""
    return f'<g {_SPACES}{moved}><g transform="translate({left:g} {y - size:g})">{drawing}</g></g>'


def _is_hard(words: str) -> bool:
    if is_common(words):
        return False
    if any(run.family != FONT_FAMILY for run in runs(words)):
        return True
    return printable(words) != words or any(
        unicodedata.category(sign)[0] == "M" or unicodedata.bidirectional(sign) in ("R", "AL") for sign in words)


def _coded(words: str) -> str:
    return "".join(stand_in(sign) if _is_hard(sign) else sign for sign in words)


@lru_cache(maxsize=256)
def _drawn(words: str, size: float, weight: str, fill: str, language: str) -> tuple[str, float]:
    """(the content of an SVG, its width): the words with their baseline at the height of `size`."""
    import typst

    faces = families([words], language)
    bold = weight in ("bold", "bolder", "600", "700", "800", "900")
    data = {"font": faces, "size": size, "weight": "bold" if bold else "regular", "fill": fill,
            "words": printable(words)}
    made = typst.compile(_SNIPPET.encode(), font_paths=fonts(len(faces) > 1), format="svg",
                         sys_inputs={"data": json.dumps(data, ensure_ascii=False)})
    text = (made if isinstance(made, bytes) else b"".join(made)).decode()
    root = ElementTree.fromstring(text)
    inside = text[text.index(">", text.index("<svg")) + 1: text.rindex("</svg>")]
    return inside.replace("<path ", '<path style="stroke:none" '), float((root.get("viewBox") or "0 0 0 0").split()[2])
