"""MIDI files read back with mido (MIT), an outside reader of the Standard MIDI File format, and with music21."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import mido
import pytest
from support.music import INVENTED, arpeggio

from theorylib import Chart, Chord, Line, Note, Pitch
from workbook.play.smf import LINE_CHANNELS, block_chord, midi_bytes
from workbook.play.timing import TICKS, swung, tuplet_pairs


def tracks(line: Line) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(midi_bytes([line], title="A lesson")))


def struck(file: mido.MidiFile, track: str) -> list[tuple[int, int, int]]:
    """(MIDI, onset tick, end tick) of a track's notes in order of onset."""
    now, open_notes, found = 0, {}, []
    for message in next(one for one in file.tracks if one.name == track):
        now += message.time
        if message.type == "note_on" and message.velocity:
            assert message.note not in open_notes
            open_notes[message.note] = now
        elif message.type in ("note_off", "note_on") and message.note in open_notes:
            found.append((message.note, open_notes.pop(message.note), now))
    assert not open_notes, "every note ends"
    return sorted(found, key=lambda row: (row[1], row[0]))


@pytest.mark.parametrize("name", [name for name in INVENTED if name not in ("swing", "twelve-eight")])
def test_every_note_at_its_tick(name: str) -> None:
    line = INVENTED[name]
    expected = sorted(((note.pitch.midi, int(note.onset_beats * TICKS), int(note.end_beats * TICKS))
                       for note in line.notes), key=lambda row: (row[1], row[0]))
    assert all((note.onset_beats * TICKS).denominator == 1 for note in line.notes), "ticks hold this rhythm exactly"
    assert struck(tracks(line), "Line") == expected


def test_conductor() -> None:
    file = tracks(INVENTED["eighths"])
    assert (file.type, file.ticks_per_beat) == (1, TICKS)
    assert [track.name for track in file.tracks] == ["A lesson", "Changes", "Line"]
    head = {message.type: message for message in file.tracks[0]}
    assert mido.tempo2bpm(head["set_tempo"].tempo) == pytest.approx(92, abs=1e-3)
    assert (head["time_signature"].numerator, head["time_signature"].denominator) == (4, 4)
    assert head["key_signature"].key == "F"
    assert "A" in [message.text for message in file.tracks[0] if message.type == "marker"]


def test_swing_is_two_to_one_on_eighths_to_the_tick() -> None:
    """Triplet swing (common practice, no source): the first eighth of a pair lasts twice the second."""
    notes = struck(tracks(INVENTED["swing"]), "Line")
    onsets = [onset for _, onset, _ in notes[:8]]
    assert [later - sooner for sooner, later in pairwise(onsets)] == [
        TICKS * 2 // 3, TICKS // 3] * 3 + [TICKS * 2 // 3]


def test_a_written_triplet_does_not_swing() -> None:
    chart = Chart.parse("| C |", feel="swing")
    for third in (Fraction(1, 3), Fraction(2, 3), Fraction(4, 3)):
        assert swung(third, chart) == third
    assert swung(Fraction(1, 2), chart) == Fraction(2, 3)
    assert swung(Fraction(7), chart) == 7


@pytest.mark.parametrize("symbol", ["Gm7", "C9", "F#m7b5", "Ab13sus4/Eb", "G7alt", "E5", "Bb/D", "C"])
def test_block_chords_sound_the_chord(symbol: str) -> None:
    chord = Chord.parse(symbol)
    voices = block_chord(chord)
    assert {midi % 12 for midi in voices} == chord.pitch_classes
    assert voices[0] % 12 == (chord.bass or chord.root).pitch_class
    assert voices[0] == min(voices)


def test_no_chord_is_silent_and_bytes_are_the_same() -> None:
    assert block_chord(Chord.parse("N.C.")) == ()
    lines = [INVENTED["eighths"], INVENTED["swing"]]
    assert midi_bytes(lines) == midi_bytes(lines)


def test_music21_reads_the_same_notes() -> None:
    from music21 import converter

    line = arpeggio("tempo: 92\n| Gm7 | C9 |", 3)
    score = converter.parse(midi_bytes([line]), format="midi", quantizePost=False)
    found = [note for part in score.parts for note in part.flatten().notes if part.partName == "Line"]
    assert [note.pitch.midi for note in found] == [note.pitch.midi for note in line.notes]
    assert LINE_CHANNELS["clean"][0] == 1


def test_the_middle_of_a_sextuplet_stays_with_its_notes():
    """Six notes a beat lie at sixths of the beat in any feel: swing moves eighths, and no tuplet is one."""
    chart = Chart.parse("| Am7 |", feel="swing", tempo="80")
    six = Line(tuple(Note(Pitch.parse("A3"), Fraction(step, 6), Fraction(1, 6)) for step in range(6)), chart)
    straight = tuplet_pairs(six)
    assert [swung(note.onset_beats, chart, straight) for note in six.notes] == [Fraction(step, 6) for step in range(6)]
    assert swung(Fraction(3, 2), chart, straight) == Fraction(5, 3)  # the next beat swings
    assert not tuplet_pairs(replace(six, chart=replace(chart, feel="straight 8")))
