"""Roman-numeral analyses by others, as chord lists: music21's RomanText corpus (BSD-3 package, files in its wheel)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from theorylib import Chord, NoteName, names_of
from theorylib.reading.evidence import Run
from theorylib.reading.homes import MODES, Home
from theorylib.reading.keys import find_homes
from theorylib.reading.kinds import sound_of


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


def homes_of(piece: list[Analysed]) -> list[Home]:
    """The home of each chord: an analysis has no bars, so that each chord lasts alike and its place is unknown."""
    a_chord = 1.5  # bars
    runs: list[Run] = []
    run_of = []
    for one in piece:
        sound = sound_of(one.chord)
        if not runs or runs[-1].sound != sound:
            runs.append(Run(sound, 0.0))
        runs[-1] = runs[-1]._replace(bars=runs[-1].bars + a_chord)
        run_of.append(len(runs) - 1)
    found = find_homes(runs) if runs else []
    return [found[index] for index in run_of]


def is_minor(home: Home) -> bool:
    return MODES[home.mode].side == "minor"


def agreement(piece: list[Analysed]) -> Iterator[tuple[bool, bool]]:
    """(same tonic and side, same tonic) for each chord of a piece."""
    for one, home in zip(piece, homes_of(piece), strict=True):
        tonic = home.tonic == one.tonic
        yield tonic and is_minor(home) == one.minor, tonic
