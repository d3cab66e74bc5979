"""How techniques sound, read back from the MIDI bytes with mido (MIT) by the MIDI 1.0 rules for bends and their range.

A bend value of 8192 stands for the centre (0 in mido's signed form); its range is registered parameter 0 in semitones.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field, replace
from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import mido
import pytest
from support.techniques import long_bend, mark, note, one_of_each, unison_bend

from theorylib import Chart, Line
from theorylib.practice.strumming import strummed
from workbook.play.performance import VIBRATO_HZ, performance
from workbook.play.smf import midi_bytes
from workbook.play.timing import TICKS, swung


@dataclass
class Channel:
    """What one channel says over time, read by MIDI's own rules."""

    range_semitones: int = 2
    program: int = 0
    notes: list[tuple[int, int, int, int]] = field(default_factory=list)  # MIDI, on, off, velocity
    bends: list[tuple[int, int]] = field(default_factory=list)

    def cents(self, tick: int) -> float:
        index = bisect_right([at for at, _ in self.bends], tick)
        value = self.bends[index - 1][1] if index else 0
        return value / 8192 * self.range_semitones * 100


def heard(line: Line) -> dict[int, Channel]:
    file = mido.MidiFile(file=BytesIO(midi_bytes([line])))
    found: dict[int, Channel] = {}
    controls: dict[tuple[int, int], int] = {}
    now, on = 0, {}
    for message in next(track for track in file.tracks if track.name == "Line"):
        now += message.time
        if message.is_meta:
            continue
        channel = found.setdefault(message.channel, Channel())
        if message.type == "control_change":
            controls[message.channel, message.control] = message.value
            parameter = (controls.get((message.channel, 101)), controls.get((message.channel, 100)))
            if message.control == 6 and parameter == (0, 0):
                assert not channel.notes, "the range is set before the first note"
                channel.range_semitones = message.value
        elif message.type == "program_change":
            channel.program = message.program
        elif message.type == "pitchwheel":
            channel.bends.append((now, message.pitch))
        elif message.type == "note_on" and message.velocity:
            on[message.channel, message.note] = (now, message.velocity)
        elif message.type in ("note_on", "note_off"):
            start, velocity = on.pop((message.channel, message.note))
            channel.notes.append((message.note, start, now, velocity))
    assert not on
    return found


def at(beats: str | Fraction) -> int:
    return int(Fraction(beats) * TICKS)


def test_bends_arrive_at_their_pitch_at_their_beat() -> None:
    (channel,) = heard(long_bend()).values()
    step = channel.range_semitones * 100 / 8192
    for beat, cents in (("1/2", 0), ("1", 0), ("3/2", 200), ("29/10", 200), ("3", 200), ("7/2", 0), ("17/2", 50),
                        ("19/2", 100), ("21/2", 300), ("23/2", 400), ("12", 200), ("13", 200), ("27/2", 0)):
        assert channel.cents(at(beat)) == pytest.approx(cents, abs=step), beat
    assert 0 < channel.cents(at("9/8")) < 200


def test_a_pre_bend_is_up_before_the_note_and_the_next_note_starts_level() -> None:
    (channel,) = heard(long_bend()).values()
    assert (at("12"), round(200 / 2400 * 8192)) in channel.bends
    for _, start, _, _ in channel.notes:
        assert channel.cents(start) == pytest.approx(200 if start == at("12") else 0, abs=0.3)


