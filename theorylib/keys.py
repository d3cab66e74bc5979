"""Key finding: the fewest changes of home scale that explain a line of chords, by dynamic programming.

Conventions
-----------
A home is a tonic and a mode. Every chord has a cost in every home: 0 where it is diatonic or a standard part of the
key (the V7 of a minor key), more for a chord that is explained by its function (secondary dominant, tritone
substitute, borrowed chord) and most for one that is not explained. Evidence for a tonic (it opens or closes the form,
a dominant resolves to it) is a negative cost; changing the home costs CHANGE. The path of least cost is exact.
Changes are read as a loop: what follows the last chord is the first.

The figures are a judgement: common practice, no source; the tests report how well they read pieces analysed by others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from .chords import Chord
from .scales import Scale
from .spelling import NoteName

# What a chord is, as far as its function goes.
MAJOR, MINOR, DOMINANT, HALF_DIMINISHED, DIMINISHED, AUGMENTED, SUSPENDED, POWER = (
    "major", "minor", "dominant", "half-diminished", "diminished", "augmented", "suspended", "power")

# mode: (scale that is the home, cost of choosing it at all, chord kinds that can be its tonic)
MODES: dict[str, tuple[str, float, frozenset[str]]] = {
    "major": ("major", 0.0, frozenset({MAJOR, POWER})),
    "minor": ("minor", 0.0, frozenset({MINOR, POWER})),
    "dorian": ("dorian", 0.4, frozenset({MINOR, POWER})),
    "mixolydian": ("mixolydian", 0.5, frozenset({DOMINANT, MAJOR, POWER, SUSPENDED})),
    "lydian": ("lydian", 0.9, frozenset({MAJOR})),
    "phrygian": ("phrygian", 0.9, frozenset({MINOR, POWER})),
    "blues": ("blues", 0.3, frozenset({DOMINANT})),
}
# Standard parts of a key beyond its scale: mode | semitones above the tonic | kinds | cost; the first that fits counts.
_PARTS = """
major | 7  | dominant suspended      | 0.0
major | 5  | minor                   | 0.6
major | 8  | major                   | 0.8
major | 10 | dominant major          | 0.7
major | 3  | major                   | 0.9
major | 2  | half-diminished         | 0.5
major | 1  | major                   | 1.0
major | 0  | dominant                | 1.0
major | 5  | dominant                | 0.8
major | 11 | diminished              | 0.1
major | 0  | augmented               | 0.6
major | 7  | augmented               | 0.2
minor | 7  | dominant major suspended augmented | 0.0
minor | 11 | diminished              | 0.0
minor | 0  | minor                   | 0.0
minor | 2  | half-diminished diminished | 0.0
minor | 5  | dominant major          | 0.8
minor | 2  | minor                   | 0.7
minor | 9  | half-diminished         | 0.5
minor | 1  | major                   | 0.7
minor | 0  | major                   | 0.9
minor | 3  | augmented               | 0.2
minor | 8  | dominant                | 0.4
dorian | 7 | dominant                | 0.5
dorian | 0 | minor                   | 0.0
mixolydian | 0 | dominant major suspended | 0.0
mixolydian | 7 | dominant            | 0.6
blues | 0  | dominant                | 0.0
blues | 5  | dominant                | 0.0
blues | 7  | dominant suspended      | 0.0
blues | 5  | minor                   | 0.6
blues | 6  | diminished              | 0.2
blues | 9  | dominant minor          | 0.5
blues | 2  | minor dominant          | 0.4
blues | 4  | half-diminished minor   | 0.7
blues | 8  | dominant                | 0.4
blues | 10 | dominant                | 0.8
"""
CHANGE = 2.0           # a new home
OPENS, ELSEWHERE = -0.9, 0.4   # the first chord is the tonic, or is not
CLOSES = -0.5          # the last chord is the tonic
TONIC = -0.25          # any other place where the tonic stands
CADENCE = -1.1         # a dominant resolves to the tonic
SECONDARY = 0.5        # a dominant (or its ii) that resolves down a fifth to a degree of the home
TRITONE = 0.7          # a dominant that resolves down a semitone
LEADING = 0.5          # a diminished chord that resolves up a semitone
UNRESOLVED = 1.3       # a dominant on a degree of the home that goes elsewhere
STRANGE, A_NOTE = 2.2, 0.35    # nothing explains it; for each note outside
NO_FOURTH = 1.5        # a blues without its I7 or IV7


@dataclass(frozen=True, slots=True, order=True)
class Home:
    """A tonic (0 is C) and a mode (a key of MODES)."""

    tonic: int
    mode: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What key finding needs of one chord: root and kind, its essential notes and the altered fifth left out."""

    root: int
    kind: str
    mask: int


def kind_of(chord: Chord) -> str:
    """MAJOR, MINOR, DOMINANT ...: what the chord is, as far as its function goes."""
    degrees = set(chord.degrees)
    if "b3" in degrees:
        if "b5" in degrees and "5" not in degrees:
            return HALF_DIMINISHED if "b7" in degrees else DIMINISHED
        return MINOR
    if "3" in degrees:
        if "b7" in degrees:
            return DOMINANT
        return AUGMENTED if "#5" in degrees and "5" not in degrees else MAJOR
    if "b7" in degrees and ("11" in degrees or "9" in degrees):
        return SUSPENDED if "11" in degrees else DOMINANT
    return SUSPENDED if {"11", "9"} & degrees else POWER


