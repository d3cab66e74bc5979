"""The changes as a rhythm part: grips led through a chart, struck in the pattern of its feel.

A pattern is a row of steps, a space between pulses: D and U a down and an up stroke with weight, d and u without, x the
strings struck dead (down on even steps, up on odd ones), - holds on, a dot is silent. Where a bar has more pulses than
the pattern, it begins again; a beat of three in an uneven bar is struck as those of 6/8 are; a chord that comes in
between two strokes is struck where it comes. The hand goes down on the beat and up between, struck or not, but where
every stroke is a down stroke, up to ALL_DOWN_UP_TO (common practice of these styles, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, one_of
from ..levels import LEVELS, Level
from ..limits import PASSES, whole
from ..names.spelling import Pitch
from ..necks.grip_leading import led_grips
from ..necks.grips import ChordGrip
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Mark, Note

_QUARTERS = "D d D d"
# feel: the pattern of each level, from the first up.
PATTERNS: dict[str, tuple[str, str, str]] = {
    "straight 8": (_QUARTERS, "D- dU -u dU", "D- xU -u xU"),
    "straight 16": (_QUARTERS, "D--- d-du --du d-du", "D--u x-dU -ud- x-xU"),
    "swing": (_QUARTERS, "d. x. d. x.", "D- .u .. .."),
    "swing 16": (_QUARTERS, "D--- d--u ---u d---", "D--u x--u -ud- x--u"),
    "shuffle": (_QUARTERS, "D. du D. du", "D- xU -u xU"),
    "half-time": ("D - d -", "D- -- d- -u", "D- -u xu -u"),
    "waltz": ("D d d", "D- d- du", "D- -u du"),
    "ballad": ("D - d -", "D- -- d- du", "D- -u d- -u"),
    "rock": (_QUARTERS, "Dd dd Dd dd", "D- xd -d xd"),
    "funk": (_QUARTERS, "D--u --x- x-du --x-", "D-xu x-xU -uxu D-xu"),
    "latin straight": (_QUARTERS, "D- -u -u d-", "D- xU -u xu"),
}
COMPOUND = ("D d", "D-- d--", "D-u d-u")  # two pulses of three eighths, whatever the feel
_ALL_DOWN = ("rock",)
# Quarter notes a minute up to which teachers ask for eighths in down strokes alone; beyond it the hand goes to and fro.
ALL_DOWN_UP_TO = 140
_UPWARDS = str.maketrans("Dd", "Uu")
_STRUCK = "DdUux"


def strummed(
    chart: Chart | str,
    level: Level = "intermediate",
    *,
    tuning: Tuning | str = STANDARD,
    near: int | None = None,
    passes: int = 1,
) -> Line:
    """The rhythm part of a chart at a level, as a line of stacked notes with strokes; raises DrillError or NeckError.

    `near` holds the hand about a fret; `passes` are times through the form.

    >>> part = strummed("| Am7 | D7 |", "beginner")
    >>> [str(note.onset_beats) for note in part.notes if note.string == 1]
    ['0', '1', '2', '3', '4', '5', '6', '7']
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    one_of(level, LEVELS, "level", DrillError)
    whole(passes, PASSES, "number of passes")
    sounding = [event for event in chart.events if event.chord.root is not None]
    if not sounding:
        raise DrillError(
            "the chart has no chord to strum", value=str(chart), expected="a chart with chords"
        )
    led = led_grips([event.chord for event in sounding], tuning, level, near=near)
    grips = {event.onset_beats: one.grip for event, one in zip(sounding, led, strict=True)}
    row = pattern_of(chart, level)
    notes = [
        note
        for event in sounding
        for note in _over(event, grips[event.onset_beats], row, chart, tuning)
    ]
    whole_line = [
        replace(note, onset_beats=note.onset_beats + number * chart.length_beats)
        for number in range(passes)
        for note in notes
    ]
    return Line(
        tuple(whole_line),
        chart,
        tuning,
        f"Rhythm part, {chart.feel}",
        passes * chart.length_beats,
    )


