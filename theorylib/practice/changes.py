"""Aiming at what tells a chord: its 3rd or 7th struck where it comes in, from both sides, with a rest to think in.

Purpose and rule are common practice, no source; `fingering.finger` places the line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..errors import DrillError
from ..limits import PASSES
from ..names.chords import Chord
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.context import context_of, with_degrees
from ..playing.lines import Line, Note
from ..reading.harmony import harmony
from .drills import Pool, Reach, counted, nearest, note_of, titled

STEP_BEATS = Fraction(1, 2)  # of each of the two notes before a target
LONGEST_BEATS = Fraction(2)  # that a target is held: then there is time to think of the next
WIDEST_STEP = 2  # semitones from the note above to its target


@dataclass(frozen=True, slots=True)
class _Run:
    """A chord for as long as it lasts, and what tells it within reach."""

    chord: Chord
    onset_beats: Fraction
    end_beats: Fraction
    telling: Pool
    above: frozenset[int]  # pitch classes of its scale


def aim_at_changes(
    chart: Chart | str,
    position: int | None = 5,
    *,
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To land on each change: its 3rd or 7th as the chord comes in, led to from above and below.

    It is the nearest to the one before. The two eighths before a target are the note of its scale above and the half
    step below it; a chord shorter than two beats has only the half step, one of a beat none. A chord without 3rd and
    7th is told by its other tones. A target lasts two beats at most: the rest is silent.

    >>> [str(note.pitch) for note in aim_at_changes("| A7 | D7 |", 5).notes]
    ['C#4', 'D4', 'B3', 'C4']
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    counted(passes, PASSES, "number of passes")
    reach = Reach.of(tuning, position)
    runs = list(_runs(chart, reach, passes))
    if not runs:
        raise DrillError(
            "the chart has no chord to aim at", value=str(chart), expected="a chart with chords"
        )
    goals: list[int] = []
    for run in runs:
        near = goals[-1] if goals else sorted(run.telling)[len(run.telling) // 2]
        goals.append(nearest(run.telling, near))
    notes: list[Note] = []
    for index, run in enumerate(runs):
        follows = index + 1 < len(runs) and runs[index + 1].onset_beats == run.end_beats
        steps = _steps(goals[index + 1], runs[index + 1], run, reach) if follows else []
        free = run.end_beats - run.onset_beats - len(steps) * STEP_BEATS
        notes.append(note_of(run.telling, goals[index], run.onset_beats, min(free, LONGEST_BEATS)))
        onset = run.end_beats - len(steps) * STEP_BEATS
        for number, midi in enumerate(steps):
            at = onset + number * STEP_BEATS
            notes.append(Note(context_of(chart).pitch(midi, at), at, STEP_BEATS))
    title = titled("To the telling notes of the changes", position)
    length = passes * chart.length_beats
    return with_degrees(Line(tuple(notes), chart, tuning, title, length, position))


def _runs(chart: Chart, reach: Reach, passes: int) -> Iterator[_Run]:
    """The chords of all passes in order, each as long as it lasts."""
    scales = {one.onset_beats: one.scale.pitch_classes for one in harmony(chart).chords}
    found: list[_Run] = []
    for turn in range(passes):
        for event in chart.events:
            onset = event.onset_beats + turn * chart.length_beats
            end = onset + event.duration_beats
            goes_on = found and found[-1].chord == event.chord and found[-1].end_beats == onset
            if event.chord.root is None:
                continue
            start = found.pop().onset_beats if goes_on else onset
            pool = reach.chord_pool(event)
            telling = {midi: named for midi, named in pool.items() if _tells(event.chord, named[1])}
            above = frozenset(scales.get(event.onset_beats, ()))
            found.append(_Run(event.chord, start, end, telling or pool, above))
    yield from found


def _tells(chord: Chord, degree: str) -> bool:
    """Is it the 3rd or the 7th, or what stands for it? The 5th of a diminished chord tells less."""
    return degree in chord.guide_degrees and degree.lstrip("b#") != "5"


def _steps(goal: int, to: _Run, run: _Run, reach: Reach) -> list[int]:
    """The notes before a target: the one of its scale above it, then the half step below, as far as there is time."""
    room = run.end_beats - run.onset_beats
    above = next(
        (
            midi
            for midi in range(goal + 1, goal + WIDEST_STEP + 1)
            if midi % 12 in to.above and midi in reach.midis
        ),
        None,
    )
    below = goal - 1 if goal - 1 in reach.midis else None
    both = [midi for midi in (above, below) if midi is not None]
    if room < 4 * STEP_BEATS:
        both = both[-1:]
    return both if room >= 3 * STEP_BEATS else []
