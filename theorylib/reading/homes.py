"""The homes that changes can have, and what each chord costs in each: the states of key finding, as data.

A home is a tonic and a mode. STOCK says which chords a mode owns, which are usual in it, which are known as borrowed
and which are rare; each of these grades has one cost (GRADES), and a chord that no row names is strange. Modal homes
hold only what sets them apart; the rest they take from major or minor, at a surcharge.

Sources: the stock is what textbooks of jazz and popular harmony list as diatonic chords, modal interchange, secondary
and substitute dominants and common-tone diminished chords, from memory; no single source. The costs are our judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from ..names.scales import Scale
from ..names.spelling import Interval, NoteName
from .kinds import DOMINANT, MAJOR, MAJOR_7, MINOR, MINOR_6, POWER, SUSPENDED

OWN, USUAL, BORROWED, RARE, STRANGE = "own", "usual", "borrowed", "rare", "strange"
GRADES = {OWN: 0.0, USUAL: 0.2, BORROWED: 0.4, RARE: 0.65, STRANGE: 1.4}
BORROWED_FROM_SIDE = 0.3  # a modal home takes a chord from plain major or minor


@dataclass(frozen=True, slots=True)
class Mode:
    """A kind of home: `side` is major or minor, `cost` what choosing it costs, `tonics` how far a kind is its tonic."""

    side: str
    cost: float
    tonics: dict[str, float]


MODES: dict[str, Mode] = {
    "major": Mode("major", 0.0, {MAJOR: 1, MAJOR_7: 1, POWER: 0.9, DOMINANT: 0.4}),
    "minor": Mode("minor", 0.0, {MINOR: 1, MINOR_6: 1, POWER: 1}),
    "dorian": Mode("minor", 0.25, {MINOR: 1, MINOR_6: 1}),
    "mixolydian": Mode("major", 0.25, {DOMINANT: 1, MAJOR: 1, SUSPENDED: 1, POWER: 1}),
    "lydian": Mode("major", 0.45, {MAJOR: 1, MAJOR_7: 1}),
    "phrygian": Mode("minor", 0.4, {MINOR: 1, POWER: 1}),
    "blues": Mode("major", 0.45, {DOMINANT: 1, POWER: 1, MAJOR: 0.4, MINOR: 0.4}),
    "phrygian dominant": Mode("major", 0.4, {MAJOR: 1, DOMINANT: 1}),
}
NAMES = tuple(MODES)

# mode | kind | own | usual | borrowed | rare: degrees of the root.
_STOCK = """
major      | major           | 1 4 5                 |                  | b7 b3 b6 2       | b2 3 6
major      | major 7         | 1 4                   |                  | b7 b6 b3 b2      | 5 2
major      | minor           | 2 3 6                 | 4                | 5                | b3 7 1 #4 b7 b2
major      | minor 6         |                       | 4 2 6            | 3                | 1 5
major      | dominant        | 5                     | 2 6 b7 b2        | b6 3 4 7 b3      | 1 #4
major      | half-diminished | 7                     | 2 #4             | 3                | 6 1 5 b2 b3
major      | diminished      | 7 b2 b3 #4            | b6 1 2 4 3 5 6 b7 |                 |
major      | augmented       |                       | 5 1              | 4                |
major      | suspended       | 5 1 2                 | 6 3 4            | b7 b3 b6         |
major      | power           | 1 4 5 2 6 3           | b7 b3            | b6 7             |
minor      | major           | b3 b6 b7 5            | b2               | 4 1              | 2
minor      | major 7         | b3 b6                 | b2               |                  | b7 4
minor      | minor           | 1 4 5                 |                  | 2 b7             |
minor      | minor 6         | 1 4                   |                  | 5                |
minor      | dominant        | 5 b7 b6               | b2 2             | 4 1 b3           | 6 #4 7
minor      | half-diminished | 2                     | 6                | 5 1 #4           | 4 7
minor      | diminished      | 7 2 4 b6 #4           | 1 b3 6 b2 3 5 b7 |                  |
minor      | augmented       | b3 5                  |                  | 1                |
minor      | suspended       | 5 1 b7                | 4 b3 b6          |                  |
minor      | power           | 1 b3 4 5 b6 b7        | 2                | b2               | #4
dorian     | major           | b3 4 b7               |                  | b6               |
dorian     | major 7         | b7 b3                 |                  | b6               |
dorian     | minor           | 1 2 5                 | 4                |                  |
dorian     | minor 6         | 1                     |                  |                  |
dorian     | dominant        | 4 b7                  | 5                |                  |
dorian     | half-diminished | 6                     | 2                |                  |
dorian     | suspended       | 1 4 5                 |                  |                  |
dorian     | power           | 1 2 b3 4 5 b7         |                  |                  |
mixolydian | major           | 1 4 b7                | 5 b3             |                  |
mixolydian | major 7         | b7 4                  |                  |                  | 1
mixolydian | minor           | 2 5 6                 |                  |                  |
mixolydian | dominant        | 1                     | 5                |                  |
mixolydian | half-diminished | 3                     |                  |                  |
mixolydian | suspended       | 1 4 5                 |                  |                  |
mixolydian | power           | 1 4 b7 5 2            | 6                |                  |
lydian     | major           | 1 2 5                 |                  | 4                |
lydian     | major 7         | 1 5                   |                  |                  | 4
lydian     | minor           | 3 6 7                 |                  |                  |
lydian     | dominant        |                       | 2 5              |                  |
lydian     | half-diminished | #4                    |                  |                  |
phrygian   | major           | b2 b3 b6              |                  | 5                |
phrygian   | major 7         | b2 b6                 |                  |                  |
phrygian   | minor           | 1 b7 4                |                  | 5                |
phrygian   | dominant        | b3                    | b7               | 5                |
phrygian   | half-diminished | 5                     |                  |                  |
phrygian   | power           | 1 b2 b3 4 b6 b7       |                  |                  |
blues      | dominant        | 1 4 5                 | 2 6 b6 b2        | b7 b3 3          |
blues      | major           | 1 4 5                 | b7 b3            |                  |
blues      | major 7         |                       |                  | 4                | 1
blues      | minor           | 2                     | 3 6 4            | 1 5              |
blues      | diminished      | #4 1 b2               |                  |                  |
blues      | suspended       | 1 4 5                 |                  |                  |
blues      | power           | 1 b3 4 5 b7           |                  |                  |
phrygian dominant | major    | 1 b2                  | b3 b6            |                  |
phrygian dominant | major 7  | b2                    | b6               |                  |
phrygian dominant | minor    | 4 b7                  |                  |                  |
phrygian dominant | minor 6  | 4 b7                  |                  |                  |
phrygian dominant | dominant | 1                     | b2 b3            |                  |
"""


def _read_stock() -> dict[tuple[str, str, int], str]:
    found: dict[tuple[str, str, int], str] = {}
    for row in _STOCK.strip().splitlines():
        mode, kind, *cells = (cell.strip() for cell in row.split("|"))
        for grade, cell in zip((OWN, USUAL, BORROWED, RARE), cells, strict=True):
            for degree in cell.split():
                found[mode, kind, Interval.of_degree(degree).semitones % 12] = grade
    return found


STOCK = _read_stock()


class Place(NamedTuple):
    """How a chord stands in a mode: its grade there and what that costs."""

    grade: str
    cost: float


@lru_cache(maxsize=2048)
def place_of(mode: str, kind: str, step: int) -> Place:
    """The place of a chord whose root lies `step` semitones above the tonic."""
    grade = STOCK.get((mode, kind, step))
    if grade is not None:
        return Place(grade, GRADES[grade])
    side = MODES[mode].side
    if side == mode:
        return Place(STRANGE, GRADES[STRANGE])
    grade, cost = place_of(side, kind, step)
    return Place(grade, cost + BORROWED_FROM_SIDE)


class Home(NamedTuple):
    """A tonic (0 is C) and a mode (a key of MODES)."""

    tonic: int
    mode: str


@lru_cache(maxsize=512)
def home_mask(home: Home) -> int:
    """Pitch classes of the home's scale as bits; a blues counts the mixolydian's notes too."""
    return scale_mask(Scale(NoteName.at((home.tonic * 7 + 5) % 12 - 5), home.mode))


def scale_mask(home: Scale) -> int:
    """The notes of a home scale as bits; a blues counts the mixolydian's notes too."""
    return home.mask | Scale(home.tonic, "mixolydian").mask if home.kind == "blues" else home.mask
