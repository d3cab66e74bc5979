"""Confirming what was heard of a recording, step by step: each step gives a new value, none changes what was before.

A chord is picked for its place in the chart; a bar is right when a person says so, or when each of its unsure chords
was picked. A grid that is moved keeps its chords; another tempo, meter or first bar is heard anew, with none picked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from theorylib.changes.bars import Bar
from theorylib.changes.charts import Chart
from theorylib.changes.form import unrolled
from theorylib.names.chords import Chord

from ..media.grid_text import LONGEST_BAR, SHORTEST_BAR
from .changes import HeardChord
from .heard_text import chart_text
from .hearing import SURE, Heard, Listened, bar_text, heard_as
from .recording import ListenError
from .wishes import Wishes, wishes

Place = tuple[int, float]  # a bar of the chart, from 0, and the share of it at which a chord begins


@dataclass(frozen=True, slots=True, eq=False)
class Confirming:
    """What was heard, and what a person said of it: `picks` are chords at their places, `right` bars that are
    confirmed, `sections` names of what begins with a bar."""

    listened: Listened
    heard: Heard
    picks: Mapping[Place, Chord] = field(default_factory=dict)
    right: frozenset[int] = frozenset()
    sections: Mapping[int, str] = field(default_factory=dict)

    # -- what stands -------------------------------------------------------------------------------------------------
    @property
    def edges(self) -> tuple[float, ...]:
        """Seconds at which bars begin, and at which the last one ends."""
        return tuple(float(one) for one in self.heard.grid.bar_edges)

    @property
    def chords(self) -> tuple[HeardChord, ...]:
        """The chords of one pass through the chart, as they were heard."""
        return tuple(one for one in self.heard.chords if one.bar < self.heard.chart.form_bars)

    def chord_at(self, one: HeardChord) -> Chord:
        return self.picks.get((one.bar, one.share), one.chord)

    def is_sure(self, one: HeardChord) -> bool:
        """Is a chord confirmed, or was it heard so surely that nobody is asked?"""
        return one.bar in self.right or (one.bar, one.share) in self.picks or one.confidence >= SURE

    @property
    def unsure(self) -> tuple[int, ...]:
        """The bars that are to be confirmed."""
        return tuple(dict.fromkeys(one.bar for one in self.chords if not self.is_sure(one)))

    @property
    def chart(self) -> Chart:
        """The chart with what was picked and the sections that were marked."""
        chart = unrolled(self.heard.chart)
        bars = list(chart.bars)
        for number in {bar for bar, _ in self.picks if bar < len(bars)}:
            bars[number] = replace(bars[number], cells=self._bar(number).cells)
        for number, name in self.sections.items():
            if number < len(bars):
                bars[number] = replace(bars[number], section=name or None)
        return replace(chart, bars=tuple(bars))

    def _bar(self, number: int) -> Bar:
        inside = [replace(one, chord=self.chord_at(one)) for one in self.chords if one.bar == number]
        return Chart.parse(f"| {bar_text(inside, self.heard.grid.pulses)} |", meter=self.heard.meter).bars[0]

    @property
    def text(self) -> str:
        """The text to keep beside the recording, which reads back to the same."""
        return chart_text(replace(self.heard, chart=self.chart), bars=True, unsure=self.unsure)

    # -- steps -------------------------------------------------------------------------------------------------------
    def picked(self, bar: int, share: float, chord: Chord | str) -> Confirming:
        """With a chord at one of its places; raises ListenError for a place where none begins."""
        place = next(((one.bar, one.share) for one in self.chords if one.bar == bar and abs(one.share - share) < 0.01),
                     None)
        if place is None:
            raise ListenError(f"no chord begins at bar {bar + 1}", value=bar + 1, expected="a place of the chart")
        read = chord if isinstance(chord, Chord) else Chord.parse(chord)
        return replace(self, picks={**self.picks, place: read})

    def confirmed(self, bar: int) -> Confirming:
        """With a bar taken as it stands."""
        return replace(self, right=self.right | {bar})

    def sectioned(self, bar: int, name: str) -> Confirming:
        """With a section that begins at a bar of the chart; an empty name takes it away."""
        line = " ".join(name.split())[:40]
        if set(line) & set("|[]#"):
            raise ListenError(f"“{line}” cannot name a section", value=name, expected="letters and figures")
        if not 0 <= bar < self.heard.chart.form_bars:
            raise ListenError(f"the chart has no bar {bar + 1}", value=bar + 1,
                              expected=f"1 to {self.heard.chart.form_bars}")
        return replace(self, sections={**self.sections, bar: line})

    def at_tempo(self, tempo: float) -> Confirming:
        return self._anew(wishes(tempo=tempo, meter=self.heard.meter))

    def in_meter(self, meter: str) -> Confirming:
        return self._anew(wishes(tempo=self.heard.tempo, meter=meter))

    def in_key(self, key: str) -> Confirming:
        """In another key: bars and what was picked stay, the other chords are spelled and heard in it."""
        return self._moved(self.edges, key=key)

    def first_at(self, seconds: float) -> Confirming:
        """With the first bar at the beat that is nearest to a moment."""
        return self._anew(wishes(tempo=self.heard.tempo, meter=self.heard.meter, first_bar=max(0.0, seconds)))

    def shifted(self, seconds: float) -> Confirming:
        """With the whole grid a little earlier or later."""
        return self._moved([edge + seconds for edge in self.edges])

    def dragged(self, number: int, seconds: float) -> Confirming:
        """With one bar line elsewhere between its neighbours."""
        edges = list(self.edges)
        if not 0 <= number < len(edges):
            raise ListenError(f"there is no bar line {number + 1}", value=number + 1, expected=f"1 to {len(edges)}")
        low = edges[number - 1] + SHORTEST_BAR if number else 0.0
        high = edges[number + 1] - SHORTEST_BAR if number + 1 < len(edges) else edges[number - 1] + LONGEST_BAR
        edges[number] = min(max(seconds, low), high)
        return self._moved(edges)

    def _anew(self, wished: Wishes) -> Confirming:
        return Confirming(self.listened, heard_as(self.listened, wished))

    def _moved(self, edges: Sequence[float], key: str | None = None) -> Confirming:
        if edges[0] < 0:
            raise ListenError("the first bar would begin before the recording", value=round(edges[0], 3),
                              expected="0 seconds or later")
        said = wishes(chart=self.text, key=key)
        wished = replace(said, bars=tuple(edges), first_bar_seconds=None, tempo=None)
        return replace(self, heard=heard_as(self.listened, wished))


def confirming(listened: Listened, text: str = "") -> Confirming:
    """Begin: from nothing, or from a text that was kept."""
    return Confirming(listened, heard_as(listened, wishes(chart=text) if text else Wishes()))
