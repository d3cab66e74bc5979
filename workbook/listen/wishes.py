"""What a person says of a recording before it is heard, or after: each is honoured, and sharpens the rest.

A chart that we wrote names its unsure bars in comments, `# ? bar 6: …`; fed back, those bars are heard anew and all
others are taken as they stand. A comment `# first bar at 3.21 s` says where the first bar begins, and `# bars at …`
where every bar does (grid_text.py): these hold as long as nothing else that is said contradicts them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from theorylib.changes.charts import Chart, as_chart
from theorylib.changes.meters import Meter
from theorylib.errors import shown
from theorylib.limits import TEMPO, number_in
from theorylib.names.scales import Scale, as_scale

from ..media.grid_text import read_bars
from .recording import LONGEST_MINUTES, ListenError

UNSURE, FIRST_BAR = "# ? bar", "# first bar at"
MOST_FORM_BARS = 400
_UNSURE = re.compile(r"^[ \t]{0,9}#[ \t]{0,9}\?[ \t]{0,9}bar[ \t]{1,9}(\d{1,4})\b", re.MULTILINE)
_FIRST_BAR = re.compile(r"^[ \t]{0,9}#[ \t]{0,9}first bar at (\d{1,5}(?:\.\d{1,6})?) s\b", re.MULTILINE)
_NEAR_SECONDS, _NEAR_TEMPO = 0.01, 0.04  # by which what is said beside them may differ from the bars
_FORM = re.compile(r"(\w{1,20})\s{0,9}[x×*:]?\s{0,9}(\d{1,3})")


@dataclass(frozen=True, slots=True)
class Wishes:
    """`tempo` in quarter notes a minute; `form` as (name, bars) of each section; `unsure` bars of the chart, from 0;
    `bars` the seconds at which bars begin and at which the last one ends."""

    tempo: float | None = None
    meter: Meter | None = None
    first_bar_seconds: float | None = None
    key: Scale | None = None
    form: tuple[tuple[str, int], ...] = ()
    chart: Chart | None = None
    unsure: frozenset[int] = field(default_factory=frozenset)
    bars: tuple[float, ...] = ()


def wishes(*, tempo: object = None, meter: Meter | str | None = None, first_bar: object = None,
           key: Scale | str | None = None, form: str | int | None = None, chart: Chart | str | None = None) -> Wishes:
    """The wishes from texts or values; what a chart's text says counts where nothing else is given.

    >>> wishes(form="A8 B4").form
    (('A', 8), ('B', 4))
    """
    text = chart if isinstance(chart, str) else ""
    read = None if chart is None else as_chart(chart)
    said = _FIRST_BAR.search(text)
    starts = first_bar if first_bar is not None else said[1] if said else None
    free = tempo is None and meter is None and first_bar is None
    return Wishes(
        bars=_bars(text, read, said[1] if said else None) if free and read is not None else (),
        tempo=_tempo(tempo, text, read),
        meter=_meter(meter, read),
        first_bar_seconds=None if starts is None else float(number_in(starts, (0, 60 * LONGEST_MINUTES), "second")),
        key=as_scale(key) if key is not None else read.key if read else None,
        form=_read_form(form), chart=read,
        unsure=frozenset(int(bar) - 1 for bar in _UNSURE.findall(text)))


def _meter(given: Meter | str | None, chart: Chart | None) -> Meter | None:
    if given is None:
        return chart.meter if chart is not None else None
    return given if isinstance(given, Meter) else Meter.parse(given)


def _tempo(given: object, text: str, chart: Chart | None) -> float | None:
    if given is not None:
        return float(number_in(given, TEMPO, "tempo in quarter notes a minute"))
    says_so = chart is not None and re.search(r"^\s{0,9}tempo\s{0,9}:", text, re.MULTILINE | re.IGNORECASE)
    return float(chart.tempo) if chart is not None and says_so else None


def _bars(text: str, chart: Chart, first: str | None) -> tuple[float, ...]:
    """The bars that a text states, unless its own first bar or tempo was changed since."""
    edges = read_bars(text)
    if not edges:
        return ()
    tempo = _tempo(None, text, chart)
    stated = 60 * float(chart.bar_beats) * (len(edges) - 1) / (edges[-1] - edges[0])
    moved = first is not None and abs(float(first) - edges[0]) > _NEAR_SECONDS
    return () if moved or (tempo is not None and abs(tempo / stated - 1) > _NEAR_TEMPO) else edges


def _read_form(text: str | int | None) -> tuple[tuple[str, int], ...]:
    if text is None or text == "":
        return ()
    words = str(text).strip()
    found = (("", int(words)),) if words.isdecimal() else tuple(
        (name, int(bars)) for name, bars in _FORM.findall(words))
    left = "" if words.isdecimal() else _FORM.sub("", words).strip(" ,|")
    if not found or left or not all(0 < bars <= MOST_FORM_BARS for _, bars in found):
        raise ListenError(f"“{shown(text)}” is no form", value=text,
                          expected="the number of bars of a chorus, such as 12, or sections with theirs, such as A8 B8")
    return found
