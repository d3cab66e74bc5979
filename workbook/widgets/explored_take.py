"""What is taken along from the explorer: cells that make the same, put into a lesson's file or into a new lesson.

A file is never replaced without a copy beside it, and a new lesson never takes the place of one that is there.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from theorylib.changes.chart_text import print_tempo
from theorylib.changes.charts import Chart
from theorylib.errors import ChordError
from theorylib.levels import Level
from theorylib.names.arpeggios import Arpeggio
from theorylib.names.chords import Chord
from theorylib.necks.tunings import STANDARD

from ..files import slug
from ..lesson.cells import code_cell, literal
from ..lesson.chosen import Choices
from ..lesson.derived import lesson_chart
from ..lesson.lesson import Lesson
from ..lesson.writing import new_lesson
from ..teacher_folder import LESSONS, folder_of
from .explored import Explored, View, row_id
from .explored_lines import INTO, WAYS, Asked, line_data, pair_of, stretch_of

_CELL = "explored"  # ids of the cells are this and a number


def cells_of(explored: Explored, state: Mapping[str, Any]) -> list[str]:
    """The code of each cell that makes what is set: the neck and the line of each pin, or of the arpeggio at hand."""
    found: list[str] = []
    taken = state.get("pins") or [[state["chord"], state.get("row") or ""]]
    for event, row in taken:
        view = view_at(explored, event)
        other = arpeggio_of(view, row)
        found.append(_neck_code(explored, view, other, state["position"]))
        if other is not None:
            found.append(line_of(explored, {**state, "chord": event, "row": row, "drill": INTO})["code"])
    if state["drill"] != INTO:
        found.append(line_of(explored, state)["code"])
    return found


def line_of(explored: Explored, state: Mapping[str, Any]) -> dict[str, Any]:
    """The line that is set: over the chord at hand into the next, or a drill through the stretch of bars."""
    way, event = state["drill"], state["chord"]
    view, position = view_at(explored, event), state["position"] or _MIDDLE
    if way == INTO or way not in WAYS:
        other = arpeggio_of(view, state.get("row") or "") or view.chord
        return line_data(way, Asked(pair_at(explored, event), str(other), position, explored.tuning))
    bars = state.get("bars") or [0, explored.chart.form_bars - 1]
    return line_data(way, Asked(stretch_of(explored.chart, *bars), "", position, explored.tuning))


_MIDDLE = 5  # the position of a line while the whole neck is shown


def view_at(explored: Explored, event: int) -> View:
    """The view of an event; raises ChordError where none is chosen."""
    number = explored.view_of[event] if 0 <= event < len(explored.view_of) else None
    if number is None:
        raise ChordError("no chord is chosen", value=event, expected="a chord of the changes")
    return explored.view(number)


def arpeggio_of(view: View, row: str) -> Chord | Arpeggio | None:
    """The arpeggio of a row by its id; None for the chord itself."""
    if not row:
        return None
    for one in view.substitutes():
        if row_id(one) == row:
            return one.arpeggio
    raise ChordError(f"no arpeggio “{row}” over {view.chord}", value=row, expected="a row of the list")


def pair_at(explored: Explored, event: int) -> Chart:
    """The chord of an event and the one to which it leads, a bar each."""
    return pair_of(explored.chart, event, _following(explored, event))


def _following(explored: Explored, event: int) -> int | None:
    """The event of the next chord that sounds different, round the loop."""
    following = view_at(explored, event).following
    count = len(explored.chart.events)
    ahead = ((event + far) % count for far in range(1, count + 1))
    return next((one for one in ahead if explored.chart.events[one].chord == following), None)


def _neck_code(explored: Explored, view: View, other: Chord | Arpeggio | None, position: int) -> str:
    what = literal(view.chord) if other is None else f"arpeggio({literal(other)})"
    over = "" if other is None else f", over={literal(view.chord)}"
    following = "" if view.following is None else f", next_chord={literal(view.following)}"
    where = f", position={position}" if position else ""
    neck = "" if explored.tuning == STANDARD else f", tuning={literal(explored.tuning.name)}"
    return f"plot_neck({what}{over}{following}{where}{neck})"


def into_file(path: str | Path, codes: Sequence[str]) -> str:
    """Add cells at the end of a lesson's file, the file before kept beside it; gives what was done in words."""
    lesson = Lesson.read(Path(path))
    kept = _with_cells(lesson, codes).write(new=False, keep=True)
    beside = f"; the file before is {kept.name}" if kept else ""
    return f"{_counted(codes)} at the end of {lesson.path}{beside}. Reload it if it is open."


def as_new_lesson(title: str, explored: Explored, state: Mapping[str, Any], folder: Path | None = None) -> str:
    """A new lesson on the changes with all that is set, its cells not run; gives what was done in words.

    Without a `folder` it lies among the lessons of a teacher's folder, else beside the notebook.
    """
    top = folder_of(Path())
    among_lessons = Path(os.path.relpath(top / LESSONS)) if top is not None else Path()
    lesson = lesson_of(title, explored, state, folder or among_lessons)
    lesson.write(new=True)
    return f"{lesson.path} is written: open it and run its cells."


def lesson_of(title: str, explored: Explored, state: Mapping[str, Any], folder: Path,
              level: Level = "intermediate") -> Lesson:
    """A lesson on the changes with all that is set, to be written into a folder."""
    codes = cells_of(explored, state)
    chart = _lesson_chart(explored.chart, title, state)
    choices = Choices(title, level=level, position=state["position"] or None, tuning=explored.tuning, substitutes=True)
    return _with_cells(Lesson.of(new_lesson(chart, choices), folder / f"{slug(title)}.ipynb"), codes)


def _lesson_chart(chart: Chart, title: str, state: Mapping[str, Any]) -> Chart:
    """The chart in the key, at the tempo and in the feel that are set."""
    key = state.get("key") or (None if chart.key is None else str(chart.key))
    tempo, feel = str(state.get("tempo") or print_tempo(chart.tempo)), str(state.get("feel") or chart.feel)
    return lesson_chart(chart, title=title, key=key, meter=str(chart.meter), tempo=tempo, feel=feel)


def _with_cells(lesson: Lesson, codes: Iterable[str]) -> Lesson:
    taken = {cell.id for cell in lesson.cells}
    numbers = (number for number in range(1, 10_000) if f"{_CELL}-{number}" not in taken)
    for code, number in zip(codes, numbers, strict=False):
        lesson = lesson.with_cell_after(len(lesson.cells), code_cell(f"{_CELL}-{number}", code))
    return lesson


def _counted(codes: Sequence[str]) -> str:
    return "1 cell" if len(codes) == 1 else f"{len(codes)} cells"
