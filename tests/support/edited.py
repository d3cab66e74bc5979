"""Lessons as a teacher leaves them: on given changes, one written cell changed, one cell added."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from theorylib import Chart
from workbook.lesson.cells import text_cell
from workbook.lesson.chosen import Choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson

TWO = "| Am7 | D9 |"
OWN = "Breathe before you begin; the ear leads and the hand follows."
TOUCHED = "### From chord to chord\n\nSlowly, please."


def lesson_on(changes: str, kind: str, **more: Any) -> Lesson:
    """A lesson of which the teacher has changed one written cell and added one; the kit chooses key and position."""
    chart = Chart.parse(changes, tempo=93, feel="straight 8")
    choices = Choices("Low tide", kind=kind, per_chord=4, substitutes=kind == "groove", **more)
    lesson = Lesson.of(new_lesson(chart, choices))
    number = next(cell.number for cell in lesson.cells if cell.id == "moves-words")
    return lesson.with_sources({number: TOUCHED}).with_cell_after(number, text_cell("own", OWN))



def words(lesson: Lesson) -> str:
    return "\n".join(cell.source for cell in lesson.cells if cell.id not in ("choices", "injected"))



def ids(lesson: Lesson) -> list[str]:
    return [cell.id for cell in lesson.cells]



def saved(folder: Path, lesson: Lesson, name: str = "tide.ipynb") -> Path:
    path = folder / name
    lesson.with_path(path).write()
    return path
