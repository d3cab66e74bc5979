"""The plan of a track before anybody plays: for each bar its density, its place in the phrase, its fill, who rests.

A stretch runs from one boundary to the next: a section of the chart, or the form, of eight bars at least where they are
short (a loop of two bars is no section each time). Choruses grow from light to full; of four one begins without
comping. Common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from operator import attrgetter

from theorylib.changes.charts import Chart, Event
from theorylib.errors import VampError, closest
from theorylib.names.chords import Chord

from .style import FULL, LIGHT, MAIN

PHRASE, LONG = 4, 8              # bars of a phrase, and of a stretch after which a crash may stand
STOP, GROWS = "stop", "grows"
ENDING = "ending"
WORDS = (LIGHT, MAIN, FULL, STOP)
COMP_PART = "Comping"
MOST_WORDS = 400


class ArrangementError(VampError):
    """An arrangement that cannot be read."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One bar of a track. `start_beats` is its place in the track, `bar` its bar of the form (from 0).

    `kind` is "intro", "chorus", "tag" or "ending"; `place` counts the bars of the phrase from 0, `chorus` the choruses;
    `fill` are the pulses of a fill at its end; `crash` marks the bar that answers one; `resting` parts leave it out.
    """

    start_beats: Fraction
    bar: int
    kind: str
    chorus: int
    density: str
    place: int
    fill: int = 0
    crash: bool = False
    resting: frozenset[str] = frozenset()
    section: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """A chord as the band meets it, in beats of the track; `changes`: its bass note is another than the last."""

    event: Event
    start_beats: Fraction
    end_beats: Fraction
    changes: bool


@dataclass(frozen=True, slots=True)
class Arrangement:
    """The bars of a track in order, and its chords."""

    chart: Chart
    slots: tuple[Slot, ...]
    spans: tuple[Span, ...] = field(repr=False)

    def spans_in(self, slot: Slot) -> tuple[Span, ...]:
        """The chords that begin in a bar."""
        first = bisect_left(self.spans, slot.start_beats, key=attrgetter("start_beats"))
        last = bisect_left(self.spans, slot.start_beats + self.chart.bar_beats, key=attrgetter("start_beats"))
        return self.spans[first:last]

    @property
    def end_beats(self) -> Fraction:
        return self.slots[-1].start_beats + self.chart.bar_beats if self.slots else Fraction(0)


def arranged(chart: Chart, passes: int, words: Sequence[str], *, intro_bars: int = 0, tag_bars: int = 0,
             home: Chord | None = None) -> Arrangement:
    """The plan of so many passes, `words` being the density of each chorus in turn (see `chorus_words`).

    With `home` a last bar holds that chord.
    """
    slots = [*_intro(chart, intro_bars), *_choruses(chart, passes, words), *_tag(chart, passes, tag_bars)]
    spans = list(_spans(chart, slots))
    if home is not None and slots:
        start, last = slots[-1].start_beats + chart.bar_beats, slots[-1]
        slots.append(Slot(start, 0, ENDING, last.chorus, last.density, 0))
        event = Event(home, -chart.bar_beats, chart.bar_beats, -1)
        spans.append(Span(event, start, start + chart.bar_beats, True))
    return Arrangement(chart, tuple(slots), tuple(spans))


def chorus_bars(chart: Chart) -> int:
    """The bars of a chorus: of a short form as many passes together as make eight."""
    return chart.form_bars * max(1, -(-LONG // max(1, chart.form_bars)))


def chorus_words(asked: str, count: int) -> tuple[str, ...]:
    """The density of each of `count` choruses: "grows", one word for all, or words for each, such as "light, main x2".

    Where fewer are said than there are, the last goes on. Raises ArrangementError.

    >>> chorus_words("grows", 4), chorus_words("light, main x2, full", 4)
    (('light', 'main', 'main', 'full'), ('light', 'main', 'main', 'full'))
    """
    if asked == GROWS:
        middle = (FULL if number % 4 == 3 else MAIN for number in range(1, count - 1))
        return {0: (), 1: (MAIN,), 2: (MAIN, FULL)}.get(count) or (LIGHT, *middle, FULL)
    found: list[str] = []
    for part in str(asked).split(","):
        match = re.fullmatch(r"\s*(\w+)(?:\s+x\s*(\d{1,3}))?\s*", part)
        if match is None or match[1] not in WORDS or len(found) > MOST_WORDS:
            raise ArrangementError(f"“{part.strip():.40}” is no chorus", value=part.strip(),
                                   expected=f"{GROWS}, or {', '.join(WORDS)} in a row, such as “light, main x2, full”",
                                   nearest=closest(part.strip(), (*WORDS, GROWS)))
        found += [match[1]] * int(match[2] or 1)
    if not found:
        raise ArrangementError("no chorus", value=asked, expected=", ".join(WORDS))
    return tuple((found + found[-1:] * count)[:count])


def _boundaries(chart: Chart, bars: int) -> set[int]:
    """The bars (of all passes) with which a stretch begins: sections and forms, four bars from the last at least."""
    form = chart.form_bars
    inside = {int(section.onset_beats / chart.bar_beats) for section in chart.sections} | {0}
    found, last = {0}, 0
    for bar in range(1, bars):
        if bar % form in inside and bar - last >= (PHRASE if form >= PHRASE and len(inside) > 1 else LONG):
            found.add(bar)
            last = bar
    return found | set(range(0, bars, chorus_bars(chart)))


def _choruses(chart: Chart, passes: int, words: Sequence[str]) -> Iterator[Slot]:
    bars, long = passes * chart.form_bars, chorus_bars(chart)
    begins = _boundaries(chart, bars)
    since, crashed, filled = 0, 0, False
    for bar in range(bars):
        since = 0 if bar in begins else since + 1
        chorus = bar // long
        density = words[min(chorus, len(words) - 1)]
        ends = bar + 1 in begins or bar + 1 == bars
        fill = _fill(density, since, bar + 1 == bars, (bar + 1) % long == 0) if ends else 0
        crash = filled and bar in begins and bar - crashed >= LONG and density != LIGHT
        crashed = bar if crash else crashed
        filled = fill > 0
        rests = chorus % 4 == 2 and len(words) > 3 and bar % long < min(PHRASE, long // 2) and chorus + 1 < len(words)
        yield Slot(bar * chart.bar_beats, bar % chart.form_bars, "chorus", chorus, density, since % PHRASE, fill, crash,
                   frozenset((COMP_PART,)) if rests else frozenset(), _section(chart, bar))


def _fill(density: str, since: int, last: bool, chorus: bool) -> int:
    """The pulses of a fill at the end of a stretch: longer at the end of a chorus, none in stops."""
    if density == STOP or (since + 1 < PHRASE and not last):
        return 0
    if density == LIGHT:
        return 1
    return 4 if density == FULL and chorus else 2


def _intro(chart: Chart, bars: int) -> Iterator[Slot]:
    """The form's last bars before it begins: lightly, a fill at the end."""
    for number in range(bars):
        left = bars - number
        bar = (chart.form_bars - left) % chart.form_bars
        yield Slot(-left * chart.bar_beats, bar, "intro", 0, LIGHT, number % PHRASE, 2 if left == 1 else 0)


def _tag(chart: Chart, passes: int, bars: int) -> Iterator[Slot]:
    """The form's last bars once more."""
    end = passes * chart.form_bars
    for number in range(bars):
        bar = (chart.form_bars - bars + number) % chart.form_bars
        yield Slot((end + number) * chart.bar_beats, bar, "tag", end // chorus_bars(chart), MAIN, number % PHRASE,
                   2 if number + 1 == bars else 0)


def _section(chart: Chart, bar: int) -> str:
    return chart.events_in(bar)[0].section if chart.events else ""


def _spans(chart: Chart, slots: Sequence[Slot]) -> Iterator[Span]:
    before: int | None = None
    for slot in slots:
        start = slot.bar * chart.bar_beats
        for event in chart.events_in(slot.bar):
            low = event.chord.bass or event.chord.root
            here = None if low is None else low.pitch_class
            onset = slot.start_beats + event.onset_beats - start
            yield Span(event, onset, onset + event.duration_beats, here != before)
            before = here
