"""An Ogg file is the same bytes each time, and still what decoders read.

Checked against RFC 3533 (the Ogg container: page header in section 6, checksum polynomial 0x04c11db7) and libsndfile's
decoder, which uses libogg: it drops a page whose checksum is wrong.
"""

from __future__ import annotations

import io
import struct
from typing import Any

import numpy as np
import pytest
import soundfile

from workbook.play.ogg import OggError, steady
from workbook.play.plucked import RATE
from workbook.play.sound import encoded


def tone(hertz: float, seconds: float = 1.5) -> Any:
    time = np.arange(int(RATE * seconds)) / RATE
    return np.stack([np.sin(2 * np.pi * hertz * time)] * 2, axis=1).astype("float32") * 0.3


def raw(audio: Any) -> bytes:
    found = io.BytesIO()
    with soundfile.SoundFile(found, "w", RATE, audio.shape[1], "VORBIS", format="OGG") as file:
        file.write(audio)
    return found.getvalue()


def decoded(data: bytes) -> Any:
    return soundfile.read(io.BytesIO(data), dtype="float32")[0]


def checksum(page: bytes) -> int:
    """RFC 3533's, bit by bit, as the RFC says it: its own field taken as zero."""
    value = 0
    for byte in page[:22] + bytes(4) + page[26:]:
        value ^= byte << 24
        for _ in range(8):
            value = (value << 1) ^ (0x104C11DB7 if value & 0x80000000 else 0)
    return value


def pages(data: bytes) -> list[bytes]:
    found, start = [], 0
    while start < len(data):
        count = data[start + 26]
        end = start + 27 + count + sum(data[start + 27:start + 27 + count])
        found.append(data[start:end])
        start = end
    return found


def test_the_same_audio_is_the_same_file() -> None:
    assert raw(tone(220)) != raw(tone(220)), "the encoder's own file has a serial number drawn by chance"
    assert encoded(tone(220), "ogg") == encoded(tone(220), "ogg")


def test_only_serials_and_checksums_change_and_they_are_right() -> None:
    before = raw(tone(330))
    after = steady(before)
    assert len(pages(after)) == len(pages(before)) >= 3
    assert len({page[14:18] for page in pages(after)}) == 1
    for old, new in zip(pages(before), pages(after), strict=True):
        assert (old[:14], old[18:22], old[26:]) == (new[:14], new[18:22], new[26:])
        assert struct.unpack("<I", old[22:26])[0] == checksum(old), "the encoder's own is RFC 3533's"
        assert struct.unpack("<I", new[22:26])[0] == checksum(new)
    assert np.array_equal(decoded(after), decoded(before))


def test_a_wrong_checksum_would_be_noticed_by_the_decoder() -> None:
    after = bytearray(steady(raw(tone(330))))
    last = after.rfind(b"OggS")
    after[last + 22] ^= 1
    assert len(decoded(bytes(after))) < len(tone(330)), "so equal samples above do say that checksums are right"


def test_other_audio_has_another_serial() -> None:
    """Files that a player chains must differ in it (RFC 3533, section 4)."""
    assert steady(raw(tone(220)))[14:18] != steady(raw(tone(221)))[14:18]


def test_steady_twice_is_steady_once() -> None:
    once = steady(raw(tone(440)))
    assert steady(once) == once


@pytest.mark.parametrize("spoil", [lambda data: data[:-1], lambda data: b"Ogg?" + data[4:],
                                   lambda data: data + b"more"])
def test_what_is_no_ogg_is_refused(spoil: Any) -> None:
    with pytest.raises(OggError, match="no whole Ogg page"):
        steady(spoil(raw(tone(220, 0.2))))
