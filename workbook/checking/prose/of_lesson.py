"""The facts of a saved lesson: what its outputs carry, what it says of itself, what its code sets and names."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line

from ...lesson.areas import area_scale
from ...lesson.choices import parsed
from ...lesson.chosen import has_choices, read_choices
from ...lesson.lesson import Lesson
from ...lesson.places import bends_at, phrases_at
from ...lesson.sections import Plan, plan_of
from ...lesson.written import maker_of
from ...mimes import OUTLINE_MIME
from .facts import Facts, facts_about

# A practice plan, as care.py writes it.
_PLAN = re.compile(r"^\| Step \| Tempo [^\n]*\n\|[-| ]+\|\n(?P<rows>(?:\|[^\n]*\n?)+)", re.MULTILINE)
_STEP = re.compile(r"^\|[^|\n]*\|\s*(\d{1,3})\s*\|", re.MULTILINE)
_BARS = re.compile(r"\bbars? (?:\d{1,4}-)?(\d{1,4})\b")
# Arguments that repeat what the chart says.
_OF_THE_CHART = frozenset({"over", "next_chord", "key", "changes", "chart"})
_LONGEST_NAME = 40  # signs


def facts_of(lesson: Lesson) -> Facts:
    """What a lesson's prose can contradict; what cannot be read of it is left out, since others say so.

    Where the lesson has a cell of choices, that says what is so, and what the cells of the kit's own show only follows.
    """
    plan = _plan(lesson)
    own = {cell.number for cell in lesson.cells if plan is None or not maker_of(cell)}
    lines = [line for cell, line in lesson.stored_lines if isinstance(line, Line) and cell in own]
    charts = [chart for cell, chart in lesson.stored_charts if isinstance(chart, Chart) and cell in own]
    if plan is not None:
        charts, tuning = [plan.chart, *charts], plan.choices.tuning
        positions = [plan.position, phrases_at(plan), bends_at(plan)]
    else:
        charts = charts or [line.chart for line in lines]
        tuning, positions = _tuning(lesson, lines), list(_set_positions(lesson))
    named = set(_named(lesson, own)) | ({area_scale(plan.read, plan.choices.kind)} if plan else set())
    shown = "\n".join(output.text("text/markdown") for output in lesson.outputs)
    facts = facts_about(
        dict.fromkeys(charts), tuning=tuning,
        positions=[*positions, *(line.position for line in lines if line.position is not None)],
        tempos=_plan_tempos(shown), keys=() if plan else tuple(_keys(lesson)), shown=named)
    return replace(facts, longest=max(facts.longest, _longest(lesson)))


def _plan(lesson: Lesson) -> Plan | None:
    """What the lesson's choices ask for, None where it has none that can be read."""
    if has_choices(lesson):
        with suppress(VampError):
            return plan_of(*read_choices(lesson))
    return None


def _longest(lesson: Lesson) -> int:
    """The bars of its longest line or outline."""
    lines = [line for _, line in lesson.stored_lines if isinstance(line, Line)]
    played = [int(line.length_beats // line.chart.bar_beats) for line in lines]
    planned = [int(bar) for output in lesson.outputs for bar in _BARS.findall(output.text(OUTLINE_MIME))]
    return max([*played, *planned], default=0)


def _tuning(lesson: Lesson, lines: list[Line]) -> Tuning:
    """The neck of its lines, else the one that its choices name."""
    if lines:
        return lines[0].tuning
    with suppress(VampError):
        return Tuning.parse(str(lesson.choices["tuning"])) if "tuning" in lesson.choices else STANDARD
    return STANDARD


def _set_positions(lesson: Lesson) -> Iterator[int]:
    return (value for name, value in lesson.choices.items() if name in ("position", "near") and type(value) is int)


def _plan_tempos(shown: str) -> Iterator[Fraction]:
    """The tempos of the practice plans that its cells show."""
    for plan in _PLAN.finditer(shown):
        yield from (Fraction(tempo) for tempo in _STEP.findall(plan["rows"]))


def _keys(lesson: Lesson) -> Iterator[Scale]:
    """The key and the home that it says it has."""
    for said in (lesson.about.key, lesson.about.home):
        with suppress(VampError):
            if said:
                yield Scale.parse(said)


def _named(lesson: Lesson, own: set[int]) -> Iterator[Chord | Scale]:
    """The chords and scales that the teacher's code names as texts, but for those that only repeat the chart."""
    for cell in lesson.cells:
        if not cell.is_code or cell.number not in own:
            continue
        for text in _texts(parsed(cell.source)):
            with suppress(VampError):
                yield Scale.parse(text) if " " in text else Chord.parse(text)


def _texts(tree: ast.AST) -> Iterator[str]:
    skipped = {id(word.value) for call in ast.walk(tree) if isinstance(call, ast.Call)
               for word in call.keywords if word.arg in _OF_THE_CHART}
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped
        if is_text and len(node.value) <= _LONGEST_NAME:  # type: ignore[attr-defined]
            yield node.value  # type: ignore[attr-defined]
