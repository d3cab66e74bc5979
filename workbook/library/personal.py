"""Packs for one student or a roster: the lesson in their key, tuning and tempo, for their hand and their note names.

A roster is a CSV file with a header; every column but `name` may be missing or empty:

    name,tuning,left handed,large print,level,key,tempo,note names
    Ada,drop D,yes,,beginner,A,60-80,german
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, closest
from theorylib.levels import LEVELS, is_above
from theorylib.names.spelling import NOTE_NAMES, NoteLanguage, note_names
from theorylib.necks.tunings import Tuning

from ..checking.truth import check_truth
from ..checking.usable import spelled_against_key
from ..files import folded, read_text, slug
from ..lesson.chosen import with_injected
from ..lesson.lesson import Lesson
from ..lesson.names import in_words, renamed_prose
from ..reader import EVERYONE, Reader
from ..running.bounds import Bounds
from ..running.run import run_lesson
from .moving import Target, hand_shifts, moved

STEPS = {"beginner": 6, "intermediate": 4, "advanced": 3}  # of a practice plan: by judgement, smaller for a beginner
_TRIES = 4
_YES, _NO = ("yes", "y", "true", "x", "1"), ("no", "n", "false", "", "0")


class RosterError(VampError):
    """A roster or a student that cannot be read, or a lesson that cannot be made theirs."""


@dataclass(frozen=True, slots=True)
class Student:
    """For whom a pack is made; empty or None: as the lesson has it. `tempos` are quarter notes a minute."""

    name: str = ""
    tuning: str = ""
    left_handed: bool = False
    large_print: bool = False
    level: str = ""
    key: str = ""
    tempos: tuple[int, int] | None = None
    note_names: NoteLanguage = "english"

    @property
    def target(self) -> Target:
        return Target(self.key, self.tuning, self.tempos)

    @property
    def reader(self) -> Reader:
        return Reader(self.left_handed, self.note_names, self.tempos, STEPS.get(self.level, EVERYONE.steps))


def read_roster(path: Path) -> tuple[Student, ...]:
    """The students of a CSV file; raises RosterError with row and column of what cannot be read."""
    text = read_text(path).removeprefix("\ufeff")  # as spreadsheets begin a file
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",")
    rows = _rows(reader, path)
    columns = [re.sub(r"[\s_-]+", " ", word.strip().lower()) for word in next(rows, [])]
    for column in columns:
        if column not in _COLUMNS:
            raise RosterError(f"“{column}” is no column of a roster", value=column, where=f"{path}, row 1",
                              expected=", ".join(_COLUMNS), nearest=closest(column, _COLUMNS))
    if "name" not in columns:
        raise RosterError("the roster has no column “name”", where=f"{path}, row 1", expected=", ".join(_COLUMNS))
    found: dict[str, Student] = {}
    for number, row in enumerate(rows, 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) > len(columns):
            raise RosterError(f"{len(row)} cells under {len(columns)} columns", value=row[len(columns)],
                              where=f"{path}, row {number}", expected="quotes around a cell that holds a comma")
        student = student_of(dict(zip(columns, row, strict=False)), f"{path}, row {number}")
        place = folded(slug(student.name))
        if place in found:
            raise RosterError(f"“{student.name}” and “{found[place].name}” would share a folder", value=student.name,
                              where=f"{path}, row {number}", expected="names that differ in letters or digits")
        found[place] = student
    if not found:
        raise RosterError("the roster names nobody", where=str(path), expected="a row for each student")
    return tuple(found.values())


def _rows(reader: Any, path: Path) -> Iterator[list[str]]:
    try:
        yield from reader
    except csv.Error as error:
        raise RosterError(f"the roster cannot be read: {error}", value=str(path),
                          where=f"{path}, line {reader.line_num}", expected="a CSV file") from error


def student_of(cells: Mapping[str, str], where: str) -> Student:
    """A student from texts by column; raises RosterError that names the column."""
    values: dict[str, Any] = {}
    for column, text in cells.items():
        if not text.strip():
            continue
        field, read = _COLUMNS[column]
        try:
            values[field] = read(text.strip())
        except VampError as error:
            raise RosterError(error.message, value=text, where=f"{where}, {column}", expected=error.expected,
                              nearest=error.nearest) from error
    if not values.get("name"):
        raise RosterError("a student without a name", where=where, expected="a name in every row")
    try:
        slug(values["name"])
    except VampError as error:
        raise error.at(where) from error
    return Student(**values)


def personal_lesson(lesson: Lesson, student: Student, bounds: Bounds, reads: set[str] | None = None) -> Lesson:
    """The lesson moved to what a student needs, run and found true; `reads` as for run_lesson.

    Raises RosterError with the reason where it cannot be played so.
    """
    refused: VampError | None = None
    for frets in hand_shifts(lesson, student.target)[:_TRIES]:
        new = _told_the_reader(moved(lesson, student.target, frets), student)
        try:
            ran = run_lesson(new, bounds=bounds, reads=reads)
        except VampError as error:
            refused = refused or error
            continue
        wrong = _wrong(ran, student)
        if not wrong:
            return _said_to(ran, student)
        refused = refused or RosterError(wrong)
    what = " ".join(filter(None, (student.key and f"in {student.key}", student.tuning and f"tuned {student.tuning}")))
    assert refused is not None
    raise RosterError(f"it cannot be played {what or 'so'}: {refused}", value=student.key or student.tuning)


def _told_the_reader(lesson: Lesson, student: Student) -> Lesson:
    """The lesson telling the kit, in its injected cell, for whom it draws."""
    if student.reader == EVERYONE:
        return lesson
    said = [f"left_handed={student.left_handed}", f"note_names={student.note_names!r}", f"tempos={student.tempos}",
            f"steps={student.reader.steps}"]
    call = f"for_reader({', '.join(said)})"
    there = next((cell for cell in lesson.cells if cell.id == "injected"), None)
    if there is not None:
        return lesson.with_sources({there.number: f"{there.source}\n{call}"})
    return with_injected(lesson, {}, call)


def _wrong(ran: Lesson, student: Student) -> str:
    """What is false in the moved lesson, or was not moved; empty when all is well."""
    if student.tuning:
        wanted = Tuning.parse(student.tuning)
        for number, line in ran.lines:
            if line.tuning.open_strings != wanted.open_strings:
                return f"cell {number} does not follow the parameter “tuning”"
    found = [*check_truth(ran).findings, *spelled_against_key(ran)]
    return next((f"cell {one.cell}: {one.message}" for one in found if not one.offer), "")


def _said_to(ran: Lesson, student: Student) -> Lesson:
    """The prose in the student's note names, and whose lesson it is."""
    if student.note_names != EVERYONE.note_names:
        with note_names(student.note_names):
            words = {number: _renamed(text) for number, text in ran.prose}
            ran = ran.with_sources(words).with_about(aims=list(map(_renamed, ran.about.aims)))
    return ran.with_about(student=student.name) if student.name else ran