@pytest.mark.parametrize("feel", ["straight 8", "swing"])
@pytest.mark.parametrize("tempo", [60, 132])
def test_vibrato_begins_on_its_tick_and_swings_at_its_width_and_rate(tempo: int, feel: str) -> None:
    line = long_bend(tempo, feel)
    (channel,) = heard(line).values()
    start = at(swung(Fraction(11, 2), line.chart))
    inside = [(tick, value / 8192 * 2400) for tick, value in channel.bends if at("4") <= tick < at("8")]
    assert inside[0][0] >= start, "no vibrato before its beat"
    first_moved = next(tick for tick, cents in inside if cents)
    one_step = round(0.008 * tempo / 60 * TICKS)
    assert start <= first_moved <= start + 2 * one_step
    heights = [cents for _, cents in inside]
    assert max(heights) == pytest.approx(60, abs=1.5)
    assert min(heights) == pytest.approx(0, abs=0.3)
    peaks = [tick for (_, low), (tick, top), (_, after) in zip(inside, inside[1:], inside[2:], strict=False)
             if low < top >= after and top > 50]
    seconds = (peaks[-1] - peaks[0]) / TICKS * 60 / tempo
    assert (len(peaks) - 1) / seconds == pytest.approx(VIBRATO_HZ, rel=0.05)


def test_a_unison_bend_leaves_the_held_note_alone() -> None:
    channels = heard(unison_bend())
    assert len(channels) == 2
    by_note = {channel.notes[0][0]: channel for channel in channels.values()}
    assert by_note[62].cents(at("1")) == pytest.approx(200, abs=0.3)
    assert not by_note[64].bends


def test_voices_and_loudness_of_techniques() -> None:
    line = one_of_each()
    channels = heard(line)
    programs = {channel.program: channel for channel in channels.values()}
    # General MIDI sound set, counted from 0: 27 clean electric guitar, 28 muted, 31 guitar harmonics.
    assert set(programs) == {27, 28, 31}
    assert [row[:2] for row in programs[28].notes] == [(52, at("4")), (52, at("9/2")), (57, at("5"))]
    assert programs[28].notes[2][2] - at("5") < at("1/4"), "a dead note is short"
    assert [row[0] for row in programs[31].notes] == [52, 71]
    loud = {(midi, start): velocity for channel in channels.values() for midi, start, _, velocity in channel.notes}
    assert loud[64, at("1/2")] < loud[62, at("0")], "a hammered note is softer than a picked one"
    assert loud[52, at("9/2")] > loud[52, at("4")], "an accent is louder"
    assert loud[55, at("11/2")] < loud[52, at("4")], "a ghost note is softer"
    assert loud[65, at("21/2")] == 100


def test_ties_let_ring_staccato_and_grace() -> None:
    spans = {(midi, start): end for channel in heard(one_of_each()).values() for midi, start, end, _ in channel.notes}
    assert spans[57, at("14")] == at("16"), "a tie is one note"
    assert (57, at("15")) not in spans
    tied = next(sound for sound in performance(one_of_each()) if sound.start_beats == 14)
    assert tied.vibrato is not None
    assert tied.vibrato.start_beats == 15, "a mark on the tied note keeps its beat"
    assert spans[69, at("6")] == at("8"), "let ring lasts to the end of the bar"
    assert spans[64, at("7")] == at("15/2"), "staccato is half"
    grace = next(start for midi, start in spans if midi == 62 and at("9") < start < at("10"))
    assert spans[62, grace] == at("10")


def test_a_slide_glides_to_the_pitch_it_reaches() -> None:
    line = Line((note("C4", "0", "1", 3, 5), note("E4", "1", "1", 3, 9, mark("slide"))), Chart.parse("| C |"))
    (channel,) = heard(line).values()
    assert channel.cents(at("1/2")) == 0
    assert 0 < channel.cents(at("7/8")) < 400
    assert channel.cents(at("1") - 1) == pytest.approx(400, abs=20)
    assert channel.cents(at("1")) == 0


