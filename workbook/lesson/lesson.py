"""A lesson as one frozen value: read once, asked by everybody, changed by making another, written here alone.

    lesson = Lesson.read(path)

| what it offers | |
|---|---|
| `path`, `title` | its file; what it calls itself, else its file's name |
| `cells` | `Cell`: number, kind (text, code, raw), source, id, tags, outputs, execution_count |
| `about` | `About`: title, level, minutes, tempo, feel, key, home, language, student, aims, techniques |
| `choices` | what its cells tagged `parameters` and `injected-parameters` set to a literal, by name |
| `parameters` | every name that its cell tagged `parameters` sets |
| `lines`, `charts` | (cell number, value) of what its outputs carry; raise with the first fault |
| `stored_lines`, `stored_charts` | the same with each fault, placed, where its value would stand |
| `prose` | (cell number, words) of its text cells |
| `shown_prose` | the words of its text cells and what its code shows as Markdown |
| `claims` | (cell number, line in it, claim) of each marked claim |
| `was_run` | whether a code cell holds outputs, or none could |
| `with_sources`, `with_cell_after`, `with_cells`, `with_about`, `with_metadata`, `with_notebook` | a changed copy |
| `notebook` | a copy as nbformat's JSON, for what runs or converts it |
| `text`, `write(...)` | its file's text, as Jupyter writes it; the writer |

Each is worked out once, when it is first asked for.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from theorylib.changes.charts import Chart
from theorylib.claims import marked
from theorylib.errors import VampError
from theorylib.playing.lines import Line

from ..files import keep_beside, write_new, write_whole
from .choices import INJECTED, PARAMETERS, names_set, values_set
from .door import read_notebook
from .saved import About, Cell, Output

T = TypeVar("T")
_NOWHERE = Path("lesson.ipynb")


@dataclass(frozen=True)
class Lesson:
    """A lesson (see the table above). Two are equal when their files' names and their notebooks are."""

    path: Path
    raw: Mapping[str, Any] = field(repr=False, hash=False)  # the notebook's JSON, which nobody changes

    # -- in and out --------------------------------------------------------------------------------------------------
    @classmethod
    def read(cls, path: Path) -> Lesson:
        """The lesson of a file; raises LessonError, or FileError, that names the file, the cell and the field."""
        return cls(path, read_notebook(path))

    @classmethod
    def of(cls, notebook: Mapping[str, Any], path: Path = _NOWHERE) -> Lesson:
        """A notebook at hand, of the shape that the door lets in (door.checked); the lesson keeps a copy."""
        return cls(path, _copied(dict(notebook)))

    @property
    def notebook(self) -> dict[str, Any]:
        """A copy of the notebook's JSON."""
        return _copied(self.raw)

    @property
    def text(self) -> str:
        """Its file's text, as Jupyter itself writes it: keys sorted, one space of indent, a newline at the end."""
        return json.dumps(self.raw, ensure_ascii=False, indent=1, sort_keys=True) + "\n"

    def write(self, *, new: bool = True, keep: bool = False) -> Path | None:
        """Write it to its path. A `new` one raises FileError where something is there, even if it came just now.

        Otherwise what is there is replaced; with `keep` it is kept beside where it differs: gives the copy's path.
        """
        if new or not os.path.lexists(self.path):
            write_new(self.path, self.text)
            return None
        differs = not self.path.is_file() or self.path.read_bytes() != self.text.encode()
        kept = keep_beside(self.path) if keep and differs else None
        write_whole(self.path, self.text)
        return kept

    # -- what it holds -----------------------------------------------------------------------------------------------
    @cached_property
    def cells(self) -> tuple[Cell, ...]:
        return tuple(Cell.of(number, raw) for number, raw in enumerate(self.raw["cells"], 1))

    @property
    def metadata(self) -> Mapping[str, Any]:
        """The notebook's own, ours and others'."""
        return self.raw.get("metadata", {})

    @cached_property
    def about(self) -> About:
        return About.of(self.metadata.get("vampbook", {}))

    @property
    def title(self) -> str:
        return self.about.title or self.path.stem.replace("-", " ").capitalize()

    @property
    def folder(self) -> Path | None:
        """The folder that its file lies in; None for a notebook at hand, of no file that is known."""
        return None if self.path is _NOWHERE else self.path.parent

    @property
    def outputs(self) -> Iterator[Output]:
        return (output for cell in self.cells for output in cell.outputs)

    @property
    def was_run(self) -> bool:
        code = [cell for cell in self.cells if cell.is_code and not cell.is_empty]
        return not code or any(cell.outputs for cell in code)

    # -- its choices -------------------------------------------------------------------------------------------------
    @cached_property
    def choices(self) -> Mapping[str, Any]:
        found: dict[str, Any] = {}
        for tag in (PARAMETERS, INJECTED):
            for cell in self._tagged(tag):
                found |= values_set(cell.source)
        return MappingProxyType(found)

    @cached_property
    def parameters(self) -> tuple[str, ...]:
        return tuple(name for cell in self._tagged(PARAMETERS) for name in names_set(cell.source))

    def _tagged(self, tag: str) -> Iterator[Cell]:
        return (cell for cell in self.cells if cell.is_code and tag in cell.tags)

    # -- its music ---------------------------------------------------------------------------------------------------
    @cached_property
    def stored_lines(self) -> tuple[tuple[int, Line | VampError], ...]:
        return tuple((one.cell, _placed(one, one.line)) for one in self.outputs if one.line is not None)

    @cached_property
    def stored_charts(self) -> tuple[tuple[int, Chart | VampError], ...]:
        return tuple((one.cell, _placed(one, one.chart)) for one in self.outputs if one.chart is not None)

    @property
    def lines(self) -> tuple[tuple[int, Line], ...]:
        return tuple(_all_right(self.stored_lines))

    @property
    def charts(self) -> tuple[tuple[int, Chart], ...]:
        return tuple(_all_right(self.stored_charts))

    # -- its words ---------------------------------------------------------------------------------------------------
    @cached_property
    def prose(self) -> tuple[tuple[int, str], ...]:
        return tuple((cell.number, cell.source) for cell in self.cells if cell.is_text)

    @cached_property
    def shown_prose(self) -> str:
        words = ([cell.source * cell.is_text, *(one.text("text/markdown") for one in cell.outputs)]
                 for cell in self.cells)
        return "\n".join(filter(None, (text for texts in words for text in texts)))

    @cached_property
    def claims(self) -> tuple[tuple[int, int, str], ...]:
        return tuple((number, line, claim) for number, text in self.prose for line, claim in marked(text))

    # -- changed copies ----------------------------------------------------------------------------------------------
    def with_path(self, path: Path) -> Lesson:
        return replace(self, path=path)

    def with_sources(self, sources: Mapping[int, str]) -> Lesson:
        """The lesson with other words or code in the cells of these numbers."""
        return self.with_cells(cell.with_source(sources.get(cell.number, cell.source)) for cell in self.cells)

    def with_cells(self, cells: Iterable[Cell]) -> Lesson:
        """The lesson with these cells, numbered anew in their order."""
        return Lesson(self.path, {**self.raw, "cells": [dict(cell.raw) for cell in cells]})

    def with_cell_after(self, number: int, cell: Mapping[str, Any]) -> Lesson:
        """The lesson with one more cell (cells.text_cell, cells.code_cell) after that of a number; 0: before all."""
        before, after = self.cells[:number], self.cells[number:]
        return self.with_cells([*before, Cell.of(number + 1, _copied(dict(cell))), *after])

    def with_about(self, **changed: Any) -> Lesson:
        """The lesson saying this of itself; None takes an entry out."""
        said = {**self.about.raw, **changed}
        return self.with_metadata(vampbook={name: value for name, value in said.items() if value is not None})

    def with_metadata(self, **changed: Any) -> Lesson:
        """The lesson with these entries in its notebook's metadata."""
        return Lesson(self.path, {**self.raw, "metadata": _copied({**self.metadata, **changed})})

    def with_notebook(self, notebook: Mapping[str, Any]) -> Lesson:
        """The lesson with the notebook that something else made of it."""
        return Lesson.of(notebook, self.path)


def as_lesson(value: Lesson | Mapping[str, Any] | Path) -> Lesson:
    """A lesson, or that of a file or a notebook at hand; raises as Lesson.read."""
    if isinstance(value, Lesson):
        return value
    return Lesson.read(value) if isinstance(value, Path) else Lesson.of(value)


def _placed(output: Output, found: T | VampError) -> T | VampError:
    """What an output carries, an error with the number of the cell."""
    if not isinstance(found, VampError):
        return found
    return found.at(", ".join(filter(None, (f"cell {output.cell}", found.where))))


def _all_right(found: Iterable[tuple[int, T | VampError]]) -> Iterator[tuple[int, T]]:
    for number, value in found:
        if isinstance(value, VampError):
            raise value
        yield number, value


def _copied(value: Any) -> Any:
    """A copy of JSON: its lists and objects are new."""
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        return {key: _copied(one) for key, one in value.items()}
    return [_copied(one) for one in value] if isinstance(value, list) else value
