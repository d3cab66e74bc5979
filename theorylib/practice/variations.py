"""A phrase varied as teachers vary it by hand: through the changes, from other degrees, backwards, displaced, moved.

Every variation keeps the rhythm, and of the marks what it can: a hammer that would fall becomes a pull and the other
way round, a bend goes to what the variation makes of its goal. Notes that stay the same keep their places; all else is
left to the fingering. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from ..changes.charts import Chart, as_chart
from ..errors import DrillError, shown
from ..limits import BEND, exact, is_whole
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import Interval, NoteName, Pitch
from ..playing.context import context_of, with_degrees
from ..playing.lines import Line, Mark, Note, as_line
from ..playing.marks import FALLS, JOINING, MARKS, RISES, SHIFTS, STAYS
from ..reading.chordscales import degree_over
from ..reading.harmony import harmony

STEPS = (-14, 14)      # of a scale: two octaves either way
SEMITONES = (-36, 36)  # three octaves
_SWAPPED = {"hammer": "pull", "pull": "hammer"}
_MIDI = 128


def through_changes(line: Line | str, changes: Chart | str) -> Line:
    """The phrase over other changes, begun again until they end: each note becomes the same number of its new chord.

    A third stays a third, minor where the chord's is; a note of the scale becomes that number of the new scale; any
    other keeps its distance to the note after it. The shape is kept as nearly as the chords allow.
    """
    line, chart = as_line(line), as_chart(changes)
    _has_notes(line)
    old, new = _Ground(line.chart), _Ground(chart)
    notes: list[Note] = []
    start = Fraction(0)
    while start < chart.length_beats:
        notes += _said_over(line, old, new, start)
        start += line.length_beats
    inside = [note for note in notes if note.onset_beats < chart.length_beats]
    cut = [replace(note, duration_beats=min(note.duration_beats, chart.length_beats - note.onset_beats))
           for note in inside]
    return _made(line, cut, chart, "through the changes")


def from_degree(line: Line | str, steps: int) -> Line:
    """The phrase so many steps of the scale higher (negative: lower), over the same chords.

    A note between two of the scale stays as far above the lower one as it was.
    """
    line = as_line(line)
    if not is_whole(steps, *STEPS) or not steps:
        raise DrillError(f"{shown(steps)} steps of the scale", value=steps, expected=f"{STEPS[0]} to {STEPS[1]}, not 0")
    _has_notes(line)
    ground = _Ground(line.chart)
    made = []
    for note in line.notes:
        def step(midi: int, beat: Fraction = note.onset_beats) -> int:
            return ground.stepped(midi, beat, steps)

        made.append(_with_pitch(note, step(note.pitch.midi), step))
    way = "higher" if steps > 0 else "lower"
    return _made(line, made, line.chart, f"{abs(steps)} step{'s' if abs(steps) > 1 else ''} {way}")


def backwards(line: Line | str) -> Line:
    """The notes from the last to the first, in the phrase's own rhythm; what joined two notes joins them still."""
    line = as_line(line)
    _has_notes(line)
    groups = _groups(line)
    made: list[Note] = []
    for number, place in enumerate(groups):
        source = len(groups) - 1 - number
        after = groups[source + 1] if source + 1 < len(groups) else []
        joins = tuple(Mark(mark.kind) for note in after for mark in note.marks if mark.kind in JOINING)
        made += [_in_time_of(note, place[0], joins) for note in groups[source]]
    turned = _made(line, made, line.chart, "backwards")
    return replace(turned, notes=tuple(replace(note, string=one.string, fret=one.fret)
                                       for note, one in zip(turned.notes, made, strict=True)))


def displaced(line: Line | str, beats: Fraction | int | str = Fraction(1, 2)) -> Line:
    """The phrase so many beats later over the same chords, with a bar more where it runs over the last one."""
    line = as_line(line)
    late = exact(beats, "number of beats")
    if not 0 < late <= line.chart.bar_beats:
        raise DrillError(f"{late} beats later", value=late, expected=f"more than 0, at most {line.chart.bar_beats}")
    notes = tuple(replace(note, onset_beats=note.onset_beats + late) for note in line.notes)
    return with_degrees(replace(line, notes=notes, title=_titled(line, f"{_said(late)} later"), promise=""))


