"""Lines of a lesson that follow from its meter and level: a line to read, accents that walk.

And what changes must have for a line over them: guide tones, tones enough to tap.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import ceil

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import one_of
from theorylib.levels import LEVELS, Level
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line, as_line
from theorylib.practice.phrases import motif
from theorylib.practice.subdivisions import displaced_accents

from .door import LessonError

PHRASE_BARS = 4  # of a line to read at least


def reading_line(chart: Chart | str, level: Level = "intermediate", position: int | None = 5, *,
                 tuning: Tuning | str = STANDARD) -> Line:
    """To practise reading: a line of chord tones through the changes, one rhythm a bar.

    It is four bars long, or whole forms of them. Beats and a longer note for a beginner, halves of beats and a rest for
    the intermediate, notes tied over the beat for the advanced (common practice, no source).

    >>> [str(note.duration_beats) for note in reading_line("| Am7 | D7 |", "beginner").notes][:3]
    ['1', '1', '2']
    """
    chart = as_chart(chart)
    one_of(level, LEVELS, "level", LessonError)
    passes = max(1, ceil(PHRASE_BARS / chart.form_bars))
    rhythm = " ".join(map(str, _rhythm_to_read(chart, level)))
    line = motif(chart, rhythm, "0 1 -1 2", position, tuning=tuning, passes=passes)
    return replace(line, title="A line to read")


def _rhythm_to_read(chart: Chart, level: Level) -> list[Fraction]:
    """Lengths that fill a bar, rests negative."""
    meter = chart.meter
    beats = meter.felt_beats
    part = Fraction(2, meter.unit) if not meter.compound and not meter.uneven else Fraction(4, meter.unit)
    first, last = beats[0], beats[-1]
    if len(beats) < 2:
        return [chart.bar_beats]
    if level == LEVELS[0]:
        return [*beats[:-2], beats[-2] + last]
    if level == LEVELS[1] or len(beats) < 3:
        return [first - part, part, *beats[1:-1], -last]
    inner = [length for beat in beats[2:-1] for length in (beat - part, part)]
    return [part, first, beats[1] - part, *inner, last]


def has_guides(chart: Chart) -> bool:
    """Has every chord a guide tone? A power chord has none."""
    return all(event.chord.guide_degrees for event in chart.events if event.chord.root is not None)


def can_tap(chart: Chart) -> bool:
    """Has every chord three tones, for two fretted on a string and one tapped?"""
    return all(len(event.chord.tones) > 2 for event in chart.events if event.chord.root is not None)


def accents_across(line: Line | str) -> Line:
    """To feel threes across the beat: the line with an accent on every third note.

    Every fourth or fifth note has it where threes fall on each beat.

    >>> accents_across("e A3 B3 C4 D4 E4 F4 G4 A4").title
    'accents in 3s'
    """
    line = as_line(line)
    pulse = line.chart.meter.felt_beats[0]
    length = min(note.duration_beats for note in line.notes)
    every = next((count for count in (3, 4, 5) if (count * length) % pulse), 3)
    return displaced_accents(line, every)
