"""Measures as they are played, laid on the even bars of a line: pickups, split measures, changes of meter.

A line has one meter. A short first measure is a pickup and stands at the end of its bar; short measures that fill a bar
together are one; another short one is filled with a rest. Where another meter begins, or a measure is too long, the
line ends, which is said with how to read on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from theorylib.changes.meters import Meter
from theorylib.errors import MusicFileError
from theorylib.limits import MOST_BARS

from .playing_order import playing_order, without_beginning
from .scores import Ledger, Measure


@dataclass(frozen=True, slots=True)
class Placed:
    """A measure and the beat of the line at which it begins."""

    measure: Measure
    start_beats: Fraction


def placed_measures(measures: Sequence[Measure], ledger: Ledger) -> tuple[list[Placed], Meter]:
    """The measures in playing order at their beats, and their meter."""
    order = playing_order([measure.jumps for measure in measures])
    if len(order) > len(measures):
        ledger.say(f"repeats are played out: {len(order)} bars of {len(measures)} written")
    for closing, start in without_beginning([measure.jumps for measure in measures]):
        ledger.say(f"the repeat has no beginning: it goes back to bar {measures[start].label}", measures[closing].label)
    meter = measures[0].meter
    placed = list(_placed([measures[index] for index in order], meter, ledger))
    if not placed:
        raise MusicFileError(f"measure {measures[0].label} is longer than its meter", value=measures[0].label,
                             expected=f"{meter.bar_beats} beats at most")
    return placed, meter


def _placed(played: Sequence[Measure], meter: Meter, ledger: Ledger) -> Iterator[Placed]:
    bar = meter.bar_beats
    now = Fraction(0)
    for index, measure in enumerate(played):
        length = measure.length_beats
        if length > bar and _notes_end(measure) <= bar:
            ledger.say("more rests than the bar holds are left out", measure.label)
            length = bar
        if reason := _ends_at(measure, meter):
            last = played[-1].label
            ledger.say(f"{reason}: the line ends before it (read on with passage=\"bars {measure.label}-{last}\")",
                       measure.label)
            return
        if now // bar >= MOST_BARS:
            raise MusicFileError(f"more than {MOST_BARS} bars", value=len(played), expected="a piece of that length")
        if index == 0 and 0 < length < bar and len(played) > 1 and not _filled_by(played[1], length, bar):
            now = bar - length
            beats = f"{length} beat{'s' if length > 1 else ''}"
            ledger.say(f"a pickup of {beats}, written at the end of a bar", measure.label)
        elif now % bar and now % bar + length > bar:
            ledger.say(f"the measure before it is short: {bar - now % bar} beats of rest fill its bar", measure.label)
            now = -(-now // bar) * bar
        yield Placed(measure, now)
        now += length or bar


def _ends_at(measure: Measure, meter: Meter) -> str:
    if measure.free:
        return "a bar without a meter"
    if measure.meter.bar_beats != meter.bar_beats or (
            measure.meter != meter and measure.meter.compound != meter.compound):
        return f"the meter changes to {measure.meter}"
    if _notes_end(measure) > meter.bar_beats:
        return f"the notes of the bar fill {_notes_end(measure)} beats where {meter} has {meter.bar_beats}"
    return ""


def _notes_end(measure: Measure) -> Fraction:
    return max((note.onset_beats + note.duration_beats for note in measure.notes), default=Fraction(0))


def _filled_by(following: Measure, length: Fraction, bar: Fraction) -> bool:
    """Do a short first measure and the one after it make one bar, a bar that a print has split?"""
    return following.length_beats + length == bar
