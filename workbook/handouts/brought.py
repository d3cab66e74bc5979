"""What a lesson's text brings from beside it, read when it is met: pictures and recordings, as blocks of the tree.

A place is a cell with what its pictures may name: files of the lesson's folder, its own attachments, and data addresses.
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
from urllib.parse import unquote, unquote_to_bytes

from theorylib.errors import VampError, closest

from ..media.beside import is_beside, path_of, read_beside
from ..media.kinds import MediaError
from ..media.pictures import fitted
from ..media.recordings import recording
from .clean import clean_svg

Block = dict[str, Any]
_DATA = re.compile(r"data:[\w/+.-]{0,60}(?:;charset=[\w-]{1,20})?(;base64)?,", re.IGNORECASE)
_ATTACHMENT = "attachment:"
MOST_PAGE_MB = 40  # of recordings and pictures that one page holds
_MM_A_PIXEL = 25.4 / 96
_WIDTH = re.compile(r"\s*(\d{1,5})(?:\.\d{1,4})?\s*(px|%|)\s*")
_TEXT_MM = 170.0


@dataclass
class Brought:
    """What was brought to one lesson: the files read, by path from its folder, and what has to be told of its cells."""

    folder: Path | None = None
    files: list[str] = field(default_factory=list)
    told: list[tuple[int, str]] = field(default_factory=list)
    size: int = 0  # bytes


@dataclass(frozen=True)
class Place:
    """A cell whose words are read: its number (0: none), the files attached to it, what was brought so far."""

    cell: int = 0
    attachments: Mapping[str, Any] = field(default_factory=dict)
    brought: Brought = field(default_factory=Brought)

    @property
    def where(self) -> str:
        return f"cell {self.cell}" if self.cell else ""

    def tell(self, words: str) -> None:
        """Something of this cell that does not come out as Lab shows it, or lacks what a reader needs."""
        if (self.cell, words) not in self.brought.told:
            self.brought.told.append((self.cell, words))


def picture(place: Place, address: str, alt: str, caption: str = "", width: str = "") -> Block:
    """A picture that the text of a place names, as a block; raises MediaError that names the cell.

    `width` is HTML's: pixels, or a share of the page such as "50%".
    """
    name, data = _read(place, address)
    return picture_block(place, data, name, alt, caption, _asked_mm(width))


def picture_block(place: Place, data: bytes, name: str, alt: str, caption: str = "",
                  width_mm: float | None = None) -> Block:
    """A picture at hand as a block: of an SVG its text, of any other its bytes in base64."""
    try:
        fit = fitted(data, name, width_mm)
        drawn: Block = {"svg": fit.text} if fit.mime == "image/svg+xml" else {"photo": fit.base64, "mime": fit.mime,
                                                                            "size": [fit.width, fit.height]}
        if "svg" in drawn:
            clean_svg(fit.text, "figure")  # what could act or load something is refused here already
        _weigh(place, len(fit.data))
    except VampError as error:
        raise error.at(", ".join(filter(None, (place.where, error.where if name not in error.message else "")))) \
            from error
    return {"t": "figure", "alt": alt.strip() or f"a picture without a description ({name})", "caption": caption,
            "width_mm": fit.width_mm, "cuts": [], "where": place.where, **drawn}


def recorded(place: Place, address: str, words: str) -> Block:
    """A recording that the text of a place names, as an inline block; raises MediaError that names the cell."""
    name, data = _read(place, address)
    try:
        made = recording(data, name)
        _weigh(place, len(made.data))
    except VampError as error:
        raise error.at(place.where) from error
    if made.keeps_notes:
        place.tell(f"{name} goes into the page with what it notes of itself (place, device, owner)")
    return {"t": "recording", "shows": made.shows, "mime": made.mime, "name": name, "recording": made.base64,
            "words": words.strip() or name}


def _weigh(place: Place, size: int) -> None:
    place.brought.size += size
    if place.brought.size > MOST_PAGE_MB * 1_000_000:
        raise MediaError(f"the lesson's pictures and recordings have more than {MOST_PAGE_MB} MB together",
                         expected="fewer or smaller ones, or links to recordings on the web")


def _asked_mm(width: str) -> float | None:
    match = _WIDTH.fullmatch(width)
    if not match or not int(match[1]):
        return None
    return int(match[1]) / 100 * _TEXT_MM if match[2] == "%" else int(match[1]) * _MM_A_PIXEL


def _read(place: Place, address: str) -> tuple[str, bytes]:
    """(name, content) of what an address leads to; raises MediaError that names the cell."""
    try:
        if address.startswith(_ATTACHMENT):
            return _attached(place, unquote(address.removeprefix(_ATTACHMENT)))
        data = _DATA.match(address)
        if data:
            return "a picture in the text", _decoded(address[data.end():], bool(data[1]))
        if not is_beside(address):
            raise MediaError(f"{address[:80]} does not lie beside the lesson, and nothing is fetched", value=address[:80],
                             expected="a file in the lesson's folder")
        if place.brought.folder is None:
            raise MediaError(f"{path_of(address)} cannot be looked for: this notebook has no folder",
                             value=address, expected="a lesson that is saved")
        name, content = read_beside(place.brought.folder, address)
    except VampError as error:
        raise error.at(place.where) from error
    if name not in place.brought.files:
        place.brought.files.append(name)
    return name, content


def _attached(place: Place, name: str) -> tuple[str, bytes]:
    bundle = place.attachments.get(name)
    if not bundle:
        raise MediaError(f"nothing of the name {name} is attached to the cell", value=name,
                         expected="a picture pasted into it", nearest=closest(name, place.attachments))
    stored = next(iter(bundle.values()))
    return name, _decoded(stored if isinstance(stored, str) else "".join(stored), is_base64=True)


def _decoded(text: str, is_base64: bool) -> bytes:
    if not is_base64:
        return unquote_to_bytes(text)
    try:
        return base64.b64decode("".join(unquote(text).split()), validate=True)
    except (binascii.Error, ValueError) as error:
        raise MediaError("a picture is not stored as base64", value=text[:40],
                         expected="a picture as Jupyter stores it") from error


