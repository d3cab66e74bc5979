"""The hand: what it can hold, stretches on the real neck, what a move costs and what a joining mark asks.

Sources: the fret rule 1 - 2^(-n/12) for distances; what a hand can do is common practice (no source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from theorylib import STANDARD
from theorylib.playing.efforts import DEFAULT_WEIGHTS
from theorylib.playing.hand import Grip, Step, hand_on


def test_stretch_is_measured_on_the_real_neck() -> None:
    """Fret n lies at 1 - 2^(-n/12) of the scale length: a stretch near the nut is wider."""
    def gap_mm(low: int, high: int) -> int:
        return round(648.0 * (2 ** (-low / 12) - 2 ** (-high / 12)))

    hand = hand_on(STANDARD, replace(DEFAULT_WEIGHTS, height=0, stretch_per_mm=1))
    back = [hand.hold_cost(Grip(at, (6,), (at - 1,), (1,))) for at in range(2, 18)]
    assert back == [gap_mm(at - 1, at) for at in range(2, 18)]
    on = [hand.hold_cost(Grip(at, (6,), (at + 4,), (4,))) for at in range(1, 17)]
    assert on == [gap_mm(at + 3, at + 4) for at in range(1, 17)]
    assert back == sorted(back, reverse=True)
    short = hand_on(replace(STANDARD, scale_length_mm=324.0), replace(DEFAULT_WEIGHTS, height=0, stretch_per_mm=1))
    assert short.hold_cost(Grip(5, (6,), (4,), (1,))) == gap_mm(4, 5) // 2


def test_what_no_hand_can_hold() -> None:
    hand = hand_on(STANDARD)
    for bad in [Grip(5, (6,), (10,), (4,)), Grip(5, (6,), (3,), (1,)), Grip(5, (6,), (4,), (2,)),
                Grip(5, (6,), (6,), (1,)), Grip(5, (6,), (0,), (1,)), Grip(5, (6,), (5,), (0,)),
                Grip(5, (6, 6), (5, 6), (1, 2)), Grip(5, (6, 5), (5, 6), (2, 1)), Grip(5, (6, 5), (5, 6), (1, 1)),
                Grip(5, (4, 3, 2), (7, 5, 7), (3, 1, 3)), Grip(5, (4, 3, 2), (7, 0, 7), (3, 0, 3))]:
        assert hand.hold_cost(bad) is None, bad
    assert hand.hold_cost(Grip(5, (4, 3, 2), (5, 7, 5), (1, 3, 1))) is not None  # an index barre under a higher note


def test_a_shift_costs_by_distance_and_by_haste() -> None:
    hand, weights = hand_on(STANDARD), DEFAULT_WEIGHTS
    at = {fret: Grip(fret, (6,), (fret,), (1,)) for fret in (3, 5, 7, 12)}
    near, far = (hand.move_cost(at[3], at[fret], Step(500)) for fret in (5, 12))
    assert near < far
    costs = [hand.move_cost(at[5], at[7], Step(time_ms)) for time_ms in (2000, 500, 250, 125, 1)]
    assert costs == sorted(costs)
    assert len(set(costs)) == 5
    assert costs[2] == 2 * (weights.shift + weights.shift_per_mm * round(STANDARD.span_mm(5, 7)))
    assert hand.move_cost(at[5], at[7], Step(500, rest=True)) < hand.move_cost(at[5], at[7], Step(500))
    open_string = Grip(5, (6,), (0,), (0,))
    assert hand.move_cost(open_string, at[7], Step(500)) < hand.move_cost(at[5], at[7], Step(500))


def test_rolling_is_cheap_and_jumping_is_not() -> None:
    hand, step = hand_on(STANDARD), Step(300)
    roll = hand.move_cost(Grip(5, (4,), (7,), (3,)), Grip(5, (3,), (7,), (3,)), step)
    other = hand.move_cost(Grip(5, (4,), (7,), (3,)), Grip(5, (3,), (6,), (2,)), step)
    jump = hand.move_cost(Grip(5, (4,), (8,), (4,)), Grip(5, (4,), (9,), (4,)), step)
    assert 0 < other < roll < jump
    assert hand.move_cost(Grip(5, (4,), (7,), (3,)), Grip(5, (4,), (7,), (3,)), step) == 0


@pytest.mark.parametrize(("kind", "one", "two", "fits"), [
    ("hammer", (5, 4, 5, 1), (5, 4, 7, 3), True), ("hammer", (5, 4, 7, 3), (5, 4, 5, 1), False),
    ("hammer", (5, 4, 5, 1), (5, 3, 7, 3), False), ("hammer", (5, 4, 5, 1), (6, 4, 7, 2), False),
    ("hammer", (5, 4, 0, 0), (6, 4, 7, 2), True), ("pull", (5, 4, 7, 3), (5, 4, 5, 1), True),
    ("pull", (5, 4, 7, 3), (4, 4, 0, 0), True), ("pull", (5, 4, 7, 3), (4, 4, 5, 2), False),
    ("slide", (5, 4, 7, 3), (7, 4, 9, 3), True), ("slide", (5, 4, 7, 3), (8, 4, 9, 2), False),
    ("slide", (5, 4, 7, 3), (5, 4, 7, 3), False), ("legato slide", (5, 4, 0, 0), (5, 4, 7, 3), False),
    ("tie", (5, 4, 7, 3), (5, 4, 7, 3), True), ("tie", (5, 4, 7, 3), (6, 4, 7, 2), False),
    ("tie", (5, 4, 9, 4), (6, 4, 9, 4), False), ("pull", (5, 4, 17, None), (5, 4, 8, 4), True),
])
def test_what_a_joining_mark_asks(kind: str, one: tuple, two: tuple, fits: bool) -> None:
    """hand, string, fret, finger of the two notes."""
    first, second = (Grip(at, (string,), (fret,), (used,)) for at, string, fret, used in (one, two))
    assert (hand_on(STANDARD).move_cost(first, second, Step(300, False, ((kind,),))) is not None) == fits
