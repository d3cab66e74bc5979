"""What each note of a phrase does over its chord, and where the phrase lands when the chord changes.

Rules: a note that the chord holds is a chord tone. Any other is, by the first that fits: a suspension (struck again or
tied from a chord tone of the chord before, and left by step to a chord tone), a neighbour (by step from a note and back
to it), a passing note (by step from one note to another on the far side), an approach (left by step to a chord tone,
however it was reached), a colour (a note of the chord's scale), or outside. Passing and neighbour notes are those of
music21's `voiceLeading.ThreeNoteLinearSegment`; suspension and approach note (the textbooks' appoggiatura with jazz's
approach note) are common practice, no source.

A step is one or two half steps. Notes before and after count across rests of at most half a bar; what is bent counts
where it arrives.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..names.chords import Chord
from ..names.spelling import Pitch
from ..reading.harmony import harmony
from .context import Context, context_of
from .lines import Line, Note, as_line
from .marks import LIFTING, MARKS

CHORD_TONE, SUSPENSION, NEIGHBOUR, PASSING = "chord tone", "suspension", "neighbour", "passing note"
APPROACH, COLOUR, OUTSIDE, NO_CHORD = "approach", "colour", "outside", "no chord"
USES = (CHORD_TONE, SUSPENSION, NEIGHBOUR, PASSING, APPROACH, COLOUR, OUTSIDE, NO_CHORD)
LEADING = (SUSPENSION, NEIGHBOUR, PASSING, APPROACH)  # they go on by step
STEP = 2  # half steps


@dataclass(frozen=True, slots=True)
class NoteUse:
    """A note over its chord: degree as struck, degree as bent ("" where it is not), what it does, what it leads to."""

    note: Note
    chord: Chord | None
    degree: str
    bent_degree: str
    use: str
    to: Pitch | None = None  # of a note that leads on: where it goes


@dataclass(frozen=True, slots=True)
class Landing:
    """A change of chord: the note that sounds there or first thereafter, its degree, and how it comes in.

    `late_beats` is negative for a note struck before the change and held over it; `note` is None where the phrase rests
    through the whole chord.
    """

    chord: Chord
    bar: int  # from 1
    beat: Fraction  # within the bar, from 1
    note: Note | None
    degree: str
    is_guide_tone: bool
    late_beats: Fraction


def note_uses(line: Line | str) -> tuple[NoteUse, ...]:
    """What every note of a line does, in order."""
    line = as_line(line)
    context = context_of(line.chart)
    scales = _scales(line)
    melody = _melody(line)
    return tuple(_use(line, index, melody, context, scales) for index in range(len(line.notes)))


def landings(line: Line | str) -> tuple[Landing, ...]:
    """Where the line lands at each change of chord, the first included."""
    line = as_line(line)
    context = context_of(line.chart)
    changes = [event for event in line.chords() if event.chord.root is not None]
    found = []
    index = 0
    for event in changes:
        end = min(event.onset_beats + event.duration_beats, line.length_beats)
        while index < len(line.notes) and line.notes[index].end_beats <= event.onset_beats:
            index += 1
        note = line.notes[index] if index < len(line.notes) and line.notes[index].onset_beats < end else None
        bar, late = divmod(event.onset_beats, line.chart.bar_beats)
        degree = "" if note is None else _held_degree(context, note, event.onset_beats)
        found.append(Landing(
            event.chord, int(bar) + 1, late / line.chart.meter.pulse_beats + 1, note, degree,
            degree in event.chord.guide_degrees,
            Fraction(0) if note is None else note.onset_beats - event.onset_beats))
    return tuple(found)


def arrives(note: Note) -> int:
    """The MIDI number at which a note stands at its highest: bent up where it is bent."""
    level, top = Fraction(note.pitch.midi), Fraction(note.pitch.midi)
    for mark in note.marks:
        level += mark.value * MARKS[mark.kind].moves
        top = max(top, level)
    return round(top)


def _held_degree(context: Context, note: Note, beat: Fraction) -> str:
    """A note's degree over the chord that begins while it sounds, or over its own where it is struck later."""
    at = max(beat, note.onset_beats)
    pitch = context.pitch(arrives(note), at) if arrives(note) != note.pitch.midi else note.pitch
    return context.degree(pitch, at)