def moved_by(line: Line | str, semitones: int, chart: Chart | str | None = None) -> Line:
    """The phrase so many half steps higher, spelled as its new changes ask (without any: its own, moved as far)."""
    line = as_line(line)
    if not is_whole(semitones, *SEMITONES):
        raise DrillError(f"{shown(semitones)} half steps", value=semitones,
                         expected=f"{SEMITONES[0]} to {SEMITONES[1]}")
    over = line.chart.transpose(semitones) if chart is None else as_chart(chart)
    notes = [replace(note, pitch=_pitch(note.pitch.midi + semitones, note)) for note in line.notes]
    return replace(_made(line, notes, over, ""), title=line.title, length_beats=line.length_beats)


class _Ground:
    """The chord and the scale under each beat of a chart, as pitch classes by their number from 1 to 7."""

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        has_chords = any(event.chord.root is not None for event in chart.events)
        self._scales = {one.onset_beats: one.scale for one in harmony(chart).chords} if has_chords else {}

    def under(self, beat: Fraction) -> tuple[Chord, Scale] | None:
        event = self.chart.event_at(beat)
        if event is None or event.chord.root is None:
            return None
        return event.chord, self._scales[event.onset_beats]

    def number(self, midi: int, beat: Fraction) -> int | None:
        """The number of a note in its chord or its scale; None for a note outside both, or without a chord."""
        under = self.under(beat)
        if under is None:
            return None
        numbers = numbered(*under)
        return next((number for number, pitch_class in numbers.items() if pitch_class == midi % 12), None)

    def nearest(self, number: int, beat: Fraction, wanted: int) -> int:
        """The note of that number over the chord of a beat that lies nearest to a MIDI number."""
        under = self.under(beat)
        pitch_class = None if under is None else numbered(*under).get(number)
        return wanted if pitch_class is None else wanted + (pitch_class - wanted + 6) % 12 - 6

    def stepped(self, midi: int, beat: Fraction, steps: int) -> int:
        """A MIDI number moved by steps of the scale of its beat; what lies between two of them stays between."""
        under = self.under(beat)
        scale = sorted(name.pitch_class for name in under[1].names) if under else list(range(12))
        below = max((pitch_class for pitch_class in scale if pitch_class <= midi % 12), default=scale[-1] - 12)
        octave, index = midi // 12, scale.index(below % 12) - (len(scale) if below < 0 else 0)
        octaves, place = divmod(index + steps, len(scale))
        return 12 * (octave + octaves) + scale[place] + midi % 12 - below


def numbered(chord: Chord, scale: Scale) -> dict[int, int]:
    """Number from 1 to 7: pitch class; the chord's own tones count before those of the scale."""
    assert chord.root is not None
    found: dict[int, int] = {}
    for tone in chord.tones:
        found.setdefault(_plain_number(tone.degree), tone.name.pitch_class)
    for name in scale.names:
        found.setdefault(_plain_number(_degree(chord, name)), name.pitch_class)
    return found


def _degree(chord: Chord, name: NoteName) -> str:
    return degree_over(chord, name.fifths, name.pitch_class)


def _plain_number(degree: str) -> int:
    return (Interval.of_degree(degree).steps % 7) + 1


def _said_over(line: Line, old: _Ground, new: _Ground, start: Fraction) -> list[Note]:
    """One statement of the phrase over the new changes, from beat `start` on."""
    numbers = [old.number(note.pitch.midi, note.onset_beats) for note in line.notes]
    pitches: dict[int, int] = {}
    was: tuple[int, int] | None = None
    for index, note in enumerate(line.notes):
        number = numbers[index]
        if number is None:
            continue
        wanted = note.pitch.midi if was is None else was[1] + note.pitch.midi - was[0]
        pitches[index] = new.nearest(number, start + note.onset_beats, wanted)
        was = note.pitch.midi, pitches[index]
    made = []
    for index, note in enumerate(line.notes):
        here = pitches[index] if index in pitches else _beside(line, pitches, index)
        beat = start + note.onset_beats

        def goal(midi: int, note: Note = note, here: int = here, beat: Fraction = beat) -> int:
            number = old.number(midi, note.onset_beats)
            wanted = here + midi - note.pitch.midi
            return wanted if number is None else new.nearest(number, beat, wanted)

        made.append(replace(_with_pitch(note, here, goal), onset_beats=beat))
    return made


