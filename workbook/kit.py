"""What a lesson's cells say: the teacher's names in one import, and rich displays for charts, harmony and lines.

`from workbook.kit import *` in a notebook brings every name below and teaches the notebook to show a chart as a grid
of bars, a harmony as a table and a line as staff and TAB. The values themselves know nothing of drawing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from theorylib import (
    STANDARD,
    Chart,
    Chord,
    Harmony,
    Line,
    Pitch,
    Scale,
    Tuning,
    continuous_arpeggio,
    finger,
    harmony,
    tempo_ladder,
)
from theorylib.charts import as_chart
from theorylib.drills import DIRECTIONS
from theorylib.neck import as_tuning

from . import care, prose
from .draw.chart import chart_picture
from .draw.neck import plot_neck
from .draw.score import score

if TYPE_CHECKING:
    from .draw.pictures import Picture

LINE_MIME = "application/vnd.vampbook.line+json"
CHART_MIME = "text/vnd.vampbook.chart"


@dataclass(frozen=True, slots=True)
class Words:
    """A piece of Markdown that a cell shows: prose or a table written from the analysis."""

    markdown: str

    def _repr_markdown_(self) -> str:
        return self.markdown

    def __repr__(self) -> str:
        return self.markdown


@dataclass(frozen=True, slots=True)
class Drill:
    """A fingered line to practise, with the tempo it works up to."""

    line: Line

    def score(self, **options: Any) -> Picture:
        """Staff and TAB with chord symbols and fingers; `options` go to `workbook.draw.score.score`."""
        return score(self.line, **options)

    def neck(self, **options: Any) -> Picture:
        """The places that the drill uses, on the neck."""
        return plot_neck(self.line, **options)

    def plan(self, target: int | Fraction | None = None, steps: int = 4) -> Words:
        """A table of practice tempos up to `target` (quarter notes a minute; None: the chart's), with the care text."""
        return Words(care.practice_plan(self.line, target or self.line.chart.tempo, steps))

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> Any:
        return self.score()._repr_mimebundle_(include, exclude)

    def __repr__(self) -> str:
        return f"{self.line.title} over {len(self.line.chords())} chords, {len(self.line.notes)} notes"


def arpeggio_drill(
    chart: Chart | str,
    position: int | None = 5,
    *,
    per_chord: int = 8,
    start: Pitch | str | None = None,
    direction: str = DIRECTIONS[0],
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
    title: str = "",
) -> Drill:
    """The continuous arpeggio through a chart, fingered in a position (None: free movement along the neck)."""
    neck = as_tuning(tuning)
    line = continuous_arpeggio(as_chart(chart), per_chord, position, start, direction, tuning=neck, passes=passes)
    if title:
        line = replace(line, title=title)
    return Drill(finger(line, neck, position))


def moves(read: Harmony) -> Words:
    """How each chord's tones move to the next chord, a bullet for each change."""
    lines = []
    for index, reading in enumerate(read.chords):
        following = read.chords[(index + 1) % len(read.chords)].chord
        if reading.chord.root is not None and following.root is not None and following != reading.chord:
            lines.append("- " + prose.moves(reading, following))
    return Words("\n".join(dict.fromkeys(lines)))


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


register_displays()

__all__ = [
    "STANDARD", "Chart", "Chord", "Drill", "Line", "Scale", "Tuning", "Words", "arpeggio_drill", "chart_picture",
    "continuous_arpeggio", "finger", "harmony", "moves", "plot_neck", "score", "tempo_ladder",
]
