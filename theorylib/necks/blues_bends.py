"""The bends that blues players learn first, found for a chord under one hand: an area to practise them in.

Conventions
-----------
A row of CLASSIC says from which degree a bend leaves, how far it goes and where it arrives, on which strings it is at
home (counted from the thinnest), and what may be held beside it. Over a dominant the minor 3rd is curled a quarter
tone towards the major one; over a minor chord it is the chord's own and stays straight. A bend that does not end on a
tone or a wanted colour of the chord is never taken (`shapes.WANTED`), whatever a row says. All common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ..errors import NeckError, one_of
from ..levels import LEVELS, Level
from ..names.chords import Chord, as_chord
from ..names.spelling import Interval
from .shapes import Bend, Shape, Target, bend_refused, chord_side, reached, sour
from .tunings import STANDARD, Tuning, as_fret, as_tuning

CURL = Fraction(1, 2)  # semitones: a quarter tone
UNISON = "unison"  # held beside a bend: the pitch at which it arrives
FRETS_UNDER_A_HAND = 4
_EASY_FRET = 5  # from here on a string bends easily
_THIRD = 3  # the finger that bends best: two others help it
MOST_AWAY = 9  # frets from where the hand was wanted to where the bends lie


@dataclass(frozen=True, slots=True)
class Classic:
    """A bend as players name it: over which chords, from which degree, how far, where to, on which strings, how soon.

    `held` is a degree that sounds with it on the next thinner string, or UNISON.
    """

    sides: tuple[str, ...]
    leaves: str
    semitones: int | Fraction
    arrives: str
    strings: tuple[int, ...]
    level: Level
    held: str = ""


_EVERY = ("dominant", "minor", "other")
_BEGINNER, _INTERMEDIATE, _ADVANCED = LEVELS
CLASSIC = (
    Classic(_EVERY, "11", 2, "5", (3, 2, 1), _BEGINNER),
    Classic(("dominant", "other"), "b3", CURL, "b3", (3, 1, 2), _BEGINNER),
    Classic(("minor",), "b7", 2, "1", (2, 3, 1), _BEGINNER),
    Classic(("dominant",), "b7", 2, "1", (3, 2, 1), _INTERMEDIATE),
    Classic(("dominant", "other"), "9", 2, "3", (2, 1, 3), _INTERMEDIATE),
    Classic(("minor",), "9", 1, "b3", (1, 2, 3), _INTERMEDIATE),
    Classic(_EVERY, "11", 2, "5", (3, 2), _INTERMEDIATE, UNISON),
    Classic(("dominant", "minor"), "b7", 2, "1", (2, 3), _ADVANCED, UNISON),
    Classic(("dominant", "minor"), "11", 2, "5", (3, 2), _ADVANCED, "b7"),
    Classic(("dominant",), "6", 1, "b7", (2, 3, 1), _ADVANCED),
)


def blues_area(
    chord: Chord | str,
    near: int = 5,
    level: Level = "intermediate",
    *,
    tuning: Tuning | str = STANDARD,
) -> Shape:
    """The classic bends over a chord that lie under one hand, nearest to where the hand was wanted.

    The places are those that are struck, held beside or curled, and no others; each bend has its finger. Raises
    NeckError where no hand near the fret finds one.

    >>> [(bend.string, bend.fret, str(bend.semitones), bend.degree, bend.finger)
    ...  for bend in blues_area("A7", 5, "beginner").bends]
    [(3, 7, '2', '5', 3), (3, 5, '1/2', 'b3', 1)]
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    one_of(level, LEVELS, "level", NeckError)
    wanted = as_fret(near, tuning)
    if chord.root is None:
        raise NeckError("no bends without a chord", value=str(chord), expected="a chord")
    return _area(chord, max(1, wanted), level, tuning)


