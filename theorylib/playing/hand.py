"""The fretting hand: what it can hold, what that costs, and what it costs to move on.

Conventions
-----------
The hand position is the fret under the index finger: `necks.positions` says which frets the fingers own from there.
Finger 0 is an open string, None the picking hand (a tapped note). Costs are points as `efforts` weighs them. Fret
distances come from the tuning's scale length; time is in ms at the chart's tempo.

That the best fingering is a cheapest path is an old idea (S. Sayegh, Computer Music Journal 13(3), 1989; cited from
memory). No weight is taken from there or from any other source: see `Weights`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from ..necks.positions import NATURAL_FINGER, SPAN_OFFSET
from ..necks.tunings import Tuning
from .efforts import DEFAULT_WEIGHTS, NO_EFFORT, Cost, Effort, Weights
from .marks import MARKS, RISES, SHIFTS, STAYS

# Points: more than any line costs; kept a whole number so that sums stay exact.
IMPOSSIBLE = 1 << 40
MOST_DISPLACED = 2  # frets from a chord's finger to its own (common practice, no source)


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
    """From one grip to the next: time from onset to onset, whether a rest lies between, joining marks of each note.

    `unit` is whether the next note begins a bar or a chord: there a hand moves that moves by musical units.
    `repeats` is whether the next note is the same one, struck again.
    """

    time_ms: int
    rest: bool = False
    joins: tuple[tuple[str, ...], ...] = ()
    unit: bool = False
    repeats: bool = False

    @property
    def joined(self) -> bool:
        return any(self.joins)


class Hand:
    """A hand with its weights on one neck. Use `hand_on`, which keeps one for each neck."""

    __slots__ = ("_shifts", "frets", "mm", "tuning", "weights")

    def __init__(self, tuning: Tuning, weights: Weights) -> None:
        self.tuning, self.weights = tuning, weights
        self.frets = tuning.last_fret
        # Distances in whole mm, from the neck's own fret rule.
        self.mm = [
            [round(tuning.span_mm(one, two)) for two in range(self.frets + 1)]
            for one in range(self.frets + 1)
        ]
        self._shifts: dict[tuple[int, int], list[list[int]]] = {}

    def hold_cost(
        self, grip: Grip, avoid_open: bool = False, sung: tuple[bool, ...] = ()
    ) -> int | None:
        """Points for holding `grip`, of which the `sung` notes bear a vibrato; None when no hand can."""
        effort = self._effort(grip)
        if effort is None:
            return None
        weights = self.weights
        height = weights.height * (grip.hand - 1) + self._sung(grip, sung)
        if effort == NO_EFFORT:
            return height
        return (
            height
            + weights.stretch_per_mm * effort.stretch_mm
            + self._open_string(grip.hand, avoid_open) * effort.open_strings
            + weights.displaced * effort.displaced
            + weights.barre * effort.barres
            + weights.little * effort.little
        )

    def _sung(self, grip: Grip, sung: tuple[bool, ...]) -> int:
        """Points for the little finger on notes with vibrato."""
        if not any(sung):
            return 0
        by_little = sum(
            finger == 4 and sings for finger, sings in zip(grip.fingers, sung, strict=True)
        )
        return self.weights.sung_little * by_little

    def _open_string(self, hand: int, avoid_open: bool) -> int:
        """Points for each open string under a hand position."""
        avoided = self.weights.open_avoided if avoid_open else 0
        return self.weights.open_away * (hand - 1) ** 2 + avoided

    def move_cost(self, one: Grip, two: Grip, step: Step) -> int | None:
        """Points for going from `one` to `two`; None when a joining mark forbids it."""
        if step.joined and not joined(one, two, step.joins):
            return None
        again = self._struck_again(one, two, step)
        if one.hand == two.hand:
            return again + self.stay_cost(one, two)
        slides = step.joined and any(
            MARKS[kind].joins == SHIFTS for kinds in step.joins for kind in kinds
        )
        travels_free = step.rest or one.free or slides
        shift = self.shifts(step.time_ms, travels_free, step.unit)[one.hand][two.hand]
        return again + shift + self.weights.crossing * strings_between(one.strings, two.strings)

    def _struck_again(self, one: Grip, two: Grip, step: Step) -> int:
        """Points for a note struck again on another string or by another finger: the one that has it is there."""
        elsewhere = (one.strings, one.fingers) != (two.strings, two.fingers)
        return self.weights.struck_again if step.repeats and elsewhere else 0

    def stay_cost(self, one: Grip, two: Grip) -> int:
        """Points for going from `one` to `two` without moving the hand."""
        weights = self.weights
        if len(one.strings) == len(two.strings) == 1:  # the usual case, kept quick
            apart = abs(one.strings[0] - two.strings[0])
            points = weights.crossing * apart
            same_finger = one.fingers[0] == two.fingers[0] and two.fingers[0]
            if same_finger and one.frets[0] != two.frets[0]:
                points += weights.jump
            elif same_finger and apart:
                points += weights.roll
            return points
        rolls, jumps = _finger_moves(one, two)
        apart = strings_between(one.strings, two.strings)
        return weights.crossing * apart + weights.roll * rolls + weights.jump * jumps

    def shifts(self, time_ms: int, free: bool, unit: bool = False) -> list[list[int]]:
        """Points for a shift from each hand position (row) to each other; staying, and position 0, are impossible."""
        weights = self.weights
        # The less time there is, the dearer the shift: twice the cost at `hurry_ms`, and never beyond the limit.
        haste = 100 * weights.hurry_ms // max(1, time_ms)
        hurried = min(weights.hurry_limit_percent, 100 + haste)
        percent = hurried * weights.free_percent // 100 if free else hurried
        percent = percent * weights.unit_percent // 100 if unit else percent
        # A leap has to be aimed, whatever sounds meanwhile: only time makes it easier.
        leap_percent = hurried - 100
        if (percent, leap_percent) not in self._shifts:
            self._shifts[percent, leap_percent] = self._shift_table(percent, leap_percent)
        return self._shifts[percent, leap_percent]

    def _shift_table(self, percent: int, leap_percent: int) -> list[list[int]]:
        weights = self.weights

        def points(mm: int) -> int:
            leap = weights.leap_per_mm * max(0, mm - weights.leap_mm)
            shift = weights.shift + weights.shift_per_mm * mm
            return shift * percent // 100 + leap * leap_percent // 100

        table = [[points(mm) for mm in row] for row in self.mm]
        for hand, row in enumerate(table):
            row[hand] = row[0] = IMPOSSIBLE
        return table

    def explain(
        self,
        one: Grip | None,
        two: Grip,
        step: Step | None,
        avoid_open: bool = False,
        sung: tuple[bool, ...] = (),
    ) -> Cost:
        """The cost of reaching `two` from `one` (None at the start) and holding it, by cause."""
        held = self._explain_hold(two, avoid_open) + Cost(sung=self._sung(two, sung))
        if one is None or step is None:
            return held
        weights = self.weights
        apart = strings_between(one.strings, two.strings)
        crossed = Cost(crossing=weights.crossing * apart, strings_crossed=apart)
        again = Cost(struck_again=self._struck_again(one, two, step))
        if one.hand == two.hand:
            rolls, jumps = _finger_moves(one, two)
            return held + crossed + again + Cost(roll=weights.roll * rolls, jump=weights.jump * jumps)
        points = (self.move_cost(one, two, step) or 0) - crossed.crossing - again.struck_again
        return held + crossed + again + Cost(shift=points, shifts=1, shift_mm=self.mm[one.hand][two.hand])

    def _explain_hold(self, grip: Grip, avoid_open: bool) -> Cost:
        weights = self.weights
        effort = self._effort(grip) or NO_EFFORT
        return Cost(
            stretch=weights.stretch_per_mm * effort.stretch_mm,
            displaced=weights.displaced * effort.displaced,
            barre=weights.barre * effort.barres,
            little=weights.little * effort.little,
            open_string=self._open_string(grip.hand, avoid_open) * effort.open_strings,
            height=weights.height * (grip.hand - 1),
            stretch_mm=effort.stretch_mm,
        )

    def _effort(self, grip: Grip) -> Effort | None:
        """What it takes to hold the grip; None when no hand can."""
        one_string_twice = len(set(grip.strings)) < len(grip.strings)
        if one_string_twice or not 1 <= grip.hand <= self.frets:
            return None
        pressed = _pressed(grip)
        if pressed is None:
            return None
        displaced = _displaced(pressed, grip.hand)
        in_chord = len(pressed) > 1
        barres = _barres(pressed, grip) if in_chord else 0
        if displaced is None or barres is None:
            return None
        stretch_mm = self._stretch_mm(grip.hand, [fret for fret, _, _ in pressed])
        little = int(in_chord and 4 in grip.fingers)
        return Effort(stretch_mm, grip.fingers.count(0), displaced, barres, little)

    def _stretch_mm(self, hand: int, frets: list[int]) -> int:
        """The reach outside the four frets of the position, to either side."""
        if not frets:
            return 0
        low, high, edge = min(frets), max(frets), hand + SPAN_OFFSET
        back = self.mm[low][hand] if low < hand else 0
        on = self.mm[edge][high] if high > edge else 0
        return back + on


def _pressed(grip: Grip) -> list[tuple[int, int, int]] | None:
    """(fret, -string, finger) of each fretted note; None where finger 0 is not the open string, or the other way."""
    found = []
    for string, fret, finger in zip(grip.strings, grip.frets, grip.fingers, strict=True):
        tapped = finger is None and fret > 0
        if tapped:
            continue
        if finger is None or (finger == 0) != (fret == 0):
            return None
        if finger:
            found.append((fret, -string, finger))
    return found


def _displaced(pressed: list[tuple[int, int, int]], hand: int) -> int | None:
    """How many frets fingers stand beside their own; None where one does so that cannot.

    Only in a chord, at most two frets away (the little finger of an open B7), and never on a stretch: there index and
    little finger have no other to help.
    """
    displaced = 0
    for fret, _, finger in pressed:
        offset = fret - hand
        natural = NATURAL_FINGER.get(offset)
        if natural is None:
            return None
        if natural == finger:
            continue
        in_chord = len(pressed) > 1
        on_stretch = not 0 <= offset <= SPAN_OFFSET
        away = abs(natural - finger)
        if not in_chord or on_stretch or away > MOST_DISPLACED:
            return None
        displaced += away
    return displaced


@lru_cache(maxsize=64)
def hand_on(tuning: Tuning, weights: Weights = DEFAULT_WEIGHTS) -> Hand:
    """The hand for a neck; the same object for equal arguments."""
    return Hand(tuning, weights)


def strings_between(one: tuple[int, ...], two: tuple[int, ...]) -> int:
    """Strings from the nearest of `one` to the nearest of `two`; 0 where they share a string."""
    if len(one) == len(two) == 1:
        return abs(one[0] - two[0])
    return min(abs(string - other) for string in one for other in two)


def rising_fingers(
    fingers: list[tuple[int | None, ...]], frets: tuple[int, ...], strings: tuple[int, ...]
) -> Iterator[tuple[int | None, ...]]:
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
        left = Touch(one.frets[before], one.fingers[before])
        met = Touch(two.frets[index], two.fingers[index])
        same_hand = one.hand == two.hand
        if not all(_joins(kind, left, met, same_hand) for kind in kinds):
            return False
    return True


class Touch(NamedTuple):
    """A finger on a fret of one string."""

    fret: int
    finger: int | None


def _joins(kind: str, left: Touch, met: Touch, same_hand: bool) -> bool:
    needs = MARKS[kind].joins
    if needs == STAYS:
        return left == met and same_hand
    if needs == SHIFTS:
        both_fretted = left.fret > 0 and met.fret > 0
        return both_fretted and left.fret != met.fret and left.finger == met.finger
    lower, higher = (left, met) if needs == RISES else (met, left)
    if lower.fret >= higher.fret:
        return False
    if lower.finger is None or higher.finger is None:
        return True  # the picking hand's share of a tapped figure
    from_open_string = lower.finger == 0
    return lower.finger < higher.finger and (from_open_string or same_hand)


def _finger_moves(one: Grip, two: Grip) -> tuple[int, int]:
    """Fingers that roll to another string at their fret, and fingers that jump to another fret.

    A chord is gripped afresh, so to or from a chord any finger that changes its place counts as a roll.
    """
    rolls = jumps = 0
    chord = len(one.strings) > 1 or len(two.strings) > 1
    for finger in {finger for finger in two.fingers if finger}:
        was, now = _places_of(one, finger), _places_of(two, finger)
        moves = was and not was & now
        if not moves:
            continue
        same_fret = {fret for _, fret in was} == {fret for _, fret in now}
        if chord or same_fret:
            rolls += 1
        else:
            jumps += 1
    return rolls, jumps


def _places_of(grip: Grip, finger: int) -> set[tuple[int, int]]:
    return {
        (string, fret)
        for string, fret, used in zip(grip.strings, grip.frets, grip.fingers, strict=True)
        if used == finger
    }


def _barres(pressed: list[tuple[int, int, int]], grip: Grip) -> int | None:
    """Barres held, a finger other than the index counting thrice; None when fingers cross or a barre mutes a note.

    Fingers rise with the frets, and at one fret from the thick strings to the thin ones. A barre stops every string
    that it crosses, so no note between its ends may lie below it.
    """
    pressed.sort()
    barres: dict[int, tuple[int, int, int]] = {}  # finger: fret, thickest string, thinnest string
    for (fret, string, finger), (next_fret, next_string, next_finger) in pairwise(pressed):
        same_finger = next_finger == finger
        fingers_cross = next_finger < finger
        if fingers_cross or (same_finger and next_fret != fret):
            return None
        if same_finger:
            _, thickest, _ = barres.get(finger, (fret, -string, 0))
            barres[finger] = (fret, thickest, -next_string)
    for fret, thickest, thinnest in barres.values():
        for string, other, used in zip(grip.strings, grip.frets, grip.fingers, strict=True):
            muted = thinnest < string < thickest and other < fret
            if muted and used is not None:
                return None
    return sum(1 if finger == 1 else 3 for finger in barres)
