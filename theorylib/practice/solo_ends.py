"""Where a solo begins and where it comes to rest: the home chords of a chart, its first note and its last.

What makes a good beginning or ending is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from random import Random

from ..changes.charts import Chart, Event, as_chart
from ..names.chords import Chord
from ..reading.harmony import Span, home_spans

# Tones at rest over any chord: its root, its third, a perfect fifth.
STABLE = ("1", "3", "b3", "5")


@dataclass(frozen=True, slots=True)
class Moment:
    """A note to aim at: its degree over the chord there, on a beat (from 1, in the meter's own) of a bar (from 1)."""

    degree: str
    beat: Fraction
    bar: int

    def __str__(self) -> str:
        return f"{self.degree} on beat {self.beat} of bar {self.bar}"


def home_chords(chart: Chart | str) -> frozenset[Chord]:
    """The chords on which a chart is at home: those on the tonic of its last home that has any, else of its first.

    Where one of them is no dominant, the dominants among them lead away (C7 in C major); of a blues they are home.

    >>> sorted(map(str, home_chords("| Dm7 | G7 | Cmaj7 | C7 |")))
    ['Cmaj7']
    """
    return _home_chords(as_chart(chart))


@lru_cache(maxsize=64)  # whoever writes a lesson asks for those of its chart dozens of times
def _home_chords(chart: Chart) -> frozenset[Chord]:
    if all(event.chord.root is None for event in chart.events):
        return frozenset()
    homes = home_spans(chart)
    found = _tonic_chords(chart, homes[-1]) or _tonic_chords(chart, homes[0])
    at_rest = {chord for chord in found if not chord.is_dominant}
    return frozenset(at_rest or found)


def _tonic_chords(chart: Chart, home: Span) -> set[Chord]:
    end = home.onset_beats + home.duration_beats
    inside = [
        event.chord for event in chart.events if home.onset_beats <= event.onset_beats < end
    ]
    tonic = home.scale.tonic.pitch_class
    return {chord for chord in inside if chord.root is not None and chord.root.pitch_class == tonic}


def last_note(chart: Chart, bars: int, chance: Random) -> Moment:
    """Where a solo of whole choruses (so many bars) comes to rest: on the home chord, as it comes in.

    That is in the last bar where it is home, else on the first beat after the last chorus where the form begins at
    home (a backing track ends there), else where the form is at home for the last time; without any home chord on the
    last chord. In an even bar that is its own, its middle is a place to rest too.
    """
    home = home_chords(chart)
    at_home = [event for event in chart.events if event.chord in home]
    if leads_back(chart):
        return Moment(chance.choice(_stable(chart.events[0].chord)), Fraction(1), bars + 1)
    event = at_home[-1] if at_home else chart.events[-1]
    meter, beat = chart.meter, _beat_of(chart, event)
    has_the_bar = beat == 1 and event.duration_beats >= meter.bar_beats
    if has_the_bar and meter.pulses % 2 == 0:
        beat = chance.choice([beat, Fraction(1 + meter.beats // 2)])
    bar = bars + event.bar + 1 - chart.form_bars
    return Moment(chance.choice(_stable(event.chord)), beat, bar)


@dataclass(frozen=True, slots=True)
class Rest:
    """Where a line through some forms comes to rest: from this beat of the line on, for so long, over this chord."""

    onset_beats: Fraction
    duration_beats: Fraction
    chord: Chord

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.duration_beats


def leads_back(chart: Chart) -> bool:
    """Does the last chord lead back to a first one that is home?"""
    home = home_chords(chart)
    return chart.events[0].chord in home and chart.events[-1].chord not in home


def rest_of(chart: Chart, passes: int = 1) -> Rest:
    """Where a line that fills whole forms comes to rest: in the last bar, on the chord that sounds there at the end.

    A last chord that leads back to a first one at home is not the end: that is the bar after it, on the home chord. To
    who plays the form in a loop, it is the first beat of the next time round.

    >>> rest = rest_of(Chart.parse("| Am7 | D7 |"))
    >>> rest.chord.pretty, rest.onset_beats // 4 + 1
    ('Am7', 3)
    """
    end = passes * chart.length_beats
    if leads_back(chart):
        return Rest(end, chart.bar_beats, chart.events[0].chord)
    last = chart.events[-1]
    begins = max(end - last.duration_beats, end - chart.bar_beats)
    return Rest(begins, end - begins, last.chord)


def first_note(chart: Chart, chance: Random) -> Moment:
    """A stable degree of the first chord, after its first beat: the band is heard before the soloist."""
    event = next((one for one in chart.events if one.chord.root is not None), chart.events[0])
    meter, first = chart.meter, _beat_of(chart, event)
    a_pulse = meter.beats // meter.pulses
    end = first + event.duration_beats * meter.beats / meter.bar_beats
    later = [
        Fraction(beat) for beat in range(1, meter.beats + 1, a_pulse) if first < beat < end
    ]
    degree = chance.choice(_stable(event.chord))
    return Moment(degree, chance.choice(later or [first]), event.bar + 1)


def _stable(chord: Chord) -> list[str]:
    return [degree for degree in STABLE if degree in chord.degrees] or ["1"]


def _beat_of(chart: Chart, event: Event) -> Fraction:
    """The beat on which an event comes in, from 1, in the meter's own beats."""
    return 1 + event.onset_beats % chart.bar_beats * chart.meter.beats / chart.bar_beats