@pytest.mark.parametrize(("length", "glide"), [("2", "1/4"), ("1/2", "1/4"), ("1/4", "1/8"), ("1/6", "1/12")])
def test_a_slide_leaves_its_note_a_sixteenth_before_the_next_or_halfway(length: str, glide: str) -> None:
    """In an S: half of its way at half of its time, a sixth at a quarter (3x² − 2x³). Common practice, no source."""
    end, way = Fraction(length), Fraction(glide)
    line = Line((note("C4", "0", length, 3, 5), note("E4", length, "1", 3, 9, mark("slide"))), Chart.parse("| C |"))
    (channel,) = heard(line).values()
    slack = 400 * 45 / at(way)  # a message of the bend each 8 ms: at 100 a minute every 67th tick
    assert channel.cents(at(end - way)) == 0
    assert channel.cents(at(end - way * 3 / 4)) == pytest.approx(62.5, abs=2 * slack)
    assert channel.cents(at(end - way / 2)) == pytest.approx(200, abs=2 * slack)
    assert channel.cents(at(end - way / 4)) == pytest.approx(337.5, abs=2 * slack)
    assert performance(line)[0].path == ((end - way, 0), (end, 400)), "the audio follows the same path"


@pytest.mark.parametrize(("length", "rise"), [("4", "3/10"), ("1", "3/10"), ("1/2", "1/4"), ("1/4", "1/8")])
def test_a_bend_takes_180_ms_or_half_of_its_time(length: str, rise: str) -> None:
    """At 100 a minute three tenths of a beat, in an S. Common practice, no source."""
    line = Line((note("D4", "0", length, 3, 7, mark("bend", "2")), note("C4", "4", "1", 3, 5)), Chart.parse("| C |"))
    (channel,) = heard(line).values()
    way = Fraction(rise)
    slack = 3 * 200 * 67 / at(way)  # an S is steeper in its middle
    assert channel.cents(at(way / 2)) == pytest.approx(100, abs=slack)
    assert channel.cents(at(way * 7 / 8)) < 199
    assert channel.cents(at(way)) == pytest.approx(200, abs=0.3)
    assert performance(line)[0].path == ((0, 0), (way, 200))


def test_a_slide_after_a_bend_starts_where_the_bend_came_to() -> None:
    line = Line((note("D4", "0", "2", 3, 7, mark("bend", "1")), note("E4", "2", "1", 3, 9, mark("slide"))),
                Chart.parse("| C |"))
    (channel,) = heard(line).values()
    assert [channel.cents(at(beat)) for beat in ("1/2", "1", "7/4")] == pytest.approx([100] * 3, abs=0.3)
    assert channel.cents(at("15/8")) == pytest.approx(150, abs=11)


@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_every_note_of_the_line_is_heard_at_its_swung_tick(make) -> None:
    line = make()
    expected = sorted((one.pitch.midi, at(swung(one.onset_beats, line.chart))) for one in line.notes
                      if not one.marked("tie"))
    found = sorted((midi, start) for channel in heard(line).values() for midi, start, _, _ in channel.notes)
    graces = [row for row in found if row not in expected]
    assert [row for row in found if row in expected] == expected
    assert len(graces) == sum(one.marked("grace") is not None for one in line.notes)
    assert {sound.source for sound in performance(line)} <= set(range(len(line.notes)))


def test_a_strum_sounds_string_by_string() -> None:
    """Down from the thickest string, up from the thinnest, 1/64 of a beat apart; two strings sound as one."""
    part = strummed("| Am7 |", "intermediate")
    sounds = performance(part)
    down = sorted((sound for sound in sounds if sound.start_beats < Fraction(1, 4)), key=lambda one: one.start_beats)
    assert [sound.string for sound in down] == sorted((sound.string for sound in down), reverse=True)
    assert {two.start_beats - one.start_beats for one, two in pairwise(down)} == {Fraction(1, 64)}
    up = sorted((sound for sound in sounds if Fraction(3, 2) <= sound.start_beats < Fraction(7, 4)),
                key=lambda one: one.start_beats)
    assert [sound.string for sound in up] == sorted(sound.string for sound in up)
    few = replace(part, notes=tuple(note for note in part.notes if note.string in (1, 2)))
    assert len({sound.start_beats for sound in performance(few)}) * 2 == len(few.notes)
