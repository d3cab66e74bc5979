"""Grips through changes: for each chord the one from which the hand and the top voice have least to go.

Exact over each chord's easiest grips, by dynamic programming. All weights are common practice, no source: beginners
take each chord's first grip, since they learn shapes; the others stay where the hand is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..errors import NeckError, listed, one_of
from ..levels import LEVELS
from ..names.chords import Chord, as_chord
from .grips import ChordGrip, grips
from .positions import as_position
from .tunings import STANDARD, Tuning, as_tuning

MOST_GRIPS = 16  # of a chord that are compared
_HAND = 1.5  # points a fret that the hand travels
_TOP = 0.8  # points a semitone that the highest note moves
_KEPT = 2.0  # points saved by each finger that stays where it is
_NEEDLESS = 30.0  # points for another grip of a chord that stays
# What a level learns at the moment: points against a kind of grip.
_NOT_YET = {
    "beginner": {"movable": 6.0, "barre": 6.0, "shell": 4.0, "drop 2": 8.0, "drop 3": 8.0},
    "intermediate": {"open": 3.0, "triad": 4.0, "drop 2": 3.0, "drop 3": 3.0},
    "advanced": {
        "open": 10.0,
        "barre": 6.0,
        "movable": 2.0,
        "triad": 3.0,
        "rootless": -2.0,
        "shell": -3.0,
        "drop 2": -6.0,
        "drop 3": -6.0,
    },
}
# How much a grip's own effort counts beside the way.
_EASE = {"beginner": 3.0, "intermediate": 0.7, "advanced": 0.4}


@dataclass(frozen=True, slots=True)
class Led:
    """A chord of the changes and the grip for it; `simpler` where the level has grips of a simpler chord only."""

    chord: Chord
    grip: ChordGrip

    @property
    def simpler(self) -> bool:
        return self.grip.chord != self.chord


def led_grips(
    chords: Sequence[Chord | str],
    tuning: Tuning | str = STANDARD,
    level: str = "intermediate",
    *,
    near: int | None = None,
    around: bool = True,
) -> tuple[Led, ...]:
    """A grip for each chord (none may be N.C.), led to the next; with `around` the last leads back to the first.

    `near` holds the hand about a fret. Where a level has no grip of a chord, its 7th chord or triad stands for it.
    Raises NeckError for a chord without any.

    >>> [str(led.grip) for led in led_grips(["Am", "F", "C", "G"], level="beginner")]
    ['x02210', 'xx3211', 'x32010', '320003']
    """
    tuning = as_tuning(tuning)
    one_of(level, LEVELS, "level", NeckError)
    if near is not None:
        as_position(near, tuning)
    wanted = [
        as_chord(chord)
        for chord in listed(chords, "list of chords", "chords such as Am7", NeckError)
    ]
    if not wanted:
        return ()
    offered = {chord: _offered(chord, tuning, level, near) for chord in dict.fromkeys(wanted)}
    rows = [offered[chord] for chord in wanted]
    goes_around = around and len(offered) > 1
    ways = (
        [_way(rows, [start], start) for start in rows[0]]
        if goes_around
        else [_way(rows, rows[0], None)]
    )
    _, path = min(ways, key=lambda way: way[0])
    return tuple(Led(chord, grip) for chord, (_, grip) in zip(wanted, path, strict=True))


_Ranked = tuple[float, ChordGrip]  # what a grip costs by itself, and the grip


def _offered(chord: Chord, tuning: Tuning, level: str, near: int | None) -> list[_Ranked]:
    """The grips of a chord, or of the simplest chord that stands for it, with what each costs by itself."""
    for simpler in _simpler(chord):
        found = grips(simpler, tuning, level)
        if found:
            ranked = [(_own(grip, level, near), grip) for grip in found]
            return sorted(ranked, key=lambda row: row[0])[:MOST_GRIPS]
    raise NeckError(
        f"no grip of {chord} on this neck",
        value=str(chord),
        expected="another chord, level or tuning",
    )


def _simpler(chord: Chord) -> Iterator[Chord]:
    """The chord, its 7th chord, its triad: what a teacher puts in its place until the hand is ready."""
    yield chord
    if chord.bass is not None:
        yield chord.without_bass()
    degrees = set(chord.degrees)
    third = "m" if "b3" in degrees else ""
    fifth = "b5" if "b5" in degrees else ""
    seventh = {"b7": f"{third}7{fifth}", "7": "mMaj7" if third else "maj7"}
    for sign, suffix in seventh.items():
        if sign in degrees:
            yield Chord.parse(f"{chord.root}{suffix}")
    if {"3", "b3"} & degrees:
        yield Chord.parse(f"{chord.root}{'dim' if third and fifth else third}")


def _own(grip: ChordGrip, level: str, near: int | None) -> float:
    """Points for a grip by itself."""
    away = 0.0 if near is None else _HAND * abs(grip.hand - near)
    return _EASE[level] * grip.effort + _NOT_YET[level].get(grip.kind, 0.0) + away


def _way(
    rows: Sequence[Sequence[_Ranked]], first: Sequence[_Ranked], back_to: _Ranked | None
) -> tuple[float, list[_Ranked]]:
    """(points, grips) of the cheapest way through a grip of each row, back to the first if asked."""
    ends: list[tuple[float, list[_Ranked]]] = [(ranked[0], [ranked]) for ranked in first]
    for row in rows[1:]:
        reached = []
        for ranked in row:
            cost, way = min(
                ((cost + _move(way[-1][1], ranked[1]), way) for cost, way in ends),
                key=lambda one: one[0],
            )
            reached.append((cost + ranked[0], [*way, ranked]))
        ends = reached
    closed = [
        (cost + (0.0 if back_to is None else _move(way[-1][1], back_to[1])), way)
        for cost, way in ends
    ]
    return min(closed, key=lambda one: one[0])


@lru_cache(maxsize=50_000)
def _move(one: ChordGrip, two: ChordGrip) -> float:
    """Points for going from one grip to the next; none for staying."""
    if one == two:
        return 0.0
    kept = set(one.places) & set(two.places)
    fingers_kept = sum(place.finger > 0 for place in kept)
    if one.chord == two.chord:
        return _NEEDLESS
    top = abs(max(one.midis) - max(two.midis))
    return _HAND * abs(one.hand - two.hand) + _TOP * top - _KEPT * fingers_kept
