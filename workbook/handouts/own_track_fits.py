"""Whether a recording, what its text says of it, and the lesson that is played over it belong together.

A recording stays in its key and its meter, and goes at half to 1.3 of its tempo. What does not fit is refused, for its
bars would stand under another line's.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from theorylib.changes.charts import Chart
from theorylib.errors import VampError

from ..media.grid_text import tells_of_another
from .errors import HandoutError

_METER = re.compile(r"^meter:", re.MULTILINE)
_SURE, _NONE = 0.75, 0.25   # shares of bars whose roots agree: so many in another key, so few in the lesson's own


def refuse_other_recording(name: str, text_name: str, text: str, edges: Sequence[float], seconds: float) -> None:
    """Raise where a recording is not the one whose bars a text states: shorter than they, or of another length."""
    if tells_of_another(text, seconds):
        raise HandoutError(f"{text_name} tells of another recording than {name}, which lasts {seconds:.1f} s",
                           value=name, expected="the recording that was heard; or its text deleted, and heard anew")
    if edges[-1] > seconds + (edges[-1] - edges[-2]):  # its last bar may be cut off
        raise HandoutError(f"the bars in {text_name} end at {edges[-1]:.1f} s, {name} at {seconds:.1f} s", value=name,
                           expected="the bars of this recording")


def refuse_other_music(chart: Chart, name: str, text_name: str, text: str) -> None:
    """Raise where the lesson's changes are those of the recording in another key, or in another meter."""
    told = _chart_in(text)
    if told is None:
        return
    if _METER.search(text) and told.meter != chart.meter:
        raise HandoutError(f"the lesson is in {chart.meter}, {name} in {told.meter}", value=str(chart.meter),
                           expected=f"the meter of {text_name}")
    shift = _moved_by(told, chart)
    if shift:
        raise HandoutError(f"the changes stand {shift} half step{'' if shift == 1 else 's'} above those of {name}",
                           value=str(chart.key or ""),
                           expected=f"the changes of {text_name}: a recording stays in its key")


def refuse_other_tempo(tempo: float, limits: Sequence[int], name: str) -> None:
    """Raise where a line's tempo is none at which the page can play the recording."""
    if not limits[0] <= round(tempo) <= limits[1]:
        raise HandoutError(f"♩ = {round(tempo)} is no tempo at which {name} can be played", value=round(tempo),
                           expected=f"♩ = {limits[0]} to {limits[1]}")


def stands_on(chart: Chart, other: Chart) -> bool:
    """Whether a line's chart has the bars of the lesson's changes, so that their recording may sound under it."""
    shares = _shares(chart, other)
    return chart.bar_beats == other.bar_beats and (not shares or shares[0] > _NONE)


def _chart_in(text: str) -> Chart | None:
    """The changes that a text tells beside the bars; None where it tells none that can be read."""
    try:
        return Chart.parse(text)
    except VampError:
        return None


def _moved_by(told: Chart, chart: Chart) -> int:
    """Half steps by which almost all roots of the one lie above the other's, where hardly any agree; else 0."""
    shares = _shares(told, chart)
    if not shares:
        return 0
    best = max(range(12), key=lambda shift: shares[shift])
    return best if shares[best] >= _SURE and shares[0] <= _NONE else 0


def _shares(told: Chart, chart: Chart) -> list[float]:
    """For each number of half steps the share of roots, bar by bar, that lie so far above; empty without chords."""
    pairs = [(low, high) for bar in range(min(told.form_bars, chart.form_bars))
             for low, high in zip(_roots(told, bar), _roots(chart, bar), strict=False)]
    return [sum((high - low) % 12 == shift for low, high in pairs) / len(pairs) for shift in range(12) if pairs]


def _roots(chart: Chart, bar: int) -> Iterator[int]:
    return (event.chord.root.pitch_class for event in chart.events_in(bar) if event.chord.root is not None)
