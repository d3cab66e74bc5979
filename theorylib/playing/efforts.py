"""What playing takes of the fretting hand, and what each effort counts: the weights, and a cost told by its causes.

Costs are whole points, so that equal means equal on every machine; one point is about a third of a millimetre of
stretch. Distances are in mm on the real neck, times in ms at the chart's tempo.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from operator import add, attrgetter
from typing import NamedTuple


@dataclass(frozen=True, slots=True, repr=False)
class Weights:
    """What each effort costs. All are judgements of common practice without a source; change them as you see fit."""

    shift: int = 60  # points for leaving a hand position at all
    shift_per_mm: int = 1  # points a mm of travel along the neck
    hurry_ms: int = (
        250  # ms: with this time to shift in, a shift costs double; with twice as much, half more
    )
    hurry_limit_percent: int = 500  # percent: the most that haste can make of a shift
    free_percent: int = 50  # percent of a shift's cost in an open string, a rest, or on a slide
    unit_percent: int = 40  # percent of a shift's cost into the first note of a bar or of a chord
    leap_mm: int = 100  # mm that a shift travels in its stride, a hand's width; a longer one is a leap
    leap_per_mm: int = 12  # points a mm beyond that with `hurry_ms` to go, fewer with more, an open string or not
    stretch_per_mm: int = 3  # points a mm outside the four frets of the position
    crossing: int = 4  # points a string moved across between one note and the next
    roll: int = 6  # points for one finger taking the same fret of another string
    jump: int = (
        300  # points for one finger taking another fret while the hand stays (not between chords)
    )
    # Points for a note struck again on another string or by another finger: more than all that it could save.
    struck_again: int = 2000
    displaced: int = 25  # points for a chord's finger one fret beside its own
    barre: int = 60  # points for the index laid across strings; any other finger costs thrice that
    little: int = 3  # points for the little finger in a chord
    sung_little: int = 100  # points for the little finger on a note with vibrato, which it shakes worst
    open_avoided: int = 200  # points an open string, where open strings are to be avoided
    # points an open string, times the square of the hand's frets above fret 1: its tone sticks out, and what a high
    # position takes open is out of the hand's place
    open_away: int = 6
    height: int = 1  # points a note for each fret that the hand stands above fret 1

    def __repr__(self) -> str:
        """What differs from the usual: in a function's help it stands as a default."""
        usual = {one.name: one.default for one in fields(self)}
        own = [f"{name}={getattr(self, name)}" for name in usual if getattr(self, name) != usual[name]]
        return f"Weights({', '.join(own)})"


DEFAULT_WEIGHTS = Weights()


@dataclass(frozen=True, slots=True)
class Cost:
    """Why a fingering costs what it does: points by cause (their sum is `total`), then the plain counts behind them."""

    shift: int = 0
    stretch: int = 0
    crossing: int = 0
    roll: int = 0
    jump: int = 0
    struck_again: int = 0
    displaced: int = 0
    barre: int = 0
    little: int = 0
    sung: int = 0
    open_string: int = 0
    height: int = 0
    shifts: int = field(default=0, metadata={"count": True})
    shift_mm: int = field(default=0, metadata={"count": True})
    stretch_mm: int = field(default=0, metadata={"count": True})
    strings_crossed: int = field(default=0, metadata={"count": True})

    @property
    def total(self) -> int:
        return sum(self.points().values())

    def points(self) -> dict[str, int]:
        """Points by cause, causes that cost nothing left out."""
        named = {part.name: getattr(self, part.name) for part in fields(self) if not part.metadata}
        return {name: points for name, points in named.items() if points}

    def __add__(self, other: Cost) -> Cost:
        return Cost(*map(add, _all_of(self), _all_of(other)))


_all_of = attrgetter(*(part.name for part in fields(Cost)))


class Effort(NamedTuple):
    """What holding a grip takes, before it is weighed."""

    stretch_mm: int
    open_strings: int
    displaced: int  # frets that fingers stand beside their own
    barres: int  # a finger other than the index counts thrice
    little: int  # 1 for the little finger in a chord


NO_EFFORT = Effort(0, 0, 0, 0, 0)
