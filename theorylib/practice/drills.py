"""Drills: lines of notes made from a chart and a teacher's choices.

Every drill returns a line whose notes know their degree in the chord of the moment; `fingering.finger` adds strings,
frets and fingers. Purpose and rule stand in each docstring (common practice, no source, unless one is named).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, get_args

from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, VampError, listed, shown
from ..limits import PASSES, PER_CHORD, STEPS, TEMPO, number_in, whole
from ..names.chords import Chord
from ..names.spelling import NoteName, Pitch, as_pitch
from ..necks.positions import as_position, open_strings, reached, whole_positions
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note
from .pace import note_value, onsets_in

Direction = Literal["up", "down"]
DIRECTIONS: tuple[Direction, ...] = get_args(Direction)
# Pitch class: spelled name, degree over the chord of the moment.
Tones = Mapping[int, tuple[NoteName, str]]
# The same by MIDI number: the notes that a drill may choose among.
Pool = dict[int, tuple[NoteName, str]]
# The lowest and the highest note that a drill may use.
Compass = tuple[Pitch | str, Pitch | str]


@dataclass(frozen=True, slots=True)
class Reach:
    """What one hand can take without moving: the MIDI numbers within a position (None: on the whole neck).

    In the first position the open strings are within reach.
    """

    tuning: Tuning
    position: int | None
    midis: tuple[int, ...]  # rising

    @classmethod
    def of(
        cls,
        tuning: Tuning,
        position: int | None,
        within: Compass | None = None,
    ) -> Reach:
        """The reach from a position, cut to a compass; raises DrillError for no position of the neck."""
        if position is None:
            found: Iterable[int] = range(tuning.lowest_midi, tuning.highest_midi + 1)
        else:
            frets = reached(as_position(position, tuning, DrillError), tuning)
            found = {tuning.midi(string, fret) for string in tuning.strings for fret in frets}
            found |= {tuning.midi(string, 0) for string in open_strings(position, tuning)}
        if within is not None:
            lowest, highest = _ends(within)
            found = (midi for midi in found if lowest <= midi <= highest)
        return cls(tuning, position, tuple(sorted(found)))

    def pool(self, tones: Tones) -> Pool:
        """Those of the tones that lie within reach, from the lowest."""
        return {midi: tones[midi % 12] for midi in self.midis if midi % 12 in tones}

    def chord_pool(self, event: Event) -> Pool:
        """The chord tones within reach, none for N.C.; raises DrillError where a chord has no note there."""
        if event.chord.root is None:
            return {}
        pool = self.pool(chord_tones(event.chord))
        if not pool:
            of_position = f" of position {self.position}" if self.position else ""
            raise DrillError(
                f"no note of {event.chord} lies within reach{of_position}",
                value=str(event.chord),
                where=bar_of(event),
                expected=self._elsewhere(event.chord),
            )
        return pool

    def _elsewhere(self, chord: Chord) -> str:
        classes = chord_tones(chord).keys()
        fits = []
        for position in whole_positions(self.tuning):
            there = Reach.of(self.tuning, position)
            if any(midi % 12 in classes for midi in there.midis):
                fits.append(str(position))
        return (
            f"a position such as {', '.join(fits[:3])}, or a wider range"
            if fits
            else "a wider range"
        )


def _ends(within: object) -> tuple[int, int]:
    ends = listed(within, "compass", "the lowest and the highest note, such as (\"A2\", \"E4\")", DrillError)
    if len(ends) != 2:
        raise DrillError(f"a compass of {len(ends)} notes", value=within, expected="the lowest and the highest note")
    lowest, highest = (as_pitch(end).midi for end in ends)
    return lowest, highest


def chord_tones(chord: Chord) -> Tones:
    """Pitch class to (spelled name, degree) of each chord tone."""
    return {tone.name.pitch_class: (tone.name, tone.degree) for tone in chord.tones}


def opened(line: Line) -> Line:
    """A line in the first position with its open strings open; any other as it is."""
    if line.position is None:
        return line
    strings = {
        line.tuning.midi(string, 0): string for string in open_strings(line.position, line.tuning)
    }

    def placed(note: Note) -> Note:
        string = strings.get(note.pitch.midi)
        if string is None or note.string is not None or note.marked("vibrato"):
            return note
        return replace(note, string=string, fret=0, finger=0)

    return line.with_notes(placed) if strings else line


def bar_of(event: Event) -> str:
    """Where an event stands, as errors say it."""
    return f"bar {event.bar + 1}"


def titled(words: str, position: int | None) -> str:
    """The title of a drill that stays in a position."""
    return words if position is None else f"{words}, position {position}"


def note_of(pool: Pool, midi: int, onset_beats: Fraction, duration_beats: Fraction) -> Note:
    """A note of a pool in time, spelled and with its degree."""
    name, degree = pool[midi]
    return Note(Pitch.of_midi(midi, name), onset_beats, duration_beats, degree=degree)


def nearest(midis: Iterable[int], goal: int) -> int:
    """The one of some MIDI numbers that lies nearest to a goal; of two as near, the lower."""
    return min(midis, key=lambda midi: (abs(midi - goal), midi))


def continuous_arpeggio(
    chart: Chart | str,
    per_chord: int = 8,
    position: int | None = 5,
    start: Pitch | str | None = None,
    direction: Direction = "up",
    *,
    tuning: Tuning | str = STANDARD,
    within: Compass | None = None,
    passes: int = 1,
) -> Line:
    """To know every chord tone in a position: on through the changes, always to the next one.

    The chord tones of every chord in turn, always on to the next one in the direction of travel. Purpose: to hear and
    see the next chord's tones from wherever the hand is. The drill keeps one note value, of which `per_chord` fill a
    bar with one chord (see `pace.note_value`); shorter chords get fewer notes. The line turns at the edge of the
    position (`position=None`: of the whole neck), or at the lowest and the highest note that it is to stay `within`,
    without repeating the edge note, and is carried over every chord change. It starts on `start`, else on the lowest
    root of the first chord within reach (going down: the highest). Raises DrillError where a chord has no note within
    reach, or a note would be too short to write.

    >>> [str(note.pitch) for note in continuous_arpeggio("| Am7 | D7 |", per_chord=4).notes]
    ['A2', 'C3', 'E3', 'G3', 'A3', 'C4', 'D4', 'F#4']
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    reach = Reach.of(tuning, position, within)
    pools = [reach.chord_pool(event) for event in chart.events]
    line = walk(chart, pools, per_chord, start, direction, passes)
    title = titled("Continuous arpeggio", position)
    return opened(
        replace(line, tuning=tuning, title=title, position=position, promise="chord tones")
    )


