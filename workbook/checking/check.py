"""Checking that a lesson runs and gives what it recorded, by nbval's rules of comparison and its tags and markers."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..lesson.lesson import Lesson
from ..lesson.saved import Cell
from ..mimes import PHOTO_MIMES
from ..running.beside import beside
from ..running.bounds import USUAL, Bounds
from ..running.run import RunError, run_lesson
from ..running.workers import bounded
from .counts import Checked
from .current import check_current
from .drawings import ALT, CAPTION, WORDS, by_meaning, makers
from .findings import Finding, refused
from .pairing import check_pair
from .phrases import check_typed_over
from .said import check_said
from .truth import check_truth
from .usable import check_usable

_SLACK_SECONDS = 60
RIGHT = "run the lesson and save it, or put back what was changed"
# nbval's markers in comments (as tags: lower case, with hyphens), and its fields that are not compared.
_SKIP, _RAISES, _IGNORE = "NBVAL_SKIP", "NBVAL_RAISES_EXCEPTION", "NBVAL_IGNORE_OUTPUT"
_UNCOMPARED = {"metadata", "traceback", "prompt_number", "output_type", "name", "execution_count",
               "application/vnd.jupyter.widget-view+json", *PHOTO_MIMES}
_READABLE = ("ename", "evalue", "stdout", "stderr", "text/plain", "text/markdown", WORDS, ALT, CAPTION)


def check_lesson(path: Path, run: bool = True, bounds: Bounds = USUAL) -> Checked:
    """Everything that is wrong with a lesson, by all three layers, and how much was checked; with `run` it is run again
    and compared.

    Its file is read once: every layer asks the same value.
    """
    try:
        lesson = Lesson.read(path)
    except VampError as error:
        return Checked((refused(path, error),))
    packing = "reading it and making its pack", bounds.seconds, bounds.memory_mb
    bounded(*packing)
    usable = beside(lambda: check_usable(lesson))  # its pack takes as long as all the rest
    found: list[Checked | list[Finding]] = [
        check_truth(lesson), check_said(lesson), check_current(lesson), check_typed_over(lesson),
        check_recorded(lesson)]
    ran: list[Finding] = []
    if run:
        bounded("running it", bounds.seconds + _SLACK_SECONDS)  # which keeps its own bounds
        ran = check_runs(lesson, bounds)
        bounded(*packing)
    return Checked.of([*found, usable(), check_pair(lesson), ran])


def check_runs(lesson: Lesson, bounds: Bounds = USUAL) -> list[Finding]:
    """Run a lesson again and compare its outputs with the recorded ones; a cell without a record is left to others."""
    to_run = lesson.with_cells(map(_tagged_to_run, lesson.cells))
    try:
        ran = run_lesson(to_run, bounds=bounds)
    except RunError as error:
        return [_raised(lesson.path, error)]
    found = []
    otherwise: dict[tuple[str, str], list[int]] = defaultdict(list)
    for now, then in zip(ran.cells, lesson.cells, strict=True):
        if not _is_compared(then):
            continue
        shown = [one.raw for one in now.outputs], [one.raw for one in then.outputs]
        words = difference(*shown)
        drawn_by = makers(*shown)
        if words:
            found.append(Finding(lesson.path, then.number, words, right=RIGHT))
        elif drawn_by != ("", ""):
            otherwise[drawn_by].append(then.number)
    return found + [_drawn_by_others(lesson.path, *who, cells) for who, cells in otherwise.items()]


def _tagged_to_run(cell: Cell) -> Cell:
    """The cell with the tag by which a run knows what nbval's marker in it asks for."""
    marks = _markers(cell)
    more = ["skip-execution"] if _SKIP in marks else ["raises-exception"] if _RAISES in marks else []
    return cell.with_tags(*sorted({*cell.tags, *more})) if more else cell


def _is_compared(cell: Cell) -> bool:
    return cell.is_code and cell.execution_count is not None and not _markers(cell) & {_SKIP, _IGNORE}


def _raised(path: Path, error: RunError) -> Finding:
    """What stopped a run, at the cell and the line in it that the error names."""
    cell, line = re.match(r"cell (\d+)", error.where), re.search(r", line (\d+)$", error.where)
    words = f"it raises {error.message}" if error.value else error.message
    return Finding(path, int(cell[1]) if cell else 0, words, line=int(line[1]) if line else 0, right=RIGHT)


def _drawn_by_others(path: Path, then: str, now: str, cells: list[int]) -> Finding:
    """The word to the teacher that the pictures of some cells would look otherwise here, and mean the same."""
    where = f"cell{'s' * (len(cells) > 1)} {', '.join(map(str, cells))}"
    return Finding(path, 0, f"{where} drawn by {then}, here draws {now}: the strokes differ, not what they say",
                   right="to draw anew, run the lesson and save it", note=True)


def check_recorded(lesson: Lesson) -> list[Finding]:
    """Cells that were never run: nbval would pass them in silence."""
    return [Finding(lesson.path, cell.number, "this cell was never run", right="run the lesson and save it")
            for cell in lesson.cells if cell.is_code and not cell.is_empty and cell.execution_count is None]


def difference(now: list[Mapping[str, Any]], then: list[Mapping[str, Any]]) -> str:
    """How a cell's outputs differ from the recorded ones in what nbval compares; empty when they do not."""
    new, old = map(_by_field, by_meaning(now, then))
    differing = [field for field in sorted(new.keys() | old.keys()) if new.get(field) != old.get(field)]
    if not differing:
        return ""
    field = next((one for one in _READABLE if one in differing), differing[0])
    change = next(((one, two) for one, two in _pairs(old.get(field, []), new.get(field, [])) if one != two), ("", ""))
    if field not in _READABLE:
        return f"its output differs from the recorded one in {field}"
    return f"its output differs from the recorded one: recorded “{change[0]}”, now “{change[1]}”"[:300]


def _pairs(old: list[str], new: list[str]) -> Iterator[tuple[str, str]]:
    """The lines side by side."""
    one, two = "\n".join(old).split("\n"), "\n".join(new).split("\n")
    for index in range(max(len(one), len(two))):
        yield (one[index].strip() if index < len(one) else ""), (two[index].strip() if index < len(two) else "")


def _by_field(outputs: list[Mapping[str, Any]]) -> dict[str, list[str]]:
    """Every field of the outputs that nbval compares, with its values in order; streams by their name, joined."""
    found: dict[str, list[str]] = defaultdict(list)
    for output in outputs:
        if output["output_type"] == "stream":
            name, text = output["name"], "".join(output["text"])
            found[name] = ["".join(found.get(name, ())) + text]
            continue
        for field, value in {**output, **output.get("data", {})}.items():
            if field not in _UNCOMPARED and field != "data":
                found[field].append(value if isinstance(value, str) else "".join(value)
                                    if isinstance(value, list) and all(isinstance(one, str) for one in value)
                                    else json.dumps(value, sort_keys=True))
    return dict(found)


def _markers(cell: Cell) -> set[str]:
    """What a cell asks for, by nbval's markers in its comments or by its tags."""
    lines = [line.strip() for line in cell.source.splitlines()] if cell.is_code else []
    comments = {line.lstrip("#").strip() for line in lines if line.startswith("#")}
    tags = {tag.upper().replace("-", "_") for tag in cell.tags}
    old = {"PYTEST_VALIDATE_IGNORE_OUTPUT": _IGNORE, "RAISES_EXCEPTION": _RAISES}
    return {old.get(word, word) for word in comments | tags}
