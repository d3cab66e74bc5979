"""Making the words and the code that the kit wrote anew, from the choices as they are now.

A cell whose text the kit wrote and nobody changed is written anew; one that was changed is the teacher's and stays. A
cell that the choices newly ask for is put in, one that they no longer ask for is taken out, and one that the teacher
took out stays out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import unified_diff
from typing import Any

from .carried import carried
from .chosen import has_choices, read_choices
from .lesson import Lesson
from .saved import Cell
from .sections import Part, Plan, plan_of
from .written import about, cell_of, digest_of, is_untouched, maker_of, marked, marks, parts

METADATA = "metadata"


@dataclass(frozen=True, slots=True)
class Change:
    """What a refresh changes: the number of the cell before (0: it was not there, or the metadata), its maker, the text
    before and after (None: no such cell)."""

    number: int
    by: str
    old: str | None
    new: str | None


@dataclass(frozen=True, slots=True)
class Refreshed:
    """A lesson made anew, what that changed, and (number afterwards, maker) of cells that stay since they were touched:
    the maker would say something else of the choices. `carried` says that it had no cell of choices before."""

    lesson: Lesson
    changes: tuple[Change, ...] = ()
    touched: tuple[tuple[int, str], ...] = ()
    carried: bool = False


def refreshed(lesson: Lesson, *, every: bool = False) -> Refreshed:
    """The lesson with its written cells as the choices ask for now; with `every` the touched ones written back too.

    A lesson of the first form gets a cell of choices (carried.py), any other notebook without one comes back as it is.
    Raises LessonError, or a drill's own error, where the choices
    cannot be read or give no lesson.
    """
    if not has_choices(lesson):
        first = carried(lesson)
        return Refreshed(lesson) if first is None else replace(refreshed(first, every=every), carried=True)
    plan = plan_of(*read_choices(lesson))
    wanted = {part.by: part for part in parts(plan)}
    cells: list[Cell] = []
    changes: list[Change] = []
    for cell in lesson.cells:
        by = _maker(cell, wanted)
        new = _anew(cell, wanted.get(by), every) if by else cell
        if new is not None:
            cells.append(new)
        if new is None or new.source != cell.source:
            changes.append(Change(cell.number, by, cell.source, new.source if new else None))
    there = {_maker(cell, wanted) for cell in lesson.cells}
    taken_out = set() if every else set(_ours(lesson).get("parts", ())) - there
    for part in wanted.values():
        if part.by not in there | taken_out:
            cells.insert(_place(cells, part.by, list(wanted)), cell_of(part))
            changes.append(Change(0, part.by, None, part.text))
    said = _about(lesson, plan, every)
    old = lesson.about.raw
    words = [word for word in said if old.get(word) != said[word]]
    if words:
        changes.append(Change(0, METADATA, _rows(old, words), _rows(said, words)))
    new_lesson = lesson.with_cells(cells).with_about(**said, written=marks(plan, wanted))
    makers = [(cell, _maker(cell, wanted)) for cell in new_lesson.cells]
    touched = [(cell.number, by) for cell, by in makers if by and not is_untouched(cell)]
    return Refreshed(new_lesson, tuple(changes), tuple(touched))


def _maker(cell: Cell, wanted: Mapping[str, Part]) -> str:
    """Who writes a cell: by its mark, else, where another program lost that, by its id; empty for the teacher's own."""
    return maker_of(cell) or (cell.id if cell.id in wanted else "")


def _anew(cell: Cell, part: Part | None, every: bool) -> Cell | None:
    """The cell as its maker writes it now (None: no more); itself where it is the teacher's."""
    ours = is_untouched(cell)
    if part is None:
        return None if ours else cell
    if cell.kind == part.kind and (ours or every or cell.source == part.text):
        return marked(cell, part)
    return cell


def refreshed_file(lesson: Lesson, *, every: bool = False) -> str:
    """Refresh a lesson's file without running it; gives what was done in words. One that is written over where a cell
    was the teacher's is kept beside."""
    found = refreshed(lesson, every=every)
    said = [f"- written anew: {', '.join(dict.fromkeys(change.by for change in found.changes))}"] * bool(found.changes)
    said += [f"- left as you changed it: cell {number}, {by}" for number, by in found.touched]
    if not found.changes:
        return "\n".join(["All that the kit wrote is current.", "", *said]).strip()
    kept = found.lesson.write(new=False, keep=every or found.carried)
    said += [f"- the lesson before: {kept}"] * bool(kept)
    rest = "Now reload the notebook from the disk, run all its cells and save it."
    return "\n".join([*said, "", rest])


def diff(found: Refreshed, name: str) -> Iterator[str]:
    """The lines of a unified diff, cell by cell."""
    for change in found.changes:
        place = f"{name}: {change.by}" + (f" (cell {change.number})" if change.number else "")
        yield from unified_diff((change.old or "").splitlines(), (change.new or "").splitlines(),
                                place if change.old is not None else "/dev/null",
                                place if change.new is not None else "/dev/null", lineterm="")


def _place(cells: Sequence[Cell], by: str, order: Sequence[str]) -> int:
    """Where a new part goes: before the next part that is there, else after the last one before it."""
    at = order.index(by)
    makers = [maker_of(cell) or cell.id for cell in cells]
    after = next((makers.index(name) for name in order[at + 1:] if name in makers), None)
    if after is not None:
        return after
    before = [number for number, name in enumerate(makers) if name in order[:at]]
    return max(before, default=len(cells) - 1) + 1


def _about(lesson: Lesson, plan: Plan, every: bool) -> dict[str, Any]:
    """What the lesson says of itself as the plan has it; aims of the teacher's own stay."""
    said = about(plan)
    if lesson.about.aims and not every and not aims_are_ours(lesson):
        said["aims"] = list(lesson.about.aims)
    return said


def aims_are_ours(lesson: Lesson) -> bool:
    """Are the aims in the metadata as the kit wrote them?"""
    return _ours(lesson).get("aims") == digest_of(list(lesson.about.aims))


def _rows(words: Mapping[str, Any], names: Sequence[str]) -> str:
    return "\n".join(f"{name}: {words.get(name, '')}" for name in names)


def _ours(lesson: Lesson) -> Mapping[str, Any]:
    found = lesson.about.raw.get("written", {})
    return found if isinstance(found, Mapping) else {}
