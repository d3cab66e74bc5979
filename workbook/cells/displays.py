"""How a notebook shows the values of the theory: a chart as bars, a harmony as a table, a line as staff and TAB."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.playing.lines import Line
from theorylib.reading.harmony import Harmony

from ..draw.chart import chart_picture
from ..draw.score import score
from ..lesson import prose
from ..mimes import CHART_MIME
from .magic import register_magic


def _show_chart(chart: Chart, include: object = None, exclude: object = None) -> Any:
    return replace(chart_picture(chart), extra={CHART_MIME: str(chart)})._repr_mimebundle_(include, exclude)


def _show_harmony(read: Harmony, include: object = None, exclude: object = None) -> Any:
    table = prose.harmony_table(read)
    return {"text/markdown": table, "text/plain": table}


def _show_line(line: Line, include: object = None, exclude: object = None) -> Any:
    return score(line)._repr_mimebundle_(include, exclude)


_DISPLAYS: dict[type, Callable[..., Any]] = {Chart: _show_chart, Harmony: _show_harmony, Line: _show_line}


def register_displays() -> None:
    """Teach the running notebook how to show our values; outside a notebook it does nothing."""
    try:
        from IPython.core.getipython import get_ipython
    except ImportError:
        return
    shell = get_ipython()
    if shell is not None and shell.display_formatter is not None:
        for kind, show in _DISPLAYS.items():
            shell.display_formatter.mimebundle_formatter.for_type(kind, show)
    register_magic()
