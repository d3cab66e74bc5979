"""Backing tracks: drums, bass, comping and pad over a chart, for as many passes as wanted, with an ending.

Times are beats of the chart's quarter note from the first beat after the count-in, swung by the feel; the count-in
lies before 0. Everything chosen is chosen by a seed: the same chart and seed give the same track.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from random import Random

from theorylib.changes.charts import Chart, as_chart
from theorylib.changes.meters import Meter
from theorylib.errors import VampError, closest, shown
from theorylib.limits import is_whole
from theorylib.names.chords import Chord
from theorylib.names.spelling import NoteName

from .grooves import COMPOUND, DRUM_KEYS, FILLS, GROOVES, VELOCITIES, Groove, pulses_of
from .ladder import Ladder, passes_for, seconds_between, tempos_of
from .timing import swung
from .voice_leading import led

DRUMS, BASS, COMP, PAD, CLICK = "Drums", "Bass", "Comping", "Pad", "Click"
PARTS = (DRUMS, BASS, COMP, PAD)
CLICK_HIGH, CLICK_LOW = 76, 77   # GM percussion: high and low wood block
BASS_LOW, BASS_HIGH = 28, 50     # E1 to D3
MOST_BARS = 2000
MOST_MINUTES, MOST_COUNT_IN = 180, 16
STEADY = Ladder()


class BackingError(VampError):
    """A backing track that cannot be made as asked."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One note of a part. Drums and click use General MIDI percussion keys."""

    part: str
    start_beats: Fraction
    length_beats: Fraction
    midi: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Backing:
    """A whole track. `tempos` are (beat, quarter notes a minute): one, or one a pass when a ladder rises.

    `count_in_beats` come before beat 0; `length_beats` runs to the end of the last bar, the ending's included.
    """

    chart: Chart
    passes: int
    hits: tuple[Hit, ...]
    tempos: tuple[tuple[Fraction, Fraction], ...]
    count_in_beats: Fraction
    length_beats: Fraction

    def of(self, part: str) -> tuple[Hit, ...]:
        return tuple(hit for hit in self.hits if hit.part == part)

    def seconds_at(self, beat: Fraction | float) -> float:
        """Seconds from the start of the count-in to a beat."""
        return seconds_between(self.tempos, -self.count_in_beats, beat)

    @property
    def seconds(self) -> float:
        return self.seconds_at(self.length_beats)


def backing(chart: Chart | str, *, passes: int | None = None, minutes: float | None = None,
            parts: Sequence[str] = (DRUMS, BASS, COMP), count_in_bars: int = 1, click: bool = False, seed: int = 1,
            ladder: Ladder = STEADY, ending: bool = True) -> Backing:
    """A track over the chart: `passes` times through the form, or about `minutes` (neither: four passes).

    `ladder` raises the tempo on the way; the minutes are kept. `click` sounds through the whole track, accented on the
    first beat of the bar; the count-in always sounds. Raises BackingError.
    """
    chart = as_chart(chart)
    _check_parts(parts)
    passes = _passes(chart, passes, minutes, ladder)
    count_in = _count_in_beats(chart, count_in_bars)
    tempos = tempos_of(chart, passes * chart.length_beats, ladder)
    length = passes * chart.length_beats + (chart.bar_beats if ending else 0)
    hits = [hit for part in parts for hit in _MAKERS[part](chart, passes, Random(f"{seed} {part} {chart}"))]
    if ending:
        hits += _ending(chart, passes, parts)
    hits += _clicks(chart, -count_in, length if click else Fraction(0))
    return Backing(chart, passes, tuple(sorted(hits, key=lambda hit: (hit.start_beats, hit.part, hit.midi))), tempos,
                   count_in, length)


def _check_parts(parts: Sequence[str]) -> None:
    unknown = [part for part in parts if part not in PARTS]
    if unknown:
        raise BackingError(f"“{unknown[0]}” is no part", value=unknown[0], expected=", ".join(PARTS),
                           nearest=closest(unknown[0], PARTS))


