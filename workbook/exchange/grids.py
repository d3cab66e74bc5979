"""Played onsets laid on written ones: the grid of each beat, straight or swung, and how far notes are moved.

Each beat takes the grid that explains its onsets best: the squares of their distances, in units of a player's
unsteadiness, and a price for each grid, so that a finer one must earn its place. The whole is tried straight, with
swung eighths and with swung sixteenths; swing must earn its place as well. All figures are common practice, no source:
the tests vary the unsteadiness from nothing to 18 milliseconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor
from statistics import median
from typing import Literal

# Grids by name: parts of a beat, and the price of a beat that needs it. In compound meters a beat is a dotted quarter.
SIMPLE: dict[str, tuple[int, float]] = {
    "quarters": (1, 0.0), "8ths": (2, 1.0), "8th triplets": (3, 3.0), "16ths": (4, 3.0), "16th triplets": (6, 7.0),
    "16th quintuplets": (5, 14.0), "32nds": (8, 14.0)}
COMPOUND: dict[str, tuple[int, float]] = {
    "dotted quarters": (1, 0.0), "8ths": (3, 1.0), "duplets": (2, 5.0), "16ths": (6, 3.0), "16th triplets": (9, 9.0)}
# Grids that may be asked for, each with the coarser ones that lie within it.
GridName = Literal["8ths", "8th triplets", "16ths", "16th triplets"]
WITHIN: dict[str, tuple[str, ...]] = {"8ths": ("quarters", "8ths"), "8th triplets": ("quarters", "8th triplets"),
          "16ths": ("quarters", "8ths", "16ths"),
          "16th triplets": ("quarters", "8ths", "8th triplets", "16th triplets")}
UNSTEADY_SECONDS = 0.018  # one standard deviation of a player's onsets
EXACT_BEATS = 0.006       # the same of a file that a program has written
EARLY = 1 / 12            # of a beat: a note so little before a beat belongs to it
SWING_PRICE = 5.0
IN_SWING = {"8th triplets": 2.0, "16ths": 2.0}  # further price of a beat where eighths swing
COLLISION = 12.0          # price of two onsets that would fall together
_OFF_BEAT = (0.54, 0.74)  # where the second of two swung notes may stand within their beat
_WHOLE = ((0.0, Fraction(0)), (1.0, Fraction(1)))
Slots = tuple[tuple[float, Fraction], ...]  # (where it is played, where it is written) within a beat of length 1


@dataclass(frozen=True, slots=True)
class Grid:
    """How onsets were laid: the grid of each beat (by number), the share of the first of two swung notes, and the rest.

    `swing` is 1/2 where notes are straight; `unit` is what is swung ("8ths", "16ths"). `moved` are the distances in
    beats by onset, as played; `exact` where a program has put the onsets in their places.
    """

    beat: Fraction
    names: Mapping[int, str]
    slots: Mapping[int, Slots]
    swing: float = 0.5
    unit: str = ""
    moved: Mapping[Fraction, float] | None = None
    exact: bool = False

    @property
    def main(self) -> str:
        """The grid of most beats with notes off the beat, "" where there are none."""
        counts = Counter(name for name in self.names.values() if not name.endswith("quarters"))
        return counts.most_common(1)[0][0] if counts else ""

    @property
    def ratio(self) -> float:
        """First over second swung note: 1 is straight."""
        return self.swing / (1 - self.swing)

    def written(self, beats: Fraction, *, end: bool = False) -> Fraction:
        """Where an onset is written, or an end, which may lie on the grid of its beat or on the main one."""
        number = _beat_of(beats, self.beat)
        if end and self.exact and (place := _plain_place(float(beats / self.beat) - number)) is not None:
            return (number + place) * self.beat
        slots = self.slots.get(number, ())
        if end or not slots:
            slots += next((self.slots[one] for one, name in self.names.items() if name == self.main), _WHOLE)
        inside = float(beats / self.beat) - number
        return (number + min(slots, key=lambda slot: abs(slot[0] - inside))[1]) * self.beat

    def after(self, onset: Fraction) -> Fraction:
        """The next place after a written onset, on the grid of its beat or on the main one, whichever is nearer."""
        number = int(onset // self.beat)
        main = next((self.slots[one] for one, name in self.names.items() if name == self.main), _WHOLE)
        places = [(number + written) * self.beat for _, written in (*self.slots.get(number, ()), *main)]
        return min((place for place in places if place > onset), default=(number + 1) * self.beat)


def laid(onsets: Sequence[Fraction], beat: Fraction, tempo: float, only: str = "") -> Grid:
    """The grid of these onsets (in quarter notes, sorted, each once); `beat` is that of the meter, in quarter notes.

    `tempo` is in quarter notes a minute. With `only`, a key of WITHIN, no other grid is tried.
    """
    by_beat: dict[int, list[float]] = {}
    for onset in onsets:
        number = _beat_of(onset, beat)
        by_beat.setdefault(number, []).append(float(onset / beat) - number)
    grids = SIMPLE if beat.numerator != 3 else COMPOUND
    if only:
        grids = {name: grids[name] for name in WITHIN[only] if name in grids} or grids
    exact = _is_exact(by_beat, grids)
    unsteady = EXACT_BEATS if exact else UNSTEADY_SECONDS * tempo / 60 / float(beat)
    tries = [_laid(by_beat, grids, unsteady, 0.5, "")]
    if grids is not COMPOUND:
        tries += [_laid(by_beat, grids, unsteady, share, unit) for unit, share in _swings(by_beat)]
    _, names, slots, swing, unit = min(tries, key=lambda one: one[0])
    found = Grid(beat, names, slots, swing, unit)
    moved = {onset: _distance(onset, found) for onset in onsets}
    return Grid(beat, names, slots, swing, unit, moved, exact)


def _plain_place(inside: float) -> Fraction | None:
    """The simplest part of a beat that lies exactly there, if one does."""
    for parts in (1, 2, 3, 4, 6, 8, 5):
        if abs(inside * parts - round(inside * parts)) / parts < EXACT_BEATS / 2:
            return Fraction(round(inside * parts), parts)
    return None


def _beat_of(onset: Fraction, beat: Fraction) -> int:
    return floor(float(onset / beat) + EARLY)


def _distance(onset: Fraction, grid: Grid) -> float:
    number = _beat_of(onset, grid.beat)
    inside = float(onset / grid.beat) - number
    return min(abs(slot - inside) for slot, _ in grid.slots[number]) * float(grid.beat)


def _is_exact(by_beat: Mapping[int, list[float]], grids: Mapping[str, tuple[int, float]]) -> bool:
    """Does nearly every onset stand on a part of its beat as if a program had put it there?"""
    near = [min(abs(place * parts - round(place * parts)) / parts for parts, _ in grids.values())
            for places in by_beat.values() for place in places]
    return sum(distance < EXACT_BEATS / 2 for distance in near) >= 0.95 * len(near)


def _swings(by_beat: Mapping[int, list[float]]) -> list[tuple[str, float]]:
    """The swing that eighths, or sixteenths, would have: the middle of where their second notes stand."""
    found = []
    low, high = _OFF_BEAT
    for unit, parts in (("8ths", 1), ("16ths", 2)):
        shares = [place * parts % 1 for places in by_beat.values() for place in places]
        seconds = [share for share in shares if low < share < high]
        if seconds:
            found.append((unit, median(seconds)))
    return found


def _laid(by_beat: Mapping[int, list[float]], grids: Mapping[str, tuple[int, float]], unsteady: float, swing: float,
          unit: str) -> tuple[float, dict[int, str], dict[int, Slots], float, str]:
    """(price of the whole, grid of each beat, its slots, swing, what is swung)."""
    total = SWING_PRICE if unit else 0.0
    names: dict[int, str] = {}
    chosen: dict[int, Slots] = {}
    choices = [(name, price, slots) for name, (parts, price) in grids.items()
               for slots in _slots(name, parts, swing, unit)]
    for number, places in by_beat.items():
        costs = [price + _misfit(places, slots, unsteady) + _in_swing(name, places, unit)
                 for name, price, slots in choices]
        best = costs.index(min(costs))
        total += costs[best]
        names[number], _, chosen[number] = choices[best]
    return total, names, chosen, swing, unit


def _in_swing(name: str, places: Sequence[float], unit: str) -> float:
    """What a grid costs more where eighths swing: a whole triplet is common there, other thirds of a beat are not."""
    whole = name == "8th triplets" and len(places) == 3
    return 0.0 if unit != "8ths" or whole else IN_SWING.get(name, 0.0)


def _misfit(places: Sequence[float], slots: Slots, unsteady: float) -> float:
    nearest = [min(slots, key=lambda slot: abs(slot[0] - place)) for place in places]
    apart = sum(((slot[0] - place) / unsteady) ** 2 for slot, place in zip(nearest, places, strict=True))
    return apart + COLLISION * (len(places) - len(set(nearest)))


def _slots(name: str, parts: int, swing: float, unit: str) -> list[Slots]:
    """The ways in which a grid may be played: evenly, or with its eighths or sixteenths swung."""
    even = tuple((number / parts, Fraction(number, parts)) for number in range(parts + 1))
    if not unit or parts not in (2, 4, 8) or (unit == "16ths" and parts == 2):
        return [even]
    size = 1.0 if unit == "8ths" else 0.5

    def played(place: float) -> float:
        whole, inside = divmod(place, size)
        half = size / 2
        return whole * size + (inside / half * swing * size if inside <= half
                               else swing * size + (inside - half) / half * (1 - swing) * size)

    swung = tuple((played(place), written) for place, written in even[:-1]) + even[-1:]
    return [swung] if name == unit else [swung, even]
