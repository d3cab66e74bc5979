"""Building a course: the pack of each lesson, all of them in one PDF, and an index to search; only what changed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from theorylib.errors import VampError
from theorylib.levels import LEVELS

from ..files import slug
from ..handouts.course_page import Entry, course_page
from ..handouts.pdf import Chapter, course_pdf
from .cache import locked
from .course import FILE, Course, CourseError
from .folders import take_away, write_pack
from .library import build_library, refuse_home
from .mark import COURSE, LESSON, MARK, read_mark
from .orders import How, Order, Outcome
from .records import as_left, forget, program, remember, remembered, remembered_tree, standing

INDEX, PDF = "index.html", "course.pdf"


def build_course(course: Course, out: Path, how: How, *, jobs: int | None = None, force: bool = False,
                 cluster: str = "") -> Iterator[Outcome]:
    """The outcome of each lesson's pack as it gets done, in `out`/<title of the course>/, then that of the course.

    The index and the PDF are written when every lesson is built, else they stay as they were. Packs of lessons that
    the course no longer names are taken away, as far as this kit made them.
    """
    folder = out / slug(course.title)
    refuse_home(folder, [course.folder])
    orders = [Order(course.path(name), folder / slug(name)) for name in course.lessons]
    kept = How(how.options, how.run, how.bounds, keep=True)
    failed = []
    for outcome in build_library(orders, kept, jobs=jobs, force=force, cluster=cluster):
        if outcome.error:
            failed.append(outcome.path.stem)
        yield outcome
    file = course.folder / FILE
    if failed:
        yield Outcome(file, folder, error=f"{file}: {PDF} and {INDEX} wait for {', '.join(sorted(failed))}")
        return
    try:
        _take_away(folder, {order.folder.name for order in orders})
        yield _whole(course, folder, orders, how, force)
    except (VampError, OSError) as error:
        yield Outcome(file, folder, error=f"{file}: {error}")


def _whole(course: Course, folder: Path, orders: list[Order], how: How, force: bool) -> Outcome:
    file = course.folder / FILE
    records = [remembered(order.folder) for order in orders]
    paper = {word: how.options[word] for word in ("paper", "large_print") if word in how.options}
    said = (course.title, course.about, course.levels, sorted(course.needs.items()), paper)
    made = hashlib.sha256(repr((program(), said, [record["digest"] for record in records])).encode()).hexdigest()
    files = () if force else standing(folder, made)
    if files:
        return Outcome(file, folder, files, unchanged=True)
    parts = [level.name for level in course.levels for _ in level.lessons]
    _same_levels(course, parts, [record["facts"] for record in records])
    entries = [Entry(order.folder.name, part, record["facts"], tuple(map(slug, course.needs.get(order.path.stem, ()))),
                     tuple(name for name in record["files"] if name != MARK))
               for order, part, record in zip(orders, parts, records, strict=True)]
    titles = {order.path.stem: str(record["facts"]["title"]) for order, record in zip(orders, records, strict=True)}
    chapters = [Chapter(part, remembered_tree(order.folder), _note(record["facts"]),
                        tuple(titles[one] for one in course.needs.get(order.path.stem, ()) if one in titles))
                for order, part, record in zip(orders, parts, records, strict=True)]
    whole: dict[str, bytes | str] = {
        PDF: course_pdf(course.title, course.about, chapters, **paper),
        INDEX: course_page(course.title, course.about, entries),
    }
    with locked(folder):
        write_pack(folder, whole, COURSE, known=as_left(folder), packs=[order.folder.name for order in orders])
        with suppress(VampError):
            remember(folder, made, whole)
    return Outcome(file, folder, (PDF, INDEX))


def _same_levels(course: Course, parts: list[str], facts: list[dict[str, Any]]) -> None:
    """Where the parts of a course are called by levels, each lesson must say the level it stands under."""
    for name, part, one in zip(course.lessons, parts, facts, strict=True):
        if part in LEVELS and one["level"] in LEVELS and part != one["level"]:
            raise CourseError(f"“{name}” says that it is {one['level']}, the course lists it under {part}", value=name,
                              expected=f"the lesson under {one['level']}, or its level changed")


def _note(facts: dict[str, Any]) -> str:
    minutes = f"about {facts['minutes']} minutes" if facts["minutes"] else ""
    home = f"home scale {facts['home']}" if facts["home"] else facts["key"]
    return " · ".join(filter(None, (minutes, home, ", ".join(facts["techniques"]))))


def _take_away(folder: Path, names: set[str]) -> None:
    """Remove packs that the course no longer names: those that its mark names, and those of ours from before marks.

    What others put into them stays.
    """
    mark = read_mark(folder)
    names_then = mark.packs if mark else [place.name for place in folder.iterdir() if place.is_dir()]
    for place in (folder / name for name in names_then if name not in names):
        with locked(place):
            inner, known = read_mark(place), as_left(place)
            of_the_course = inner is not None and inner.kind == LESSON
            from_before = mark is None and inner is None and bool(known)
            if (of_the_course and mark is not None) or from_before:
                take_away(place, known)
                forget(place)
