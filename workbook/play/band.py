"""Who plays a backing track and how: one value for all that a teacher may choose about the band."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart
from theorylib.errors import as_text

from .style import MAIN, Style
from .style_text import as_style

GROWS = "grows"
COMPOUND, WALTZ = "compound", "waltz"


@dataclass(frozen=True, slots=True)
class Band:
    """What is played: a style for all (None: the chart's feel), and another for one part where it is named.

    A style is a name, the text of a style or its file. `choruses` is "grows", a density for all, or a row of them
    ("light, main x2, full, stop"). `groups` are those of the bar ("2+2+3"; "": the meter's own).
    """

    style: Style | Path | str | None = None
    drums: Style | Path | str | None = None
    bass: Style | Path | str | None = None
    comp: Style | Path | str | None = None
    choruses: str = GROWS
    groups: str = ""
    intro_bars: int = 0
    tag_bars: int = 0

    def __post_init__(self) -> None:
        as_text(self.choruses, "row of choruses", "words such as “light, main x2, full”")
        as_text(self.groups, "group of beats", "numbers such as 2+2+3")

    def style_for(self, chart: Chart) -> Style:
        """The style of the whole; raises StyleError."""
        return style_of(chart) if self.style is None else as_style(self.style)

    def style_of_part(self, chart: Chart, part: str) -> Style:
        """The style that a part plays ("drums", "bass", "comp")."""
        own = {"drums": self.drums, "bass": self.bass, "comp": self.comp}[part]
        return self.style_for(chart) if own is None else as_style(own)


EVEN = Band(choruses=MAIN)  # for what is played again and again: no chorus of it is the first or the last


def style_of(chart: Chart) -> Style:
    """The style of a chart's feel; meters of dotted pulses, and of three beats in straight feels, have their own."""
    if chart.meter.compound:
        return as_style(COMPOUND)
    return as_style(WALTZ if chart.meter.beats == 3 and chart.feel == "straight 8" else chart.feel)