def _beside(line: Line, pitches: dict[int, int], index: int) -> int:
    """A note outside chord and scale: as far from the next note that has a number (or the last one) as it was."""
    anchor = next((other for other in range(index + 1, len(line.notes)) if other in pitches),
                  next((other for other in range(index - 1, -1, -1) if other in pitches), None))
    here = line.notes[index].pitch.midi
    return here if anchor is None else pitches[anchor] + here - line.notes[anchor].pitch.midi


def _with_pitch(note: Note, here: int, goal_of: Callable[[int], int]) -> Note:
    """The note at a new pitch, its bends going to what becomes of their goals, or as far as they went."""
    level, new_level = Fraction(note.pitch.midi), Fraction(here)
    marks = []
    for mark in note.marks:
        way = MARKS[mark.kind].moves
        if not way:
            marks.append(mark)
            continue
        level += mark.value * way
        goal = Fraction(goal_of(int(level))) if level.denominator == 1 else new_level + mark.value * way
        size = (goal - new_level) * way
        if not BEND[0] <= size <= BEND[1]:
            size = mark.value
        new_level += size * way
        marks.append(replace(mark, value=size))
    return replace(note, pitch=_pitch(here, note), marks=tuple(marks))


def _in_time_of(note: Note, place: Note, joins: tuple[Mark, ...]) -> Note:
    """A note in the time of another, with other joins; what begins within it keeps its share of the time."""
    share = place.duration_beats / note.duration_beats
    own = tuple(replace(mark, at_beats=mark.at_beats * share) for mark in note.marks if mark.kind not in JOINING)
    return replace(note, onset_beats=place.onset_beats, duration_beats=place.duration_beats, marks=(*joins, *own))


def _pitch(midi: int, note: Note) -> Pitch:
    if not 0 <= midi < _MIDI:
        raise DrillError(f"the note at beat {note.onset_beats} leaves what can be written", value=midi,
                         expected="a smaller move")
    return Pitch.of_midi(midi)


def _has_notes(line: Line) -> None:
    if not line.notes:
        raise DrillError("a phrase without notes cannot be varied", value=line.title, expected="a line with notes")


def _titled(line: Line, more: str) -> str:
    return ", ".join(filter(None, (line.title, more)))


def _made(line: Line, notes: Sequence[Note], chart: Chart, more: str) -> Line:
    """The varied notes as a line without places, spelled over the chart, its joins going the way of its notes."""
    context = context_of(chart)
    spelled = [replace(note, pitch=context.pitch(note.pitch.midi, note.onset_beats), string=None, fret=None,
                       finger=None) for note in notes]
    turned = spelled[:1]
    for before, note in pairwise(spelled):
        turned.append(replace(note, marks=tuple(_turned(mark, before, note) for mark in note.marks)))
    length = line.length_beats if chart == line.chart else chart.length_beats
    return with_degrees(Line(tuple(turned), chart, line.tuning, _titled(line, more), length, line.position))


def _turned(mark: Mark, before: Note, note: Note) -> Mark:
    """A joining mark as the two notes ask: up by a hammer, down by a pull, a tie where they are the same."""
    way, needs = note.pitch.midi - before.pitch.midi, MARKS[mark.kind].joins
    if needs in (RISES, FALLS, SHIFTS) and not way:
        return Mark("tie")
    if needs == STAYS and way:
        return Mark("hammer" if way > 0 else "pull")
    wrong = (needs == RISES and way < 0) or (needs == FALLS and way > 0)
    return Mark(_SWAPPED[mark.kind]) if wrong else mark


def _said(beats: Fraction) -> str:
    half = {Fraction(1, 2): "half a beat", Fraction(1): "a beat"}
    return half.get(beats, f"{beats} beat{'s' if beats > 1 else ''}")


def _groups(line: Line) -> list[list[Note]]:
    """Notes struck together, in order."""
    found: list[list[Note]] = []
    for note in line.notes:
        if found and found[-1][0].onset_beats == note.onset_beats:
            found[-1].append(note)
        else:
            found.append([note])
    return found