@lru_cache(maxsize=256)  # a lesson's words and its code ask for the same
def _area(chord: Chord, near: int, level: Level, tuning: Tuning) -> Shape:
    hands = range(max(1, near - MOST_AWAY), min(near + MOST_AWAY, tuning.last_fret) + 1)
    found = [(hand, tuple(_under(chord, hand, level, tuning))) for hand in hands]
    _, bends = max(found, key=lambda one: _worth(one[1], abs(one[0] - near), one[0]))
    if not bends:
        raise NeckError(
            f"no classic bend over {chord} near fret {near}",
            value=near,
            expected="another fret, or thinner strings",
        )
    assert chord.root is not None
    places = {
        Target(bend.string, bend.fret, _left(bend, chord, tuning)): None for bend in bends
    } | {place: None for bend in bends for place in bend.held}
    return Shape(tuple(sorted(places)), bends, (), ())


def _worth(bends: tuple[Bend, ...], away: int, hand: int) -> tuple[bool, int, int, int]:
    """How good a place for the hand is: its bends, those of the third finger twice, less the way there.

    Near the nut a string is stiff: there a bend counts a quarter. Of places as good it is the nearest.
    """
    points = 0
    for bend in bends:
        by_third = bend.finger == _THIRD and bend.semitones != CURL
        points += (1 if bend.fret < _EASY_FRET else 4) * (2 if by_third else 1)
    return bool(bends), points - away, -away, -hand


def _under(chord: Chord, hand: int, level: Level, tuning: Tuning) -> Iterator[Bend]:
    """Each classic bend of a level that lies under a hand, once, on the string where it is most at home."""
    side = chord_side(chord)
    known = LEVELS[: LEVELS.index(level) + 1]
    for row in CLASSIC:
        if side not in row.sides or row.level not in known:
            continue
        found = (_on(string, row, chord, hand, tuning) for string in row.strings)
        bend = next((bend for bend in found if bend is not None), None)
        if bend is not None:
            yield bend


def _on(string: int, row: Classic, chord: Chord, hand: int, tuning: Tuning) -> Bend | None:
    """A classic bend on one string, within the hand's frets; None where it is not to be had there."""
    if string > len(tuning.open_strings):
        return None
    fret = _fret_of(row.leaves, string, chord, hand, tuning)
    if fret is None:
        return None
    finger = fret - hand + 1
    beyond_the_neck = fret + row.semitones > tuning.last_fret  # the goal is fretted too
    if beyond_the_neck or bend_refused(tuning, string, fret, row.semitones, finger):
        return None
    place = Target(string, fret, row.leaves)
    if row.semitones == CURL:
        return Bend(string, fret, CURL, row.leaves, finger)
    arrives = reached(chord, tuning, place, int(row.semitones))
    if sour(chord, arrives):
        return None
    held = tuple(_held(row, place, chord, hand, tuning)) if row.held else ()
    if row.held and not held:
        return None
    return Bend(string, fret, row.semitones, arrives, finger, held)


def _held(row: Classic, place: Target, chord: Chord, hand: int, tuning: Tuning) -> Iterator[Target]:
    """The note that sounds with a bend on the next thinner string, another finger on it."""
    string = place.string - 1
    degree = row.arrives if row.held == UNISON else row.held
    fret = _fret_of(degree, string, chord, hand, tuning) if string else None
    if fret is None or fret == place.fret or sour(chord, degree):
        return
    goal = tuning.midi(place.string, place.fret) + int(row.semitones)
    # The finger on the thinner string stands clear of the one that bends.
    if (row.held == UNISON) == (tuning.midi(string, fret) == goal):
        yield Target(string, fret, degree)


def _fret_of(degree: str, string: int, chord: Chord, hand: int, tuning: Tuning) -> int | None:
    assert chord.root is not None
    pitch_class = (chord.root.pitch_class + Interval.of_degree(degree).semitones) % 12
    last = min(hand + FRETS_UNDER_A_HAND - 1, tuning.last_fret)
    frets = range(hand, last + 1)
    return next((fret for fret in frets if tuning.midi(string, fret) % 12 == pitch_class), None)


def _left(bend: Bend, chord: Chord, tuning: Tuning) -> str:
    """The degree that a bend leaves."""
    return reached(chord, tuning, Target(bend.string, bend.fret, ""), 0)
