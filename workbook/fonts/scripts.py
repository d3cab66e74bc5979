"""Which font has the signs of a text: our own face first, then fallback faces for the other scripts and for emoji.

The fallback faces (Noto, under the Open Font License) lie in two packages of their own, never in the system's folders:
so that a handout is the same on every machine. A sign that no face has is told, and stands as its code ("[U+12000]").
"""

from __future__ import annotations

import importlib.util
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from . import FONT_DIR, FONT_FAMILY, LENT, widths

_PACKAGES = ("manimgx_fonts", "noto_cjk_sans_otc")
_HAN = {"ja": "JP", "ko": "KR", "zh-hk": "HK", "zh-tw": "TC", "zh-hant": "TC"}  # language: whose forms of Han signs
_HAN_USUAL = "SC"
_LAST = ("Noto Sans", "Noto Sans Symbols", LENT, "Noto Emoji")  # after the faces of one script each
_NEVER = "\0\ufeff"  # PDF/UA forbids them, though fonts have a glyph for the one and the other draws nothing
_LINE_ENDS = "\n\r\t"
_JOINER, _SKIN_TONES = "\u200d", range(0x1F3FB, 0x1F400)
_FORMS = range(0xFE00, 0xFE10)  # variation selectors


@dataclass(frozen=True, slots=True)
class Run:
    """Signs that one face has."""

    text: str
    family: str = FONT_FAMILY


def is_common(text: str) -> bool:
    """Whether our own face has all of a text in each of its cuts, seen without reading a font."""
    return (text.isascii() and text.isprintable()) or _common().issuperset(text)


def lacking(text: str) -> tuple[str, ...]:
    """The signs of a text that no face has, each once."""
    return () if is_common(text) else tuple(dict.fromkeys(sign for sign in text if not _is_there(sign)))


def stand_in(sign: str) -> str:
    """What is printed for a sign that no face has: its code."""
    return f"[U+{ord(sign):04X}]"


def printable(text: str) -> str:
    """The text with a stand-in for each sign that no face has."""
    return text if is_common(text) else "".join(sign if _is_there(sign) else stand_in(sign) for sign in text)


def runs(text: str, language: str = "en") -> tuple[Run, ...]:
    """The text in pieces by the face that has them; marks, joiners and skin tones stay with what they follow."""
    if is_common(text):
        return (Run(text),) if text else ()
    found: list[Run] = []
    for sign in printable(text):
        last = found[-1] if found else None
        if last is not None and _follows(sign, last):
            found[-1] = Run(last.text + sign, last.family)
            continue
        family = _face(sign, language)
        if last is not None and last.family == family:
            found[-1] = Run(last.text + sign, family)
        else:
            found.append(Run(sign, family))
    return tuple(found)


def families(texts: Iterable[str], language: str = "en") -> tuple[str, ...]:
    """Our own face, then the fallback faces that some texts need, in the order in which they are tried."""
    needed = {run.family for text in texts for run in runs(text, language)} - {FONT_FAMILY}
    if not needed:  # to know the order, every fallback face would be opened
        return (FONT_FAMILY,)
    return (FONT_FAMILY, *(family for family in _order(language) if family in needed))


def font_dirs() -> tuple[Path, ...]:
    """Where the fallback faces lie; none where their packages are not installed."""
    specs = [importlib.util.find_spec(name) for name in _PACKAGES]
    return tuple(Path(place) for spec in specs if spec is not None for place in spec.submodule_search_locations or ())


@lru_cache(maxsize=1)
def _common() -> frozenset[str]:
    return frozenset({*map(chr, range(0x20, 0x7F)), *_LINE_ENDS, *widths()["bold"]})


def _follows(sign: str, last: Run) -> bool:
    kind = unicodedata.category(sign)
    if kind == "Cf" or ord(sign) in _FORMS:
        return True
    if kind[0] == "M":
        return sign in _signs_of(last.family)
    return (last.text[-1] == _JOINER and sign in _signs_of(last.family)) or ord(sign) in _SKIN_TONES


def _face(sign: str, language: str) -> str:
    """The family for a sign that some face has."""
    if sign in _own() or not _needs_glyph(sign):
        return FONT_FAMILY
    return next((family for family in _order(language) if sign in _signs_of(family)), FONT_FAMILY)


def _is_there(sign: str) -> bool:
    if sign in _NEVER:
        return False
    if not _needs_glyph(sign):
        return True
    return sign in _own() or any(sign in _signs_of(family) for family in _order("en"))


def _needs_glyph(sign: str) -> bool:
    """Whether a sign is drawn at all: spaces, line ends and what only joins or directs are not."""
    if sign in _LINE_ENDS or ord(sign) in _FORMS:
        return False
    return unicodedata.category(sign) != "Cf"


@lru_cache
def _signs_of(family: str) -> frozenset[str]:
    if family == FONT_FAMILY:
        return _own()
    return frozenset().union(*(_signs_in(*place) for place in _fallbacks()[family]))


@lru_cache(maxsize=1)
def _own() -> frozenset[str]:
    """What each cut of our own faces has."""
    return frozenset.intersection(*map(_signs_in, sorted(FONT_DIR.glob("*.ttf"))))


@lru_cache
def _signs_in(path: Path, number: int = -1) -> frozenset[str]:
    """The signs of a font file, or of one font in a collection."""
    from fontTools.ttLib import TTFont

    with TTFont(path, fontNumber=number, lazy=True) as face:
        # Only which signs there are is asked: to read the names of all glyphs takes three quarters of the time.
        face.setGlyphOrder([f"glyph{index}" for index in range(face["maxp"].numGlyphs)])
        return frozenset(map(chr, face.getBestCmap()))


@lru_cache
def _order(language: str) -> tuple[str, ...]:
    """The families of fallback faces in the order in which they are tried: one script each, Han, the general ones."""
    there = _fallbacks()
    han = f"Noto Sans CJK {_HAN.get(language.lower(), _HAN.get(language.lower()[:2], _HAN_USUAL))}"
    scripts = [family for family in sorted(there) if "CJK" not in family and family not in _LAST]
    return (*scripts, *(family for family in (han, *_LAST) if family in there))


@lru_cache(maxsize=1)
def _fallbacks() -> dict[str, list[tuple[Path, int]]]:
    """Each fallback family with the files of its cuts, and the number in a file that holds many."""
    from fontTools.ttLib import TTCollection, TTFont

    found: dict[str, list[tuple[Path, int]]] = {LENT: [(FONT_DIR / "others" / "DejaVuSans.ttf", -1)]}
    for path in (path for folder in font_dirs() for path in sorted(folder.glob("*.tt[fc]"))):
        if path.suffix == ".ttc":
            with TTCollection(path, lazy=True) as faces:
                names = [(_family(face), number) for number, face in enumerate(faces)]
        else:
            with TTFont(path, lazy=True) as face:
                names = [(_family(face), -1)]
        for family, number in names:
            if "Mono" not in family:
                found.setdefault(family, []).append((path, number))
    return found


def _family(face: Any) -> str:
    """The name of a font's family (of all its weights, where it names these apart)."""
    return face["name"].getDebugName(16) or face["name"].getDebugName(1)
