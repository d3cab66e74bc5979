"""A lesson as a saved notebook: reading it, what its outputs hold, and writing it so that none is lost."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.limits import TEMPO, exact, within
from theorylib.playing.lines import Line

from ..files import keep_beside, write_new, write_whole
from ..mimes import CHART_MIME, LINE_MIME, stored_text
from .door import LessonError, read_notebook

T = TypeVar("T")


def read_lesson(path: Path) -> dict[str, Any]:
    """The notebook's JSON, its shape checked; raises LessonError naming the file, the cell and the field."""
    return read_notebook(path)


def notebook_text(notebook: Mapping[str, Any]) -> str:
    """The notebook as Jupyter itself writes it: keys sorted, one space of indent, a newline at the end."""
    return json.dumps(notebook, ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def lines_in(notebook: Mapping[str, Any]) -> tuple[tuple[int, Line], ...]:
    """(cell number from 1, line) for each line that the stored outputs hold, in order; raises with the first fault."""
    return tuple(_all_right(lines_or_faults(notebook)))


def charts_in(notebook: Mapping[str, Any]) -> tuple[Chart, ...]:
    """The charts that the stored outputs show, in order; raises with the first fault."""
    return tuple(chart for _, chart in _all_right(charts_or_faults(notebook)))


def lines_or_faults(notebook: Mapping[str, Any]) -> Iterator[tuple[int, Line | VampError]]:
    """lines_in, with the error in the place of a line that cannot be read."""
    return _stored(notebook, LINE_MIME, Line.from_json)


def charts_or_faults(notebook: Mapping[str, Any]) -> Iterator[tuple[int, Chart | VampError]]:
    """(cell number, chart) for each chart that the stored outputs show, or the error in its place."""
    return _stored(notebook, CHART_MIME, Chart.parse)


def _stored(notebook: Mapping[str, Any], mime: str, read: Callable[[str], T]) -> Iterator[tuple[int, T | VampError]]:
    for number, cell in enumerate(notebook["cells"], 1):
        for output in cell.get("outputs", ()):
            text = stored_text(output.get("data", {}), mime)
            if text is None:
                continue
            try:
                yield number, read(text)
            except VampError as error:
                yield number, error.at(", ".join(filter(None, (f"cell {number}", error.where))))


def _all_right(found: Iterator[tuple[int, T | VampError]]) -> Iterator[tuple[int, T]]:
    for number, value in found:
        if isinstance(value, VampError):
            raise value
        yield number, value


def title_of(notebook: Mapping[str, Any], path: Path) -> str:
    about = notebook.get("metadata", {}).get("vampbook", {})
    return str(about.get("title") or path.stem.replace("-", " ").capitalize())


def tempo_of(notebook: Mapping[str, Any]) -> Fraction | None:
    tempo = notebook.get("metadata", {}).get("vampbook", {}).get("tempo")
    if tempo is None:
        return None
    try:
        found = exact(tempo, "tempo")
        within(found, TEMPO, "tempo")
    except VampError as error:
        raise LessonError(f"“{tempo!s:.40}” is no tempo", value=tempo, where="the notebook's metadata, vampbook, tempo",
                          expected=f"quarter notes a minute, {TEMPO[0]} to {TEMPO[1]}, such as 92") from error
    return found


def write_lesson(path: Path, notebook: Mapping[str, Any], *, replace: bool = False) -> Path | None:
    """Write a lesson. With `replace` one that is there is replaced and kept beside: gives the copy, if it differed.

    Raises FileError where one is there otherwise, even if it came just now.
    """
    text = notebook_text(notebook)
    if not replace or not os.path.lexists(path):
        write_new(path, text)
        return None
    kept = keep_beside(path) if not path.is_file() or path.read_bytes() != text.encode() else None
    write_whole(path, text)
    return kept
