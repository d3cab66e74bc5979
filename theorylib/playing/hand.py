"""The fretting hand: what it can hold, what that costs, and what it costs to move on.

Conventions
-----------
The hand position is the fret under the index finger: `necks.positions` says which frets the fingers own from there.
Finger 0 is an open string, None the picking hand (a tapped note). Costs are whole points, so that equal means equal on
every machine; one point is about a third of a millimetre of stretch. Fret distances come from the tuning's scale
length; time is in ms at the chart's tempo.

That the best fingering is a cheapest path is an old idea (S. Sayegh, Computer Music Journal 13(3), 1989; cited from
memory). No weight is taken from there or from any other source: see `Weights`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from functools import lru_cache
from itertools import pairwise

from ..necks.positions import NATURAL_FINGER, SPAN_OFFSET
from ..necks.tunings import Tuning
from .marks import MARKS, RISES, SHIFTS, STAYS

IMPOSSIBLE = 1 << 40  # points: more than any line costs; kept a whole number so that sums stay exact


@dataclass(frozen=True, slots=True)
class Weights:
    """What each effort costs. All are judgements of common practice without a source; change them as you see fit."""

    shift: int = 60              # points for leaving a hand position at all
    shift_per_mm: int = 1        # points a mm of travel along the neck
    hurry_ms: int = 250          # ms: with this time to shift in, a shift costs double; with twice as much, half more
    hurry_limit_percent: int = 500  # percent: the most that haste can make of a shift
    free_percent: int = 50       # percent of a shift's cost in an open string, a rest, or on a slide
    stretch_per_mm: int = 3      # points a mm outside the four frets of the position
    crossing: int = 4            # points a string moved across between one note and the next
    roll: int = 6                # points for one finger taking the same fret of another string
    jump: int = 300              # points for one finger taking another fret while the hand stays (not between chords)
    displaced: int = 25          # points for a chord's finger one fret beside its own
    barre: int = 60              # points for the index laid across strings; any other finger costs thrice that
    little: int = 3              # points for the little finger in a chord
    open_avoided: int = 200      # points an open string, where open strings are to be avoided
    open_per_fret: int = 8       # points an open string for each fret of the hand above fret 1: its tone sticks out
    height: int = 1              # points a note for each fret that the hand stands above fret 1


DEFAULT_WEIGHTS = Weights()


@dataclass(frozen=True, slots=True, order=True)
class Grip:
    """The hand at one moment: its position, then string, fret and finger of each note in the line's order."""

    hand: int
    strings: tuple[int, ...]
    frets: tuple[int, ...]
    fingers: tuple[int | None, ...]

    @property
    def free(self) -> bool:
        """True when no finger presses a string: the hand may travel."""
        return not any(self.fingers)


@dataclass(frozen=True, slots=True)
class Step:
    """From one grip to the next: time from onset to onset, whether a rest lies between, joining marks of each note."""

    time_ms: int
    rest: bool = False
    joins: tuple[tuple[str, ...], ...] = ()

    @property
    def joined(self) -> bool:
        return any(self.joins)


@dataclass(frozen=True, slots=True)
class Cost:
    """Why a fingering costs what it does: points by cause (their sum is `total`), then the plain counts behind them."""

    shift: int = 0
    stretch: int = 0
    crossing: int = 0
    roll: int = 0
    jump: int = 0
    displaced: int = 0
    barre: int = 0
    little: int = 0
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
        return Cost(*(getattr(self, part.name) + getattr(other, part.name) for part in fields(self)))


