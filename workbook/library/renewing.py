"""Refreshing lessons: what the kit wrote made anew from the choices, the lesson run, and its file replaced whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from theorylib.errors import VampError

from ..files import FileError, read_bytes
from ..lesson.chosen import has_choices
from ..lesson.lesson import Lesson
from ..lesson.refreshing import diff, refreshed
from ..running.bounds import USUAL, Bounds
from ..running.run import run_lesson


@dataclass(frozen=True, slots=True)
class Renewal:
    """How lessons are refreshed: with `every` what the teacher changed in written cells is written back too, with `dry`
    nothing is."""

    every: bool = False
    dry: bool = False
    run: bool = True
    bounds: Bounds = USUAL


@dataclass(frozen=True, slots=True)
class Renewed:
    """What became of a lesson: the makers whose cells changed, (number, maker) of those left as the teacher changed
    them, the lines of the diff, the copy kept beside it; or the error."""

    path: Path
    written: tuple[str, ...] = ()
    touched: tuple[tuple[int, str], ...] = ()
    diff: tuple[str, ...] = ()
    kept: Path | None = None
    ours: bool = True
    error: str = ""

    @property
    def said(self) -> str:
        """What was done, for the terminal."""
        if not self.ours:
            return f"{self.path}  left alone: no cell of choices"
        done = f"written anew: {', '.join(self.written)}" if self.written else "all current"
        return f"{self.path}  {done}" + f"  (the one before: {self.kept})" * bool(self.kept)

    @property
    def notes(self) -> list[str]:
        """A word on what is the teacher's."""
        if not self.touched:
            return []
        cells = ", ".join(f"cell {number} “{by}”" for number, by in self.touched)
        return [f"left as you changed {'it' if len(self.touched) == 1 else 'them'}: {cells} (--all writes anew)"]


def renew(path: Path, how: Renewal) -> Renewed:
    """Refresh the lesson of a file; what is wrong comes back as `error`, and the file is as it was."""
    try:
        return _renewed(path, how)
    except (VampError, OSError) as error:
        said = str(error)
        return Renewed(path, error=said if str(path) in said else f"{path}: {said}")


def _renewed(path: Path, how: Renewal) -> Renewed:
    before = read_bytes(path)
    lesson = Lesson.read(path)
    found = refreshed(lesson, every=how.every)
    new = found.lesson
    written = tuple(dict.fromkeys(change.by for change in found.changes))
    if not has_choices(new):
        return Renewed(path, ours=False)
    if how.dry:
        return Renewed(path, written, found.touched, tuple(diff(found, str(path))))
    if how.run:
        new = run_lesson(new, bounds=how.bounds)
    if new.text.encode() == before:
        return Renewed(path, written, found.touched)
    if read_bytes(path) != before:
        raise FileError(f"{path} was changed while it was refreshed", value=str(path), expected="it left alone")
    # A cell of the teacher's that is written over, or a judgement of what is whose, may be wanted back.
    kept = new.write(new=False, keep=how.every or found.carried)
    return Renewed(path, written, found.touched, kept=kept)
