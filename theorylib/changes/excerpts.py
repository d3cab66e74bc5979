"""A stretch of a chart's bars as a chart of its own, as a phrase needs that begins in the middle of the form."""

from __future__ import annotations

from dataclasses import replace

from ..errors import ChartError, shown
from ..limits import is_whole
from .bars import Bar, only_changes, sources
from .charts import Chart, as_chart


def excerpt(chart: Chart | str, from_bar: int, bars: int) -> Chart:
    """So many bars from bar `from_bar` on (from 1), repeats unrolled, begun again where the form ends.

    The key is the one that the chart states there. Raises ChartError for a bar that the form does not have.

    >>> str(excerpt("| Am7 | D7 | Gmaj7 | % |", 3, 2)).splitlines()[-1]
    '| Gmaj7 | Gmaj7 |'
    """
    chart = as_chart(chart)
    count = len(chart.order)
    if not is_whole(from_bar, 1, count):
        raise ChartError(f"no bar {shown(from_bar)} in a form of {count}", value=from_bar, expected=f"1 to {count}")
    if not is_whole(bars, 1, count):
        raise ChartError(f"{shown(bars)} bars of a form of {count}", value=bars, expected=f"1 to {count}")
    numbers = [(from_bar - 1 + index) % count for index in range(bars)]
    keys = chart.stated_keys
    plays = sources(chart.bars)
    written = [Bar(chart.bars[plays[chart.order[number]]].cells, chart.bars[chart.order[number]].section,
                   key=keys[number]) for number in numbers]
    return replace(chart, bars=tuple(only_changes(written, keys[numbers[0]])), key=keys[numbers[0]])
