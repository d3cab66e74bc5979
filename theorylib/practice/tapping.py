"""Tapped arpeggios across skipped strings: a left-hand pair and a tapped note on each string, through the changes.

The left hand holds two chord tones on a string, the picking hand taps a third above them; pull-offs and hammer-ons do
the rest, and a string that begins with a hammered note is struck by no pick at all. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, listed, shown
from ..limits import PER_CHORD
from ..necks.positions import as_position
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Mark, Note
from .drills import counted

PAIR_FRETS = 5      # the widest left-hand pair, fret to fret (common practice, no source)
PAIR_MM = 105.0     # ... and in mm, which decides nearer the nut
TAP_FRETS = 12      # how far above the pair the other hand taps


@dataclass(frozen=True, slots=True)
class Figure:
    """Three chord tones on one string: two for the left hand, one tapped. `frets` rise."""

    string: int
    frets: tuple[int, int, int]


def tapped_arpeggio(chart: Chart | str, strings: Sequence[int] = (5, 3, 1), position: int = 7, *, per_chord: int = 16,
                    tuning: Tuning | str = STANDARD) -> Line:
    """The arpeggio of each chord over skipped strings, `per_chord` notes, going up the strings and down again.

    Going up, a string sounds low, high, tap; going down tap, high, low. The pairs stay as near to `position` as the
    chord allows. Raises DrillError for a chord with no playable figure on a string.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    expected = f"different strings of 1 to {len(tuning.open_strings)}"
    strings = listed(strings, "list of strings", expected, DrillError)
    wrong = [string for string in strings if string not in tuning.strings]
    if wrong or not strings or len(set(strings)) < len(strings):
        raise DrillError(f"strings {', '.join(map(shown, strings))}", value=strings, expected=expected)
    as_position(position, tuning, DrillError)
    counted(per_chord, PER_CHORD, "number of notes a chord")
    order = sorted(strings, reverse=True)
    notes: list[Note] = []
    hand = position
    for event in chart.events:
        if event.chord.root is None:
            continue
        figures = [_figure(event, string, hand, tuning) for string in order]
        hand = min(figure.frets[0] for figure in figures)
        length = event.duration_beats / per_chord
        if length < Fraction(1, 8):
            raise DrillError(f"{per_chord} notes over {event.chord} are too short to write", value=per_chord,
                             where=f"bar {event.bar + 1}", expected="thirty-second notes or longer")
        names = {tone.name.pitch_class: (tone.name, tone.degree) for tone in event.chord.tones}
        for index, (string, fret, tapped) in enumerate(_round(figures, per_chord)):
            before = notes[-1] if notes else None
            name, degree = names[tuning.midi(string, fret) % 12]
            marks = _reached(before, string, fret, tapped, index == 0)
            notes.append(Note(tuning.pitch(string, fret, name), event.onset_beats + index * length, length, string,
                              fret, degree=degree, marks=marks))
    return Line(tuple(notes), chart, tuning, "Tapped arpeggio", chart.length_beats, promise="chord tones")


def _figure(event: Event, string: int, hand: int, tuning: Tuning) -> Figure:
    """The figure on a string whose lower note lies nearest to the hand; of equals the narrower pair."""
    classes = {tone.name.pitch_class for tone in event.chord.tones}
    frets = [fret for fret in range(1, tuning.last_fret + 1) if tuning.midi(string, fret) % 12 in classes]
    found = [Figure(string, (low, high, tap)) for low in frets for high in frets
             if low < high <= low + PAIR_FRETS and tuning.span_mm(low, high) <= PAIR_MM
             for tap in frets[frets.index(high) + 1:][:1] if tap <= high + TAP_FRETS]
    if not found:
        raise DrillError(f"{event.chord} has no left-hand pair with a tapped note on string {string}",
                         value=str(event.chord), where=f"bar {event.bar + 1}", expected="other strings")
    return min(found, key=lambda one: (abs(one.frets[0] - hand), one.frets[1] - one.frets[0], one.frets))


def _round(figures: Sequence[Figure], count: int) -> list[tuple[int, int, bool]]:
    """(string, fret, tapped) in playing order: up the strings, then down, over and over."""
    up = [(one.string, fret, fret == one.frets[2]) for one in figures for fret in one.frets]
    down = up[::-1][1:-1]
    whole = up + down
    return [whole[index % len(whole)] for index in range(count)]


def _reached(before: Note | None, string: int, fret: int, tapped: bool, moves: bool) -> tuple[Mark, ...]:
    """How a note is reached: picked (the very first), tapped, from nowhere where the hand has moved, else legato."""
    if tapped:
        return (Mark("tap"),)
    if before is None:
        return ()
    if moves or before.string != string or before.fret == fret:
        return (Mark("hammer from nowhere"),)
    return (Mark("hammer" if fret > (before.fret or 0) else "pull"),)
