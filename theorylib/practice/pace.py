"""Pace: the one note value that a drill keeps, what it is called, and whether a tempo leaves the hand time for it.

“Eight notes a chord” names a duration, that of eight notes in a bar of one chord: eighths in 4/4. Where chords are
shorter the value stays and each gets fewer notes; a bar that it does not share evenly takes the value that it has in
4/4, or the nearest that fills the bar. Values are in quarter-note beats; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from ..changes.charts import Chart, Event, as_chart
from ..changes.meters import COMMON_TIME, Meter
from ..errors import DrillError, one_of
from ..levels import LEVELS, Level

SHORTEST_BEATS = Fraction(1, 8)  # thirty-second notes: shorter ones are neither written nor played here
# Notes a second that a level is asked for at most: eighths at 120, sixteenths at 120, sixteenths at 160.
MOST_A_SECOND = dict(zip(LEVELS, (4.0, 8.0, 32 / 3), strict=True))
# Notes to a quarter that a level is asked for at most, however slow the tempo.
MOST_A_BEAT = dict(zip(LEVELS, (2, 4, 4), strict=True))
_NAMES = {
    Fraction(6): "dotted whole notes",
    Fraction(4): "whole notes",
    Fraction(3): "dotted half notes",
    Fraction(2): "half notes",
    Fraction(3, 2): "dotted quarter notes",
    Fraction(1): "quarter notes",
    Fraction(3, 4): "dotted eighth notes",
    Fraction(1, 2): "eighth notes",
    Fraction(1, 4): "sixteenth notes",
    Fraction(1, 8): "thirty-second notes",
    Fraction(4, 3): "half-note triplets",
    Fraction(2, 3): "quarter-note triplets",
    Fraction(1, 3): "eighth-note triplets",
    Fraction(1, 6): "sextuplets",
    Fraction(1, 5): "quintuplets",
}


def value_words(length_beats: Fraction) -> str:
    """What notes of a length are called: "eighth notes", "eighth-note triplets"; other lengths by their beats.

    >>> value_words(Fraction(1, 2)), value_words(Fraction(4, 7))
    ('eighth notes', 'notes of 4/7 of a beat')
    """
    return _NAMES.get(length_beats, f"notes of {length_beats} of a beat")


def note_value(chart: Chart, per_bar: int) -> Fraction:
    """The length of each note of a drill that plays about `per_bar` notes over a chord of a whole bar.

    The bar is shared evenly where one undotted sign writes the share; otherwise it is the value of so many notes in
    4/4, or the nearest that fills the bar. It is halved until every chord has a note of its own. Raises DrillError
    where that is too short to write.

    >>> [str(note_value(Chart.parse("| Am7 |", meter=meter), 8)) for meter in ("4/4", "5/4", "7/8", "6/8", "12/8")]
    ['1/2', '1/2', '1/2', '1/2', '1/2']
    """
    meter = chart.meter
    share, in_four = meter.bar_beats / per_bar, COMMON_TIME.bar_beats / per_bar
    # A short bar makes no count too fast that four quarters have room for.
    _held(max(share, in_four), chart, per_bar)
    value = value_for_all(chart, share if _fills(share, meter) else _nearest(in_four, meter))
    _held(value, chart, per_bar)
    return value


def value_for_all(chart: Chart, value: Fraction) -> Fraction:
    """The value, halved until every chord of the chart has a note of its own."""
    while value >= SHORTEST_BEATS and any(not _has_a_note(event, value) for event in chart.events):
        value /= 2
    return value


def _held(value: Fraction, chart: Chart, per_bar: int) -> None:
    if value >= SHORTEST_BEATS:
        return
    event = next((event for event in chart.events if not _has_a_note(event, 2 * value)), chart.events[0])
    raise DrillError(
        f"{per_bar} notes over {event.chord} in a bar of {chart.meter.bar_beats} beats are too short",
        value=per_bar,
        where=f"bar {event.bar + 1}",
        expected="thirty-second notes or longer",
    )


def _fills(value: Fraction, meter: Meter) -> bool:
    """Does one undotted sign write the value, over the bar's own beats?"""
    undotted: bool = value.numerator & (value.numerator - 1) == 0
    beat = meter.felt_beats[0]
    if not meter.compound and not meter.uneven:
        return undotted
    # A dotted or uneven bar is counted in its short notes: what cuts across them is another meter.
    if undotted and Fraction(4, meter.unit) % value == 0:
        return True
    return not meter.uneven and value % beat == 0 and meter.bar_beats % value == 0


def _nearest(share: Fraction, meter: Meter) -> Fraction:
    """Of the plain values that fill the bar, the one nearest in ratio; of two as near, the longer."""
    longest = Fraction(4, meter.unit if meter.compound or meter.uneven else 1)
    values = [longest * Fraction(1, 2**times) for times in range(6)]
    if not meter.uneven:
        values.append(meter.felt_beats[0])
    fitting = [
        value for value in values if value >= SHORTEST_BEATS and meter.bar_beats % value == 0
    ]

    def away(value: Fraction) -> tuple[Fraction, Fraction]:
        return max(value / share, share / value), -value

    return min(fitting or [SHORTEST_BEATS], key=away)


def _has_a_note(event: Event, value: Fraction) -> bool:
    first = ceil(event.onset_beats / value) * value
    return first < event.onset_beats + event.duration_beats


def onsets_in(event: Event, value: Fraction) -> Iterator[Fraction]:
    """The onsets of a steady line of notes within a chord's time, from the first that falls into it."""
    now = ceil(event.onset_beats / value) * value
    while now < event.onset_beats + event.duration_beats:
        yield now
        now += value


def most_a_beat(chart: Chart, level: Level = LEVELS[1]) -> int:
    """How many notes to a quarter a level is asked for at the chart's tempo, one to four.

    >>> [most_a_beat(Chart.parse("| Am7 |", tempo=str(tempo))) for tempo in (100, 140, 200)]
    [4, 3, 2]
    """
    one_of(level, MOST_A_SECOND, "level", DrillError)
    quarters_a_second = float(chart.tempo) / 60
    return max(1, min(MOST_A_BEAT[level], int(MOST_A_SECOND[level] / quarters_a_second + 1e-9)))


def fast_value(chart: Chart | str, level: Level = LEVELS[1]) -> Fraction:
    """How fast a drill may be: the shortest note value for a level at the chart's tempo.

    It is one of sixteenths, eighths and quarters.

    >>> [str(fast_value(Chart.parse("| Am7 |", tempo=str(tempo)))) for tempo in (100, 140, 300)]
    ['1/4', '1/2', '1']
    """
    most = most_a_beat(as_chart(chart), level)
    return Fraction(1, 2 if most == 3 else most)


def highest_tempo(shortest_beats: Fraction, level: Level = LEVELS[1]) -> int:
    """The tempo in quarter notes a minute up to which a level is asked for notes of a length.

    >>> highest_tempo(Fraction(1, 4), "intermediate")
    120
    """
    one_of(level, MOST_A_SECOND, "level", DrillError)
    return int(MOST_A_SECOND[level] * 60 * shortest_beats + Fraction(1, 10**6))
