"""Checking a teacher's own sentences against the lesson that they stand in."""

from __future__ import annotations

from ..lesson.lesson import Lesson
from ..lesson.refreshing import aims_are_ours
from ..lesson.saved import Cell
from ..lesson.written import is_untouched, maker_of
from .counts import Checked, Counts
from .findings import TRUE, Finding
from .prose import Facts, contradictions, facts_of
from .prose.sentences import sentences

ASIDE = "aside"  # the tag of a cell that speaks of something else than the lesson
OR_ASIDE = f", or tag the cell “{ASIDE}” if it speaks of something else"


def check_said(lesson: Lesson) -> Checked:
    """A finding for what a sentence says against the lesson; what the kit wrote is its makers' to judge, and a cell
    tagged `aside` is nobody's.

    Counts the sentences of which something was held against the lesson, and those that nobody could judge.
    """
    facts = facts_of(lesson)
    found: list[Finding] = []
    counts = Counts()
    for cell in lesson.cells:
        if not cell.is_text:
            continue
        if is_the_kits(cell):
            counts += Counts(written=sum(1 for _ in sentences(cell.source)))
            continue
        judged = contradictions(cell.source, facts)
        if ASIDE in cell.tags:
            counts += Counts(unjudged=judged.sentences)
            continue
        counts += Counts(judged=judged.judged, unjudged=judged.unjudged)
        found += [Finding(lesson.path, cell.number, one.message, TRUE, one.line, one.right + OR_ASIDE)
                  for one in judged.contradictions]
    aims = _aims(lesson, facts)
    return Checked.of([Checked(tuple(found), counts), aims])


def _aims(lesson: Lesson, facts: Facts) -> Checked:
    """The aims in the metadata, where they are the teacher's."""
    aims = tuple(map(str, lesson.about.aims))
    if aims_are_ours(lesson):
        return Checked(counts=Counts(written=sum(1 for aim in aims for _ in sentences(aim))))
    judged = [contradictions(aim, facts) for aim in aims]
    found = [Finding(lesson.path, 0, f"the aims in the notebook's metadata: {one.message}", TRUE, right=one.right)
             for each in judged for one in each.contradictions]
    return Checked(tuple(found), Counts(judged=sum(one.judged for one in judged),
                                        unjudged=sum(one.unjudged for one in judged)))


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
