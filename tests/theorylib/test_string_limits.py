"""What a string and a hand bear: bends on wound and plain strings, with a capo too, and barres beside open strings.

Limits are common practice, no source; which strings are wound (those below G3) is typed by hand for each tuning.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from theorylib import target_shapes
from theorylib.necks.shapes import bend_refused
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.hand import Grip, hand_on
from theorylib.practice.touch import bend_drill

# tuning: its wound strings, 1 the thinnest.
WOUND = {"standard": {4, 5, 6}, "drop D": {4, 5, 6}, "DADGAD": {4, 5, 6}, "seven-string": {4, 5, 6, 7},
         "bass": {1, 2, 3, 4}}


@pytest.mark.parametrize("name", WOUND)
@pytest.mark.parametrize("capo", [0, 2, 5])
def test_a_wound_string_goes_a_tone_and_a_plain_one_a_tone_and_a_half(name: str, capo: int) -> None:
    """A capo shortens the string and changes nothing of what it is made of."""
    tuning = Tuning.parse(name, capo=capo)
    for string in tuning.strings:
        most = 2 if string in WOUND[name] else 3
        allowed = [semitones for semitones in (1, 2, 3, 4) if not bend_refused(tuning, string, 7, semitones)]
        assert max(one for one in allowed if one <= 3) == most, f"string {string}"
        if string in WOUND[name]:
            assert allowed == [1, 2]


@pytest.mark.parametrize(("capo", "allowed_from"), [(0, 3), (1, 2), (2, 1), (4, 1)])
def test_the_nut_is_near_by_the_fret_on_the_real_neck(capo: int, allowed_from: int) -> None:
    """Fret 1 behind a capo at 2 is the neck's third fret, where a tone can be bent; a semitone can be had anywhere."""
    tuning = Tuning.parse("standard", capo=capo)
    for fret in range(1, 6):
        for string in (1, 2, 3, 5):
            assert (bend_refused(tuning, string, fret, 2) == "") == (fret >= allowed_from), (string, fret)
            assert bend_refused(tuning, string, fret, 1) == ""
    assert "open string" in bend_refused(tuning, 2, 0, 1)


def test_shapes_and_drills_offer_no_bend_that_a_string_refuses() -> None:
    """G7 in standard tuning: strings 4 to 6 go no further than a tone, frets below the third than a semitone."""
    seen = set()
    for shape in target_shapes("G7", ["1", "9", "6"]):
        for bend in shape.bends:
            seen.add((bend.string > 3, bend.semitones))
            assert bend.fret > 0
            assert bend.semitones <= (2 if bend.string in WOUND["standard"] else 3)
            assert bend.semitones == 1 or bend.fret >= 3
        for refusal in shape.refused:
            assert refusal.reason
    assert {(True, 2), (False, 3)} <= seen
    assert (True, 3) not in seen
    for near in range(1, 13):
        line = bend_drill("A7", ("1", "b7", "5"), near, most=3)
        for _, bent in pairwise(line.notes):
            size = next((mark.value for mark in bent.marks if mark.kind == "bend"), 0)
            assert size <= (2 if bent.string in WOUND["standard"] else 3)


def test_no_hand_lays_a_finger_across_an_open_string() -> None:
    """Strings 4 to 2 at fret 5 with the third string open between: one finger cannot, two can."""
    hand = hand_on(STANDARD)
    for fret, flat, other in ((5, 1, 2), (7, 3, 4)):
        assert hand.hold_cost(Grip(5, (4, 3, 2), (fret, 0, fret), (flat, 0, flat))) is None
        assert hand.hold_cost(Grip(5, (4, 3, 2), (fret, 0, fret), (flat, 0, other))) is not None
        assert hand.hold_cost(Grip(5, (4, 3, 2), (fret, fret, fret), (flat, flat, flat))) is not None
    # An open string outside the barre keeps ringing.
    assert hand.hold_cost(Grip(5, (4, 3, 1), (5, 5, 0), (1, 1, 0))) is not None