def _renamed(text: str) -> str:
    return in_words(text, lambda words: renamed_prose(words, lambda name: name.pretty, None))


def _yes(text: str) -> bool:
    if text.lower() in _YES:
        return True
    if text.lower() in _NO:
        return False
    raise RosterError(f"“{text}” is neither yes nor no", value=text, expected="yes or no")


def _one_of(known: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text.lower() not in known:
            raise RosterError(f"“{text}” is not known here", value=text, expected=" or ".join(known),
                              nearest=closest(text, known))
        return text.lower()

    return read


def _tuning(text: str) -> str:
    Tuning.parse(text)
    return text


def _key(text: str) -> str:
    from theorylib.names.scales import Scale

    Scale.parse(text)
    return text


def read_tempos(text: str) -> tuple[int, int]:
    """(slowest, goal) from "60-92" or "80"."""
    words = text.replace("–", "-").replace(" to ", "-").split("-")
    try:
        low, high = (int(words[0]), int(words[-1])) if len(words) <= 2 else (0, 0)
        return Reader(tempos=(low, high)).tempos or (low, high)
    except (ValueError, VampError):
        raise RosterError(f"“{text}” is no range of tempos", value=text,
                          expected="quarter notes a minute such as 60-92, the slower first, from 20 to 400") from None


_COLUMNS: dict[str, tuple[str, Callable[[str], Any]]] = {
    "name": ("name", str), "tuning": ("tuning", _tuning), "left handed": ("left_handed", _yes),
    "large print": ("large_print", _yes), "level": ("level", _one_of(LEVELS)), "key": ("key", _key),
    "tempo": ("tempos", read_tempos), "note names": ("note_names", _one_of(tuple(NOTE_NAMES))),
}


def with_large_print(options: Mapping[str, Any], student: Student) -> dict[str, Any]:
    """The options of a pack with the student's own."""
    return {**options, "large_print": options.get("large_print", False) or student.large_print}


def too_hard(lesson: Lesson, student: Student) -> str:
    """A word to the teacher where a lesson is above a student's level; empty otherwise."""
    level = lesson.about.level
    if is_above(level, student.level):
        return f"the lesson is {level}, {student.name} is {student.level}"
    return ""
