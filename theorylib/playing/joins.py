"""Joining neighbouring areas: where a hand crosses from one position to the next, by a slide or by a stretch.

A join takes the highest note of the lower area and the next note of the scale or arpeggio on the same string in the
higher one. Within one fret of the hand it is a stretch and the hand stays; beyond, one finger slides and takes the hand
along: until then the hand stands in the lower position, with the fingers that it has there. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..changes.charts import Chart
from ..errors import NeckError
from ..names.chords import Chord
from ..names.scales import Scale
from ..necks.areas import as_thing, degrees_of, in_position
from ..necks.positions import LAST_OFFSET, NATURAL_FINGER, as_position
from ..necks.shapes import Target
from ..necks.tunings import STANDARD, Tuning, as_tuning
from .fingering import FREE, finger
from .lines import Line, Mark, Note


@dataclass(frozen=True, slots=True)
class Join:
    """A crossing on one string: the last place below, the first above, how, its travel in mm, a fingered run across."""

    string: int
    low: Target
    high: Target
    kind: str  # "slide" or "stretch"
    travel_mm: float
    line: Line


def joins(what: Scale | Chord | str, position_a: int, position_b: int,
          tuning: Tuning | str = STANDARD) -> tuple[Join, ...]:
    """To leave a position: every crossing to another one, the shortest travel first.

    Each has the run that passes through it. Raises NeckError where the positions are the same or share no string with a
    next note.

    >>> [(join.string, join.low.fret, join.high.fret, join.kind) for join in joins("A minor pentatonic", 5, 8)][:2]
    [(1, 8, 10, 'slide'), (2, 8, 10, 'slide')]
    """
    what, tuning = as_thing(what), as_tuning(tuning)
    low_position, high_position = sorted(as_position(position, tuning) for position in (position_a, position_b))
    if low_position == high_position:
        raise NeckError(f"position {position_a} twice", value=position_a, expected="two different positions")
    lower, higher = in_position(what, low_position, tuning), in_position(what, high_position, tuning)
    found = []
    for string in tuning.strings:
        below = [place for place in lower if place.string == string]
        if not below:
            continue
        last = max(below, key=lambda place: place.fret)
        above = [place for place in higher if place.string == string and place.fret > last.fret]
        if not above:
            continue
        first = min(above, key=lambda place: place.fret)
        kind = "stretch" if first.fret <= low_position + LAST_OFFSET else "slide"
        run = _run(what, lower, higher, _Crossing(low_position, last, first, kind), tuning)
        found.append(Join(string, last, first, kind, tuning.span_mm(last.fret, first.fret), run))
    if not found:
        raise NeckError(f"positions {low_position} and {high_position} share no string with a next note",
                        value=(low_position, high_position), expected="positions nearer to each other")
    return tuple(sorted(found, key=lambda join: (join.travel_mm, join.string)))


@dataclass(frozen=True, slots=True)
class _Crossing:
    """Where the hand stands before it crosses, the two places on the string, and how it crosses."""

    position: int
    last: Target
    first: Target
    kind: str


def _run(what: Scale | Chord, lower: tuple[Target, ...], higher: tuple[Target, ...], crossing: _Crossing,
         tuning: Tuning) -> Line:
    """Up to three notes before the crossing and three after, in eighths, with the crossing marked and fingered."""
    position, last, first, kind = crossing.position, crossing.last, crossing.first, crossing.kind

    def midi(place: Target) -> int:
        return tuning.midi(place.string, place.fret)

    before = [place for place in sorted(lower, key=midi) if midi(place) <= midi(last)][-3:]
    after = [place for place in sorted(higher, key=midi) if midi(place) >= midi(first)][:3]
    names = {name.pitch_class: name for name in what.names}
    degrees = degrees_of(what)
    notes = []
    for index, place in enumerate([*before, *after]):
        slides = kind == "slide" and place == first and before[-1] == last
        marks = (Mark("slide"),) if slides else ()
        below = index < len(before) or kind == "stretch"
        used = NATURAL_FINGER.get(place.fret - position) if below and place.fret else None
        if slides:
            used = NATURAL_FINGER[last.fret - position]
        notes.append(Note(tuning.pitch(place.string, place.fret, names[midi(place) % 12]), Fraction(index, 2),
                          Fraction(1, 2), place.string, place.fret, used, degrees[midi(place) % 12], marks))
    root = what.root if isinstance(what, Chord) else what.tonic
    chord = what if isinstance(what, Chord) else Chord.parse(f"{root}{'m' if what.is_minor else ''}")
    line = Line(tuple(notes), Chart.parse(f"| {chord} |"), tuning, f"From position to position on string {last.string}")
    return finger(line, tuning, FREE)
