"""A backing track's MIDI file in three readers: mido (MIT), pretty_midi (MIT), music21 (BSD-3)."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import pytest
from support.techniques import one_of_each

from theorylib import Chart
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, PAD, PARTS, Hit, backing
from workbook.play.backing_midi import backing_midi
from workbook.play.band import Band
from workbook.play.ladder import Ladder

SOURCE = Chart.parse("title: Low tide\nkey: D minor\ntempo: 110\n[A] | Dm9 | Bbmaj7/D |\n[B] | Gm7 | A7#9 |")
TRACK = backing(SOURCE, passes=2, click=True, ladder=Ladder(10), band=Band(parts=PARTS))
DATA = backing_midi(TRACK)


def written_at(hit: Hit) -> float:
    """The beat in the file: where the hit stands, moved by its milliseconds at the tempo there."""
    tempo = next(tempo for beat, tempo in reversed(TRACK.tempos) if beat <= hit.start_beats or beat == 0)
    return max(0.0, float(hit.start_beats + TRACK.count_in_beats) + hit.late_ms * float(tempo) / 60_000)


def by_mido() -> dict[str, set[tuple[float, int]]]:
    """Track name: (beat from the start of the file, MIDI key) of each note."""
    file = mido.MidiFile(file=io.BytesIO(DATA))
    found: dict[str, set[tuple[float, int]]] = {}
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.setdefault(track.name, set()).add((round(now / file.ticks_per_beat, 3), message.note))
    return found


def test_the_file_is_type_one_with_named_tracks() -> None:
    file = mido.MidiFile(file=io.BytesIO(DATA))
    assert file.type == 1
    assert [track.name for track in file.tracks] == ["Low tide", DRUMS, BASS, COMP, PAD, CLICK]
    programs = {track.name: [message.program for message in track if message.type == "program_change"]
                for track in file.tracks[1:]}
    assert programs[BASS] == [33]
    channels = {track.name: {message.channel for message in track if message.type == "note_on"}
                for track in file.tracks[1:]}
    assert channels[DRUMS] == channels[CLICK] == {9}
    assert len({tuple(one) for one in channels.values()}) == 4


def test_markers_chord_texts_and_tempos() -> None:
    file = mido.MidiFile(file=io.BytesIO(DATA))
    now, found = 0, []
    for message in file.tracks[0]:
        now += message.time
        found.append((now / file.ticks_per_beat, message))
    markers = [(beat, message.text) for beat, message in found if message.type == "marker"]
    assert markers == [(0, "Count-in"), (4, "Pass 1"), (4, "A"), (12, "B"), (20, "Pass 2"), (20, "A"), (28, "B"),
                       (36, "Ending")]
    chords = [(beat, message.text) for beat, message in found if message.type == "text"]
    assert chords[:4] == [(4, "Dm9"), (8, "Bbmaj7/D"), (12, "Gm7"), (16, "A7#9")]
    assert len(chords) == 8
    tempos = [(beat, mido.tempo2bpm(message.tempo)) for beat, message in found if message.type == "set_tempo"]
    assert [beat for beat, _ in tempos] == [0, 20]
    assert [tempo for _, tempo in tempos] == pytest.approx([110, 120], abs=1e-3)


def test_every_hit_is_written_where_it_sounds() -> None:
    read = by_mido()
    for part in (*PARTS, CLICK):
        assert read[part] == {(round(round(written_at(hit) * 5040) / 5040, 3), hit.midi) for hit in TRACK.of(part)}


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::UserWarning", "ignore::RuntimeWarning")
def test_pretty_midi_reads_the_same(tmp_path: Path) -> None:
    import pretty_midi

    found = pretty_midi.PrettyMIDI(io.BytesIO(DATA))
    names = {one.name: one for one in found.instruments}
    assert set(names) == {*PARTS, CLICK}
    assert names[DRUMS].is_drum
    times, tempos = found.get_tempo_changes()
    assert list(tempos) == pytest.approx([110, 120], abs=1e-3)
    assert list(times) == pytest.approx([0, 20 * 60 / 110], abs=1e-3)
    for part in (*PARTS, CLICK):
        expected = sorted((round(TRACK.seconds_of(hit), 4), hit.midi) for hit in TRACK.of(part))
        got = sorted((note.start, note.pitch) for note in names[part].notes)
        assert [start for start, _ in got] == pytest.approx([start for start, _ in expected], abs=0.006)
        assert sorted(pitch for _, pitch in got) == sorted(pitch for _, pitch in expected)


def test_music21_reads_the_same() -> None:
    from music21 import converter, tempo

    score = converter.parseData(DATA, format="midi", quantizePost=False)
    assert [mark.number for mark in score.recurse().getElementsByClass(tempo.MetronomeMark)][:2] == pytest.approx(
        [110, 120], abs=0.01)
    bass = next(part for part in score.parts if part.partName == BASS or "ass" in str(part.partName))
    notes = [(round(float(one.getOffsetInHierarchy(score)), 2), one.pitch.midi) for one in bass.recurse().notes
             if one.tie is None or one.tie.type == "start"]
    assert sorted(notes) == sorted((round(written_at(hit), 2), hit.midi) for hit in TRACK.of(BASS))


def test_lines_lie_over_the_track_and_repeat() -> None:
    """A four-bar line over two passes of four bars: twice, from the first beat after the count-in."""
    line = one_of_each()
    track = backing(line.chart, passes=2 * int(line.length_beats / line.chart.length_beats))
    file = mido.MidiFile(file=io.BytesIO(backing_midi(track, [line])))
    over = next(one for one in file.tracks if one.name == "Line")
    now, starts = 0, []
    for message in over:
        now += message.time
        if message.type == "note_on" and message.velocity:
            starts.append(now / file.ticks_per_beat)
    assert min(starts) == track.count_in_beats + line.notes[0].onset_beats
    half = len(starts) // 2
    moved = [start - float(line.length_beats) for start in starts[half:]]
    assert moved == pytest.approx(starts[:half])
    assert any(message.type == "pitchwheel" for message in over)