class Hand:
    """A hand with its weights on one neck. Use `hand_on`, which keeps one for each neck."""

    __slots__ = ("_shifts", "frets", "mm", "tuning", "weights")

    def __init__(self, tuning: Tuning, weights: Weights) -> None:
        self.tuning, self.weights = tuning, weights
        self.frets = tuning.last_fret
        # Distances in whole mm, from the neck's own fret rule.
        self.mm = [[round(tuning.span_mm(one, two)) for two in range(self.frets + 1)] for one in range(self.frets + 1)]
        self._shifts: dict[int, list[list[int]]] = {}

    def hold_cost(self, grip: Grip, avoid_open: bool = False) -> int | None:
        """Points for holding `grip`; None when no hand can."""
        counted = self._held(grip)
        if counted is None:
            return None
        weights, above = self.weights, grip.hand - 1
        if counted == (0, 0, 0, 0, 0):
            return weights.height * above
        stretch_mm, open_strings, displaced, barres, little = counted
        each_open = weights.open_per_fret * above + (weights.open_avoided if avoid_open else 0)
        return (weights.stretch_per_mm * stretch_mm + each_open * open_strings + weights.displaced * displaced
                + weights.barre * barres + weights.little * little + weights.height * above)

    def move_cost(self, one: Grip, two: Grip, step: Step) -> int | None:
        """Points for going from `one` to `two`; None when a joining mark forbids it."""
        if step.joined and not joined(one, two, step.joins):
            return None
        if one.hand == two.hand:
            return self.stay_cost(one, two)
        slide = step.joined and any(MARKS[kind].joins == SHIFTS for kinds in step.joins for kind in kinds)
        return (self.shifts(step.time_ms, step.rest or one.free or slide)[one.hand][two.hand]
                + self.weights.crossing * strings_between(one.strings, two.strings))

    def stay_cost(self, one: Grip, two: Grip) -> int:
        """Points for going from `one` to `two` without moving the hand."""
        weights = self.weights
        if len(one.strings) == len(two.strings) == 1:  # the usual case, kept quick
            apart = abs(one.strings[0] - two.strings[0])
            points = weights.crossing * apart
            if one.fingers[0] == two.fingers[0] and two.fingers[0]:
                if one.frets[0] != two.frets[0]:
                    points += weights.jump
                elif apart:
                    points += weights.roll
            return points
        rolls, jumps = _finger_moves(one, two)
        apart = strings_between(one.strings, two.strings)
        return weights.crossing * apart + weights.roll * rolls + weights.jump * jumps

    def shifts(self, time_ms: int, free: bool) -> list[list[int]]:
        """Points for a shift from each hand position (row) to each other; staying, and position 0, are impossible."""
        weights = self.weights
        percent = min(weights.hurry_limit_percent, 100 + 100 * weights.hurry_ms // max(1, time_ms))
        if free:
            percent = percent * weights.free_percent // 100
        table = self._shifts.get(percent)
        if table is None:
            table = [[(weights.shift + weights.shift_per_mm * mm) * percent // 100 for mm in row] for row in self.mm]
            for hand, row in enumerate(table):
                row[hand] = row[0] = IMPOSSIBLE
            self._shifts[percent] = table
        return table

    def explain(self, one: Grip | None, two: Grip, step: Step | None, avoid_open: bool = False) -> Cost:
        """The cost of reaching `two` from `one` (None at the start) and holding it, by cause."""
        weights, above = self.weights, two.hand - 1
        stretch_mm, open_strings, displaced, barres, little = self._held(two) or (0, 0, 0, 0, 0)
        each_open = weights.open_per_fret * above + (weights.open_avoided if avoid_open else 0)
        held = Cost(stretch=weights.stretch_per_mm * stretch_mm, displaced=weights.displaced * displaced,
                    barre=weights.barre * barres, little=weights.little * little,
                    open_string=each_open * open_strings, height=weights.height * above, stretch_mm=stretch_mm)
        if one is None or step is None:
            return held
        apart = strings_between(one.strings, two.strings)
        moved = Cost(crossing=weights.crossing * apart, strings_crossed=apart)
        if one.hand == two.hand:
            rolls, jumps = _finger_moves(one, two)
            return held + moved + Cost(roll=weights.roll * rolls, jump=weights.jump * jumps)
        points = (self.move_cost(one, two, step) or 0) - moved.crossing
        return held + moved + Cost(shift=points, shifts=1, shift_mm=self.mm[one.hand][two.hand])

    def _held(self, grip: Grip) -> tuple[int, int, int, int, int] | None:
        """Stretch in mm, open strings, displaced fingers, barres (weighted) and 1 for the
        little finger in a chord; None when no hand can hold the grip."""
        if len(set(grip.strings)) < len(grip.strings) or not 1 <= grip.hand <= self.frets:
            return None
        open_strings, pressed = 0, []
        for string, fret, finger in zip(grip.strings, grip.frets, grip.fingers, strict=True):
            if finger is None and fret > 0:
                continue
            if finger is None or (finger == 0) != (fret == 0):
                return None
            if finger:
                pressed.append((fret, -string, finger))
            else:
                open_strings += 1
        displaced = 0
        for fret, _, finger in pressed:
            offset = fret - grip.hand
            natural = NATURAL_FINGER.get(offset)
            if natural is None:
                return None
            if natural != finger:
                if len(pressed) == 1 or not 0 <= offset <= SPAN_OFFSET or abs(natural - finger) > 1:
                    return None
                displaced += 1
        barres = _barres(pressed, grip) if len(pressed) > 1 else 0
        if barres is None:
            return None
        stretch_mm = self._stretch_mm(grip.hand, [fret for fret, _, _ in pressed])
        return stretch_mm, open_strings, displaced, barres, int(len(pressed) > 1 and 4 in grip.fingers)

    def _stretch_mm(self, hand: int, frets: list[int]) -> int:
        if not frets:
            return 0
        low, high, edge = min(frets), max(frets), hand + SPAN_OFFSET
        return (self.mm[low][hand] if low < hand else 0) + (self.mm[edge][high] if high > edge else 0)


@lru_cache(maxsize=64)
def hand_on(tuning: Tuning, weights: Weights = DEFAULT_WEIGHTS) -> Hand:
    """The hand for a neck; the same object for equal arguments."""
    return Hand(tuning, weights)


def strings_between(one: tuple[int, ...], two: tuple[int, ...]) -> int:
    """Strings from the nearest of `one` to the nearest of `two`; 0 where they share a string."""
    if len(one) == len(two) == 1:
        return abs(one[0] - two[0])
    return min(abs(string - other) for string in one for other in two)


def rising_fingers(fingers: list[tuple[int | None, ...]], frets: tuple[int, ...],
                   strings: tuple[int, ...]) -> Iterator[tuple[int | None, ...]]:
    """One of its `fingers` for each note, never falling from low frets to high ones."""
    order = sorted(range(len(frets)), key=lambda index: (frets[index], -strings[index]))
    used: list[int | None] = [None] * len(frets)

    def fill(depth: int, lowest: int) -> Iterator[tuple[int | None, ...]]:
        if depth == len(order):
            yield tuple(used)
            return
        for choice in fingers[order[depth]]:
            if choice is None or choice >= lowest:
                used[order[depth]] = choice
                yield from fill(depth + 1, lowest if choice is None else choice)

    return fill(0, 0)


def joined(one: Grip, two: Grip, joins: Iterable[tuple[str, ...]]) -> bool:
    """Whether every joining mark of `two`'s notes can be played from `one`: on the string it left, by fit fingers."""
    for index, kinds in enumerate(joins):
        if not kinds:
            continue
        if two.strings[index] not in one.strings:
            return False
        before = one.strings.index(two.strings[index])
        fret, finger, same_hand = one.frets[before], one.fingers[before], one.hand == two.hand
        for kind in kinds:
            if not _joins(kind, fret, finger, two.frets[index], two.fingers[index], same_hand):
                return False
    return True


def _joins(kind: str, fret: int, finger: int | None, next_fret: int, next_finger: int | None, same_hand: bool) -> bool:
    needs = MARKS[kind].joins
    if needs == STAYS:
        return fret == next_fret and finger == next_finger and same_hand
    if needs == SHIFTS:
        return fret != next_fret and fret > 0 < next_fret and finger == next_finger
    low, high = (fret, next_fret) if needs == RISES else (next_fret, fret)
    if low >= high:
        return False
    if finger is None or next_finger is None:
        return True  # the picking hand's share of a tapped figure
    lower, higher = (finger, next_finger) if needs == RISES else (next_finger, finger)
    return lower < higher and (lower == 0 or same_hand)


def _finger_moves(one: Grip, two: Grip) -> tuple[int, int]:
    """Fingers that roll to another string at their fret, and fingers that jump to another fret.

    A chord is gripped afresh, so to or from a chord any finger that changes its place counts as a roll.
    """
    rolls = jumps = 0
    chord = len(one.strings) > 1 or len(two.strings) > 1
    for finger in {finger for finger in two.fingers if finger}:
        was = _places_of(one, finger)
        now = _places_of(two, finger)
        if was and not was & now:
            if chord or {fret for _, fret in was} == {fret for _, fret in now}:
                rolls += 1
            else:
                jumps += 1
    return rolls, jumps


def _places_of(grip: Grip, finger: int) -> set[tuple[int, int]]:
    return {(string, fret) for string, fret, used in zip(grip.strings, grip.frets, grip.fingers, strict=True)
            if used == finger}


def _barres(pressed: list[tuple[int, int, int]], grip: Grip) -> int | None:
    """Barres held, a finger other than the index counting thrice; None when fingers cross or a barre mutes a note.

    Fingers rise with the frets, and at one fret from the thick strings to the thin ones. A barre stops every string
    that it crosses, so no note between its ends may lie below it.
    """
    pressed.sort()
    barres: dict[int, tuple[int, int, int]] = {}  # finger: fret, thickest string, thinnest string
    for (fret, string, finger), (next_fret, next_string, next_finger) in pairwise(pressed):
        if next_finger < finger or (next_finger == finger and next_fret != fret):
            return None
        if next_finger == finger:
            barres[finger] = (fret, barres.get(finger, (fret, -string, 0))[1], -next_string)
    for fret, thickest, thinnest in barres.values():
        for string, other, finger_used in zip(grip.strings, grip.frets, grip.fingers, strict=True):
            if thinnest < string < thickest and other < fret and finger_used is not None:
                return None
    return sum(1 if finger == 1 else 3 for finger in barres)
