"""Checking that a lesson is true: its stored lines, its fingerings, its cautions and the claims in its prose."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path

from theorylib.claims import judge, unmarked
from theorylib.errors import VampError
from theorylib.playing.difficulty import line_difficulty
from theorylib.playing.lines import Line

from ..lesson import prose
from ..lesson.care import CARE
from ..lesson.lesson import Lesson
from .counts import Checked, Counts
from .findings import TRUE, Finding, refused

_MIDI_RANGE = range(21, 109)  # the piano's keys: what our other readers and voices can play


def check_truth(lesson: Lesson) -> Checked:
    """Every false place, degree, bar, fingering or claim of a lesson, and a missing caution; how many there were.

    What cannot be read is a finding beside the others, hides none, and is not counted as checked.
    """
    path, found, tempo, counts = lesson.path, list[Finding](), None, Counts()
    try:
        tempo = lesson.about.tempo_bpm
    except VampError as error:
        found.append(refused(path, error))
    cares = "**Care**" in lesson.shown_prose
    for cell, line in lesson.stored_lines:
        if isinstance(line, VampError):
            found.append(refused(path, line))
        else:
            found += _line_findings(path, cell, line, tempo, cares)
            counts += Counts(lines=1, places=sum(note.place is not None for note in line.notes))
    found += [refused(path, chart) for _, chart in lesson.stored_charts if isinstance(chart, VampError)]
    claims = list(lesson.claims)
    return Checked((*found, *_claims(lesson, claims)), counts + Counts(claims=len(claims)))


def _line_findings(path: Path, cell: int, line: Line, tempo: Fraction | None, cares: bool) -> Iterator[Finding]:
    for problem in line.problems():
        yield Finding(path, cell, problem, TRUE)
    for note in line.notes:
        if note.pitch.midi not in _MIDI_RANGE:
            yield Finding(path, cell, f"{note.pitch} lies outside any guitar", TRUE)
    try:
        reasons = line_difficulty(line, tempo).reasons
    except VampError as error:
        yield Finding(path, cell, f"the fingering cannot be played: {error}", TRUE,
                      right="finger the line again with finger(line)")
        return
    if reasons and not cares:
        yield Finding(path, cell, f"the drill needs the caution, since {prose.listed(reasons)}", TRUE,
                      right=f"add a paragraph that begins with “{CARE[:10]}”")


def _claims(lesson: Lesson, claims: Iterable[tuple[int, int, str]]) -> Iterator[Finding]:
    """What is false among the marked claims, and what could be marked, cell by cell."""
    marked = [(number, finding) for number, line, claim in claims
              for finding in _judged(lesson.path, number, line, claim)]
    offers = [(number, _offer(lesson.path, number, line, words)) for number, text in lesson.prose
              for line, words in unmarked(text)]
    return (finding for _, finding in sorted([*marked, *offers], key=lambda one: one[0]))


def _judged(path: Path, cell: int, line: int, claim: str) -> Iterator[Finding]:
    try:
        verdict = judge(claim)
    except VampError as error:
        yield Finding(path, cell, str(error), TRUE, line)
        return
    if not verdict.true:
        right = f"true is: {verdict.right}" if verdict.right else ""
        yield Finding(path, cell, f"“{claim}” is false: {verdict.problem}", TRUE, line, right)


def _offer(path: Path, cell: int, line: int, words: str) -> Finding:
    right = f"mark it as a claim: {{= {words} =}}"
    return Finding(path, cell, f"“{words}” is not checked", TRUE, line, right, offer=True)
