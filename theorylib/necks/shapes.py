"""Target-note shapes: small areas of the neck that hold chosen degrees of a chord, with the bends each note offers.

Conventions
-----------
A shape takes one place for each target degree, on neighbouring strings (a string each or shared) and within a span of
frets counted with both ends: a span of 4 is frets p to p + 3. Two shapes have the same geometry when their notes lie on
the same strings relative to each other and at the same intervals: a string pair with another tuning offset moves the
frets, not the shape. Bends are in semitones upward and end on a tone or a colour of the chord. Degrees reached by a
bend are named as a blues player does (b3 and not #9), common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import product
from typing import Any

from ..errors import NeckError, listed, shown
from ..limits import SPAN_MM, is_whole, number_in
from ..names.chords import Chord, as_chord
from ..names.spelling import Interval, as_degrees
from .tunings import STANDARD, Tuning, as_tuning

BEND_SEMITONES = (1, 2, 3)  # a semitone, a tone and a minor third; more is a strain
# What a string can bear (common practice, no source).
WOUND_BELOW_MIDI = 55  # strings tuned below G3 are wound on an electric guitar
MOST_ON_WOUND = 2  # a tone
FIRST_BENDING_FRET = 3  # nearer the nut the string is too stiff for a tone
# Where a bend may come to rest beside the chord's own tones: the blue 3rd and 5th and the sweet 6th and 9th over a
# dominant, what the minor pentatonic and the dorian mode give a minor chord (common practice, no source).
WANTED = {
    "dominant": {"1", "9", "b3", "3", "b5", "5", "6", "b7"},
    "minor": {"1", "9", "b3", "11", "5", "b7"},
    "other": {"1", "9", "3", "5", "6"},
}
# A colour gives way where the chord has another of its kind: no 5 over a diminished fifth, no 9 over a flat ninth.
_GIVES_WAY = {
    "5": {"b5", "#5"},
    "9": {"b9", "#9"},
    "6": {"b13", "bb7"},
    "b7": {"7", "bb7"},
    "11": {"#11"},
}
_FINGERS = 4
_REACHED = ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "6", "b7", "7")


@dataclass(frozen=True, slots=True, order=True)
class Target:
    """A place that sounds a target degree."""

    string: int
    fret: int
    degree: str


@dataclass(frozen=True, slots=True, order=True)
class Bend:
    """A bend from a place: how far up in semitones, the degree that it reaches and the finger that does it.

    Half a semitone is the quarter-tone curl, whose `degree` is the one that it leaves. `held` is a note that sounds
    with it, on another string: the same pitch as the bend's end (a unison bend), or another.
    """

    string: int
    fret: int
    semitones: int | Fraction
    degree: str
    finger: int
    held: tuple[Target, ...] = ()


@dataclass(frozen=True, slots=True)
class Refusal:
    """A bend that cannot be had, and why."""

    string: int
    fret: int
    semitones: int
    reason: str


@dataclass(frozen=True, slots=True)
class Shape:
    """A cluster of target notes; `geometry` is equal for the same shape elsewhere on the neck."""

    places: tuple[Target, ...]
    bends: tuple[Bend, ...]
    refused: tuple[Refusal, ...]
    geometry: tuple[tuple[int, int, str], ...]

    @property
    def low_fret(self) -> int:
        return min(place.fret for place in self.places)

    @property
    def high_fret(self) -> int:
        return max(place.fret for place in self.places)

    def span_mm(self, tuning: Tuning | str = STANDARD) -> float:
        """The stretch in mm from the lowest fretted note to the highest."""
        tuning = as_tuning(tuning)
        fretted = [place.fret for place in self.places if place.fret]
        return tuning.span_mm(min(fretted), max(fretted)) if fretted else 0.0


def target_shapes(
    chord: Chord | str,
    degrees: Iterable[str] | str,
    tuning: Tuning | str = STANDARD,
    span_frets: int = 4,
    *,
    span_mm: float | None = None,
) -> tuple[Shape, ...]:
    """To find every place for target notes: compact clusters of degrees across the whole neck.

    The lowest frets come first. `span_mm` limits the real stretch as well. Raises NeckError for a span that no hand
    has, SpellingError for a bad degree.

    >>> [(place.string, place.fret, place.degree) for place in target_shapes("Am7", "1 b3 5")[0].places]
    [(1, 0, '5'), (2, 1, 'b3'), (3, 2, '1')]
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    wanted = as_degrees(degrees)
    if chord.root is None or not wanted:
        raise NeckError(
            "no target note", value=str(chord), expected="a chord and at least one degree"
        )
    if not is_whole(span_frets, 1, 7):
        raise NeckError(
            f"a span of {shown(span_frets)} frets", value=span_frets, expected="1 to 7 frets"
        )
    most_mm = None if span_mm is None else float(number_in(span_mm, SPAN_MM, "span in mm"))
    root = chord.root.pitch_class
    classes = {degree: (root + Interval.of_degree(degree).semitones) % 12 for degree in wanted}
    found: list[Shape] = []
    for low in range(tuning.last_fret + 1):
        high = min(low + span_frets - 1, tuning.last_fret)
        for places in _clusters(classes, tuning, low, high):
            if (
                most_mm is None
                or tuning.span_mm(low, max(place.fret for place in places)) <= most_mm
            ):
                found.append(_shape(places, chord, tuning))
    return tuple(sorted(found, key=lambda shape: (shape.low_fret, shape.high_fret, shape.places)))


