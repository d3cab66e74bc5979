"""A backing track as a Standard MIDI File, type 1: a named track for each part, markers, chord texts, tempo map.

The count-in comes first, so beat 0 of the track lies after it. Programs and keys follow General MIDI.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby
from typing import Any

from theorylib.playing.lines import Line
from theorylib.playing.notation import signature_fifths

from .instruments import INSTRUMENTS
from .parts import BASS, CLICK, COMP, DRUMS, PAD, Backing, Hit
from .performance import legato
from .smf import file_bytes, key_name, sound_events
from .timing import ticks

PERCUSSION = 9  # General MIDI: channel 10
CHANNELS = {BASS: 10, COMP: 11, PAD: 12, DRUMS: PERCUSSION, CLICK: PERCUSSION}  # from 0; those of lines lie in smf


def backing_midi(track: Backing, lines: Sequence[Line] = (), *, title: str = "", parts: Sequence[str] | None = None,
                 repeat: bool = True, drum_keys: Mapping[int, int] | None = None) -> bytes:
    """The track's bytes; `lines` are played over it from beat 0 one after the other, and over again while they fit.

    `parts` limits the parts written (None: all that it has), so that stems can be rendered apart. `drum_keys` are other
    keys for General MIDI's.
    """
    names = [part for part in (DRUMS, BASS, COMP, PAD, CLICK) if track.of(part) and (parts is None or part in parts)]
    found = [(title or track.chart.title or "Backing", list(_conductor(track)))]
    found += [(part, list(_part(track, part, drum_keys or {}))) for part in names]
    if lines:
        found.append(("Line", list(sound_events(line_sounds(track, lines, repeat)))))
    return file_bytes(found)


def line_sounds(track: Backing, lines: Sequence[Line], repeat: bool) -> Iterator[tuple[Fraction, float, Any]]:
    """(offset from the start of the file, tempo, sound) of lines laid over the track, each from the start of a bar."""
    end = track.passes * track.chart.length_beats
    start = Fraction(0)
    whole = sum((line.length_beats for line in lines), Fraction(0))
    while start + whole <= end:
        for line in lines:
            tempo = [tempo for beat, tempo in track.tempos if beat <= start][-1]
            for sound in legato(line):
                yield track.count_in_beats + start, float(tempo), sound
            start += line.length_beats
        if not repeat:
            return


def _conductor(track: Backing) -> Iterator[tuple[int, int, Any]]:
    from mido import MetaMessage, bpm2tempo

    chart, offset = track.chart, track.count_in_beats
    yield 0, 1, MetaMessage("time_signature", numerator=chart.meter.beats, denominator=chart.meter.unit)
    yield 0, 2, MetaMessage("key_signature", key=key_name(signature_fifths(Line((), chart))))
    for beat, tempo in track.tempos:
        yield ticks(offset + beat) if beat else 0, 0, MetaMessage("set_tempo", tempo=bpm2tempo(float(tempo)))
    if offset:
        yield 0, 3, MetaMessage("marker", text="Count-in")
    for turn in range(track.passes):
        start = offset + turn * chart.length_beats
        yield ticks(start), 3, MetaMessage("marker", text=f"Pass {turn + 1}")
        for section in chart.sections:
            if section.name:
                yield ticks(start + section.onset_beats), 4, MetaMessage("marker", text=section.name)
        for event in chart.events:
            yield ticks(start + event.onset_beats), 5, MetaMessage("text", text=str(event.chord))
    for kind, slots in groupby(track.plan.slots, lambda slot: slot.kind):
        if kind != "chorus":
            yield ticks(offset + next(slots).start_beats), 3, MetaMessage("marker", text=kind.capitalize())


def _part(track: Backing, part: str, keys: Mapping[int, int]) -> Iterator[tuple[int, int, Any]]:
    from mido import Message

    channel, instrument = CHANNELS[part], INSTRUMENTS[track.voice(part)]
    shared = part == CLICK and bool(track.of(DRUMS))  # the drums set up the channel that the click has too
    if not shared:
        yield 0, -1, Message("program_change", channel=channel, program=instrument.program)
        for control, value in ((7, _volume(track, part)), (10, instrument.pan), (91, instrument.room)):
            yield 0, -1, Message("control_change", channel=channel, control=control, value=value)
    softer = _volume(track, CLICK) / _volume(track, DRUMS) if shared else 1
    following: dict[int, int] = {}
    placed = sorted(((_tick(track, hit), hit) for hit in track.of(part)), key=lambda one: (one[0], one[1].midi))
    drums = part == DRUMS
    for start, hit in reversed(placed):  # a note ends before its own next stroke
        end = max(start + 1, start + ticks(hit.length_beats))
        end = min(end, following.get(hit.midi, end))
        if following.get(hit.midi) == start:
            continue
        following[hit.midi] = start
        key = keys.get(hit.midi, hit.midi) if drums else hit.midi
        yield start, 2, Message("note_on", channel=channel, note=key, velocity=max(1, round(hit.velocity * softer)))
        yield end, 0, Message("note_off", channel=channel, note=key, velocity=0)


def _tick(track: Backing, hit: Hit) -> int:
    """Where a hit sounds, as its player has it; never before the file's start."""
    tempo = next(tempo for beat, tempo in reversed(track.tempos) if beat <= hit.start_beats or not beat)
    late = Fraction(hit.late_ms, 60_000) * tempo
    return max(0, ticks(track.count_in_beats + hit.start_beats + late))


def _volume(track: Backing, part: str) -> int:
    """A channel's volume: the part's usual one, and what the style's mix adds. MIDI's volume is a square law."""
    usual = INSTRUMENTS[track.voice(part)].volume
    return max(1, min(127, round(usual * 10 ** (track.mix_db(part) / 40))))
