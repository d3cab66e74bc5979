"""What is asked of a build: one order for each pack, how packs are made, and what became of each."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from theorylib.errors import VampError

from ..files import slug
from ..lesson.lesson import Lesson
from ..running.bounds import USUAL, Bounds

if TYPE_CHECKING:
    from .personal import Student


@dataclass(frozen=True, slots=True)
class Order:
    """One pack to be built: from which lesson, into which folder, for whom (None: as the lesson is).

    `refused` says why nothing can be built, of a lesson that could not even be read.
    """

    path: Path
    folder: Path
    student: Student | None = None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one order: the names of its pack's files, or why there is none; `note` is for the teacher."""

    path: Path
    folder: Path
    files: tuple[str, ...] = ()
    error: str = ""
    unchanged: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class How:
    """How packs are built: whether lessons are run and within which bounds, and the options of build.pack_files.

    With `keep` the record of a pack holds what a course makes of it too: its facts, and the tree of its handout.
    """

    options: Mapping[str, Any]
    run: bool = True
    bounds: Bounds = USUAL
    keep: bool = False


def orders_for(paths: Sequence[Path], out: Path, students: Sequence[Student] = ()) -> list[Order]:
    """Each lesson's pack in `out`, under the lesson's own name; each student's in a folder of their own."""
    if not students:
        return [Order(path, out / slug(path.stem)) for path in paths]
    return [Order(path, out / slug(who.name) / slug(path.stem), who) for who in students for path in paths]


def orders_in_keys(paths: Sequence[Path], out: Path, keys: Sequence[str], tuning: str) -> list[Order]:
    """Each lesson in each key ("all": the twelve; none: its own) and a tuning (empty: its own), named after them."""
    from .moving import all_keys  # what moves lessons takes a while to load, and most orders move none
    from .personal import Student

    found = []
    for path in paths:
        wanted: Sequence[str] = keys or [""]
        if "all" in keys:
            try:
                wanted = all_keys(Lesson.read(path))
            except VampError as error:
                said = str(error) if str(path) in str(error) else f"{path}: {error}"
                found.append(Order(path, out / slug(f"{path.stem} in all"), refused=said))
                continue
        for key in wanted:
            said = (f" in {_spelled(key)}" if key else "") + (f" tuned {_spelled(tuning)}" if tuning else "")
            found.append(Order(path, out / _named(path.stem, said), Student(key=key, tuning=tuning)))
    return found


def _named(stem: str, said: str) -> str:
    """A folder's name from a lesson's and what was said of it, which is kept whole where the two are too long."""
    if not said:
        return slug(stem)
    shorter = (slug(stem[:length] + said) for length in range(len(stem), 0, -1))
    return next((name for name in shorter if name.endswith(slug(said))), slug(said))


def _spelled(name: str) -> str:
    """A key or tuning for a file name, in which F# and F must differ."""
    return re.sub(r"(?<=[A-G])b", " flat", name.replace("#", " sharp "))