def walk(
    chart: Chart,
    pools: Sequence[Pool],
    per_chord: int,
    start: Pitch | str | None,
    direction: Direction,
    passes: int,
) -> Line:
    """Through each event's pool in turn, always to the next note in the direction of travel, turning at the edge.

    An empty pool (no chord) is a rest. Raises DrillError for a bad direction, count or start, or notes too short.
    """
    if direction not in DIRECTIONS:
        raise DrillError(
            f"“{shown(direction)}” is not a direction", value=direction, expected="up or down"
        )
    counted(per_chord, PER_CHORD, "number of notes a chord")
    counted(passes, PASSES, "number of passes")
    length = note_value(chart, per_chord)
    step = 1 if direction == "up" else -1
    begins = None if start is None else as_pitch(start)
    notes: list[Note] = []
    # Carried over every change: the next chord takes the line up where the last one left it.
    current: int | None = None
    for turn in range(passes):
        for event, pool in zip(chart.events, pools, strict=True):
            if not pool:
                continue
            for onset in onsets_in(event, length):
                if current is None:
                    current = first_note(begins, pool, event.chord, step)
                else:
                    current, step = _next(current, pool, step)
                notes.append(note_of(pool, current, onset + turn * chart.length_beats, length))
    return Line(tuple(notes), chart, length_beats=passes * chart.length_beats)


def counted(value: object, limits: tuple[int, int], what: str) -> None:
    """Raise DrillError where a count that a drill is made by is none, or outside its limits."""
    try:
        whole(value, limits, what)
    except VampError as error:
        raise DrillError(error.message, value=value, expected=error.expected) from error


def first_note(start: Pitch | None, pool: Pool, chord: Chord, step: int) -> int:
    """The MIDI number a line begins on: `start` if it lies in the pool, else the lowest root (going down: highest)."""
    if start is None:
        order = sorted(pool, reverse=step < 0)
        return next((midi for midi in order if pool[midi][1] == "1"), order[0])
    asked = start.midi
    if asked not in pool:
        near = sorted(pool, key=lambda midi: (abs(midi - asked), midi))[:2]
        raise DrillError(
            f"{start} is not a note of {chord} within reach",
            value=str(start),
            where="the start",
            expected="a note that the first chord offers in the position",
            nearest=[str(Pitch.of_midi(midi, pool[midi][0])) for midi in near],
        )
    return asked


def _next(current: int, pool: Pool, step: int) -> tuple[int, int]:
    """The next pitch in the direction of travel and the direction after it; turns at the edge."""
    for way in (step, -step):
        ahead = [midi for midi in pool if (midi - current) * way > 0]
        if ahead:
            return nearest(ahead, current), way
    return current, step  # a pool of the current note alone


def tempo_ladder(
    target: int | Fraction | str, steps: int = 4, lowest_share: Fraction | str = "3/5"
) -> tuple[int, ...]:
    """To plan a student's tempos: even steps from a share of the target up to it.

    It begins at `lowest_share` of the target; each is rounded to a whole number. Common practice, no source: start at
    60 % and move up only when two passes in a row are clean.

    >>> tempo_ladder(120)
    (72, 88, 104, 120)
    """
    counted(steps, STEPS, "number of steps")
    target = number_in(target, TEMPO, "tempo in quarter notes a minute")
    lowest_share = number_in(lowest_share, (0, 1), "share of the target")
    if steps < 2:
        return (round(target),)
    first = target * lowest_share
    rise = (target - first) / (steps - 1)
    tempos = (round(first + rise * index) for index in range(steps))
    return tuple(dict.fromkeys(tempos))