def near_fret(shapes: Sequence[Shape], fret: int) -> Shape:
    """The shape whose middle lies nearest to a fret (of equals, the lower); raises NeckError when there is none."""
    found = as_shapes(shapes)
    if not is_whole(fret, 0, 36):
        raise NeckError(f"no fret {shown(fret)}", value=fret, expected="a fret from 0 to 36")
    if not found:
        raise NeckError(
            "no shape to choose from", value=fret, expected="a wider span or other degrees"
        )
    return min(
        found,
        key=lambda one: (abs(one.low_fret + one.high_fret - 2 * fret), one.low_fret, one.places),
    )


def target_moves(
    shape: Shape,
    following: Chord | str,
    degrees: Iterable[str] | str,
    tuning: Tuning | str = STANDARD,
    reach_frets: int = 3,
) -> tuple[tuple[Target, Target, int], ...]:
    """(target, nearest target of the next chord, semitones to go) for each note of a shape, within its area.

    The next note lies on the same or a neighbouring string, at most `reach_frets` beyond the shape; a note that has
    none there is left out.
    """
    following, tuning = as_chord(following), as_tuning(tuning)
    if following.root is None:
        raise NeckError("no target note", value=str(following), expected="a chord")
    (shape,) = as_shapes([shape])
    if not is_whole(reach_frets, 0, tuning.last_fret):
        raise NeckError(
            f"a reach of {shown(reach_frets)} frets",
            value=reach_frets,
            expected=f"0 to {tuning.last_fret}",
        )
    classes = {
        (following.root.pitch_class + Interval.of_degree(degree).semitones) % 12: degree
        for degree in as_degrees(degrees)
    }
    low = max(0, shape.low_fret - reach_frets)
    high = min(tuning.last_fret, shape.high_fret + reach_frets)
    found = []
    for place in shape.places:
        moves = list(_moves_from(place, classes, range(low, high + 1), tuning))
        if moves:
            _, _, step, target = min(moves)
            found.append((place, target, step))
    return tuple(found)


def _moves_from(
    place: Target, classes: dict[int, str], frets: range, tuning: Tuning
) -> Iterator[tuple[int, int, int, Target]]:
    """(how far, strings crossed, semitones, target) of each target beside a place: the first is the nearest."""
    here = tuning.midi(place.string, place.fret)
    for string in tuning.strings:
        crossed = abs(string - place.string)
        if crossed > 1:
            continue
        for fret in frets:
            midi = tuning.midi(string, fret)
            if midi % 12 in classes:
                target = Target(string, fret, classes[midi % 12])
                yield abs(midi - here), crossed, midi - here, target


def by_geometry(
    shapes: Sequence[Shape],
) -> dict[tuple[tuple[int, int, str], ...], tuple[Shape, ...]]:
    """The shapes grouped by geometry, the most frequent first."""
    groups: dict[tuple[tuple[int, int, str], ...], list[Shape]] = {}
    for shape in as_shapes(shapes):
        groups.setdefault(shape.geometry, []).append(shape)
    ordered = sorted(groups.items(), key=lambda row: (-len(row[1]), row[0]))
    return {geometry: tuple(members) for geometry, members in ordered}


def as_shapes(value: Iterable[Shape]) -> tuple[Shape, ...]:
    """A list of shapes; raises NeckError."""
    return _each(value, Shape, "shapes as target_shapes finds them")


def as_targets(value: Iterable[Target]) -> tuple[Target, ...]:
    """A list of places with their degrees; raises NeckError."""
    return _each(value, Target, "places as in_position finds them")


def _each(value: object, kind: type, expected: str) -> tuple[Any, ...]:
    found = listed(value, "list", expected, NeckError)
    wrong = [one for one in found if not isinstance(one, kind)]
    if wrong:
        raise NeckError(f"“{shown(wrong[0])}” is none", value=wrong[0], expected=expected)
    return found


