"""The SoundFont that comes with us: a few voices of Fluid (R3) Mono, under the MIT licence (sounds/LICENSE-Fluid.txt).

`tests/tables/extract_soundfont.py` cut it out. Its samples lie in a FLAC file, its tables (two RIFF lists, INFO and
pdta) in another; a SoundFont has the samples between the two.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

FOLDER = Path(__file__).parent / "sounds"
TABLES, SAMPLES = FOLDER / "fluid-small.tables", FOLDER / "fluid-small.flac"
NAME = "Fluid (R3) Mono by Frank Wen, Michael Cowgill and others"


@lru_cache(maxsize=1)
def our_soundfont() -> bytes:
    """The SoundFont's bytes (SF2 form), put together once."""
    import soundfile

    tables = TABLES.read_bytes()
    samples = soundfile.read(SAMPLES, dtype="int16")[0].astype("<i2").tobytes()
    end_of_info = 8 + int.from_bytes(tables[4:8], "little")
    sounds = _chunk(b"LIST", b"sdta" + _chunk(b"smpl", samples))
    return _chunk(b"RIFF", b"sfbk" + tables[:end_of_info] + sounds + tables[end_of_info:])


def licence() -> str:
    """The notice that goes with every copy of these sounds."""
    return (FOLDER / "LICENSE-Fluid.txt").read_text(encoding="utf-8")


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + len(data).to_bytes(4, "little") + data
