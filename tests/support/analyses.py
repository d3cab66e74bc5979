"""Roman-numeral analyses by others, as chord lists: music21's RomanText corpus (BSD-3 package, files in its wheel)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from theorylib import Chord, NoteName, names_of
from theorylib.keys import facts_of, find_homes

MINOR_MODES = ("minor", "dorian", "phrygian")


@dataclass(frozen=True, slots=True)
class Analysed:
    """A chord with the key that the analyst reads it in."""

    chord: Chord
    tonic: int
    minor: bool


def pieces() -> list[Path]:
    from music21 import corpus

    return sorted(path for path in map(Path, corpus.getCorePaths()) if path.suffix in (".rntxt", ".rntext"))


def held_out(path: Path) -> bool:
    """A third of the pieces by a hash of their name: never looked at while the costs were chosen."""
    name = "/".join(path.parts[path.parts.index("corpus") + 1:])
    return int(hashlib.sha256(name.encode()).hexdigest(), 16) % 3 == 0


def analysed(path: Path) -> list[Analysed]:
    """The chords of a piece that have a chord symbol, with their keys; others are left out."""
    from music21 import converter, roman

    found = []
    for numeral in converter.parse(path, format="romantext").recurse().getElementsByClass(roman.RomanNumeral):
        root = numeral.root().name.replace("-", "b")
        names = [root, *(pitch.name.replace("-", "b") for pitch in numeral.pitches)]
        chord = next((one for one in names_of(names) if one.root == NoteName(root) and one.bass is None), None)
        if chord is not None:
            key = numeral.key
            found.append(Analysed(chord, NoteName(key.tonic.name.replace("-", "b")).pitch_class, key.mode == "minor"))
    return found


def agreement(piece: list[Analysed]) -> Iterator[tuple[bool, bool]]:
    """(same tonic and side, same tonic) for each chord of a piece."""
    if piece:
        for one, home in zip(piece, find_homes([facts_of(one.chord) for one in piece]), strict=True):
            tonic = home.tonic == one.tonic
            yield tonic and (home.mode in MINOR_MODES) == one.minor, tonic
