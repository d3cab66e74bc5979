"""Which notebook a running cell stands in: as far as Jupyter tells, and only where its file holds that very cell."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .door import LessonError
from .lesson import Lesson

_JUPYTER = "JPY_SESSION_NAME"       # the notebook's path when its kernel started, by jupyter_server
_EDITOR = "__vsc_ipynb_file__"      # the same in an editor that runs notebooks itself
_SAY = 'the path of the notebook, as refresh("lessons/x.ipynb")'


def lesson_here(names: Mapping[str, Any]) -> Lesson:
    """The saved lesson whose cell runs, by the `names` of its kernel.

    Raises LessonError where nothing tells the notebook, where its file does not hold the cell (it was renamed since, or
    not saved), or where its choices were run with other values than are saved.
    """
    running = next(iter(names.get("In", ())[-1:]), "")
    told = str(names.get(_EDITOR) or os.environ.get(_JUPYTER, ""))
    path = Path(told)
    if path.suffix != ".ipynb" or not path.is_file():
        raise LessonError("nothing tells which notebook this cell stands in", value=told, expected=_SAY)
    lesson = Lesson.read(path)
    if not any(cell.is_code and cell.source.strip() == running.strip() for cell in lesson.cells):
        raise LessonError(f"{path} does not hold this cell", value=told, expected=f"it saved first, or {_SAY}")
    for name, value in lesson.choices.items():
        if name in names and names[name] != value:
            raise LessonError(f"{path} sets {name} to {value!r}, and here it is {names[name]!r}", value=names[name],
                              expected="the notebook saved, and its cells run in order")
    return lesson

