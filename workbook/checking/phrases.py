"""Checking phrases: each of a folder can be read, is true and can be played; a lesson's stands over its own changes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from theorylib.changes.chart_text import print_bars
from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.playing.fingering import finger
from theorylib.playing.lines import Line
from theorylib.playing.phrase_text import own_changes, own_tuning

from ..lesson.chosen import PHRASE, has_choices, read_choices
from ..lesson.lesson import Lesson
from ..lesson.phrase_lines import same_chords
from ..lesson.shelf import files_in, phrase_folder, read_filed
from .findings import TRUE, USABLE, Finding


def phrase_files(folder: Path) -> list[Path]:
    """The files of phrases that lie in a folder of lessons, or beside it."""
    return files_in(folder) if phrase_folder(folder) else []


def check_phrases(folder: Path) -> list[Finding]:
    """What is wrong with the phrases of a folder of lessons."""
    return [finding for path in phrase_files(folder) for finding in _check(path)]


def check_typed_over(lesson: Lesson) -> list[Finding]:
    """A finding where the phrase that a lesson is about was typed over other changes than the lesson's."""
    if not has_choices(lesson):
        return []
    try:
        chart, choices = read_choices(lesson)
        own = own_changes(choices.phrase) if choices.kind == PHRASE else None
        if own is None:
            return []
        line = Line.parse(choices.phrase, own_tuning(choices.phrase) or choices.tuning, own)
    except VampError:
        return []  # what cannot be read is found where the lesson is made anew
    if same_chords(line, chart, choices.up):
        return []
    moves = [up for up in _ways(choices.up) if same_chords(line, chart, up)]
    right = f"up = {moves[0]} moves it there" if moves else (
        "change the line over: in phrase_text if it is meant to stand over these, else the changes or the phrase")
    number = next((cell.number for cell in lesson.cells if cell.is_code and "phrase_text" in cell.source), 0)
    moved = f", moved {choices.up:+d} half steps," if choices.up else ""
    words = f"the phrase was typed over {_in_a_row(own)}{moved} and the lesson's changes are {_in_a_row(chart)}"
    return [Finding(lesson.path, number, words, TRUE, right=right)]


def typed_over(lesson: Lesson) -> str:
    """A word to the teacher on a phrase that was typed over other changes; empty where it was not."""
    return "; ".join(f"{one.message}: {one.right}" for one in check_typed_over(lesson))


def _ways(now: int) -> list[int]:
    """Numbers of half steps to every key, the nearest to the present one first."""
    return sorted(range(max(-36, now - 6), min(36, now + 6) + 1), key=lambda up: abs(up - now))


def _in_a_row(chart: Chart) -> str:
    """The bars of a chart in one line."""
    return " ".join(print_bars(chart.bars))


def _check(path: Path) -> Iterator[Finding]:
    try:
        filed = read_filed(path)
    except VampError as error:
        yield Finding(path, 0, str(error.at(error.where.removeprefix(str(path)).removeprefix(": "))), TRUE)
        return
    for problem in filed.line.problems():
        yield Finding(path, 0, problem, TRUE)
    try:
        finger(filed.line, filed.line.tuning, filed.line.position)
    except VampError as error:
        yield Finding(path, 0, f"it cannot be played: {error}", USABLE)
