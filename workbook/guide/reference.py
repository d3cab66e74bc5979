"""The reference of the kit: for each name its help, its example and a picture of what the example makes.

All of it comes from the docstrings, whose examples are run to make the pages: what does not work cannot be printed.
"""

from __future__ import annotations

import ast
import builtins
import doctest
import inspect
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.names.arpeggios import Arpeggio
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.grips import ChordGrip
from theorylib.necks.shapes import Shape
from theorylib.playing.fingering import finger
from theorylib.playing.lines import Line

from ..cells.drill import Drill
from ..draw.chart import chart_picture
from ..draw.grip_sheet import grips_picture
from ..draw.neck import plot_neck
from ..lesson.cells import code_cell, text_cell
from ..lesson.lesson import Lesson
from .pages import call_of

TITLE = "The kit, name by name"
_BEGIN = "from workbook.kit import *\nfrom workbook.guide.reference import as_picture"
_SHOWN_INPUT = "show-input"
_MOST_GRIPS, _POSITION = 3, 5
_INSIDE = ("arpeggio", "chord", "scale")  # what of a finding lies on the neck


def reference(kit: Mapping[str, Any], path: Path) -> Lesson:
    """The reference as a notebook that has not been run yet, its cells by name."""
    cells = [text_cell("title", f"# {TITLE}"), code_cell("kit", _BEGIN, _SHOWN_INPUT)]
    for name in kit:
        cells += _cells(name, kit)
    kernel = {"kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
              "language_info": {"name": "python"}}
    return Lesson.of({"cells": cells, "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}, path)


def as_picture(value: Any, over: str = "") -> Any:
    """What shows a value best: a line as staff and TAB, a chord or a shape `over` one on the neck; of many the first.

    Prose and tables are shown as they are, and nothing of a plain value, which the example itself tells.
    """
    if isinstance(value, tuple) and value and isinstance(value[0], ChordGrip):
        return grips_picture(list(value[:_MOST_GRIPS]))
    if isinstance(value, tuple | list) and value:
        return as_picture(value[0], over)
    if isinstance(value, Line):
        value = Drill(finger(value, value.tuning, value.position))
    if isinstance(value, Drill):
        return value.score()
    if isinstance(value, Chart):
        return chart_picture(value)
    if isinstance(value, Shape):
        return plot_neck(value, over=over)
    what = next((found for name in _INSIDE if (found := getattr(value, name, None)) is not None), value)
    if isinstance(what, Chord | Arpeggio | Scale):
        return plot_neck(what, position=_POSITION)
    return value if any(hasattr(value, name) for name in ("_repr_mimebundle_", "_repr_markdown_")) else None


def _cells(name: str, kit: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    what = kit[name]
    told = (inspect.getdoc(what) or "").partition(">>>")[0].strip()
    known = getattr(what, "__module__", "").split(".")[0] in ("theorylib", "workbook")
    yield text_cell(name, f"## {name}\n\n`{call_of(name, what)}`\n\n{told if known else ''}".rstrip())
    examples = doctest.DocTestParser().get_examples(inspect.getdoc(what) or "") if known else []
    if not examples:
        return
    yield code_cell(f"{name}-example", "".join(one.source for one in examples).rstrip(), _SHOWN_INPUT)
    made = _made_by(name, examples, kit)
    if made:
        yield code_cell(f"{name}-picture", made)


def _made_by(name: str, examples: Sequence[doctest.Example], kit: Mapping[str, Any]) -> str:
    """Code that shows what the call of a name gives, after the statements before it; empty where none stands alone."""
    before = ""
    for one in examples:
        known = {*kit, *dir(builtins), *_names(ast.parse(before), ast.Store)}
        for call in ast.walk(ast.parse(one.source)):
            if _calls(call, name) and _names(call, ast.Load) <= known:
                source = ast.get_source_segment(one.source, call)
                return f"{before}as_picture({source}{_over(call)})"
        before += one.source
    return ""


def _names(tree: ast.AST, how: type[ast.expr_context]) -> set[str]:
    names = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and isinstance(node.ctx, how)}
    imported = {alias.asname or alias.name.split(".")[0] for node in ast.walk(tree)
                if isinstance(node, ast.Import | ast.ImportFrom) for alias in node.names}
    return names | imported if how is ast.Store else names


def _over(call: ast.AST) -> str:
    """The first thing that the call is given, where it is a text: a shape stands over that chord."""
    first = call.args[0] if isinstance(call, ast.Call) and call.args else None
    return f", {first.value!r}" if isinstance(first, ast.Constant) and isinstance(first.value, str) else ""


def _calls(node: ast.AST, name: str) -> bool:
    if not isinstance(node, ast.Call):
        return False
    called = node.func.value if isinstance(node.func, ast.Attribute) and node.func.attr == "parse" else node.func
    return isinstance(called, ast.Name) and called.id == name
