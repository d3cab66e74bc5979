"""Making one pack: the lesson read, moved for whom it is, run, built, written and remembered."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from theorylib.errors import VampError

from ..checking.current import stale_cells
from ..checking.phrases import typed_over
from ..checking.said import belied
from ..handouts.pack import Pack, Paging, pack_of
from ..handouts.practice import pack_key
from ..handouts.tree import stored
from ..lesson.door import LessonError
from ..lesson.facts import facts_of
from ..lesson.lesson import Lesson
from ..reader import EVERYONE, read_by
from ..running.beside import beside
from ..running.reads import FILE, entry
from ..running.run import run_lesson
from ..running.workers import bounded
from .cache import locked
from .folders import write_pack
from .orders import How, Order, Outcome
from .personal import Student, personal_lesson, too_hard, with_large_print
from .records import as_left, remember
from .stamps import absolute, stamps, unknown


@dataclass(frozen=True, slots=True)
class Made:
    """A pack before it is written: its files, what a record keeps beside them, what the lesson read when it ran (as
    reads.read) and when that began (nanoseconds since 1970), a word to the teacher; or the error."""

    files: dict[str, bytes | str]
    kept: dict[str, Any]
    reads: tuple[str, ...] = ()
    began_ns: int = 0
    note: str = ""
    error: str = ""


def make(order: Order, how: How, ran: Callable[[Lesson, set[str]], Lesson] | None = None) -> Made:
    """Everything but the writing; what is wrong comes back as `error`, named by the lesson's file.

    `ran` is another way to a lesson's outputs than to run it here; it notes what the lesson read.
    """
    began_ns = time.time_ns()
    who = order.student
    reads: set[str] = set()
    try:
        lesson = Lesson.read(order.path)
        try:
            lesson = ran(lesson, reads) if ran else _as_wanted(lesson, who, how, reads)
            bounded("making its pack", how.bounds.seconds, how.bounds.memory_mb)
            with read_by(EVERYONE if who is None else who.reader):
                options = how.options if who is None else with_large_print(how.options, who)
                pack = pack_of(lesson, **{"paging": Paging(aside=beside), **options})
        except VampError as error:
            raise error.at(": ".join(filter(None, (order.path.name + whose(who), error.where)))) from error
        about = {**pack.tree["about"], "title": pack.tree["title"]}
        facts = {**facts_of(lesson), "pack": pack_key(about, [line for _, line in lesson.lines])} if how.keep else {}
        kept = {"facts": facts, "tree": pack.tree} if how.keep else {}
        reads |= {entry(FILE, name) for name in pack.beside}
        own = [too_hard(lesson, who)] if who else [stale_cells(lesson), typed_over(lesson), belied(lesson)]
        notes = [*own, _always_due(reads), *_without_glyphs(pack), *_told(pack)]
        note = "; ".join(filter(None, notes))
        kept = json.loads(json.dumps(kept, default=stored))
        return Made(dict(pack.files), kept, tuple(sorted(reads)), began_ns, note)
    except (VampError, OSError) as error:
        return Made({}, {}, error=str(error))


def _as_wanted(lesson: Lesson, who: Student | None, how: How, reads: set[str]) -> Lesson:
    """The lesson run as it is or moved for someone, or as it was saved; `reads` is given what it took when it ran."""
    if not how.run:
        if who is not None:
            raise LessonError("a lesson for someone, or in another key or tuning, must be run", value=who.name)
        return lesson
    if who is None:
        return run_lesson(lesson, bounds=how.bounds, reads=reads)
    return personal_lesson(lesson, who, how.bounds, reads)


def whose(who: Student | None) -> str:
    """For whom a pack is, where several are made of one lesson."""
    return f", for {who.name}" if who is not None and who.name else ""


def _without_glyphs(pack: Pack) -> Iterator[str]:
    """A word for each cell that the handout cannot show as written."""
    return ((f"cell {number}: " if number else "") + words for number, words in pack.without_glyphs())


def _told(pack: Pack) -> Iterator[str]:
    """A word for each thing that comes out otherwise than Lab shows it, or lacks what a reader needs."""
    return (f"cell {one.cell}: {one.words}" for one in pack.told)


def _always_due(reads: Iterable[str]) -> str:
    """A word to the teacher where nobody can know when a pack is out of date."""
    what = unknown(reads)
    return f"it uses {' and '.join(what)}, which nobody can watch: it is built anew each time" if what else ""


def put(order: Order, made: Made, digest: str) -> Outcome:
    """Write a made pack in place of the old one, and remember what it was made from; one process at a time."""
    if made.error:
        return Outcome(order.path, order.folder, error=made.error)
    try:
        with locked(order.folder):
            write_pack(order.folder, made.files, known=as_left(order.folder))
            with suppress(VampError):  # a cache that cannot be written costs time, never a pack
                reads = stamps([absolute(one, order.path.parent) for one in made.reads], made.began_ns)
                remember(order.folder, digest, made.files, reads, **made.kept)
    except (VampError, OSError) as error:
        return Outcome(order.path, order.folder, error=f"{order.path.name}: {error}")
    return Outcome(order.path, order.folder, tuple(made.files), note=made.note)


def build_one(order: Order, how: How, digest: str) -> Outcome:
    return put(order, make(order, how), digest)
