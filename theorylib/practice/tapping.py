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
from ..levels import LEVELS, Level
from ..limits import PER_CHORD
from ..necks.positions import as_position
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Mark, Note
from .drills import bar_of, chord_tones, counted
from .pace import fast_value, note_value, onsets_in, value_for_all

PAIR_FRETS = 5  # the widest pair of the fretting hand (common practice, no source)
PAIR_MM = 105.0  # ... and in mm, which decides nearer the nut
# What a hand needs to leave one place and land in another (common practice, no source).
LANDING_MS, MM_A_MS = 100, 1
BETWEEN_STRINGS = 3  # times a fret of travel within a figure counts as much as one to it
TAP_FRETS = 12  # how far above the pair the other hand taps


@dataclass(frozen=True, slots=True, order=True)
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
    level: Level = LEVELS[1],
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To tap wide arpeggios: each chord's over skipped strings, up and down, in one note value.

    `per_chord` notes fill a bar with one chord (see `pace.note_value`); None takes sixteenths, or at a tempo that asks
    too much of a `level` the shortest value that does not. Going up, a string sounds low, high, tap; going down tap,
    high, low. The pairs stay as near to `position` as the chord allows; where the hand has to move to the next chord
    faster than a hand does, the last notes before it are left out. Raises DrillError for a chord with no figure that
    hands can play on a string.

    >>> [note.marked("tap") is not None for note in tapped_arpeggio("| Am7 | D9 |").notes[:3]]
    [False, False, True]
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    order = _from_the_thickest(strings, tuning)
    as_position(position, tuning, DrillError)
    length = _length(chart, per_chord, level)
    notes: list[Note] = []
    hand, figures = position, list[Figure]()
    for event in chart.events:
        if event.chord.root is None:
            continue
        # The hand stays where the last chord left it, as far as this chord allows.
        held, figures = figures, _figures(event, order, hand, tuning)
        notes = _with_time_to_move(notes, held, figures[0], event, chart)
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


def _with_time_to_move(
    notes: list[Note], held: list[Figure], first: Figure, event: Event, chart: Chart
) -> list[Note]:
    """The notes so far, less those of the last chord for which the hand must have left already; half stay at least."""
    lows = {figure.string: figure.frets[0] for figure in held}
    last = chart.event_at(notes[-1].onset_beats) if notes else None
    of_chord = sum(last is not None and note.onset_beats >= last.onset_beats for note in notes)
    kept = list(notes)
    while len(notes) - len(kept) < of_chord // 2:
        pressed = next(note for note in reversed(kept) if not note.marked("tap"))
        travel_mm = STANDARD.span_mm(lows[pressed.string or 0], first.frets[0])
        free_ms = (event.onset_beats - pressed.onset_beats) * 60_000 / chart.tempo
        if free_ms >= LANDING_MS + travel_mm / MM_A_MS:
            break
        kept.pop()
    return kept


def _length(chart: Chart, per_chord: int | None, level: Level) -> Fraction:
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


def _figures(event: Event, order: Sequence[int], hand: int, tuning: Tuning) -> list[Figure]:
    """A figure on each string, together near each other and near the hand: what moves the hand least.

    The cheapest way from string to string is found as a path; a fret between two strings counts more than one from
    where the hand was, for it is travelled up and down again and again.
    """
    ways: list[tuple[int, list[Figure]]] = [(0, [])]
    for string in order:
        found = []
        for figure in _on_string(event, string, tuning):
            low, high, _ = figure.frets
            found.append(
                min(
                    (cost + _travel(path, low, hand) + high - low, [*path, figure])
                    for cost, path in ways
                )
            )
        ways = found
    return min(ways)[1]


def _travel(path: list[Figure], low: int, hand: int) -> int:
    """What it costs to go on to a figure from those before it, or from where the hand was."""
    frets = abs(low - path[-1].frets[0]) * BETWEEN_STRINGS if path else abs(low - hand)
    return frets * frets


def _on_string(event: Event, string: int, tuning: Tuning) -> list[Figure]:
    """The figures that a string offers over a chord; raises DrillError where there is none."""
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
    return found


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
