"""Checking a teacher's own sentences against the lesson that they stand in."""

from __future__ import annotations

from collections.abc import Sequence

from ..lesson.lesson import Lesson
from ..lesson.refreshing import aims_are_ours
from ..lesson.saved import Cell
from ..lesson.written import is_untouched, maker_of
from .counts import Checked, Counts
from .findings import TRUE, Finding
from .prose.sentences import sentences

ASIDE = "aside"  # the tag of a cell that speaks of something else than the lesson
OR_ASIDE = f", or tag the cell “{ASIDE}” if it speaks of something else"


def check_said(lesson: Lesson) -> Checked:
    """A finding for what a sentence says against the lesson; what the kit wrote is its makers' to judge, and a cell
    tagged `aside` is nobody's.

    Counts the sentences of which something was held against the lesson, and those that nobody could judge.
    """
    texts = [cell for cell in lesson.cells if cell.is_text]
    own = [cell for cell in texts if not is_the_kits(cell)]
    written = [cell.source for cell in texts if is_the_kits(cell)]
    aims = [str(aim) for aim in lesson.about.aims]
    if aims_are_ours(lesson):
        written, aims = [*written, *aims], []
    of_the_kit = Checked(counts=Counts(written=sum(1 for text in written for _ in sentences(text))))
    if not own and not aims:
        return of_the_kit
    return Checked.of([of_the_kit, _judged(lesson, own, aims)])


def _judged(lesson: Lesson, own: Sequence[Cell], aims: Sequence[str]) -> Checked:
    """What is the teacher's own: their cells, and the aims in the metadata."""
    # What names and phrases look like takes a tenth of a second to load.
    from .prose.judge import contradictions
    from .prose.of_lesson import facts_of

    facts = facts_of(lesson)
    found: list[Finding] = []
    counts = Counts()
    for cell in own:
        judged = contradictions(cell.source, facts)
        if ASIDE in cell.tags:
            counts += Counts(unjudged=judged.sentences)
            continue
        counts += Counts(judged=judged.judged, unjudged=judged.unjudged)
        found += [Finding(lesson.path, cell.number, one.message, TRUE, one.line, one.right + OR_ASIDE)
                  for one in judged.contradictions]
    for judged in [contradictions(aim, facts) for aim in aims]:
        counts += Counts(judged=judged.judged, unjudged=judged.unjudged)
        found += [Finding(lesson.path, 0, f"the aims in the notebook's metadata: {one.message}", TRUE, right=one.right)
                  for one in judged.contradictions]
    return Checked(tuple(found), counts)


def is_the_kits(cell: Cell) -> bool:
    """Did the kit write a cell, and nobody change it since?"""
    return bool(maker_of(cell)) and is_untouched(cell)


def belied(lesson: Lesson) -> str:
    """A word to the teacher on how much contradicts the lesson; empty where nothing does."""
    count = len(check_said(lesson).findings)
    if not count:
        return ""
    said = "1 thing in the prose contradicts" if count == 1 else f"{count} things in the prose contradict"
    return f"{said} the lesson: vampbook check names {'it' if count == 1 else 'them'}"
