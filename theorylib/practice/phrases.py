"""Drills of space: phrases with prescribed rests, a motif carried through the changes, call and answer.

A rhythm is text: lengths in quarter-note beats, rests with a minus ("1 1/2 1/2 -1 1"); a contour is steps between chord
tones ("0 1 1 -1"). Rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..errors import DrillError, VampError, as_text
from ..limits import BARS, PASSES, exact
from ..names.spelling import Pitch
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note, as_line
from .drills import Pool, chord_pool, counted, reachable_midi

HOME_DEGREES = ("1", "3", "b3")  # where an answer comes to rest (common practice, no source)


def play_and_rest(line: Line | str, play_bars: int = 2, rest_bars: int = 2) -> Line:
    """The line with `play_bars` bars played and `rest_bars` bars silent, in turn; a note is cut at the silence."""
    line = as_line(line)
    counted(play_bars, BARS, "number of bars to play")
    counted(rest_bars, BARS, "number of bars to rest")
    bar, turn = line.chart.bar_beats, play_bars + rest_bars
    notes = []
    for note in line.notes:
        start = note.onset_beats // (bar * turn) * bar * turn
        silence = start + play_bars * bar
        if note.onset_beats < silence:
            end = min(note.end_beats, silence)
            notes.append(replace(note, duration_beats=end - note.onset_beats))
    return replace(line, notes=tuple(notes), title=f"{line.title}, play {play_bars}, rest {rest_bars}".strip(", "))


def motif(chart: Chart | str, rhythm: str = "1 1/2 1/2 -1 1", contour: str = "0 1 1 -1", position: int | None = 5, *,
          tuning: Tuning | str = STANDARD, passes: int = 1) -> Line:
    """One rhythm in every bar, its notes adapted to each chord: the contour counts steps between chord tones.

    Purpose: to say the same thing over every chord. Each bar begins on the chord tone nearest to the first note of the
    bar before; at the edge of the reach the contour turns.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    lengths, steps = read_rhythm(rhythm, chart.bar_beats), read_contour(contour)
    reach = reachable_midi(tuning, position)
    counted(passes, PASSES, "number of passes")
    bars = chart.form_bars * passes
    notes: list[Note] = []
    first: int | None = None
    for bar in range(bars):
        made = _spoken(chart, bar, lengths, steps, reach, tuning, position, first)
        first = made[0].pitch.midi if made else first
        notes += made
    title = f"Motif, position {position}" if position is not None else "Motif"
    return Line(tuple(notes), chart, tuning, title, bars * chart.bar_beats, position, "chord tones")


def call_and_answer(chart: Chart | str, rhythm: str = "1 1/2 1/2 1 -1", contour: str = "0 1 1 -1",
                    position: int | None = 5, *, tuning: Tuning | str = STANDARD, passes: int = 1) -> Line:
    """Two bars that ask, two that answer: the same rhythm, the contour turned over, the last note at home and held.

    The call is left open; the answer's last note goes to the nearest root or third of its chord and lasts to the end
    of the bar.
    """
    line = motif(chart, rhythm, contour, position, tuning=tuning, passes=passes)
    chart = line.chart
    steps = [-step for step in read_contour(contour)]
    lengths = read_rhythm(rhythm, chart.bar_beats)
    reach = reachable_midi(line.tuning, position)
    bars: dict[int, list[Note]] = {}
    for note in line.notes:
        bars.setdefault(int(note.onset_beats // chart.bar_beats), []).append(note)
    for bar in sorted(bars):
        if bar % 4 >= 2:
            first = bars[bar - 2][0].pitch.midi if bars.get(bar - 2) else None
            bars[bar] = _spoken(chart, bar, lengths, steps, reach, line.tuning, position, first)
        if bar % 4 == 3:
            bars[bar][-1] = _home(bars[bar][-1], chart, bar, reach, line.tuning, position)
    return replace(line, notes=tuple(note for bar in sorted(bars) for note in bars[bar]),
                   title=line.title.replace("Motif", "Call and answer"))


def read_rhythm(text: str, bar_beats: Fraction) -> list[Fraction]:
    """Lengths that fill one bar, rests negative; raises DrillError."""
    try:
        found = [exact(word) for word in as_text(text, "rhythm", "beats", DrillError).split()]
    except VampError as error:
        raise DrillError(f"“{text}” is no rhythm", value=text, expected="beats such as “1 1/2 1/2 -1 1”") from error
    total = sum(map(abs, found), Fraction(0))
    if total != bar_beats or not any(length > 0 for length in found) or Fraction(0) in found:
        raise DrillError(f"the rhythm “{text}” fills {total} beats of a bar of {bar_beats}", value=text,
                         expected=f"lengths that add up to {bar_beats}, with at least one note")
    return found


def read_contour(text: str) -> list[int]:
    """Steps from note to note, the first from where the bar begins; raises DrillError."""
    try:
        return [int(exact(word, "step")) for word in as_text(text, "contour", "steps", DrillError).split()] or [0]
    except VampError as error:
        raise DrillError(f"“{text}” is no contour", value=text, expected="steps such as “0 1 1 -1”") from error


def _spoken(chart: Chart, bar: int, lengths: Sequence[Fraction], steps: Sequence[int], reach: frozenset[int],
            tuning: Tuning, position: int | None, first: int | None) -> list[Note]:
    """One bar of the motif."""
    start = bar * chart.bar_beats
    notes: list[Note] = []
    now, count = start, 0
    for length in lengths:
        pool = _pool_at(chart, now, reach, tuning, position)
        if length > 0 and pool:
            order = sorted(pool)
            if not notes:
                near = first if first is not None else order[len(order) // 2]
                at = min(range(len(order)), key=lambda index: (abs(order[index] - near), index))
                at += steps[0] if first is None else 0
            else:
                was = notes[-1].pitch.midi
                at = min(range(len(order)), key=lambda index: (abs(order[index] - was), index))
                step = steps[count % len(steps)]
                at = at + step if 0 <= at + step < len(order) else at - step
            at = max(0, min(len(order) - 1, at))
            name, degree = pool[order[at]]
            notes.append(Note(Pitch.of_midi(order[at], name), now, length, degree=degree))
            count += 1
        now += abs(length)
    return notes


def _home(note: Note, chart: Chart, bar: int, reach: frozenset[int], tuning: Tuning, position: int | None) -> Note:
    pool = _pool_at(chart, note.onset_beats, reach, tuning, position)
    homes = [midi for midi in pool if pool[midi][1] in HOME_DEGREES] or sorted(pool)
    midi = min(homes, key=lambda one: (abs(one - note.pitch.midi), one))
    name, degree = pool[midi]
    return replace(note, pitch=Pitch.of_midi(midi, name), degree=degree,
                   duration_beats=(bar + 1) * chart.bar_beats - note.onset_beats)


def _pool_at(chart: Chart, beat: Fraction, reach: frozenset[int], tuning: Tuning, position: int | None) -> Pool:
    event = chart.event_at(beat)
    if event is None or event.chord.root is None:
        return {}
    return chord_pool(event.chord, reach, tuning, position, f"bar {event.bar + 1}")