def _passes(chart: Chart, passes: int | None, minutes: float | None, ladder: Ladder) -> int:
    """How often the form is played: as said, or to fill the minutes, or four times."""
    if minutes is not None and not 0 < minutes <= MOST_MINUTES:
        raise BackingError(f"a track of {minutes!s:.40} minutes", value=minutes,
                           expected=f"more than 0, to {MOST_MINUTES}")
    bars = chart.form_bars
    if passes is None:
        passes = 4 if minutes is None or not bars else passes_for(chart, minutes, ladder, max(1, MOST_BARS // bars))
    if not bars or not is_whole(passes, 1, MOST_BARS // bars):
        raise BackingError(f"{shown(passes)} passes of {bars} bars", value=passes,
                           expected=f"1 to {MOST_BARS} bars in all")
    return passes


def _count_in_beats(chart: Chart, bars: int) -> Fraction:
    if not 0 <= bars <= MOST_COUNT_IN:
        raise BackingError(f"{bars!s:.40} bars to count in", value=bars, expected=f"0 to {MOST_COUNT_IN}")
    return bars * chart.bar_beats


def _groove_of(chart: Chart) -> Groove:
    return COMPOUND if chart.meter.compound else GROOVES["waltz" if chart.meter.beats == 3 and chart.feel in (
        "straight 8", "waltz") else chart.feel]


def _steps(chart: Chart, groove: Groove, row: str, bar: int) -> Iterator[tuple[Fraction, str]]:
    """(beat, sign) of each step of a row in one bar, unswung."""
    start = bar * chart.bar_beats
    for offset, sign in _bar_of_steps(chart.meter, groove.steps, row):
        yield start + offset, sign


@lru_cache(maxsize=256)
def _bar_of_steps(meter: Meter, steps: int, row: str) -> tuple[tuple[Fraction, str], ...]:
    """(beat within the bar, sign) of each step of a row."""
    pulses, beats = pulses_of(row), meter.pulse_beats
    return tuple((pulse * beats + step * beats / steps, sign) for pulse in range(meter.pulses)
                 for step, sign in enumerate(pulses[pulse % len(pulses)]))


def _bars(chart: Chart, passes: int) -> range:
    return range(chart.form_bars * passes)


def _starts(chart: Chart) -> set[int]:
    """The bars of the form, from 0, with which a section begins."""
    return {int(section.onset_beats / chart.bar_beats) for section in chart.sections} | {0}


def _before_change(chart: Chart, starts: set[int], bar: int, passes: int) -> bool:
    """Is this the bar before a new section, or before the form begins again?"""
    form = chart.form_bars
    return (bar + 1) % form in starts and (form >= 4 or (bar + 1) % 8 == 0 or bar + 1 == form * passes)


def _drums(chart: Chart, passes: int, chance: Random) -> Iterator[Hit]:
    groove, meter = _groove_of(chart), chart.meter
    crash, starts = False, _starts(chart)
    for bar in _bars(chart, passes):
        end = (bar + 1) * meter.bar_beats
        changes = _before_change(chart, starts, bar, passes)
        fill = chance.choice(FILLS[groove.steps]) if changes and meter.pulses >= 3 else ()
        fill_from = end - 2 * meter.pulse_beats if fill else end
        if crash:
            yield _drum(chart, bar * meter.bar_beats, "crash", "x", 0)
        for name, row in groove.drums:
            for beat, sign in _steps(chart, groove, row, bar):
                if sign in VELOCITIES and beat < fill_from and not (crash and beat == bar * meter.bar_beats
                                                                   and name in ("hat", "ride")):
                    yield _drum(chart, beat, name, sign, chance.randint(-6, 6))
        for name, row in fill:
            for pulse, signs in enumerate(pulses_of(row)):
                for step, sign in enumerate(signs):
                    if sign in VELOCITIES:
                        beat = fill_from + (pulse + Fraction(step, groove.steps)) * meter.pulse_beats
                        yield _drum(chart, beat, name, sign, chance.randint(-6, 6))
        crash = bool(fill)


def _drum(chart: Chart, beat: Fraction, name: str, sign: str, change: int) -> Hit:
    return Hit(DRUMS, swung(beat, chart), Fraction(1, 8), DRUM_KEYS[name], max(1, min(127, VELOCITIES[sign] + change)))


def _bass(chart: Chart, passes: int, chance: Random) -> Iterator[Hit]:
    groove = _groove_of(chart)
    step = chart.meter.pulse_beats / groove.steps
    last = 36
    for bar in _bars(chart, passes):
        signs = list(_steps(chart, groove, groove.bass, bar))
        for place, (beat, sign) in enumerate(signs):
            event = chart.event_at(beat)
            if event is None or event.chord.root is None:
                continue
            after = chart.chord_at(event.onset_beats + event.duration_beats)
            starts = event.onset_beats == beat % chart.length_beats
            if sign in ".-" and not starts:
                continue
            held = 1
            while (place + held < len(signs) and signs[place + held][1] == "-"
                   and chart.event_at(signs[place + held][0]) is event):
                held += 1
            name = _bass_note("R" if starts else sign, event.chord, after)
            last = _near(name, last)
            yield Hit(BASS, swung(beat, chart), swung(beat + held * step, chart) - swung(beat, chart), last,
                      92 + chance.randint(-5, 5) + (6 if starts else 0))


def _bass_note(sign: str, chord: Chord, following: Chord | None) -> int:
    """Pitch class of a bass sign over a chord."""
    low = chord.bass or chord.root
    assert low is not None
    degrees = {tone.degree.lstrip("b#"): tone.name.pitch_class for tone in chord.tones}
    if sign == "a":
        goal = None if following is None else following.bass or following.root
        return low.pitch_class if goal is None else (goal.pitch_class - 1) % 12
    if sign in ("3", "5", "7"):
        return degrees.get(sign, degrees.get("5", low.pitch_class))
    return low.pitch_class


def _near(pitch_class: int | NoteName, last: int) -> int:
    """The note of a pitch class nearest to the last one, within the bass's range."""
    wanted = int(pitch_class) if not isinstance(pitch_class, NoteName) else pitch_class.pitch_class
    notes = [midi for midi in range(BASS_LOW, BASS_HIGH + 1) if midi % 12 == wanted]
    return min(notes, key=lambda midi: (abs(midi - last), midi))


def _comping(chart: Chart, passes: int, chance: Random) -> Iterator[Hit]:
    groove = _groove_of(chart)
    step = chart.meter.pulse_beats / groove.steps
    voicings = dict(zip(chart.events, led([event.chord for event in chart.events]), strict=True))
    for bar in _bars(chart, passes):
        signs = list(_steps(chart, groove, groove.comp, bar))
        for place, (beat, sign) in enumerate(signs):
            event = chart.event_at(beat)
            if event is None or (sign not in "Xx" and event.onset_beats != beat % chart.length_beats):
                continue
            held = 1
            while (place + held < len(signs) and signs[place + held][1] == "-"
                   and chart.event_at(signs[place + held][0]) is event):
                held += 1
            length = swung(beat + held * step, chart) - swung(beat, chart)
            for midi in voicings[event]:
                yield Hit(COMP, swung(beat, chart), length * Fraction(9, 10), midi,
                          (74 if sign == "X" else 64) + chance.randint(-4, 4))


def _pad(chart: Chart, passes: int, chance: Random) -> Iterator[Hit]:
    voicings = led([event.chord for event in chart.events])
    for turn in range(passes):
        for event, voicing in zip(chart.events, voicings, strict=True):
            for midi in voicing:
                yield Hit(PAD, event.onset_beats + turn * chart.length_beats, event.duration_beats, midi, 50)


def _ending(chart: Chart, passes: int, parts: Sequence[str]) -> Iterator[Hit]:
    """One bar more: the first chord, held, on its first beat."""
    start, length = passes * chart.length_beats, chart.bar_beats
    event = next((event for event in chart.events if event.chord.root is not None), None)
    if DRUMS in parts:
        for name in ("crash", "kick"):
            yield Hit(DRUMS, start, Fraction(1, 8), DRUM_KEYS[name], 100)
    if event is None:
        return
    if BASS in parts:
        yield Hit(BASS, start, length, _near(_bass_note("R", event.chord, None), 36), 96)
    for part, velocity in ((COMP, 76), (PAD, 50)):
        if part in parts:
            voicing = led([one.chord for one in chart.events])[chart.events.index(event)]
            yield from (Hit(part, start, length, midi, velocity) for midi in voicing)


def _clicks(chart: Chart, first: Fraction, last: Fraction) -> Iterator[Hit]:
    """A click on every pulse, accented on the first of the bar."""
    pulse, bar = chart.meter.pulse_beats, chart.bar_beats
    for index in range(int((last - first) / pulse)):
        beat = first + index * pulse
        strong = beat % bar == 0
        yield Hit(CLICK, beat, Fraction(1, 8), CLICK_HIGH if strong else CLICK_LOW, 110 if strong else 84)


_MAKERS = {DRUMS: _drums, BASS: _bass, COMP: _comping, PAD: _pad}
