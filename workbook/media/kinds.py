"""Which files may stand in a lesson and how big they may be, told by what is in them and not by their names.

Signatures: PNG (ISO/IEC 15948), JPEG (ITU-T T.81), RIFF for WebP and WAVE (IANA image/webp, RFC 2361), Ogg (RFC 3533),
ISO base media for MP4 and M4A (ISO/IEC 14496-12), Matroska for WebM (RFC 9559), MPEG audio and ID3v2 (ISO/IEC 11172-3).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from theorylib.errors import VampError

PICTURE, DRAWING, SOUND, FILM = "picture", "drawing", "sound", "film"
MOST_PICTURE_MB = 40      # of a photograph as it comes
MOST_PIXELS = 80_000_000  # of a photograph, held in memory whole: a telephone's usual largest one has 50 million
MOST_DRAWING_MB = 4
MOST_RECORDING_MB = 10    # which the page holds as it is
TAKEN = "PNG, JPEG, WebP or SVG; of recordings WAV, MP3, OGG, M4A, MP4 or WebM"


class MediaError(VampError):
    """A picture or a recording that cannot stand in a lesson."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A format: what it shows, its media type, and the name that people know it by."""

    shows: str
    mime: str
    name: str


PNG = Kind(PICTURE, "image/png", "PNG")
JPEG = Kind(PICTURE, "image/jpeg", "JPEG")
WEBP = Kind(PICTURE, "image/webp", "WebP")
SVG = Kind(DRAWING, "image/svg+xml", "SVG")
# Beginning of the file: its kind.
_SIGNS: tuple[tuple[bytes, Kind], ...] = (
    (rb"\x89PNG\r\n\x1a\n", PNG),
    (rb"\xff\xd8\xff", JPEG),
    (rb"RIFF....WEBP", WEBP),
    (rb"RIFF....WAVE", Kind(SOUND, "audio/wav", "WAV")),
    (rb"OggS", Kind(SOUND, "audio/ogg", "OGG")),
    (rb"....ftypM4A", Kind(SOUND, "audio/mp4", "M4A")),
    (rb"....ftyp(?:isom|iso[2-9]|mp4|avc1|M4V|dash|MSNV|3gp|qt)", Kind(FILM, "video/mp4", "MP4")),
    (rb"\x1aE\xdf\xa3.{0,64}?webm", Kind(FILM, "video/webm", "WebM")),
    (rb"ID3|\xff[\xe2-\xe7\xf2-\xf7\xfa-\xff]", Kind(SOUND, "audio/mpeg", "MP3")),
    (rb"(?:\xef\xbb\xbf)?\s*<(?:\?xml|!--|!DOCTYPE svg|svg)", SVG),
)
# What people bring that is not taken, named so that they know what to do.
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (rb"GIF8", "a GIF"), (rb"BM", "a BMP"), (rb"II\*\x00|MM\x00\*", "a TIFF or a camera's raw file"),
    (rb"....ftyp(?:heic|heix|mif1|msf1|heim|hevc)", "a HEIC, as iPhones keep them"), (rb"....ftypavif", "an AVIF"),
    (rb"%PDF", "a PDF"), (rb"\x1aE\xdf\xa3", "a Matroska film"), (rb"fLaC", "a FLAC"), (rb"RIFF....AVI ", "an AVI"),
    (rb"FORM....AIF", "an AIFF"), (rb"....ftyp", "a film of a kind"), (rb"\x00\x00\x00\x0cjP", "a JPEG 2000"),
    (rb"version https://git-lfs", "a pointer of Git LFS, not the file itself"),
)
_HEAD = 512  # bytes in which a format shows itself


def kind_of(data: bytes, name: str) -> Kind:
    """The kind of a file's content; raises MediaError that says what it is instead."""
    head = data[:_HEAD]
    for sign, kind in _SIGNS:
        if re.match(sign, head, re.DOTALL):
            return kind
    other = next((words for sign, words in _OTHERS if re.match(sign, head, re.DOTALL)), "")
    raise MediaError(f"{name} is {other}, which is not shown" if other else f"{name} is empty" if not data
                     else f"{name} is no picture or recording that is known here", value=name, expected=TAKEN)


def within_size(size: int, most_mb: int, name: str, hint: str) -> None:
    """Hold a file's size in bytes; raises MediaError."""
    if size > most_mb * 1_000_000:
        raise MediaError(f"{name} has {size / 1_000_000:.1f} MB", value=size, expected=f"at most {most_mb} MB: {hint}")
