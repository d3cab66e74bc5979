"""Tapped arpeggios across skipped strings: a fretted pair and a tapped note on each string, through the changes.

The fretting hand holds two chord tones on a string, the picking hand taps a third above them; pull-offs and hammer-ons
do the rest, and a string that begins with a hammered note is struck by no pick at all. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import cycle, pairwise

from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, listed, one_of, shown
from ..levels import LEVELS
from ..limits import PER_CHORD
from ..necks.positions import as_position
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Mark, Note
from .drills import bar_of, chord_tones, counted
from .pace import fast_value, note_value, onsets_in, value_for_all

PAIR_FRETS = 5  # the widest pair of the fretting hand (common practice, no source)
PAIR_MM = 105.0  # ... and in mm, which decides nearer the nut
TAP_FRETS = 12  # how far above the pair the other hand taps


@dataclass(frozen=True, slots=True)
class Figure:
    """Three chord tones on one string: two for the fretting hand, one tapped. `frets` rise."""

    string: int
    frets: tuple[int, int, int]


def tapped_arpeggio(
    chart: Chart | str,
    strings: Sequence[int] = (5, 3, 1),
    position: int = 7,
    *,
    per_chord: int | None = None,
    level: str = LEVELS[1],
    tuning: Tuning | str = STANDARD,
) -> Line:
    """The arpeggio of each chord over skipped strings, going up the strings and down again, in one note value.

    `per_chord` notes fill a bar with one chord (see `pace.note_value`); None takes sixteenths, or at a tempo that asks
    too much of a `level` the shortest value that does not. Going up, a string sounds low, high, tap; going down tap,
    high, low. The pairs stay as near to `position` as the chord allows. Raises DrillError for a chord with no figure
    that hands can play on a string.

    >>> [note.marked("tap") is not None for note in tapped_arpeggio("| Am7 | D9 |").notes[:3]]
    [False, False, True]
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    order = _from_the_thickest(strings, tuning)
    as_position(position, tuning, DrillError)
    length = _length(chart, per_chord, level)
    notes: list[Note] = []
    hand = position
    for event in chart.events:
        if event.chord.root is None:
            continue
        # The hand stays where the last chord left it, as far as this chord allows.
        figures = [_figure(event, string, hand, tuning) for string in order]
        hand = min(figure.frets[0] for figure in figures)
        tones = chord_tones(event.chord)
        hand_moves = True
        for now, (string, fret, tapped) in zip(
            onsets_in(event, length), _round(figures), strict=False
        ):
            name, degree = tones[tuning.midi(string, fret) % 12]
            pitch = tuning.pitch(string, fret, name)
            marks = _reached(notes[-1:], string, fret, tapped, hand_moves)
            notes.append(Note(pitch, now, length, string, fret, degree=degree, marks=marks))
            hand_moves = False
    return Line(
        tuple(notes), chart, tuning, "Tapped arpeggio", chart.length_beats, promise="chord tones"
    )


def _length(chart: Chart, per_chord: int | None, level: str) -> Fraction:
    one_of(level, LEVELS, "level", DrillError)
    if per_chord is None:
        return value_for_all(chart, fast_value(chart, level))
    counted(per_chord, PER_CHORD, "number of notes a chord")
    return note_value(chart, per_chord)


def _from_the_thickest(strings: Sequence[int], tuning: Tuning) -> list[int]:
    expected = f"different strings of 1 to {len(tuning.open_strings)}"
    given = listed(strings, "list of strings", expected, DrillError)
    are_strings = all(string in tuning.strings for string in given)
    if not given or not are_strings or len(set(given)) < len(given):
        raise DrillError(f"strings {', '.join(map(shown, given))}", value=given, expected=expected)
    return sorted(given, reverse=True)


def _figure(event: Event, string: int, hand: int, tuning: Tuning) -> Figure:
    """The figure on a string whose lower note lies nearest to the hand; of equals the narrower pair."""
    tones = chord_tones(event.chord)
    frets = [
        fret for fret in range(1, tuning.last_fret + 1) if tuning.midi(string, fret) % 12 in tones
    ]
    found: list[Figure] = []
    for low in frets:
        # The tapped note is the next chord tone above the pair, a third up in a chord of thirds.
        for high, tap in pairwise(frets):
            is_pair = low < high <= low + PAIR_FRETS and tuning.span_mm(low, high) <= PAIR_MM
            if is_pair and tap <= high + TAP_FRETS:
                found.append(Figure(string, (low, high, tap)))
    if not found:
        raise DrillError(
            f"{event.chord} has no pair for the fretting hand with a tapped note on string {string}",
            value=str(event.chord),
            where=bar_of(event),
            expected="other strings",
        )
    return min(
        found, key=lambda one: (abs(one.frets[0] - hand), one.frets[1] - one.frets[0], one.frets)
    )


def _round(figures: Sequence[Figure]) -> Iterator[tuple[int, int, bool]]:
    """(string, fret, tapped) in playing order: up the strings, then down, over and over."""
    up = [(one.string, fret, fret == one.frets[2]) for one in figures for fret in one.frets]
    # The turning notes sound once: neither the top nor the bottom is struck twice running.
    down = up[::-1][1:-1]
    return cycle(up + down)


def _reached(
    before: Sequence[Note], string: int, fret: int, tapped: bool, hand_moves: bool
) -> tuple[Mark, ...]:
    """How a note is reached: picked (the very first), tapped, from nowhere where the hand has moved, else legato."""
    if tapped:
        return (Mark("tap"),)
    # Only the very first note is picked: after it the fretting hand keeps the sound going.
    if not before:
        return ()
    last = before[0]
    if hand_moves or last.string != string or last.fret == fret:
        return (Mark("hammer from nowhere"),)
    return (Mark("hammer" if fret > (last.fret or 0) else "pull"),)
