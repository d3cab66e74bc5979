"""A course: a folder of lessons with a `course.toml` that puts them in order, in levels, with what each needs first.

    title = "Loops to talk over"
    about = "Five evenings with a backing track."

    [[level]]
    name = "beginner"
    lessons = ["slack-water", "copper-kettle"]

    [needs]
    copper-kettle = ["slack-water"]

Lessons are named by their files, without folder and ending; they are read in the order written.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, closest

from ..checking.findings import USABLE, Finding
from ..files import folded, read_text, slug

FILE = "course.toml"
_WORDS = {"title": str, "about": str, "level": list, "needs": dict}
_MANY_DOTS = re.compile(r"""(?<!["'\w-])(?:["'\w-]++\s*+\.\s*+){50}""")  # Python's reader takes the square of these
_LEVEL_WORDS = {"name": str, "lessons": list}


class CourseError(VampError):
    """A course.toml that cannot be read, or one that contradicts its folder or itself."""


@dataclass(frozen=True, slots=True)
class Level:
    """A part of a course: its name and its lessons in order."""

    name: str
    lessons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """A course as its file says: `needs` names for a lesson those that come before it."""

    folder: Path
    title: str
    about: str
    levels: tuple[Level, ...]
    needs: Mapping[str, tuple[str, ...]]

    @property
    def lessons(self) -> tuple[str, ...]:
        return tuple(name for level in self.levels for name in level.lessons)

    def path(self, name: str) -> Path:
        return self.folder / f"{name}.ipynb"


def read_course(folder: Path) -> Course:
    """The course of a folder; raises CourseError with what is wrong and where, and the nearest name."""
    file = folder / FILE
    if not file.is_file():
        raise CourseError(f"there is no {file}", value=str(folder), expected=f"a folder with a {FILE}")
    text = read_text(file)
    if _MANY_DOTS.search(text):
        raise CourseError("a name is made of fifty and more parts with dots between", where=str(file),
                          expected=", ".join(_WORDS))
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CourseError(f"cannot read it: {error}", where=str(file)) from error
    except (ValueError, RecursionError) as error:  # Python's own bounds on numbers and on depth
        raise CourseError("it holds a number that is too long, or tables within tables without end", where=str(file),
                          expected="a course as the kit's documentation shows it") from error
    _known(data, _WORDS, str(file))
    title = data.get("title", "").strip()
    if not title:
        raise CourseError("the course has no title", where=str(file), expected='title = "…"')
    levels = []
    for number, level in enumerate(data.get("level", ()), 1):
        where = f"{file}, level {number}"
        if not isinstance(level, dict):
            raise CourseError("a level is a table", value=level, where=where, expected="[[level]]")
        _known(level, _LEVEL_WORDS, where)
        levels.append(Level(level.get("name", "").strip() or f"Part {number}", _names(level.get("lessons", []), where)))
    needs = {name: _names(before, f"{file}, needs, {name}") for name, before in data.get("needs", {}).items()}
    course = Course(folder, title, data.get("about", "").strip(), tuple(levels), needs)
    _check(course, file)
    return course


def unlisted(course: Course) -> list[Path]:
    """Lessons in the folder that the course does not name."""
    named = {course.path(name) for name in course.lessons}
    return sorted(path for path in course.folder.glob("*.ipynb") if path not in named)


def check_course(folder: Path) -> list[Finding]:
    """What is wrong with a folder's course.toml, and lessons that it leaves out; nothing in a folder without one."""
    if not (folder / FILE).is_file():
        return []
    try:
        course = read_course(folder)
    except VampError as error:
        return [Finding(folder / FILE, 0, str(error), USABLE)]
    return [Finding(folder / FILE, 0, f"{path.name} stands in no level of the course", USABLE, right="list it in one")
            for path in unlisted(course)]


def _check(course: Course, file: Path) -> None:
    lessons = course.lessons
    if not lessons:
        raise CourseError("the course has no lesson", where=str(file), expected='[[level]] with lessons = ["…"]')
    names = [level.name for level in course.levels]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise CourseError(f"two levels are called “{twice}”", value=twice, where=str(file), expected="a name for each")
    there = {path.stem for path in course.folder.glob("*.ipynb")}
    for name in lessons:
        if name not in there:
            raise CourseError(f"there is no lesson “{name}”", value=name, where=str(file),
                              expected=f"the name of a notebook in {course.folder}", nearest=closest(name, there))
        if lessons.count(name) > 1:
            raise CourseError(f"“{name}” is listed twice", value=name, where=str(file), expected="each lesson once")
    folders = {folded(slug(name)): name for name in lessons}
    if len(folders) < len(lessons):
        lost = next(name for name in lessons if folders[folded(slug(name))] != name)
        raise CourseError(f"“{lost}” and “{folders[folded(slug(lost))]}” share a pack", value=lost, where=str(file))
    for name, before in course.needs.items():
        for one in (name, *before):
            if one not in lessons:
                raise CourseError(f"“{one}” is no lesson of this course", value=one, where=f"{file}, needs",
                                  nearest=closest(one, lessons))
    circle = _circle(course.needs)
    if circle:
        raise CourseError("lessons need each other: " + " needs ".join(circle), value=circle[0], where=f"{file}, needs",
                          expected="needs without a circle")
    for name, before in course.needs.items():
        for one in before:
            if lessons.index(one) > lessons.index(name):
                raise CourseError(f"“{name}” needs “{one}”, which comes after it", value=name, where=f"{file}, needs",
                                  expected="a lesson's needs before it")


def _circle(needs: Mapping[str, Iterable[str]]) -> list[str]:
    """A chain of lessons that ends where it began; empty without one."""
    from graphlib import CycleError, TopologicalSorter

    try:
        TopologicalSorter(needs).prepare()
    except CycleError as error:
        return list(reversed(error.args[1]))
    return []


def _known(table: Mapping[str, Any], words: Mapping[str, type], where: str) -> None:
    for word, value in table.items():
        if word not in words:
            raise CourseError(f"“{word}” means nothing here", value=word, where=where,
                              expected=", ".join(words), nearest=closest(word, words))
        if not isinstance(value, words[word]):
            kinds: dict[type, str] = {str: "text in quotes", list: "a list", dict: "a table"}
            raise CourseError(f"“{word}” is {value!r}", value=value, where=where, expected=kinds[words[word]])


def _names(found: Any, where: str) -> tuple[str, ...]:
    if not isinstance(found, list) or not all(isinstance(name, str) for name in found):
        raise CourseError(f"{found!r} is no list of lessons", value=found, where=where, expected='["first", "second"]')
    return tuple(name.removesuffix(".ipynb") for name in found)
