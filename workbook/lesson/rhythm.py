"""The first thing to play in a lesson: the grips of its changes, and the rhythm part of its feel."""

from __future__ import annotations

from functools import lru_cache

from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.names.chords import Chord
from theorylib.necks.grip_leading import Led, led_grips
from theorylib.necks.tunings import Tuning
from theorylib.practice.strumming import pattern_of

from .sections import Plan, Section

FEWEST_STRINGS = 6  # a bass plays no grips


def _grips(plan: Plan) -> str:
    """How the grips are to be read; what a simpler one stands for is said."""
    simpler = {one.chord.pretty: one.grip.chord.pretty for one in _led(plan) if one.simpler}
    stands = "".join(f" {easy} stands for {full} here: it is the same chord with less in it."
                     for full, easy in simpler.items())
    which = ("A grip for each chord, to be learnt by itself" if plan.choices.level == LEVELS[0]
             else "A grip for each chord, led so that the hand has little to travel")
    return (f"## Play the changes first\n\n{which}. The number in a sign is the finger, the row below names what each "
            "string is in the chord. Press, pluck the strings one by one until each rings, let go, press again."
            f"{stands}")


def _rhythm(plan: Plan) -> str:
    """What the signs of the part say, those alone that stand in it."""
    row = pattern_of(plan.chart, plan.choices.level)
    said = ["Then the rhythm: a slash is a stroke over all strings of the grip"]
    if "x" in row:
        said.append(", a cross a stroke over strings that the fretting hand damps")
    if set(row) & set("Uu"):
        said.append(". The signs above say which way, ⊓ down and ∨ up; the hand keeps swinging through the strokes "
                    "that are left out.")
    else:
        said.append(". The sign ⊓ says that every stroke goes down.")
    said.append(" Play it until the changes go by without a thought: only then play over them.")
    return "".join(said)


def _led(plan: Plan) -> tuple[Led, ...]:
    """The chords with their grips, wherever these lie: the level alone says which chords a simpler one stands for."""
    chords = tuple(event.chord for event in plan.chart.events if event.chord.root is not None)
    return _led_through(chords, plan.choices.tuning, plan.choices.level)


@lru_cache(maxsize=64)  # words, code and whether they are there ask the same
def _led_through(chords: tuple[Chord, ...], tuning: Tuning, level: str) -> tuple[Led, ...]:
    return led_grips(chords, tuning, level)


def _can_be_gripped(plan: Plan) -> bool:
    if len(plan.choices.tuning.open_strings) < FEWEST_STRINGS:
        return False
    try:
        return bool(_led(plan))
    except VampError:
        return False


def _call(name: str, tail: str = "") -> str:
    return f"{name}(chart, level, tuning=neck, near=None if level == \"beginner\" else hand){tail}"


PLAYING = (
    Section("grips", _grips, lambda plan: _call("play_along"), when=_can_be_gripped),
    Section("rhythm", _rhythm, lambda plan: f"comping = {_call('rhythm_part')}\ncomping.score()",
            when=_can_be_gripped),
)
