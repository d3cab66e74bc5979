"""What to say where a line cannot be fingered: which note, where, what would do, and the nearest that can."""

from __future__ import annotations

from dataclasses import replace
from typing import NoReturn

from ..errors import FingeringError
from ..names.spelling import Pitch
from ..necks.positions import reached
from .choices import ALLOW, Choices, choices_for, want_of
from .lines import Note
from .marks import JOIN_NEEDS, MARKS
from .task import FREE, Task, said

_OCTAVES = range(-9, 10)  # to look for a pitch's namesake on the neck


def refuse_group(task: Task, index: int) -> NoReturn:
    """Say why the notes of one onset have no grip."""
    group = task.groups[index]
    for note in group:
        _refuse_place(task, note)
    if len(group) > 1:
        raise FingeringError(
            f"no hand can hold these notes together{task.in_position}",
            where=task.where(group),
            value=said(group),
            expected=f"different strings of {_strings(task)}, within the reach of four fingers",
            nearest=_positions_that_do(task, index),
        )
    if task.position is None:
        raise FingeringError(
            f"{group[0].pitch} can be had only from an open string",
            value=str(group[0].pitch),
            where=task.where(group),
            expected="a fretted place, or open strings allowed and no bend or join into them",
        )
    _refuse_in_position(task, index, task.position)


def _refuse_in_position(task: Task, index: int, position: int) -> NoReturn:
    (note,) = task.groups[index]
    frets = reached(position, task.tuning)
    where, nearest = task.where([note]), _positions_that_do(task, index)
    if note.place is not None:
        raise FingeringError(
            f"{note.place} cannot be held{task.in_position}",
            value=str(note.place),
            where=where,
            nearest=nearest,
            expected=f"frets {frets[0]} to {frets[-1]}, or a note without a place (see without_places)",
        )
    raise FingeringError(
        f"{note.pitch} has no place{task.in_position} on {_strings(task)}",
        value=str(note.pitch),
        where=where,
        nearest=nearest,
        expected=f"a pitch found on frets {frets[0]} to {frets[-1]}",
    )


def _strings(task: Task) -> str:
    return f"strings 1 to {len(task.tuning.open_strings)}"


def _positions_that_do(task: Task, index: int) -> list[str]:
    """The position nearest to the one asked for in which these notes can be held; none for a free hand."""
    if task.position is None:
        return []
    asked, wants = task.position, task.wants(index)
    for position in sorted(range(1, task.hand.frets + 1), key=lambda one: (abs(one - asked), one)):
        if choices_for(task.hand, wants, position, task.open_strings).grips:
            return [f"position {position}"]
    return []


def _refuse_place(task: Task, note: Note) -> None:
    """Raise when the note cannot be had on this neck at all, or not at the place that it asks for."""
    places = task.tuning.places(note.fretted_midi)
    if not places:
        _refuse_pitch(task, note)
    sounding = " or ".join(map(str, places))
    if note.place is not None and note.place not in places:
        raise FingeringError(
            f"{note.place} does not sound {note.pitch}",
            value=str(note.place),
            where=task.where([note]),
            expected=sounding,
        )
    if note.string is not None and all(place.string != note.string for place in places):
        raise FingeringError(
            f"string {note.string} does not sound {note.pitch}",
            value=note.string,
            where=task.where([note]),
            expected=sounding,
        )
    if note.place is not None and note.finger is not None and not _finger_can(task, note):
        raise FingeringError(
            f"finger {note.finger} cannot take {note.place}",
            value=note.finger,
            where=task.where([note]),
            expected="finger 0 for an open string, 1 (index) to 4 (little) for a fret",
        )


def _refuse_pitch(task: Task, note: Note) -> NoReturn:
    tuning, pitch = task.tuning, note.pitch
    low, high = Pitch.of_midi(tuning.lowest_midi), Pitch.of_midi(tuning.highest_midi)
    octaves = [Pitch(pitch.name, pitch.octave + up) for up in _OCTAVES]
    octaves.sort(key=lambda other: abs(other.octave - pitch.octave))
    on_neck = [str(other) for other in octaves if tuning.places(other)]
    raise FingeringError(
        f"{pitch} has no place on this neck",
        value=str(pitch),
        where=task.where([note]),
        expected=f"a pitch from {low} to {high}",
        nearest=on_neck[:1],
    )


def _finger_can(task: Task, note: Note) -> bool:
    """Can the finger take the note's place, its marks left aside?"""
    want = replace(want_of(note, may_join=False), fretted=False)
    return bool(choices_for(task.hand, (want,), None, ALLOW).grips)


def refuse_join(task: Task, choices: list[Choices], *, free_hand_can: bool) -> NoReturn:
    """Name the first note that no fingering of the notes before it can reach."""
    reached_grips = choices[0].grips
    index = 0
    while reached_grips:
        step = task.steps[index]
        index += 1
        before = reached_grips
        reached_grips = [
            grip
            for grip in choices[index].grips
            if any(task.hand.move_cost(one, grip, step) is not None for one in before)
        ]
    group, joins = task.groups[index], task.steps[index - 1].joins
    note, kind = next((note, kinds[0]) for note, kinds in zip(group, joins, strict=True) if kinds)
    raise FingeringError(
        f"{note.pitch} cannot be reached from {said(task.groups[index - 1])} by {kind}{task.in_position}",
        value=str(note.pitch),
        where=task.where(group),
        expected=JOIN_NEEDS[MARKS[kind].joins],
        nearest=[f"position “{FREE}”"] if free_hand_can else [],
    )
