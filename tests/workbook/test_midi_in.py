"""MIDI files read into lines: written with mido, with and without a player's unsteadiness, and ours come back.

pretty_midi (MIT) reads the same files beside us. Patterns and unsteadiness are invented.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from random import Random

import mido
import pytest
from support.drills import DRILLS, made
from support.music import INVENTED

from theorylib import Line, VampError
from theorylib.errors import MusicFileError
from workbook.exchange.grids import laid
from workbook.exchange.midi_in import score_of_midi
from workbook.exchange.music_files import line_of_bytes, read_music
from workbook.exchange.passages import Passage
from workbook.exchange.score_lines import Imported
from workbook.play.smf import midi_bytes

TICKS = 480


def midi(notes: Iterable[tuple[float, float, int]], *first: mido.MetaMessage, kind: int = 1, channel: int = 0,
         ticks: int = TICKS, more: Iterable[tuple[float, mido.Message]] = ()) -> bytes:
    """Notes of (onset, length, key number) in beats, after messages at the start."""
    events = [(onset, 1, mido.Message("note_on", note=key, velocity=80, channel=channel)) for onset, _, key in notes]
    events += [(onset + length, 0, mido.Message("note_off", note=key, channel=channel)) for onset, length, key in notes]
    events += [(beat, 0, message) for beat, message in more]
    file = mido.MidiFile(type=kind, ticks_per_beat=ticks)
    track = mido.MidiTrack(first)
    now = 0
    for beat, _, message in sorted(events, key=lambda event: (event[0], event[1])):
        tick = round(beat * ticks)
        track.append(message.copy(time=tick - now))
        now = tick
    if kind:
        file.tracks.append(mido.MidiTrack([mido.MetaMessage("track_name", name="Head")]))
    file.tracks.append(track)
    content = io.BytesIO()
    file.save(file=content)
    return content.getvalue()


def rows(read: Imported) -> list[str]:
    return [f"{one.pitch} {one.onset_beats} {one.duration_beats}" for one in read.line.notes]


def said(read: Imported) -> list[str]:
    return [str(one) for one in read.said]


def test_notes_on_a_grid_are_read_as_they_stand() -> None:
    read = line_of_bytes(midi([(0, .5, 57), (.5, .25, 60), (1.75, .25, 62), (2, 1, 64), (3, 1 / 3, 65),
                               (3 + 1 / 3, 1 / 3, 67), (3 + 2 / 3, 1 / 3, 69), (4, 6, 45)]))
    assert rows(read) == ["A3 0 1/2", "C4 1/2 1/4", "D4 7/4 1/4", "E4 2 1", "F4 3 1/3", "G4 10/3 1/3", "A4 11/3 1/3",
                          "A2 4 6"]
    assert "the grid is 8ths" in said(read)
    assert "bar 1: the grid is 16ths in part" in said(read)
    assert "bar 1: the grid is 8th triplets in part" in said(read)


def test_meter_key_and_tempo_are_the_file_s() -> None:
    head = (mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(92)),
            mido.MetaMessage("time_signature", numerator=6, denominator=8),
            mido.MetaMessage("key_signature", key="Bbm"))
    read = line_of_bytes(midi([(0, .5, 61), (.5, 1, 63), (1.5, 1.5, 66)], *head))
    chart = read.line.chart
    assert (str(chart.meter), chart.tempo, str(chart.key)) == ("6/8", 92, "Bb minor")
    assert rows(read) == ["Db4 0 1/2", "Eb4 1/2 1", "Gb4 3/2 3/2"]


def test_swung_eighths_are_found_and_said() -> None:
    notes = [(beat + off, length, 60 + beat) for beat in range(8) for off, length in ((0, .6), (.64, .36))]
    read = line_of_bytes(midi(notes))
    assert [row.split()[1] for row in rows(read)] == [str(Fraction(number, 2)) for number in range(16)]
    assert read.line.chart.feel == "swing"
    assert "8ths are swung, 1.8 to 1, and written even" in said(read)
    straight = line_of_bytes(midi([(beat + off, .5, 60) for beat in range(8) for off in (0, .5)]))
    assert straight.line.chart.feel == "straight 8"


def test_short_notes_of_a_player_last_to_the_next_place_of_their_grid() -> None:
    chance = Random(5)
    notes = [(max(0, beat + off + chance.gauss(0, .012)), .2, 60) for beat in range(8) for off in (0, .64)]
    read = line_of_bytes(midi(notes))
    assert {row.split()[2] for row in rows(read)} == {"1/2"}


def test_the_changes_tempo_and_feel_count_and_the_file_s_are_said(tmp_path: Path) -> None:
    notes = [(beat + off, length, 60) for beat in range(8) for off, length in ((0, .6), (2 / 3, .3))]
    file = tmp_path / "take.mid"
    file.write_bytes(midi(notes, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(132))))
    read = read_music(file, over="tempo: 90\nfeel: rock\n| Am7 | D7 |")
    assert (read.line.chart.tempo, read.line.chart.feel) == (90, "rock")
    assert "the file is in swing, the changes are in rock: played as the changes say (feel: swing)" in said(read)
    assert "the file's tempo is 132, that of the changes 90, which counts" in said(read)


def test_what_sounds_together_or_too_long_is_cut_and_said() -> None:
    read = line_of_bytes(midi([(0, 4, 48), (0, 1, 60), (1, 1, 62), (4, 3, 64), (5, 1, 65)]))
    assert rows(read) == ["C3 0 1", "C4 0 1", "D4 1 1", "E4 4 1", "F4 5 1"]
    assert "bar 1: notes struck together end with the shortest" in said(read)
    assert "bar 2: a note is cut short where the next begins" in said(read)
    assert rows(line_of_bytes(midi([(0, 1, 48), (0, 1, 60)]), Passage(top=True))) == ["C4 0 1"]


def test_a_player_s_gaps_are_no_rests_and_a_program_s_are() -> None:
    chance = Random(3)
    played = [(max(0, beat / 2 + chance.gauss(0, .01)), .4 + chance.gauss(0, .02), 60) for beat in range(16)]
    assert {row.split()[2] for row in rows(line_of_bytes(midi(played)))[:-1]} == {"1/2"}
    quarters = [(beat + abs(chance.gauss(0, .01)), .7 + chance.gauss(0, .02), 60) for beat in range(8)]
    sixteenths = [(8 + part / 4 + abs(chance.gauss(0, .01)), .2, 62) for part in range(16)]
    assert {row.split()[2] for row in rows(line_of_bytes(midi(quarters + sixteenths)))[:7]} == {"1"}
    written = [(beat, .5, 60) for beat in range(8)]
    assert {row.split()[2] for row in rows(line_of_bytes(midi(written)))} == {"1/2"}


# Beats of written onsets from which pieces are drawn, and the share of notes that must come right at 0, 10 and 18 ms.
PATTERNS = {
    "8ths": (["0 1/2", "0", "1/2"], (1, .99, .97)),
    "16ths": (["0 1/4 1/2 3/4", "0 1/2 3/4", "0 3/4", "0"], (1, .99, .95)),
    "8th triplets": (["0 1/3 2/3", "0"], (1, .99, .94)),
    "16th triplets": (["0 1/6 1/3 1/2 2/3 5/6", "0"], (1, .99, .9)),
    "swung": (["0 1/2", "0 1/2", "0", "0 1/3 2/3"], (1, .98, .9)),
}


@pytest.mark.parametrize("name", PATTERNS)
@pytest.mark.parametrize("level", range(3))
def test_an_unsteady_player_is_understood(name: str, level: int) -> None:
    chance = Random(11)
    beats, least = PATTERNS[name]
    right = total = told = 0
    for tempo in (70, 92, 120, 132) * 4:
        share = chance.choice((.6, 2 / 3, .71)) if name == "swung" else .5
        written = [beat + Fraction(place) for beat in range(16) for place in chance.choice(beats).split()]
        played = []
        for onset in written:
            on_half = onset % 1 == Fraction(1, 2)
            place = int(onset) + share if on_half else float(onset)
            late = chance.gauss(0, (0, .010, .018)[level] * tempo / 60)
            played.append((Fraction(max(0.0, place + late)).limit_denominator(5040), onset))
        grid = laid(sorted({one for one, _ in played}), Fraction(1), tempo)
        right += sum(grid.written(one) == onset for one, onset in played)
        total += len(played)
        told += (grid.unit == "8ths") == (name == "swung")
    assert told >= (16, 16, 14)[level]
    assert right / total >= least[level]


def test_thirds_across_beats_are_no_swing() -> None:
    """Three notes in two beats have one at 2/3 of a beat and none at its half: quarter-note triplets."""
    read = line_of_bytes(midi([(2 * number / 3, .6, 60 + number % 5) for number in range(24)]))
    assert [row.split()[1] for row in rows(read)] == [str(Fraction(2 * number, 3)) for number in range(24)]
    assert read.line.chart.feel == "straight 8"


def test_two_quick_notes_of_a_player_stay_two() -> None:
    chance = Random(2)
    played = [Fraction(beat + abs(chance.gauss(0, .02))).limit_denominator(5040) for beat in range(12)]
    played[4], quick = Fraction(401, 100), Fraction(410, 100)
    grid = laid(sorted([*played, quick]), Fraction(1), 100)
    assert not grid.exact
    assert grid.written(quick) > grid.written(played[4]) == 4


def test_another_grid_may_be_asked_for() -> None:
    content = midi([(0, .5, 60), (.27, .2, 62), (.5, .5, 64), (1, 1, 65)])
    assert [row.split()[1] for row in rows(line_of_bytes(content, Passage(grid="16ths")))] == ["0", "1/4", "1/2", "1"]
    assert [row.split()[1] for row in rows(line_of_bytes(content, Passage(grid="8th triplets")))][3] == "1"
    with pytest.raises(MusicFileError, match=r"no grid here.*16ths|16ths"):
        line_of_bytes(content, Passage(grid="17ths"))


# In MIDI a feel beyond swing is not written, and sextuplets, tuplets and 12/8 that a swing displaces sound elsewhere.
@pytest.mark.parametrize("feel", ["straight 8", "swing"])
def test_our_own_files_come_back(feel: str) -> None:
    lines = {name: made(name, "C", "standard", feel) for name in DRILLS}
    lines |= {name: INVENTED[name] for name in ("ties", "compound", "rests", "double stops")}
    for name, line in lines.items():
        read = line_of_bytes(midi_bytes([line]))
        heard = swung_threes(sounding(line)) if feel == line.chart.feel == "swing" else sounding(line)
        assert sorted(sounding(read.line)) == sorted(heard), name
        assert [(str(one.chord), one.onset_beats) for one in read.line.chart.events] == [
            (str(one.chord), one.onset_beats) for one in line.chords()], name


def swung_threes(notes: list[tuple]) -> list[tuple]:
    """Of a beat that holds its first three sixteenths alone nobody can tell, swung 2 to 1, that it is no triplet."""
    sixteenths = [Fraction(number, 4) for number in range(3)]
    beats: dict[int, set[Fraction]] = {}
    for _, onset in notes:
        beats.setdefault(onset // 1, set()).add(onset % 1)
    return [(key, onset // 1 + Fraction(sixteenths.index(onset % 1), 3)
             if beats[onset // 1] == set(sixteenths) else onset) for key, onset in notes]


def sounding(line: Line) -> list[tuple]:
    """(key number, onset) of struck notes."""
    return [(one.pitch.midi, one.onset_beats) for one in line.notes if not one.marked("tie")]


def test_pretty_midi_hears_the_same_notes(tmp_path: Path) -> None:
    import pretty_midi

    line = made("continuous arpeggio", "A", "standard", "straight 8")
    file = tmp_path / "line.mid"
    file.write_bytes(midi_bytes([line]))
    theirs = pretty_midi.PrettyMIDI(str(file)).instruments
    heard = sorted((note.pitch, round(note.start * float(line.chart.tempo) / 60, 3)) for one in theirs
                   if one.program != 4 for note in one.notes)
    read = read_music(file).line
    assert heard == sorted((note.pitch.midi, float(note.onset_beats)) for note in read.notes)
    assert not read.problems()


def test_parts_are_tracks_or_channels_and_percussion_is_left_out() -> None:
    drums = mido.Message("note_on", note=36, channel=9, velocity=90)
    one = midi([(0, 1, 60)], kind=0, channel=3, more=[(0, drums)])
    read = line_of_bytes(one)
    assert rows(read) == ["C4 0 1"]
    assert "percussion (channel 10) is left out" in said(read)
    assert [part.name for part in score_of_midi(one).parts] == ["channel 4"]
    bent = midi([(4, 1, 60)], more=[(4, mido.Message("pitchwheel", pitch=2000))])
    assert "bar 2: bends of the pitch wheel are left out" in said(line_of_bytes(bent))


GOOD = midi([(0, 1, 60), (1, 1, 62)])


@pytest.mark.parametrize(("content", "told"), {
    GOOD[:30]: "cannot be read", GOOD[:12] + b"\xe7\x28" + GOOD[14:]: "frames of film",
    GOOD[:12] + b"\0\0" + GOOD[14:]: "frames of film", b"MThd": "cannot be read", midi([]): "no notes",
    midi([(0, 1, 60), (200_000, 1, 62)], ticks=24): "more than 4000 bars", b"MThd" + b"\0" * 9_000_000: "too long",
}.items())
def test_what_is_no_midi_is_refused(content: bytes, told: str) -> None:
    with pytest.raises(MusicFileError, match=told):
        line_of_bytes(content)


def test_broken_files_give_only_our_own_errors() -> None:
    chance = Random(7)
    whole = midi_bytes([made("continuous arpeggio", "C", "standard", "swing")])
    taken, refusals = 0, []
    for _ in range(60):
        content = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        try:
            line_of_bytes(bytes(content[:chance.choice((len(content), chance.randrange(len(content))))]))
            taken += 1
        except VampError as error:
            refusals.append(str(error))
    assert taken
    assert not [one for one in refusals if "\n" in one or not one]
