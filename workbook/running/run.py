"""Running a lesson apart from everything else, within bounds, and recording its outputs so that they can be compared.

Where a process can be forked, each lesson runs in a fork of this one, which has imported everything already; elsewhere
(Windows, or a process with threads of its own) in a kernel that waits for it. Both give the same outputs.
"""

from __future__ import annotations

import json
import os
import re
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..lesson.door import checked
from ..lesson.lesson import Lesson
from .bounds import USUAL, Bounds
from .ended import CellFailed, CellStopped
from .forked import code_cells, run_forked

_WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
_Ran = tuple[dict[str, Any], list[str]]  # the notebook with its outputs, and the files that it read
_WITHIN = "a lesson that keeps within its bounds"


class RunError(VampError):
    """A lesson that raises, hangs, takes too much or cannot be started."""


def can_fork() -> bool:
    """Whether a fork of this process can run Python safely: the system has it, and no other thread holds a lock."""
    return hasattr(os, "fork") and threading.active_count() == 1


def run_lesson(lesson: Lesson, folder: Path | None = None, *, on_cell: Callable[[int, int], None] | None = None,
               bounds: Bounds = USUAL, reads: set[str] | None = None) -> Lesson:
    """The lesson with fresh outputs, run in `folder` (None: its own); raises as run_notebook."""
    where = lesson.path.parent if folder is None else folder
    return Lesson(lesson.path, run_notebook(lesson.raw, where, on_cell=on_cell, bounds=bounds, reads=reads))


def run_notebook(notebook: Mapping[str, Any], folder: Path, *, on_cell: Callable[[int, int], None] | None = None,
                 bounds: Bounds = USUAL, fork: bool | None = None, reads: set[str] | None = None) -> dict[str, Any]:
    """A notebook's JSON with fresh outputs, run in `folder`; the given one is not touched.

    Raises RunError with the number of the cell that failed or overran, LessonError for an output of no known shape.
    `on_cell(done, all)` is called before each code cell; `fork` chooses the way (None: forked where it can be); `reads`
    is given the files that it read (reads.read).
    """
    copy = json.loads(json.dumps(notebook))
    code = code_cells(copy)

    def begins(index: int) -> None:
        if on_cell is not None:
            on_cell(code.index(index), len(code))

    if not folder.is_dir():
        raise RunError(f"there is no folder {folder} to run in", value=str(folder))
    try:
        if can_fork() if fork is None else fork:
            ran, read = run_forked(copy, folder, begins, bounds, noting=reads is not None)
        else:
            ran, read = _in_kernel(copy, folder, begins, bounds)
    except CellFailed as error:
        raise _raised(error.node) from error
    except CellStopped as error:
        raise RunError(str(error), where=_place(copy, error.index), expected=_WITHIN) from error
    if reads is not None:
        reads.update(read)
    return checked(frozen(ran))


def _in_kernel(notebook: dict[str, Any], folder: Path, begins: Callable[[int], None], bounds: Bounds) -> _Ran:
    from .kernel import run_in_kernel  # imports what only this way needs

    try:
        return run_in_kernel(notebook, folder, begins, bounds)
    except OSError as error:
        raise RunError(f"the kernel cannot be started: {error.strerror or error}", value=str(folder)) from error


def frozen(notebook: dict[str, Any]) -> dict[str, Any]:
    """The notebook without what must not be stored or depends on chance: widget state, views that have a static twin,
    and where a kernel's streams were cut."""
    notebook["metadata"].pop("widgets", None)
    notebook["metadata"]["language_info"] = {"name": "python"}  # versions of the machine make no diff
    for cell in notebook["cells"]:
        cell.get("metadata", {}).pop("execution", None)
        if cell.get("outputs"):
            cell["outputs"] = _streams_joined(cell["outputs"])
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if _WIDGET_VIEW in data and {"image/svg+xml", "text/html", "text/markdown"} & data.keys():
                del data[_WIDGET_VIEW]
    return notebook


def _streams_joined(outputs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Texts of one stream between two displays as one."""
    found: list[dict[str, Any]] = []
    here: dict[str, dict[str, Any]] = {}
    for output in outputs:
        if output["output_type"] != "stream":
            here = {}
        elif output["name"] in here:
            one = here[output["name"]]
            one["text"] = "".join([*one["text"], *output["text"]]).splitlines(True)
            continue
        else:
            here[output["name"]] = output
        found.append(output)
    return found


# -- what went wrong -------------------------------------------------------------------------------------------------
def _raised(notebook: Mapping[str, Any]) -> RunError:
    for index, cell in enumerate(notebook["cells"]):
        for output in cell.get("outputs", ()):
            if output["output_type"] == "error":
                line = _line_in(output["traceback"])
                return RunError(f"{output['ename']}: {output['evalue']}", value=output["ename"],
                                where=_place(notebook, index) + line)
    return RunError("a cell failed", where="the lesson")


def _place(notebook: Mapping[str, Any], index: int) -> str:
    return f"cell {index + 1} “{notebook['cells'][index].get('id', '')}”" if notebook["cells"] else "the lesson"


def _line_in(traceback: list[str]) -> str:
    """The line of the cell that raised, read from IPython's traceback; empty when it is not there."""
    plain = re.sub(r"\x1b\[[0-9;]*m", "", "\n".join(traceback))
    match = re.search(r"Cell In\[\d+\], line (\d+)", plain)
    return f", line {match[1]}" if match else ""
