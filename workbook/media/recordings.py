"""A sound or a film that goes into the page: as it is, but for what it notes of place, time, device and owner.

The notes are overwritten or left out by each format's own means: ISO/IEC 14496-12 (boxes `udta`, `meta` and `uuid` of
an MP4 become `free`), RIFF (all chunks but the sound's own become `JUNK`), ID3v2.4 §3.1 and ID3v1 (cut off). Of an OGG
and a WebM they stay: `keeps_notes` says so.
"""

from __future__ import annotations

import base64
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from .kinds import FILM, MOST_RECORDING_MB, SOUND, MediaError, kind_of, within_size

_NOTES = (b"udta", b"meta", b"uuid")  # boxes of an MP4
_HOLDERS = (b"moov", b"trak", b"mdia")  # boxes in which such a box may stand
_OF_SOUND = (b"fmt ", b"data", b"fact")  # chunks of a WAVE
_DEEPEST = 4


@dataclass(frozen=True, slots=True)
class Recording:
    """A sound or a film as the page holds it: `shows` is kinds.SOUND or kinds.FILM."""

    shows: str
    mime: str
    data: bytes
    keeps_notes: bool

    @property
    def base64(self) -> str:
        return base64.b64encode(self.data).decode()


def recording(data: bytes, name: str) -> Recording:
    """A recording made fit; raises MediaError for what is none of a known kind, is too big or is broken."""
    kind = kind_of(data, name)
    if kind.shows not in (SOUND, FILM):
        raise MediaError(f"{name} is a picture ({kind.name}), not a recording", value=name,
                         expected=f"![its words]({name}) for a picture")
    within_size(len(data), MOST_RECORDING_MB, name, "cut it or save it smaller, or link to it on the web")
    cleaner = {"WAV": _wave, "MP4": _mp4, "M4A": _mp4, "MP3": _mp3}.get(kind.name)
    try:
        bare = cleaner(data) if cleaner else data
    except (struct.error, IndexError, OverflowError) as error:
        raise MediaError(f"{name} is broken: its parts do not add up", value=name,
                         expected="a recording that other programs play") from error
    return Recording(kind.shows, kind.mime, bare, keeps_notes=cleaner is None)


def _wave(data: bytes) -> bytes:
    found = bytearray(data)
    at = 12
    while at + 8 <= len(found):
        size = struct.unpack_from("<I", found, at + 4)[0]
        end = min(at + 8 + size, len(found))
        if bytes(found[at:at + 4]) not in _OF_SOUND:
            found[at:at + 4] = b"JUNK"
            found[at + 8:end] = bytes(end - at - 8)
        at += 8 + size + size % 2
    return bytes(found)


def _mp3(data: bytes) -> bytes:
    if data[:3] == b"ID3":
        size = 0
        for byte in data[6:10]:
            size = size << 7 | byte & 0x7F
        has_foot = bool(data[5] & 0x10)
        data = data[10 + size + 10 * has_foot:]
    return data[:-128] if data[-128:-125] == b"TAG" else data


def _mp4(data: bytes) -> bytes:
    found = bytearray(data)
    for at, head, end in _boxes(found, 0, len(found), _DEEPEST):
        found[at + 4:at + 8] = b"free"
        found[at + head:end] = bytes(end - at - head)
    return bytes(found)


def _boxes(data: bytearray, start: int, end: int, deep: int) -> Iterator[tuple[int, int, int]]:
    """(where it begins, length of its head, where it ends) of each box of notes."""
    at = start
    while at + 8 <= end:
        size, name = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1:  # its length follows, as 8 bytes
            size, head = struct.unpack_from(">Q", data, at + 8)[0], 16
        stop = min(at + size, end) if size else end  # 0: to the end of the file
        if stop < at + head:
            raise IndexError("a box shorter than its head")
        if name in _NOTES:
            yield at, head, stop
        elif name in _HOLDERS and deep:
            yield from _boxes(data, at + head, stop, deep - 1)
        at = stop
