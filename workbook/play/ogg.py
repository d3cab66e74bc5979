"""The Ogg container (RFC 3533): the same bytes for the same sound.

An encoder draws the serial number of its stream by chance. Here it follows from what the stream holds, so that files
stay equal and two different ones may still be chained.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator

from theorylib.errors import VampError

# A page's header, RFC 3533 section 6: "OggS", version, flags, position (8), serial (4), number (4), checksum (4), count
# of segments, then the length of each.
_CAPTURE = b"OggS"
_SERIAL, _CHECKSUM = slice(14, 18), slice(22, 26)
_COUNT, _HEADER = 26, 27
_MIRRORED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
_ALL_BITS = 0xFFFFFFFF


class OggError(VampError):
    """Bytes that are not whole Ogg pages."""


def steady(data: bytes) -> bytes:
    """One logical stream with a serial number taken from its content, and checksums to match."""
    blank = [_with(page, bytes(4), bytes(4)) for page in _pages(data)]
    serial = hashlib.sha256(b"".join(blank)).digest()[:4]
    return b"".join(_with(page, serial, _checksum(_with(page, serial, bytes(4)))) for page in blank)


def _pages(data: bytes) -> Iterator[bytearray]:
    start = 0
    while start < len(data):
        body = start + _HEADER + data[start + _COUNT] if start + _COUNT < len(data) else len(data) + 1
        end = body + sum(data[start + _HEADER:body])
        if data[start:start + 4] != _CAPTURE or end > len(data):
            raise OggError(f"no whole Ogg page at byte {start}", value=data[start:start + 4])
        yield bytearray(data[start:end])
        start = end


def _with(page: bytearray, serial: bytes, checksum: bytes) -> bytearray:
    found = bytearray(page)
    found[_SERIAL], found[_CHECKSUM] = serial, checksum
    return found


def _checksum(page: bytearray) -> bytes:
    """RFC 3533's CRC-32: zlib's polynomial with the highest bit first, from zero, and nothing turned at the end.

    zlib takes the lowest bit first and turns all bits at both ends: so it is given the bytes mirrored, and turned back.
    """
    turned = zlib.crc32(page.translate(_MIRRORED), _ALL_BITS) ^ _ALL_BITS
    return turned.to_bytes(4, "big").translate(_MIRRORED)
