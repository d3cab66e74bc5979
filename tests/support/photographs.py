"""Invented pictures and recordings, with what cameras and recorders note beside them."""

from __future__ import annotations

import io
import struct
import wave
from typing import Any

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

OWNER, MAKER, CITY = "Iwona Sample", "Invented Optics", "Nowhere Quay"  # nobody's and nowhere's


def pixels(width: int, height: int) -> Image.Image:
    """Soft patches with grain, as a photograph has them, and a red mark in the corner at the top left."""
    chance = np.random.default_rng(7)
    patches = chance.random((max(2, height // 40), max(2, width // 40), 3)) * 255
    soft = Image.fromarray(patches.astype(np.uint8)).resize((width, height), Image.Resampling.BICUBIC)
    grain = chance.integers(0, 20, (64, 64, 3)).astype(np.uint8)
    tiles = np.tile(grain, (height // 64 + 1, width // 64 + 1, 1))[:height, :width]
    found = np.asarray(soft) // 2 + 50 + tiles  # never beyond what a byte holds
    found[:height // 4, :width // 4] = (220, 20, 20)
    return Image.fromarray(found)


def exif(orientation: int) -> Image.Exif:
    noted = Image.Exif()
    noted[0x0112] = orientation
    noted[0x010F], noted[0x013B], noted[0x8298] = MAKER, OWNER, OWNER
    place = noted.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (10.0, 20.0, 30.0), "W", (40.0, 50.0, 5.0)
    return noted


def photograph(width: int = 800, height: int = 600, orientation: int = 1, form: str = "JPEG", **how: Any) -> bytes:
    room = io.BytesIO()
    if form == "JPEG":
        how["comment"] = OWNER
    if form == "PNG":
        how["pnginfo"] = noted = PngInfo()
        noted.add_text("Author", OWNER)
        noted.add_itxt("Location", CITY)
    pixels(width, height).save(room, form, exif=exif(orientation), **{"quality": 92} | how)
    return room.getvalue()


def drawing(inside: str = "", size: str = 'width="80mm" height="40mm"') -> str:
    return (f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 80 40">'
            f'<circle cx="20" cy="20" r="15"/><text x="40" y="24" font-size="8">thumb</text>{inside}</svg>')


def tone(seconds: float = 0.2) -> bytes:
    """A WAVE with a list of notes about who recorded it."""
    room = io.BytesIO()
    with wave.open(room, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(8000)
        file.writeframes((np.sin(np.arange(int(8000 * seconds)) * 0.2) * 8000).astype("<i2").tobytes())
    said = b"INFOIART" + struct.pack("<I", len(OWNER) + 1) + OWNER.encode() + b"\0" * (1 + (len(OWNER) + 1) % 2)
    whole = room.getvalue() + b"LIST" + struct.pack("<I", len(said)) + said
    return whole[:4] + struct.pack("<I", len(whole) - 8) + whole[8:]


def box(name: bytes, inside: bytes) -> bytes:
    return struct.pack(">I", 8 + len(inside)) + name + inside


def film() -> bytes:
    """The boxes of an MP4, with a place among the notes of the film and of its track (no picture in it plays)."""
    notes = box(b"udta", box(b"\xa9xyz", b"+10.34-040.83/" + CITY.encode()))
    track = box(b"trak", box(b"tkhd", b"\0" * 84) + notes)
    return box(b"ftyp", b"isom\0\0\0\0isommp41") + box(b"moov", box(b"mvhd", b"\0" * 100) + track + notes) \
        + box(b"uuid", OWNER.encode()) + box(b"mdat", b"frames" * 50)


def mp3() -> bytes:
    head = b"ID3\x04\0\0" + bytes((0, 0, 0, 40)) + OWNER.encode().ljust(40, b"\0")
    return head + b"\xff\xfb\x90\0" + b"sound" * 100 + b"TAG" + OWNER.encode().ljust(125, b"\0")