def pattern_of(chart: Chart, level: Level) -> str:
    """The row of strokes for a chart's meter and feel at a level."""
    rows = COMPOUND if chart.meter.compound else PATTERNS[chart.feel]
    row, meter = rows[LEVELS.index(level)], chart.meter
    if chart.feel in _ALL_DOWN and not _all_down(chart):
        row = " ".join(_to_and_fro(steps) for steps in row.split())
    if not meter.uneven:
        return row
    twos, threes = row.split(), COMPOUND[LEVELS.index(level)].split()
    found = []
    for number, beat in enumerate(meter.felt_beats):
        pulses = twos if beat == min(meter.felt_beats) else threes
        found.append(pulses[number % len(pulses)])
    return " ".join(found)


def _all_down(chart: Chart) -> bool:
    """Is every stroke of the chart's feel a down stroke, at a tempo that leaves the time for it?"""
    return chart.feel in _ALL_DOWN and chart.tempo <= ALL_DOWN_UP_TO


def _to_and_fro(steps: str) -> str:
    """The strokes of a beat, down on it and up between."""
    return "".join(sign.translate(_UPWARDS) if index % 2 else sign for index, sign in enumerate(steps))


def _over(event: Event, grip: ChordGrip, row: str, chart: Chart, tuning: Tuning) -> Iterator[Note]:
    """One chord's strokes, each held to the next or to where the pattern falls silent."""
    end = event.onset_beats + event.duration_beats
    strokes = list(_strokes(row, chart, event.onset_beats, end))
    if not strokes or strokes[0][0] > event.onset_beats:
        first = strokes[0][0] if strokes else end
        strokes.insert(0, (event.onset_beats, first - event.onset_beats, "d"))
    for onset, length, stroke in strokes:
        yield from _struck(grip, onset, length, stroke, tuning)


def _strokes(
    row: str, chart: Chart, start: Fraction, end: Fraction
) -> Iterator[tuple[Fraction, Fraction, str]]:
    """(onset, length, stroke) of the pattern's strokes from one beat to another; a row begins with each bar."""
    pulses, meter = row.split(), chart.meter
    beats = list(zip(meter.beat_onsets, meter.felt_beats, strict=True))
    struck: tuple[Fraction, Fraction, str] | None = None
    bar = start // chart.bar_beats
    while bar * chart.bar_beats < end:
        for number, (begins, beat) in enumerate(beats):
            steps = pulses[number % len(pulses)]
            for index, sign in enumerate(steps):
                onset = bar * chart.bar_beats + begins + Fraction(index, len(steps)) * beat
                if not start <= onset < end or sign == "-":
                    continue
                if struck is not None:
                    yield struck[0], onset - struck[0], struck[2]
                struck = (
                    (onset, end - onset, _direction(sign, index, chart))
                    if sign in _STRUCK
                    else None
                )
        bar += 1
    if struck is not None:
        yield struck[0], end - struck[0], struck[2]


def _direction(sign: str, index: int, chart: Chart) -> str:
    """The stroke of a sign: a dead one goes the way that the hand moves anyway."""
    if sign != "x":
        return sign
    return "x" if index % 2 == 0 or _all_down(chart) else "X"


def _struck(
    grip: ChordGrip, onset: Fraction, length: Fraction, stroke: str, tuning: Tuning
) -> Iterator[Note]:
    """The grip's strings, sounding or dead: x is struck dead downwards, X upwards."""
    down = stroke in "Ddx"
    marks = [Mark("pick down" if down else "pick up")]
    if stroke in "xX":
        marks.append(Mark("dead"))
    elif stroke in "DU":
        marks.append(Mark("accent"))
    for place in grip.places:
        name = next(
            (tone.name for tone in grip.chord.tones if tone.degree == place.degree), grip.chord.bass
        )
        pitch: Pitch = tuning.pitch(place.string, place.fret, name)
        degree = "" if place.degree == "bass" else place.degree
        yield Note(
            pitch, onset, length, place.string, place.fret, place.finger, degree, tuple(marks)
        )