@lru_cache(maxsize=4096)
def facts_of(chord: Chord) -> Facts:
    """Root, kind and essential notes: tensions of a dominant do not speak against a key, nor does its fifth."""
    if chord.root is None:
        raise ValueError("no chord has no facts")
    kind = kind_of(chord)
    essential = {"1", "3", "b3", "b7", "7", "bb7", "6"} | ({"11"} if kind == SUSPENDED else set())
    if kind not in (DOMINANT, SUSPENDED):
        essential |= {"5", "b5", "#5"}
    mask = sum({1 << tone.name.pitch_class for tone in chord.tones if tone.degree in essential})
    return Facts(chord.root.pitch_class, kind, mask)


@lru_cache(maxsize=1)
def homes() -> tuple[Home, ...]:
    return tuple(Home(tonic, mode) for mode in MODES for tonic in range(12))


@lru_cache(maxsize=1)
def _parts() -> dict[tuple[str, int, str], float]:
    found: dict[tuple[str, int, str], float] = {}
    for row in _PARTS.strip().splitlines():
        mode, semitones, kinds, cost = (cell.strip() for cell in row.split("|"))
        for kind in kinds.split():
            found.setdefault((mode, int(semitones), kind), float(cost))
    return found


@lru_cache(maxsize=512)
def home_mask(home: Home) -> int:
    """Pitch classes of the home's scale as bits; a blues counts the mixolydian's notes too."""
    tonic = NoteName.at((home.tonic * 7 + 5) % 12 - 5)
    mask = Scale(tonic, MODES[home.mode][0]).mask
    return mask | Scale(tonic, "mixolydian").mask if home.mode == "blues" else mask


@lru_cache(maxsize=65536)
def chord_cost(home: Home, chord: Facts, following: Facts | None, after: Facts | None) -> float:
    """What it costs to explain `chord`, which goes to `following` and then `after`, in `home`."""
    step = (chord.root - home.tonic) % 12
    scale = home_mask(home)
    outside = (chord.mask & ~scale).bit_count()
    if not outside and not (home.mode == "blues" and chord.kind == MAJOR):
        return 0.0
    costs = [_parts().get((home.mode, step, chord.kind), STRANGE + A_NOTE * outside)]
    if following is not None:
        move = (following.root - chord.root) % 12
        lands_home = scale >> following.root & 1
        if chord.kind in (DOMINANT, MAJOR, SUSPENDED):
            plain_triad = 0.3 if chord.kind == MAJOR else 0.0
            if move == 5 and (lands_home or following.kind == DOMINANT):
                costs.append(SECONDARY + plain_triad)
            elif chord.kind == DOMINANT and move == 11 and lands_home:
                costs.append(TRITONE)
            elif chord.kind == DOMINANT and scale >> chord.root & 1:
                costs.append(UNRESOLVED)
        if chord.kind == DIMINISHED and move in (1, 0) and lands_home:
            costs.append(LEADING)
        if chord.kind in (MINOR, HALF_DIMINISHED) and move == 5 and following.kind == DOMINANT and after is not None \
                and (after.root - following.root) % 12 == 5 and scale >> after.root & 1:
            costs.append(SECONDARY)
    return min(costs)


def evidence(home: Home, index: int, chords: Sequence[Facts]) -> float:
    """What the place of a chord says for its being the tonic (negative is good)."""
    chord = chords[index]
    if chord.root != home.tonic or chord.kind not in MODES[home.mode][2]:
        return ELSEWHERE if index == 0 else 0.0
    found = OPENS if index == 0 else CLOSES if index == len(chords) - 1 else TONIC
    before = chords[index - 1]
    if (before.root - home.tonic) % 12 == 7 and before.kind in (DOMINANT, SUSPENDED):
        found += CADENCE
    elif ((before.root - home.tonic) % 12, before.kind) in ((7, MAJOR), (1, DOMINANT)):
        found += CADENCE / 2  # a plain triad, or the tritone substitute
    return found


def cost_table(chords: Sequence[Facts]) -> list[dict[Home, float]]:
    """For each chord, its cost in every home, evidence included."""
    table = []
    for index, chord in enumerate(chords):
        following = chords[(index + 1) % len(chords)] if len(chords) > 1 else None
        after = chords[(index + 2) % len(chords)] if len(chords) > 2 else None
        table.append({home: chord_cost(home, chord, following, after) + evidence(home, index, chords)
                      for home in homes()})
    dominants = {chord.root for chord in chords if chord.kind == DOMINANT}
    for home in homes():
        if home.mode == "blues" and not {home.tonic, (home.tonic + 5) % 12} <= dominants:
            table[0][home] += NO_FOURTH
    return table


def find_homes(chords: Sequence[Facts], first: frozenset[Home] | None = None) -> list[Home]:
    """The home of each chord on the path of least cost; `first` limits the home in which the chart begins.

    Ties fall to the earlier home of `homes()`, so that the same changes always read the same.
    """
    table = cost_table(chords)
    order = homes()
    best = {home: MODES[home.mode][1] + table[0][home] + (0.0 if first is None or home in first else 1e6)
            for home in order}
    back: list[dict[Home, Home]] = []
    for costs in table[1:]:
        leave = min(order, key=lambda home: best[home])
        moved = best[leave] + CHANGE
        came: dict[Home, Home] = {}
        now: dict[Home, float] = {}
        for home in order:
            change = moved + MODES[home.mode][1]
            came[home] = home if best[home] <= change else leave
            now[home] = min(best[home], change) + costs[home]
        best = now
        back.append(came)
    path = [min(order, key=lambda home: best[home])]
    for came in reversed(back):
        path.append(came[path[-1]])
    return path[::-1]


def one_home_costs(chords: Sequence[Facts]) -> list[tuple[float, Home]]:
    """Every home with the cost of reading all the chords in it alone, best first: the ranked readings of a vamp."""
    table = cost_table(chords)
    totals = [(round(MODES[home.mode][1] + sum(costs[home] for costs in table), 6), home) for home in homes()]
    return sorted(totals, key=lambda row: (row[0], homes().index(row[1])))
