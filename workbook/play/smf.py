"""Lines and their changes as a Standard MIDI File, type 1, the same bytes for the same lines.

Tracks: a conductor (tempo, meter, key, a marker for each line and section), the changes as block chords, and the line.
Channels and programs follow General MIDI: 1 changes (electric piano), 2 line (clean guitar), 3 muted notes, 4
harmonics, 5 to 9 for bends while other notes sound. The bend range is set by registered parameter 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from typing import Any

from theorylib.names.chords import Chord
from theorylib.playing.lines import Line
from theorylib.playing.notation import signature_fifths

from .instruments import INSTRUMENTS
from .parts import COMP
from .performance import CLEAN, HARMONICS, MUTED, Sound, performance
from .timing import TICKS, Placed, one_after_the_other, ticks

CHANGES_CHANNEL, CHANGES_VELOCITY = 0, 52
LINE_CHANNELS = {CLEAN: (1, 4, 5, 6, 7, 8), MUTED: (2,), HARMONICS: (3,)}
BEND_RANGE = 24        # semitones either way: a slide of two octaves; a step is 0.3 cents
STEP_SECONDS = 0.008   # between two bend messages of a moving pitch
LOWEST_VOICE = 50  # D3: block chords stay above it, the slash bass below (common practice, no source)
_MAJOR_KEYS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")


def midi_bytes(lines: Sequence[Line], *, title: str = "", chords: bool = True) -> bytes:
    """The lines one after the other, a bar of rest between, each with a marker of its title, as a MIDI file's bytes."""
    placed = one_after_the_other(lines)
    tracks = [("", _conductor(placed, title))]
    if chords:
        tracks.append(("Changes", _changes(placed)))
    tracks.append(("Line", sound_events(_sounds(placed))))
    return file_bytes([(name or title or "Lesson", events) for name, events in tracks])


def file_bytes(tracks: Sequence[tuple[str, Iterable[tuple[int, int, Any]]]]) -> bytes:
    """A Standard MIDI File, type 1, of (name, events) tracks; an event is (tick, rank within the tick, message).

    The messages are new ones of its own: it sets their times.
    """
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    for name, events in tracks:
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=name, time=0))
        now = 0
        # Of events at one tick, those that end a note come first.
        for tick, _, message in sorted(events, key=lambda event: event[:2]):
            message.time = tick - now
            track.append(message)
            now = tick
        track.append(mido.MetaMessage("end_of_track", time=0))
        file.tracks.append(track)
    found = BytesIO()
    file.save(file=found)
    return found.getvalue()


def key_name(fifths: int) -> str:
    """The major key of a signature as MIDI's key event names it; beyond seven signs the nearest."""
    return _MAJOR_KEYS[max(-7, min(7, fifths)) + 7]


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
            yield start, 2, MetaMessage("key_signature", key=key_name(settings[2]))
            before = settings
        if one.line.title:
            yield start, 3, MetaMessage("marker", text=one.line.title)
        for section in chart.sections:
            if section.name and section.onset_beats < one.line.length_beats:
                yield ticks(one.start_beats + section.onset_beats), 4, MetaMessage("marker", text=section.name)


def _changes(placed: Sequence[Placed]) -> Iterator[tuple[int, int, Any]]:
    from mido import Message, MetaMessage

    yield 0, 0, Message("program_change", channel=CHANGES_CHANNEL, program=INSTRUMENTS[COMP].program)
    for one in placed:
        for event in one.line.chords():
            start = ticks(one.start_beats + event.onset_beats)
            end = ticks(one.start_beats + min(event.onset_beats + event.duration_beats, one.line.length_beats))
            yield start, 1, MetaMessage("text", text=str(event.chord))
            for midi in block_chord(event.chord):
                yield start, 2, Message("note_on", channel=CHANGES_CHANNEL, note=midi, velocity=CHANGES_VELOCITY)
                yield end, 0, Message("note_off", channel=CHANGES_CHANNEL, note=midi, velocity=0)


def _sounds(placed: Sequence[Placed]) -> Iterator[tuple[Fraction, float, Sound]]:
    """The notes of lines that follow each other."""
    for one in placed:
        for sound in performance(one.line):
            yield one.start_beats, float(one.line.chart.tempo), sound


def sound_events(sounds: Iterable[tuple[Fraction, float, Sound]]) -> Iterator[tuple[int, int, Any]]:
    """Events of (offset in beats, tempo, sound): each channel set up before its first note, its bend put back after."""
    from mido import Message

    busy: dict[int, list[tuple[int, bool]]] = {}  # channel: (end tick, bent) of the sounds that hold it
    level: dict[int, int] = {}                    # channel: where its bend stands
    for offset, tempo, sound in sounds:
        start = ticks(offset + sound.start_beats)
        end = max(ticks(offset + sound.end_beats), start + 1)
        channel = _free_channel(busy, sound, start)
        if channel not in busy:
            yield from _set_up(channel, sound.voice)
        busy.setdefault(channel, []).append((end, sound.bent))
        steps = list(_bend_steps(sound, offset, start, end, tempo)) if sound.bent else [(start, 0)]
        for tick, value in steps:
            if value != level.get(channel, 0):
                yield tick, 1, Message("pitchwheel", channel=channel, pitch=value)
                level[channel] = value
        yield start, 2, Message("note_on", channel=channel, note=sound.midi, velocity=sound.velocity)
        yield end, 0, Message("note_off", channel=channel, note=sound.midi, velocity=0)


def _free_channel(busy: dict[int, list[tuple[int, bool]]], sound: Sound, start: int) -> int:
    """The voice's channel, or the next one when a bend would pull another sounding note along."""
    for channel in LINE_CHANNELS[sound.voice]:
        if channel in busy:  # sounds come in order of their start: what has ended holds nothing any more
            busy[channel] = [(end, bent) for end, bent in busy[channel] if end > start]
        held = busy.get(channel)
        if not held or not (sound.bent or any(bent for _, bent in held)):
            return channel
    return LINE_CHANNELS[sound.voice][-1]


def _set_up(channel: int, voice: str) -> Iterator[tuple[int, int, Any]]:
    """The channel's program and its bend range by registered parameter 0 (MIDI 1.0), then the null parameter."""
    from mido import Message

    yield 0, -1, Message("program_change", channel=channel, program=INSTRUMENTS[voice].program)
    for control, value in ((101, 0), (100, 0), (6, BEND_RANGE), (38, 0), (101, 127), (100, 127)):
        yield 0, -1, Message("control_change", channel=channel, control=control, value=value)


def _bend_steps(sound: Sound, offset: Fraction, start: int, end: int, tempo: float) -> Iterator[tuple[int, int]]:
    """(tick, bend value) along the sound: at every corner of its path, and every few milliseconds where it moves."""
    corners = {ticks(offset + beat) for beat, _ in sound.path}
    moving = [(ticks(offset + one), ticks(offset + two))
              for (one, low), (two, high) in pairwise(sound.path) if low != high]
    if sound.vibrato is not None:
        corners.add(ticks(offset + sound.vibrato.start_beats))
        moving.append((ticks(offset + sound.vibrato.start_beats), end))
    step = max(1, round(STEP_SECONDS * tempo / 60 * TICKS))
    times = {start} | {tick for tick in corners if start <= tick < end}
    for low, high in moving:
        times |= set(range(max(low, start), min(high, end), step))
    for tick in sorted(times):
        cents = sound.cents_at(Fraction(tick, TICKS) - offset, tempo)
        yield tick, max(-8192, min(8191, round(cents / (100 * BEND_RANGE) * 8192)))
