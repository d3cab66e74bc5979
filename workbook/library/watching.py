"""A lesson kept built while it is edited: each saved change is made into its pack in this process, which stays warm.

A change of words needs no run: the outputs are those of the last one. Only where the code, or what it read when it ran,
changed, is the lesson run again, in a process of its own. What is drawn and rendered is kept from one time to the next
(handouts/remembered.py), so that only what changed is made.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..checking.findings import Finding
from ..checking.said import check_said
from ..checking.truth import check_truth
from ..files import is_temporary
from ..lesson.lesson import Lesson
from ..running.bounds import Bounds
from ..running.run import RunError, run_lesson
from ..running.workers import Lost, each
from .making import make, put
from .orders import How, Order, Outcome
from .records import digest
from .stamps import absolute, beside_of, stamps

LOOK_SECONDS = 0.1  # between two looks at the file
_RUN = "workbook.library.watching:run_apart"  # by a process that never ran typst, after which a fork would hang


@dataclass(frozen=True, slots=True)
class Renewed:
    """What one saved change led to: the pack, and the seconds from then on."""

    outcome: Outcome
    seconds: float
    was_run: bool


@dataclass(slots=True)
class Watch:
    """A lesson that is watched, and what its last run gave."""

    order: Order
    how: How
    code: list[str] = field(default_factory=list)
    outputs: list[list[Any]] = field(default_factory=list)  # of each code cell
    reads: list[str] = field(default_factory=list)
    read_then: dict[str, Any] = field(default_factory=dict)
    was_run: bool = False
    lesson: Lesson | None = None  # as its pack shows it

    def renewed(self) -> Renewed:
        """Make the pack of what is saved now; what is wrong comes back as the outcome's error."""
        start, self.was_run = time.perf_counter(), False
        beside = beside_of(self.order.path.parent)
        made = make(self.order, self.how, self._ran)
        outcome = put(self.order, made, digest(self.order, self.how, beside))
        return Renewed(outcome, time.perf_counter() - start, self.was_run)

    def findings(self) -> list[Finding]:
        """What is false in the lesson, of its music and of its sentences."""
        return [] if self.lesson is None else [*check_truth(self.lesson).findings, *check_said(self.lesson).findings]

    def _ran(self, lesson: Lesson, reads: set[str]) -> Lesson:
        """The lesson as saved, or with the outputs of its last run; of a new one where that may have given others."""
        if not self.how.run:
            self.lesson = lesson
            return lesson
        code = [cell.source for cell in lesson.cells if cell.is_code]
        if code != self.code or stamps(self.reads) != self.read_then:
            self._run(lesson, code)
        reads |= set(self.reads)
        self.lesson = _with_outputs(lesson, self.outputs)
        return self.lesson

    def _run(self, lesson: Lesson, code: list[str]) -> None:
        self.was_run, self.code = True, []
        seconds = self.how.bounds.seconds + 60
        ((_, done),) = each(_RUN, [(lesson, self.how.bounds)], 1, seconds)
        if isinstance(done, Lost):
            raise RunError(done.why)
        self.outputs, reads = done
        self.reads = sorted(absolute(one, lesson.path.parent) for one in reads)
        self.code, self.read_then = code, stamps(self.reads)


def run_apart(lesson: Lesson, bounds: Bounds) -> tuple[list[list[Any]], set[str]]:
    """The outputs of each code cell, and what the lesson read; raises RunError."""
    reads: set[str] = set()
    ran = run_lesson(lesson, bounds=bounds, reads=reads)
    return [cell["outputs"] for cell in ran.raw["cells"] if cell["cell_type"] == "code"], reads


def _with_outputs(lesson: Lesson, outputs: list[list[Any]]) -> Lesson:
    notebook = lesson.notebook
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    for number, (cell, shown) in enumerate(zip(code, outputs, strict=True), 1):
        cell["outputs"], cell["execution_count"] = shown, number
    return lesson.with_notebook(notebook)


def changes(watch: Watch, looks: Iterator[None]) -> Iterator[Renewed]:
    """The pack of the lesson as it stands, then one for each change that is saved of it or beside it, while there are
    looks."""
    seen: object = None
    for _ in looks:
        try:
            about = watch.order.path.stat()
            now: object = (about.st_mtime_ns, about.st_size, about.st_ino, _beside(watch.order.path.parent))
        except OSError:  # between two names, while an editor saves
            continue
        if now != seen:
            seen = now
            yield watch.renewed()


def _beside(folder: Path) -> list[tuple[str, int, int]]:
    """What else lies in the folder: a recording, the text of its bars, a picture may be corrected as the lesson is."""
    found = [one for one in os.scandir(folder) if not one.name.startswith(".") and not one.name.endswith(".ipynb")]
    seen = ((one.name, one.stat()) for one in found if one.is_file() and not is_temporary(one.name))
    return sorted((name, about.st_mtime_ns, about.st_size) for name, about in seen)


def every(seconds: float = LOOK_SECONDS) -> Iterator[None]:
    """Looks for ever."""
    while True:
        yield
        time.sleep(seconds)

