"""A task for the ear: what is asked, what sounds, what may be answered; and the text in which tasks are stored.

Beats are counted from the start of the task, pitches are MIDI numbers as they sound. A task without choices is answered
by singing or playing, and its answer tells what was right; `after` sounds with the answer.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ..errors import VampError
from ..limits import exact, is_whole
from ..plain_json import read_json

KINDS = ("change", "quality", "degree", "echo", "sing")
VERSION = 1
MOST_TASKS, MOST_SOUNDS, MOST_CHOICES = 40, 64, 8
LONGEST_TEXT, MOST_BEATS = 240, 64
PITCHES = (24, 100)  # what a guitar and its bass reach


class EarError(VampError):
    """A task for the ear that cannot be made, or stored text that is none."""


@dataclass(frozen=True, slots=True)
class Sound:
    """A note that is heard: from when, how long, how high."""

    onset_beats: Fraction
    duration_beats: Fraction
    midi: int


@dataclass(frozen=True, slots=True)
class EarTask:
    """One task; `kind` is one of KINDS, `answer` one of the `choices` where there are any.

    `plays` says in words what somebody who plays it has to play; empty where the answer says so.
    """

    kind: str
    asks: str
    sounds: tuple[Sound, ...]
    answer: str
    choices: tuple[str, ...] = ()
    after: tuple[Sound, ...] = ()
    plays: str = ""


def ear_text(tasks: Iterable[EarTask]) -> str:
    """The tasks as JSON; `read_ear_text` reads the same back."""
    rows = [
        {
            "kind": task.kind,
            "asks": task.asks,
            "sounds": _rows(task.sounds),
            "answer": task.answer,
            "choices": list(task.choices),
            "after": _rows(task.after),
            "plays": task.plays,
        }
        for task in tasks
    ]
    return json.dumps({"version": VERSION, "tasks": rows}, ensure_ascii=False)


def _rows(sounds: tuple[Sound, ...]) -> list[list[Any]]:
    return [[str(one.onset_beats), str(one.duration_beats), one.midi] for one in sounds]


def read_ear_text(text: str) -> tuple[EarTask, ...]:
    """The tasks of a stored text; raises EarError that names the task and the field."""
    data = read_json(text)
    rows = data.get("tasks") if isinstance(data, dict) else None
    if not isinstance(rows, list) or data.get("version") != VERSION or len(rows) > MOST_TASKS:
        raise EarError(
            "this text holds no tasks for the ear",
            value=text[:40],
            expected=f"version {VERSION}, at most {MOST_TASKS} tasks",
        )
    return tuple(_task(row, f"task {number}") for number, row in enumerate(rows, 1))


def _task(row: Any, where: str) -> EarTask:
    fields = ("kind", "asks", "sounds", "answer", "choices", "after", "plays")
    if not isinstance(row, dict) or set(row) != set(fields):
        raise EarError("this is no task", value=str(row)[:40], where=where, expected=", ".join(fields))
    choices = row["choices"]
    if not isinstance(choices, list) or len(choices) > MOST_CHOICES:
        raise _field("choices", choices, where, f"a list of at most {MOST_CHOICES} texts")
    task = EarTask(
        _text(row["kind"], "kind", where),
        _text(row["asks"], "asks", where),
        _sounds(row["sounds"], "sounds", where),
        _text(row["answer"], "answer", where),
        tuple(_text(one, "choices", where) for one in choices),
        _sounds(row["after"], "after", where),
        _text(row["plays"], "plays", where) if row["plays"] != "" else "",
    )
    if task.kind not in KINDS:
        raise _field("kind", task.kind, where, ", ".join(KINDS))
    if not task.sounds:
        raise _field("sounds", "", where, "at least one sound")
    if task.choices and task.answer not in task.choices:
        raise _field("answer", task.answer, where, "one of the choices")
    return task


def _text(value: Any, name: str, where: str) -> str:
    if isinstance(value, str) and 0 < len(value) <= LONGEST_TEXT and value.isprintable():
        return value
    raise _field(name, value, where, f"a line of 1 to {LONGEST_TEXT} signs")


def _sounds(rows: Any, name: str, where: str) -> tuple[Sound, ...]:
    if not isinstance(rows, list) or len(rows) > MOST_SOUNDS:
        raise _field(name, rows, where, f"a list of at most {MOST_SOUNDS} sounds")
    return tuple(_sound(row, name, where) for row in rows)


def _sound(row: Any, name: str, where: str) -> Sound:
    expected = "[onset in beats, duration in beats, MIDI number]"
    if not isinstance(row, list) or len(row) != 3 or not is_whole(row[2], *PITCHES):
        raise _field(name, row, where, expected)
    try:
        onset, duration = exact(row[0]), exact(row[1])
    except VampError as error:
        raise _field(name, row, where, expected) from error
    if not 0 <= onset <= MOST_BEATS or not 0 < duration <= MOST_BEATS:
        raise _field(name, row, where, f"{expected}, within {MOST_BEATS} beats")
    return Sound(onset, duration, row[2])


def _field(name: str, value: Any, where: str, expected: str) -> EarError:
    return EarError(
        f"“{str(value)[:40]}” is no field “{name}” of a task",
        value=str(value)[:40],
        where=where,
        expected=expected,
    )
