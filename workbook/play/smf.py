"""Lines and their changes as a Standard MIDI File, type 1, the same bytes for the same lines.

Tracks: a conductor (tempo, meter, key, a marker for each line and section), the changes as block chords, and the line.
Channels and programs follow General MIDI: 1 changes (electric piano), 2 line (clean guitar).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from typing import Any

from theorylib.chords import Chord
from theorylib.lines import Line, Note
from theorylib.notation import signature_fifths

from .timing import TICKS, Placed, one_after_the_other, swung, ticks

CHANGES_CHANNEL, LINE_CHANNEL = 0, 1
CHANGES_PROGRAM, LINE_PROGRAM = 4, 27  # General MIDI: electric piano 1, electric guitar (clean), counted from 0
CHANGES_VELOCITY, LINE_VELOCITY, ACCENT_VELOCITY, GHOST_VELOCITY = 52, 88, 108, 45
LOWEST_VOICE = 50  # D3: block chords stay above it, the slash bass below (common practice, no source)
_MAJOR_KEYS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")


def midi_bytes(lines: Sequence[Line], *, title: str = "", chords: bool = True) -> bytes:
    """The lines one after the other, a bar of rest between, each with a marker of its title, as a MIDI file's bytes."""
    import mido

    placed = one_after_the_other(lines)
    tracks = [("", _conductor(placed, title))]
    if chords:
        tracks.append(("Changes", _changes(placed)))
    tracks.append(("Line", _notes(placed)))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    for name, events in tracks:
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=name or title or "Lesson", time=0))
        now = 0
        # Of events at one tick, those that end a note come first.
        for tick, _, message in sorted(events, key=lambda event: event[:2]):
            track.append(message.copy(time=tick - now))
            now = tick
        track.append(mido.MetaMessage("end_of_track", time=0))
        file.tracks.append(track)
    found = BytesIO()
    file.save(file=found)
    return found.getvalue()


def block_chord(chord: Chord) -> tuple[int, ...]:
    """MIDI numbers of a chord in close position above LOWEST_VOICE, its bass or root an octave or more below."""
    if chord.root is None:
        return ()
    low = chord.bass or chord.root
    # The bass already sounds its note; a triad keeps it above as well.
    classes = [tone.name.pitch_class for tone in chord.tones
               if tone.name.pitch_class != low.pitch_class or len(chord.tones) <= 3]
    upper = sorted({LOWEST_VOICE + (pitch - LOWEST_VOICE) % 12 for pitch in classes})
    bass = LOWEST_VOICE - 1 - (LOWEST_VOICE - 1 - low.pitch_class) % 12
    return (bass, *upper)


def _conductor(placed: Sequence[Placed], title: str) -> Iterator[tuple[int, int, Any]]:
    from mido import MetaMessage, bpm2tempo

    before: tuple[Any, ...] = ()
    for one in placed:
        chart, start = one.line.chart, ticks(one.start_beats)
        settings = (chart.tempo, chart.meter, signature_fifths(one.line))
        if settings != before:
            yield start, 0, MetaMessage("set_tempo", tempo=bpm2tempo(float(chart.tempo)))
            yield start, 1, MetaMessage("time_signature", numerator=chart.meter.beats, denominator=chart.meter.unit)
            yield start, 2, MetaMessage("key_signature", key=_MAJOR_KEYS[max(-7, min(7, settings[2])) + 7])
            before = settings
        if one.line.title:
            yield start, 3, MetaMessage("marker", text=one.line.title)
        for section in chart.sections:
            if section.name and section.onset_beats < one.line.length_beats:
                yield ticks(one.start_beats + section.onset_beats), 4, MetaMessage("marker", text=section.name)


def _changes(placed: Sequence[Placed]) -> Iterator[tuple[int, int, Any]]:
    from mido import Message, MetaMessage

    yield 0, 0, Message("program_change", channel=CHANGES_CHANNEL, program=CHANGES_PROGRAM)
    for one in placed:
        for event in one.line.chords():
            start = ticks(one.start_beats + event.onset_beats)
            end = ticks(one.start_beats + min(event.onset_beats + event.duration_beats, one.line.length_beats))
            yield start, 1, MetaMessage("text", text=str(event.chord))
            for midi in block_chord(event.chord):
                yield start, 2, Message("note_on", channel=CHANGES_CHANNEL, note=midi, velocity=CHANGES_VELOCITY)
                yield end, 0, Message("note_off", channel=CHANGES_CHANNEL, note=midi, velocity=0)


def _notes(placed: Sequence[Placed]) -> Iterator[tuple[int, int, Any]]:
    from mido import Message

    yield 0, 0, Message("program_change", channel=LINE_CHANNEL, program=LINE_PROGRAM)
    for one in placed:
        for note, end_beats in _sounding(one.line):
            start = ticks(one.start_beats + swung(note.onset_beats, one.line.chart))
            end = ticks(one.start_beats + swung(end_beats, one.line.chart))
            yield start, 2, Message("note_on", channel=LINE_CHANNEL, note=note.pitch.midi, velocity=velocity(note))
            yield max(end, start + 1), 0, Message("note_off", channel=LINE_CHANNEL, note=note.pitch.midi, velocity=0)


def _sounding(line: Line) -> Iterator[tuple[Note, Fraction]]:
    """Notes that are struck, with when they end: a tied note lengthens the one before it."""
    waiting: dict[int, tuple[Note, Fraction]] = {}
    order: list[int] = []
    for index, note in enumerate(line.notes):
        held = next((key for key in reversed(order) if waiting[key][0].pitch.midi == note.pitch.midi
                     and waiting[key][1] == note.onset_beats), None) if note.marked("tie") else None
        if held is not None:
            waiting[held] = (waiting[held][0], note.end_beats)
        else:
            waiting[index] = (note, note.end_beats)
            order.append(index)
    for index in order:
        yield waiting[index]


def velocity(note: Note) -> int:
    """How hard a note is struck: its dynamic if it has one, else by accent and ghost marks."""
    dynamic = note.marked("dynamic")
    if dynamic is not None:
        return max(1, min(127, int(dynamic.value)))
    return ACCENT_VELOCITY if note.marked("accent") else GHOST_VELOCITY if note.marked("ghost") else LINE_VELOCITY
