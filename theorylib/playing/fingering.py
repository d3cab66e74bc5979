"""Fingering: string, fret and finger for every note of a line, the cheapest that the hand can play.

Model (common practice, no source)
----------------------------------
Behind the line stands a hidden hand position, the fret under the index finger; `hand` says what a hand can hold and
what each move costs. Notes of one onset are held together on different strings. Open strings, rests and tapped notes
carry the hand position through and give it time to travel. The choice is exact, by dynamic programming over every
place, finger and hand position (see `cheapest`). Of equally cheap fingerings the one with the lowest grip on the first
note counts (by hand position, then string from the thinnest, then finger), then on the second, and so on.

A position is a hard window: the hand stays there, on the frets that its fingers reach (see `necks.positions`). Tapped
notes stand outside it.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

from ..errors import FingeringError
from ..necks.tunings import Tuning
from .cheapest import cheapest
from .choices import ALLOW, AVOID, OpenStrings
from .efforts import DEFAULT_WEIGHTS, Cost, Weights
from .hand import Grip
from .lines import Line, Note, as_line
from .refusals import refuse_group, refuse_join
from .task import FREE, Task, steps_between

__all__ = ["DEFAULT_WEIGHTS", "FREE", "finger", "fingering_cost", "steps_between", "without_places"]


def finger(
    line: Line | str,
    tuning: Tuning | str | None = None,
    position: int | str | None = None,
    open_strings: OpenStrings | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
) -> Line:
    """To get a line under the hand: string, fret and finger for every note.

    Tuning and position of the line follow the arguments. `tuning` and `position` default to the line's own
    (standard tuning and a free hand where it names none); position "free" lets the hand go anywhere. `open_strings`
    is "allow", "avoid" (each costs) or "never"; by default they are allowed to a free hand and beside the nut, and
    within another position serve only a note that has no fretted place there. Notes that already have string and
    fret keep them, and their finger if they have one, whatever the policy says; a note with a string alone stays on
    that string. Tapped notes get a place and no finger. Raises FingeringError with note, pitch and bar where that
    cannot be played.

    >>> from theorylib.playing.lines import line_of
    >>> line = finger(line_of("A2 C3 E3 G3", "| Am7 |"), position=5)
    >>> [(note.string, note.fret, note.finger) for note in line.notes]
    [(6, 5, 1), (6, 8, 4), (5, 7, 3), (4, 5, 1)]
    """
    line = as_line(line)
    task = Task.of(line, tuning, position, open_strings, weights)
    notes: list[Note] = []
    for group, grip in zip(task.groups, _solved(task), strict=True):
        held = zip(group, grip.strings, grip.frets, grip.fingers, strict=True)
        notes += [
            replace(note, string=string, fret=fret, finger=used)
            for note, string, fret, used in held
        ]
    return replace(line, notes=tuple(notes), tuning=task.tuning, position=task.position)


def fingering_cost(
    line: Line | str,
    tuning: Tuning | str | None = None,
    position: int | str | None = None,
    open_strings: OpenStrings | None = None,
    weights: Weights = DEFAULT_WEIGHTS,
) -> Cost:
    """What the line's fingering costs, by cause; places and fingers that it lacks are chosen as `finger` would."""
    task = Task.of(as_line(line), tuning, position, open_strings, weights)
    grips = _solved(task)
    avoid_open = task.open_strings == AVOID
    total = Cost()
    moves = zip([None, *grips], grips, [None, *task.steps], strict=False)
    for index, (one, two, step) in enumerate(moves):
        sung = tuple(want.sung for want in task.wants(index))
        total += task.hand.explain(one, two, step, avoid_open, sung)
    return total


def without_places(line: Line | str) -> Line:
    """The line with no string, fret or finger, to be fingered afresh."""
    return as_line(line).with_notes(lambda note: replace(note, string=None, fret=None, finger=None))


def _solved(task: Task) -> list[Grip]:
    """The cheapest grips, one an onset; raises FingeringError where there are none."""
    if not task.groups:
        return []
    choices = []
    for index in range(len(task.groups)):
        found = task.choices(index)
        if not found.grips:
            refuse_group(task, index)
        choices.append(found)
    grips = cheapest(task.hand, choices, task.steps)
    if grips is None:
        refuse_join(task, choices, free_hand_can=_free_hand_can(task))
    return grips


def _free_hand_can(task: Task) -> bool:
    """Is it the position that stands in the way?"""
    if task.position is None:
        return False
    with suppress(FingeringError):
        return bool(_solved(replace(task, position=None, open_strings=ALLOW)))
    return False
