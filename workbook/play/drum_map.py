"""The drum map of a user's own SoundFont: a text file beside it that says which key is which drum.

Beside mine.sf2 lies mine.drums.txt, a drum a line: "kick: 35". Drums that it leaves out keep their General MIDI key.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from theorylib.errors import VampError, closest

from .style import DRUM_KEYS

ENDING = ".drums.txt"


class DrumMapError(VampError):
    """A drum map that cannot be read; names the line."""


def drum_map(soundfont: Path | str | None) -> Mapping[int, int]:
    """General MIDI key: the SoundFont's own; empty where no map lies beside it. Raises DrumMapError."""
    beside = None if soundfont is None else Path(soundfont).with_suffix(ENDING)
    return read_drum_map(beside.read_text(encoding="utf-8")) if beside is not None and beside.is_file() else {}


def read_drum_map(text: str) -> Mapping[int, int]:
    """A drum map from its text.

    >>> read_drum_map("kick: 35\\nopen hat: 54")
    {36: 35, 46: 54}
    """
    found: dict[int, int] = {}
    for number, line in enumerate(text.splitlines(), 1):
        said = line.partition("#")[0].strip()
        if not said:
            continue
        drum, _, key = (part.strip() for part in said.partition(":"))
        if drum not in DRUM_KEYS:
            raise DrumMapError(f"“{drum:.40}” is no drum", value=drum, where=f"line {number}",
                               expected=", ".join(DRUM_KEYS), nearest=closest(drum, DRUM_KEYS))
        if not key.isascii() or not key.isdigit() or len(key) > 3 or int(key) > 127:
            raise DrumMapError(f"“{key:.40}” is no key", value=key, where=f"line {number}", expected="0 to 127")
        found[DRUM_KEYS[drum]] = int(key)
    return found