def _melody(line: Line) -> list[tuple[int | None, int | None]]:
    """For each note, the indexes of the note before and after it: of notes struck together the highest counts."""
    tops: list[int] = []
    group_of: list[int] = []
    for index, note in enumerate(line.notes):
        if tops and line.notes[tops[-1]].onset_beats == note.onset_beats:
            if note.pitch.midi > line.notes[tops[-1]].pitch.midi:
                tops[-1] = index
        else:
            tops.append(index)
        group_of.append(len(tops) - 1)
    longest_rest = line.chart.bar_beats / 2

    def near(one: int, other: int) -> int | None:
        gap = line.notes[max(one, other)].onset_beats - line.notes[min(one, other)].end_beats
        return other if gap <= longest_rest else None

    found: list[tuple[int | None, int | None]] = []
    for index, group in enumerate(group_of):
        before = near(index, tops[group - 1]) if group else None
        after = near(index, tops[group + 1]) if group + 1 < len(tops) else None
        found.append((before, after))
    return found


def _use(line: Line, index: int, melody: list[tuple[int | None, int | None]], context: Context,
         scales: dict[Fraction, frozenset[int]]) -> NoteUse:
    note = line.notes[index]
    chord = context.chord_at(note.onset_beats)
    if chord is None:
        return NoteUse(note, None, "", "", NO_CHORD)
    degree, bent = context.degree(note.pitch, note.onset_beats), ""
    if any(mark.kind in LIFTING for mark in note.marks):
        bent = context.degree(context.pitch(arrives(note), note.onset_beats), note.onset_beats)
    if _in_chord(chord, arrives(note)):
        return NoteUse(note, chord, degree, bent, CHORD_TONE)
    before, after = (None if at is None else line.notes[at] for at in melody[index])
    use = _non_chord_use(note, before, after, context)
    if use in LEADING:
        return NoteUse(note, chord, degree, bent, use, after.pitch if after is not None else None)
    event = line.chart.event_at(note.onset_beats)
    scale = scales.get(event.onset_beats, frozenset()) if event is not None else frozenset()
    return NoteUse(note, chord, degree, bent, COLOUR if arrives(note) % 12 in scale else OUTSIDE)


def _non_chord_use(note: Note, before: Note | None, after: Note | None, context: Context) -> str:
    """What a note that is no chord tone does between its neighbours; empty where it leads nowhere."""
    here = arrives(note)
    onward = None if after is None else after.pitch.midi - here
    resolves = after is not None and onward is not None and 0 < abs(onward) <= STEP and _is_chord_tone(after, context)
    if before is not None and onward is not None:
        came = here - arrives(before)
        if came == 0 and resolves and _is_chord_tone(before, context):
            return SUSPENSION
        if 0 < abs(came) <= STEP and onward == -came:
            return NEIGHBOUR
        if 0 < abs(came) <= STEP and 0 < abs(onward) <= STEP and came * onward > 0:
            return PASSING
    return APPROACH if resolves else ""


def _is_chord_tone(note: Note, context: Context) -> bool:
    chord = context.chord_at(note.onset_beats)
    return chord is not None and _in_chord(chord, arrives(note))


def _in_chord(chord: Chord, midi: int) -> bool:
    return any(tone.name.pitch_class == midi % 12 for tone in chord.tones)


def _scales(line: Line) -> dict[Fraction, frozenset[int]]:
    """By a chord's onset in the chart, the pitch classes of its scale."""
    if not any(event.chord.root is not None for event in line.chart.events):
        return {}
    return {reading.onset_beats: frozenset(name.pitch_class for name in reading.scale.names)
            for reading in harmony(line.chart).chords}
