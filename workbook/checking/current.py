"""Checking that what the kit wrote is what it would write now, of the lesson's choices as they are."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from theorylib.errors import VampError

from ..lesson.chosen import has_choices
from ..lesson.lesson import Lesson
from ..lesson.refreshing import METADATA, Change, refreshed
from .findings import TRUE, Finding, refused

_SHOWN = 70  # signs of a sentence that a finding quotes


def check_current(lesson: Lesson) -> list[Finding]:
    """A finding for each cell of the kit's that was written for other choices; the teacher's are left alone."""
    if not has_choices(lesson):
        return []
    try:
        changes = refreshed(lesson).changes
    except VampError as error:
        return [refused(lesson.path, error)]
    return [_finding(lesson, change) for change in changes]


def stale_cells(lesson: Lesson) -> str:
    """A word to the teacher on the cells that were written for other choices; empty where there are none."""
    found = check_current(lesson)
    if not found:
        return ""
    cells = ", ".join(str(one.cell) for one in found if one.cell)
    said = f"cell{'s' * (cells.count(',') > 0)} {cells}" if cells else "it"
    return f"{said} written for other choices: vampbook refresh"


def _finding(lesson: Lesson, change: Change) -> Finding:
    line = 0
    if change.new is None:
        words = f"“{_shown(change.old or '')}” was written for other choices, which no longer ask for it"
    elif change.old is None:
        words = f"the choices ask for “{_shown(change.new)}”, which is missing"
    else:
        line, old, new = next(_differing(change.old, change.new))
        words = f"“{old}” was written for other choices; now true is “{new}”"
    if change.by == METADATA:
        line, words = 0, f"the notebook's metadata: {words}"
    return Finding(lesson.path, change.number, words, TRUE, line, f"vampbook refresh {lesson.path}")


def _differing(old: str, new: str) -> Iterator[tuple[int, str, str]]:
    """(line from 1, what stood there, what would now) where two texts differ, cut to the words around."""
    for number, (one, two) in enumerate(zip_longest(old.splitlines(), new.splitlines(), fillvalue=""), 1):
        if one == two:
            continue
        start = next((at for at, (a, b) in enumerate(zip(one, two, strict=False)) if a != b), min(len(one), len(two)))
        start = one.rfind(" ", 0, max(0, start - 20)) + 1
        yield number, _shown(one[start:], start > 0), _shown(two[start:], start > 0)


def _shown(text: str, inside: bool = False) -> str:
    """The beginning of a text in one line, without a heading's signs."""
    line = next((row for row in text.splitlines() if row.strip()), "").strip("# ")
    cut = line if len(line) <= _SHOWN else line[:_SHOWN].rsplit(" ", 1)[0] + " …"
    return "… " * inside + cut
