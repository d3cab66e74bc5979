"""The plan of a track to read: a row for each stretch of it, and all rows as a picture in text.

A stretch is an intro, a chorus, a tag or an ending.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from .arrangement import PHRASE, STOP, Arrangement, Slot
from .style import FULL, LIGHT, MAIN

_SIGNS = {LIGHT: "▁", MAIN: "▃", FULL: "▆", STOP: "╎"}
_FILLED = {LIGHT: "▂", MAIN: "▅", FULL: "▇", STOP: "╎"}
_CRASH, _RESTS, _NAMELESS = "█", "○", "·"
# What each sign says; of those that a picture has, its legend tells.
_LEGEND = (("▁", "light"), ("▃", "main"), ("▆", "full"), ("╎", "stops"), ("▂▅▇", "with a fill"), (_CRASH, "a crash"),
           (_RESTS, "without comping"))


@dataclass(frozen=True, slots=True)
class Row:
    """A stretch of a track: its first and last bar of the whole (from 1), what it is, its sections, its bars."""

    first: int
    last: int
    kind: str
    sections: tuple[str, ...]
    density: str
    bars: tuple[Slot, ...]

    @property
    def where(self) -> str:
        return f"bars {self.first}–{self.last}" if self.last > self.first else f"bar {self.first}"

    @property
    def name(self) -> str:
        """Its sections in a row (a dot for one without a name), how often the form comes, or what else it is."""
        if self.kind != "chorus":
            return self.kind
        times = len(self.sections)
        is_nameless = set(self.sections) == {_NAMELESS}
        return " ".join(self.sections) if not is_nameless else "form" if times == 1 else f"form × {times}"


def rows(plan: Arrangement) -> tuple[Row, ...]:
    """The plan, stretch by stretch."""
    found, number = [], 0
    for (kind, _), stretch in groupby(plan.slots, lambda slot: (slot.kind, slot.chorus)):
        bars = tuple(stretch)
        found.append(Row(number + 1, number + len(bars), kind, tuple(_sections(bars)), bars[0].density, bars))
        number += len(bars)
    return tuple(found)


def picture(plan: Arrangement, groups: Sequence[int] = ()) -> str:
    """The plan as text: a row for each stretch, a sign a bar, a legend below.

    >>> from .arrangement import arranged
    >>> from theorylib.changes.charts import Chart
    >>> print(picture(arranged(Chart.parse("[A] | Am7 | D7 | Am7 | E7 |"), 4, ("light", "full"))))
    bars 1–8   A A  light  ▁▁▁▁ ▁▁▁▂
    bars 9–16  A A  full   █▆▆▆ ▆▆▆▇
    ▁ light  ▆ full  ▂▅▇ with a fill  █ a crash
    """
    told = [(row.where, row.name, row.density, _by_phrases("".join(map(_sign, row.bars)))) for row in rows(plan)]
    widths = [max((len(row[column]) for row in told), default=0) for column in range(3)]
    lines = ["  ".join([row[column].ljust(widths[column]) for column in range(3)] + [row[3]]) for row in told]
    if len(groups) > 1:
        lines.append(f"felt {'+'.join(map(str, groups))}")
    shown = set("".join(row[3] for row in told))
    return "\n".join([*lines, "  ".join(f"{signs} {words}" for signs, words in _LEGEND if shown & set(signs))])


def _by_phrases(signs: str) -> str:
    return " ".join(signs[at:at + PHRASE] for at in range(0, len(signs), PHRASE))


def _sections(bars: Sequence[Slot]) -> Iterator[str]:
    """The name of each section that begins in these bars, a dot for one without."""
    before: Slot | None = None
    for slot in bars:
        if before is None or slot.bar == 0 or slot.section != before.section:
            yield slot.section or _NAMELESS
        before = slot


def _sign(slot: Slot) -> str:
    if slot.crash:
        return _CRASH
    if slot.resting:
        return _RESTS
    return (_FILLED if slot.fill else _SIGNS)[slot.density]
