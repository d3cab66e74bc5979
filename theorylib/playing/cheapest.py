"""The cheapest grips through a line, one an onset, found exactly by dynamic programming from its end.

For each onset stand the points that the cheapest way costs from each of its grips to the end, its own included. Then
the line is walked from the start: of equally cheap ways the first grip in order counts, then the first of the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from operator import add

from .choices import Choices
from .hand import IMPOSSIBLE, Grip, Hand, Step, strings_between


def cheapest(hand: Hand, choices: Sequence[Choices], steps: Sequence[Step]) -> list[Grip] | None:
    """The cheapest grip for each onset; None where no way leads through (each onset has a grip of its own)."""
    values = _values(hand, choices, steps)
    left = min(values[0])
    if left >= IMPOSSIBLE:
        return None
    index = values[0].index(left)
    found = [choices[0].grips[index]]
    for (here, there), step, later in zip(pairwise(choices), steps, values[1:], strict=True):
        left -= here.costs[index]
        index, left = _first_of(hand, found[-1], there.grips, later, step, left)
        found.append(there.grips[index])
    return found


def _values(hand: Hand, choices: Sequence[Choices], steps: Sequence[Step]) -> list[list[int]]:
    """For each onset, the cheapest points from each of its grips to the end."""
    values = [choices[-1].costs]
    for number in range(len(steps) - 1, -1, -1):
        values.append(
            _toward_end(hand, choices[number], choices[number + 1], values[-1], steps[number])
        )
    values.reverse()
    return values


def _toward_end(
    hand: Hand, here: Choices, there: Choices, values: list[int], step: Step
) -> list[int]:
    """Cheapest points from each grip of `here` to the end, given those of `there`.

    Without a joining mark, a move that shifts the hand depends on the strings and the hand positions alone, so grips
    of `there` that share a hand position are first reduced to the best for each starting string.
    """
    if step.joined or step.repeats:
        return _toward_join(hand, here, there, values, step)
    nobody_can_shift = len(here.by_hand) == 1 and here.by_hand.keys() == there.by_hand.keys()
    shifts = hand.shifts(step.time_ms, step.rest, step.unit)
    free_shifts = hand.shifts(step.time_ms, True, step.unit)
    found = [IMPOSSIBLE] * len(here.grips)
    for strings, members in here.by_strings.items():
        onward = None if nobody_can_shift else _best_by_hand(hand, strings, there, values)
        for at, index in members:
            best = IMPOSSIBLE
            if onward is not None:
                to_each_hand = free_shifts[at] if here.free[index] else shifts[at]
                best = min(map(add, onward, to_each_hand))
            best = _best_stay(hand, here.grips[index], there, values, at, best)
            best += here.costs[index]
            if best < IMPOSSIBLE:
                found[index] = best
    return found


def _best_stay(
    hand: Hand, grip: Grip, there: Choices, values: list[int], at: int, most: int
) -> int:
    """The cheapest way on without moving the hand, `most` where none costs less."""
    best = most
    for other in there.by_hand.get(at, ()):
        if values[other] < best:  # a move never earns points: dearer ones need not be looked at
            points = values[other] + hand.stay_cost(grip, there.grips[other])
            if points < best:
                best = points
    return best


def _best_by_hand(
    hand: Hand, strings: tuple[int, ...], there: Choices, values: list[int]
) -> list[int]:
    """For each hand position, the cheapest way on from `strings`, the shift itself not counted."""
    row = [IMPOSSIBLE] * (hand.frets + 1)
    for other, members in there.by_strings.items():
        crossing = hand.weights.crossing * strings_between(strings, other)
        for at, index in members:
            points = values[index] + crossing
            if points < row[at]:
                row[at] = points
    return row


def _toward_join(
    hand: Hand, here: Choices, there: Choices, values: list[int], step: Step
) -> list[int]:
    """The same through joining marks or to the same note again: every pair of grips, of those on the joined strings."""
    found = [IMPOSSIBLE] * len(here.grips)
    for strings, members in here.by_strings.items():
        onward = _on_joined_strings(strings, there, step)
        for _, index in members:
            best = IMPOSSIBLE - here.costs[index]
            for other in onward:
                if values[other] >= best:
                    continue
                moved = hand.move_cost(here.grips[index], there.grips[other], step)
                if moved is not None and moved + values[other] < best:
                    best = moved + values[other]
            found[index] = best + here.costs[index]
    return found


def _on_joined_strings(strings: tuple[int, ...], there: Choices, step: Step) -> list[int]:
    """The grips that take each joined note on a string that sounded before."""
    found = []
    for others, members in there.by_strings.items():
        joined = (other for other, kinds in zip(others, step.joins, strict=False) if kinds)  # there may be none
        if all(other in strings for other in joined):
            found += [index for _, index in members]
    return found


def _first_of(
    hand: Hand, grip: Grip, grips: list[Grip], values: list[int], step: Step, left: int
) -> tuple[int, int]:
    """The first grip on a cheapest way to the end when `left` points remain, and what then remains."""
    for index, value in enumerate(values):
        if value <= left:
            moved = hand.move_cost(grip, grips[index], step)
            if moved is not None and moved + value == left:
                return index, value
    raise AssertionError("the cheapest way was counted and is not there")
