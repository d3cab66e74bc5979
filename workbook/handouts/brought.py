"""What a lesson's text brings from beside it, read when it is met: pictures and recordings, as blocks of the tree.

A place is a cell with what its pictures may name: files of the lesson's folder, its own attachments, data addresses.
What does not come out as Lab shows it is told there, for `vampbook check` to name.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from theorylib.errors import VampError, closest

from ..media.beside import is_beside, path_of, read_beside
from ..media.kinds import MediaError
from ..media.pictures import fitted
from ..media.recordings import recording
from .clean import clean_svg
from .errors import HandoutError

Block = dict[str, Any]
_DATA = re.compile(r"data:[\w/+.-]{0,60};base64,", re.IGNORECASE)
_ATTACHMENT = "attachment:"
MOST_PAGE_MB = 40  # of recordings and pictures that one page holds
_MM_A_PIXEL = 25.4 / 96
_WIDTH = re.compile(r"\s*(\d{1,5})(?:\.\d{1,4})?\s*(px|%|)\s*")
_TEXT_MM = 170.0


@dataclass(frozen=True, slots=True)
class Told:
    """A word on a cell for who made the lesson: what comes out otherwise than Lab shows it, or what is `missing`."""

    cell: int
    words: str
    missing: bool = False


@dataclass
class Brought:
    """What was brought to one lesson: the files read, by path from its folder, and what has to be told of its cells."""

    folder: Path | None = None
    files: list[str] = field(default_factory=list)
    told: dict[Told, None] = field(default_factory=dict)
    size: int = 0  # bytes


@dataclass(frozen=True)
class Place:
    """A cell whose words are read: its number (0: none), the files attached to it, what was brought so far."""

    cell: int = 0
    attachments: Mapping[str, Any] = field(default_factory=dict)
    brought: Brought = field(default_factory=Brought)
    name: str = ""

    @property
    def where(self) -> str:
        return self.name or (f"cell {self.cell}" if self.cell else "")

    def tell(self, words: str, missing: bool = False) -> None:
        """Something of this cell that does not come out as Lab shows it, or is missing that a reader needs."""
        self.brought.told.setdefault(Told(self.cell, words, missing))


def picture(place: Place, address: str, alt: str, caption: str = "", width: str = "") -> Block:
    """A picture that the text of a place names, as a block; raises HandoutError that names the cell.

    `width` is HTML's: pixels, or a share of the page such as "50%".
    """
    name, data = _read(place, address)
    return picture_block(place, data, name, alt, caption, asked_mm(width))


def picture_block(place: Place, data: bytes, name: str, alt: str, caption: str = "",
                  width_mm: float | None = None) -> Block:
    """A picture at hand as a block: of an SVG its text, of any other its bytes in base64."""
    try:
        fit = fitted(data, name, width_mm)
        drawn: Block = {"svg": fit.text} if fit.mime == "image/svg+xml" else {"photo": fit.base64, "mime": fit.mime,
                                                                            "size": [fit.width, fit.height]}
        if "svg" in drawn:
            _hold_harmless(fit.text)
        _weigh(place, len(fit.data))
    except VampError as error:
        raise _placed(error, place) from error
    if not alt.strip():
        place.tell(f"{name} has no alt text: words that say what it shows to who cannot see it", missing=True)
    return {"t": "figure", "alt": alt.strip() or f"a picture without a description ({name})", "caption": caption,
            "width_mm": fit.width_mm, "cuts": [], "where": place.where, **drawn}


def _hold_harmless(svg: str) -> None:
    """Refuse what could act or load something here already, before paper or page."""
    try:
        clean_svg(svg, "figure")
    except HandoutError as error:
        raise HandoutError(error.message, value=error.value,
                           expected=f"{error.expected or 'a plain SVG'}; or the drawing saved as PNG") from error


def recorded(place: Place, address: str, words: str) -> Block:
    """A recording that the text of a place names, as an inline block; raises HandoutError that names the cell."""
    name, data = _read(place, address)
    try:
        made = recording(data, name)
        _weigh(place, len(made.data))
    except VampError as error:
        raise _placed(error, place) from error
    if made.keeps_notes:
        place.tell(f"{name} goes into the page with what it notes of itself (place, device, owner)")
    return {"t": "recording", "shows": made.shows, "mime": made.mime, "name": name, "recording": made.base64,
            "words": words.strip() or name}


def _placed(error: VampError, place: Place) -> HandoutError:
    return HandoutError(error.message, value=error.value, where=place.where, expected=error.expected,
                        nearest=error.nearest)


def _weigh(place: Place, size: int) -> None:
    place.brought.size += size
    if place.brought.size > MOST_PAGE_MB * 1_000_000:
        raise MediaError(f"the lesson's pictures and recordings have more than {MOST_PAGE_MB} MB together",
                         expected="fewer or smaller ones, or links to recordings on the web")


def asked_mm(width: str) -> float | None:
    """A width as HTML says it, in mm; None where it says none."""
    match = _WIDTH.fullmatch(width)
    if not match or not int(match[1]):
        return None
    return int(match[1]) / 100 * _TEXT_MM if match[2] == "%" else int(match[1]) * _MM_A_PIXEL


def _read(place: Place, address: str) -> tuple[str, bytes]:
    """(name, content) of what an address leads to; raises HandoutError that names the cell."""
    try:
        if address.startswith(_ATTACHMENT):
            return _attached(place, unquote(address.removeprefix(_ATTACHMENT)))
        data = _DATA.match(address)
        if data:
            return "a picture in the text", decoded(address[data.end():])
        if not is_beside(address):
            raise MediaError(f"an image in the text points outside the lesson's folder ({address[:80]}), and nothing is"
                             " fetched", value=address[:80], expected="a file in the lesson's folder")
        if place.brought.folder is None:
            raise MediaError(f"{path_of(address)} cannot be looked for: this notebook has no folder",
                             value=address, expected="a lesson that is saved")
        name, content = read_beside(place.brought.folder, address)
    except VampError as error:
        raise _placed(error, place) from error
    if name not in place.brought.files:
        place.brought.files.append(name)
    return name, content


def _attached(place: Place, name: str) -> tuple[str, bytes]:
    bundle = place.attachments.get(name)
    if not bundle:
        raise MediaError(f"nothing of the name {name} is attached to the cell", value=name,
                         expected="a picture pasted into it", nearest=closest(name, place.attachments))
    stored = next(iter(bundle.values()))
    return name, decoded(stored if isinstance(stored, str) else "".join(stored))


def decoded(text: str) -> bytes:
    """What a text in base64 stands for; raises MediaError."""
    try:
        return base64.b64decode("".join(unquote(text).split()), validate=True)
    except (binascii.Error, ValueError) as error:
        raise MediaError("a picture is not stored as base64", value=text[:40],
                         expected="a picture as Jupyter stores it") from error