def _clusters(
    classes: dict[str, int], tuning: Tuning, low: int, high: int
) -> Iterable[tuple[Target, ...]]:
    """One place for each degree on neighbouring strings, frets low to high, the lowest fret being `low` itself."""
    options = [
        [
            Target(string, fret, degree)
            for string in tuning.strings
            for fret in range(low, high + 1)
            if tuning.midi(string, fret) % 12 == pitch_class
        ]
        for degree, pitch_class in classes.items()
    ]
    for places in product(*options):
        strings = sorted({place.string for place in places})
        if (
            strings[-1] - strings[0] + 1 == len(strings)
            and min(place.fret for place in places) == low
        ):
            yield tuple(sorted(places))


def _shape(places: tuple[Target, ...], chord: Chord, tuning: Tuning) -> Shape:
    tried = [_bends(places, chord, tuning, hand) for hand in _hands(places)]
    # Where the hand may stand lower, the finger that bends has others behind it.
    bends, refused = max(tried, key=lambda found: len(found[0]))
    lowest = min(places, key=lambda place: tuning.midi(place.string, place.fret))
    geometry = tuple(
        sorted(
            (
                place.string - lowest.string,
                tuning.midi(place.string, place.fret) - tuning.midi(lowest.string, lowest.fret),
                place.degree,
            )
            for place in places
        )
    )
    return Shape(places, bends, refused, geometry)


def _hands(places: tuple[Target, ...]) -> list[int]:
    """Where the first finger may stand for a hand to cover all places, the highest first."""
    fretted = [place.fret for place in places if place.fret] or [1]
    low, high = min(fretted), max(fretted)
    return list(range(low, max(0, high - _FINGERS), -1)) or [low]


def _bends(
    places: tuple[Target, ...], chord: Chord, tuning: Tuning, hand: int
) -> tuple[tuple[Bend, ...], tuple[Refusal, ...]]:
    """The bends that the places offer to a hand, and those that they do not."""
    bends: list[Bend] = []
    refused: list[Refusal] = []
    for place in places:
        finger = min(_FINGERS, max(1, place.fret - hand + 1))
        for semitones in BEND_SEMITONES:
            degree = reached(chord, tuning, place, semitones)
            reason = bend_refused(tuning, place.string, place.fret, semitones, finger)
            reason = reason or sour(chord, degree)
            if reason:
                refused.append(Refusal(place.string, place.fret, semitones, reason))
            else:
                bends.append(Bend(place.string, place.fret, semitones, degree, finger))
    return tuple(bends), tuple(refused)


def chord_side(chord: Chord) -> str:
    """The row of WANTED for a chord."""
    return "dominant" if chord.is_dominant else "minor" if chord.is_minor else "other"


def sour(chord: Chord, degree: str) -> str:
    """Why a bend to a degree is not wanted over the chord, in words; empty when it is."""
    if degree in {_enharmonic(tone.degree) for tone in chord.tones}:
        return ""
    gives_way = bool(_GIVES_WAY.get(degree, set()) & set(chord.degrees))
    suspended = degree in ("b3", "3") and not {"b3", "3"} & set(chord.degrees)
    if degree in WANTED[chord_side(chord)] and not gives_way and not suspended:
        return ""
    return f"it ends on the {degree}, which is neither a tone nor a colour of {chord}"


def _enharmonic(degree: str) -> str:
    """A chord's degree as a bend names it: #9 is b3."""
    return _REACHED[Interval.of_degree(degree).semitones % 12]


def reached(chord: Chord, tuning: Tuning, place: Target, semitones: int) -> str:
    """The degree over the chord that a bend arrives at."""
    assert chord.root is not None
    return _REACHED[
        (tuning.midi(place.string, place.fret) + semitones - chord.root.pitch_class) % 12
    ]


@lru_cache(maxsize=4096)
def bend_refused(
    tuning: Tuning, string: int, fret: int, semitones: int | Fraction, finger: int = 3
) -> str:
    """Why a bend cannot be had, in words; empty when it can. Limits are common practice, no source."""
    if fret == 0:
        return "an open string cannot be bent with a finger"
    if tuning.open_strings[string - 1].midi < WOUND_BELOW_MIDI and semitones > MOST_ON_WOUND:
        return "a wound string goes no further than a tone"
    if fret + tuning.capo < FIRST_BENDING_FRET and semitones > 1:
        return "so near the nut the string is too stiff for more than a semitone"
    if finger == 1 and semitones >= 1:
        return "the first finger has no finger behind it to help beyond a curl"
    return ""
