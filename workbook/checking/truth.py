"""Checking that a lesson is true: its stored lines, its fingerings, its cautions and the claims in its prose."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from theorylib.claims import judge, marked, unmarked
from theorylib.errors import VampError
from theorylib.playing.difficulty import line_difficulty
from theorylib.playing.lines import Line

from ..lesson import prose
from ..lesson.care import CARE
from ..lesson.stored import charts_or_faults, lines_or_faults, read_lesson, tempo_of
from .findings import TRUE, Finding, refused

_MIDI_RANGE = range(21, 109)  # the piano's keys: what our other readers and voices can play


def check_truth(path: Path) -> list[Finding]:
    """Every false place, degree, bar, fingering or claim of a lesson, and a missing caution."""
    try:
        return truths(path, read_lesson(path))
    except VampError as error:
        return [refused(path, error)]


def truths(path: Path, notebook: Mapping[str, Any]) -> list[Finding]:
    """check_truth of a notebook at hand: what cannot be read is a finding beside the others, and hides none."""
    found, tempo = [], None
    try:
        tempo = tempo_of(notebook)
    except VampError as error:
        found.append(refused(path, error))
    cares = "**Care**" in "".join(_shown(notebook))
    for cell, line in lines_or_faults(notebook):
        found += [refused(path, line)] if isinstance(line, VampError) \
            else _line_findings(path, cell, line, tempo, cares)
    found += [refused(path, chart) for _, chart in charts_or_faults(notebook) if isinstance(chart, VampError)]
    return found + list(_claims(path, notebook))


def _line_findings(path: Path, cell: int, line: Line, tempo: Any, cares: bool) -> Iterator[Finding]:
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


def _claims(path: Path, notebook: Mapping[str, Any]) -> Iterator[Finding]:
    for number, cell in enumerate(notebook["cells"], 1):
        if cell["cell_type"] != "markdown":
            continue
        text = "".join(cell["source"])
        for line, claim in marked(text):
            try:
                verdict = judge(claim)
            except VampError as error:
                yield Finding(path, number, str(error), TRUE, line)
                continue
            if not verdict.true:
                right = f"true is: {verdict.right}" if verdict.right else ""
                yield Finding(path, number, f"“{claim}” is false: {verdict.problem}", TRUE, line, right)
        for line, words in unmarked(text):
            yield Finding(path, number, f"“{words}” is not checked", TRUE, line,
                          f"mark it as a claim: {{= {words} =}}", offer=True)


def _shown(notebook: Mapping[str, Any]) -> Iterator[str]:
    """All the prose of a lesson: its Markdown cells and what its code cells show as Markdown."""
    for cell in notebook["cells"]:
        if cell["cell_type"] == "markdown":
            yield "".join(cell["source"])
        for output in cell.get("outputs", ()):
            yield "".join(output.get("data", {}).get("text/markdown", ""))
