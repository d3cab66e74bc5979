"""Grips through changes: for each chord the one from which the hand and the top voice have least to go.

Exact over each chord's easiest grips, by dynamic programming. All weights are common practice, no source: beginners
take each chord's first grip, since they learn shapes; the others stay where the hand is. What a level is not at ease
with is left out before (see `grip_comfort`), and power chords keep to one shape and to the nearest register.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf

from ..errors import NeckError, listed, one_of
from ..levels import LEVELS, Level
from ..names.chords import Chord, as_chord
from .grip_comfort import comfortable, power_shapes
from .grips import ChordGrip, four_fingered, grips
from .positions import as_position
from .tunings import STANDARD, Tuning, as_tuning

MOST_GRIPS = 16  # of a chord that are compared
_HAND = 1.5  # points a fret that the hand travels
_TOP = 0.8  # points a semitone that the highest note moves
_KEPT = 2.0  # points saved by each finger that stays where it is
_LEAP = 20.0  # points a semitone that the bass of a power chord lies farther than a 5th from that of the one before
_FIFTH = 7  # semitones
_ALL_OPEN = 30.0  # points saved by a power chord on open strings: what a drop tuning is for
_NEEDLESS = 30.0  # points for another grip of a chord that stays
# What a level learns at the moment: points against a kind of grip.
_NOT_YET = {
    "beginner": {"movable": 6.0, "barre": 6.0, "drop 2": 8.0, "drop 3": 8.0},
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
# Points for each fret of the hand above the third: beginners learn near the nut, where they find their way.
_FROM_THE_NUT = {"beginner": 2.5, "intermediate": 0.0, "advanced": 0.0}
_NEAR_THE_NUT = 3
_HIGHEST = {
    "beginner": 8
}  # fret of the hand above which a simpler chord near the nut is learnt first
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
    level: Level = "intermediate",
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
    steps = _steps(wanted, offered)
    anywhere = range(len(rows[0]))
    goes_around = around and len(offered) > 1
    ways = (
        [_way(rows, steps, [start], start) for start in anywhere]
        if goes_around
        else [_way(rows, steps, anywhere, None)]
    )
    _, path = min(ways, key=lambda way: way[0])
    return tuple(
        Led(chord, row[at][1]) for chord, row, at in zip(wanted, rows, path, strict=True)
    )


_Ranked = tuple[float, ChordGrip]  # what a grip costs by itself, and the grip
_Step = list[list[float]]  # points for going to each grip of a chord (first index) from each of the chord before


def _offered(chord: Chord, tuning: Tuning, level: Level, near: int | None) -> list[_Ranked]:
    """The grips of a chord, or of the simplest chord that stands for it, with what each costs by itself."""
    highest = _HIGHEST.get(level, tuning.last_fret)
    for known, fret in (
        (_of_level, highest),
        (_with_four_fingers, highest),  # a m7b5, a dim7: nothing simpler stands for them
        (_of_level, tuning.last_fret),
    ):
        for simpler in _simpler(chord):
            found = [grip for grip in known(simpler, tuning, level) if grip.hand <= fret]
            if found:
                at_ease = [grip for grip in found if comfortable(grip, tuning, level)]
                offered = power_shapes(simpler, tuning) or at_ease or found
                ranked = [(_own(grip, level, near), grip) for grip in offered]
                return sorted(ranked, key=lambda row: row[0])[:MOST_GRIPS]
    raise NeckError(
        f"no grip of {chord} on this neck",
        value=str(chord),
        expected="another chord, level or tuning",
    )


def _of_level(chord: Chord, tuning: Tuning, level: Level) -> tuple[ChordGrip, ...]:
    return grips(chord, tuning, level)


def _with_four_fingers(chord: Chord, tuning: Tuning, level: Level) -> tuple[ChordGrip, ...]:
    """What a beginner is asked for where nothing easier lies near the nut."""
    return four_fingered(chord, tuning) if level == LEVELS[0] else ()


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


def _own(grip: ChordGrip, level: Level, near: int | None) -> float:
    """Points for a grip by itself."""
    away = 0.0 if near is None else _HAND * abs(grip.hand - near)
    # The one shape of power chords is no harder to learn higher up.
    learns_as = LEVELS[1] if grip.kind == "power" else level
    up_the_neck = _FROM_THE_NUT[learns_as] * max(0, grip.hand - _NEAR_THE_NUT)
    if grip.kind == "power" and not any(place.fret for place in grip.places):
        away -= _ALL_OPEN
    return _EASE[learns_as] * grip.effort + _NOT_YET[level].get(grip.kind, 0.0) + away + up_the_neck


def _steps(wanted: Sequence[Chord], offered: Mapping[Chord, Sequence[_Ranked]]) -> list[_Step]:
    """What each change of grips costs, chord by chord, the last chord's back to the first."""
    pairs = list(zip(wanted, [*wanted[1:], wanted[0]], strict=True))
    known = {
        (one, two): [[_move(before, after) for _, before in offered[one]] for _, after in offered[two]]
        for one, two in dict.fromkeys(pairs)
    }
    return [known[pair] for pair in pairs]


def _way(
    rows: Sequence[Sequence[_Ranked]],
    steps: Sequence[_Step],
    starts: Sequence[int],
    back_to: int | None,
) -> tuple[float, list[int]]:
    """(points, which grip of each row) of the cheapest way from one of the starts, and back to one if asked."""
    costs = [own if at in starts else inf for at, (own, _) in enumerate(rows[0])]
    came_from: list[list[int]] = []
    for row, step in zip(rows[1:], steps, strict=False):  # the last step leads back
        reached = [_cheapest(costs, points) for points in step]
        costs = [cost + own for (cost, _), (own, _) in zip(reached, row, strict=True)]
        came_from.append([at for _, at in reached])
    if back_to is not None:
        cost, at = _cheapest(costs, steps[-1][back_to])
    else:
        cost, at = min((cost, at) for at, cost in enumerate(costs))
    path = [at]
    for before in reversed(came_from):
        path.append(before[path[-1]])
    return cost, path[::-1]


def _cheapest(costs: Sequence[float], points: Sequence[float]) -> tuple[float, int]:
    """(points so far, which grip before) of the cheapest way to one grip."""
    sums = [cost + more for cost, more in zip(costs, points, strict=True)]
    least = min(sums)
    return least, sums.index(least)


def _move(one: ChordGrip, two: ChordGrip) -> float:
    """Points for going from one grip to the next; none for staying."""
    if one == two:
        return 0.0
    kept = set(one.places) & set(two.places)
    fingers_kept = sum(place.finger > 0 for place in kept)
    if one.chord == two.chord:
        return _NEEDLESS
    top = abs(max(one.midis) - max(two.midis))
    leap = 0
    if one.kind == two.kind == "power":
        bass = abs(min(one.midis) - min(two.midis))
        leap = max(0, bass - _FIFTH)
    return _HAND * abs(one.hand - two.hand) + _TOP * top + _LEAP * leap - _KEPT * fingers_kept
