"""Rhythm parts: the strokes of each feel as they are written, over the chords of the chart, in any meter."""

from __future__ import annotations

from fractions import Fraction

import pytest

from theorylib import Chart, Line, Note, Pitch, grips
from theorylib.changes.meters import FEELS
from theorylib.errors import VampError
from theorylib.levels import LEVELS
from theorylib.playing.fingering import fingering_cost
from theorylib.practice.strumming import PATTERNS, strummed

METERS = ("4/4", "3/4", "5/4", "6/8", "12/8", "7/8", "2/2")


def strokes(line) -> list[tuple[Fraction, Fraction, str]]:
    """(onset, length, stroke) once for each stack."""
    found = {}
    for note in line.notes:
        stroke = "x" if note.marked("dead") else "d" if note.marked("pick down") else "u"
        found.setdefault(note.onset_beats, set()).add((note.onset_beats, note.duration_beats, stroke))
    assert all(len(stack) == 1 for stack in found.values())
    return [next(iter(found[onset])) for onset in sorted(found)]


def halves(text: str) -> list[tuple[Fraction, Fraction, str]]:
    """“0+2d 2+1x”: onset, length and stroke in eighths."""
    return [(Fraction(int(word[0]), 2), Fraction(int(word[2]), 2), word[3]) for word in text.split()]


@pytest.mark.parametrize(("feel", "level", "written"), [
    ("straight 8", "beginner", "0+2d 2+2d 4+2d 6+2d"), ("straight 8", "intermediate", "0+2d 2+1d 3+2u 5+1u 6+1d 7+1u"),
    ("swing", "intermediate", "0+1d 2+1x 4+1d 6+1x"), ("swing", "advanced", "0+2d 3+1u"),
    ("shuffle", "intermediate", "0+1d 2+1d 3+1u 4+1d 6+1d 7+1u"), ("half-time", "beginner", "0+4d 4+4d"),
])
def test_strokes_as_they_are_taught(feel: str, level: str, written: str) -> None:
    """Common practice, no source; typed in eighths of a bar."""
    assert strokes(strummed(Chart.parse("| Am7 |", feel=feel), level)) == halves(written)


def test_every_feel_has_its_patterns() -> None:
    assert set(PATTERNS) == set(FEELS)


@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("feel", FEELS)
def test_every_feel_in_every_meter(feel: str, meter: str) -> None:
    """Each chord is struck where it comes in, on its own notes, and no stroke runs on into the next chord."""
    chart = Chart.parse("| Am7 D9 | G13 | N.C. | Cmaj7 | % |", feel=feel, meter=meter)
    for level in LEVELS if meter in ("4/4", "6/8") else LEVELS[-1:]:
        line = strummed(chart, level)
        assert line.problems() == ()
        struck = {onset for onset, _, _ in strokes(line)}
        for event in chart.events:
            if event.chord.root is not None:
                assert event.onset_beats in struck
        for note in line.notes:
            event = chart.event_at(note.onset_beats)
            assert note.end_beats <= event.onset_beats + event.duration_beats
            assert event.chord.root is not None


def test_the_hand_goes_down_on_the_beat_and_up_between() -> None:
    """Common practice, no source; in rock every stroke is a down stroke."""
    for feel, rows in PATTERNS.items():
        for level, row in zip(LEVELS, rows, strict=True):
            if feel == "rock":
                assert not set(row) & set("Uu")
                continue
            for pulse in row.split():
                for index, sign in enumerate(pulse):
                    assert sign not in ("Uu" if index % 2 == 0 else "Dd"), f"{feel} {level}: {row}"
            line = strummed(Chart.parse("| Am7 |", feel=feel), level)
            first = [note for note in line.notes if note.onset_beats == 0]
            assert all(note.marked("pick down") for note in first)


def test_a_held_chord_keeps_its_grip_and_passes_repeat_it() -> None:
    one, two = strummed("| Am7 | % |"), strummed("| Am7 | % |", passes=2)
    grips = {tuple((note.string, note.fret) for note in one.notes if note.onset_beats == onset)
             for onset in {note.onset_beats for note in one.notes}}
    assert len(grips) == 1
    assert len(two.notes) == 2 * len(one.notes)
    assert two.length_beats == 16


@pytest.mark.parametrize("call", [
    lambda: strummed("| N.C. |"), lambda: strummed("| Am7 |", "expert"), lambda: strummed("| Am7 |", passes=0),
])
def test_refusals(call) -> None:
    with pytest.raises(VampError):
        call()


def test_every_grip_lies_within_what_the_hand_of_the_fingerings_holds() -> None:
    """Two judges of one hand, written apart; the second raises for what cannot be held."""
    for symbol in ("C", "F", "B7", "Am6", "D9", "F#m7b5", "G13", "Bb6/9", "E7#9", "D/F#", "Ebmaj7", "Cdim7",
                   *("Fm7", "Fm6", "F9", "Bb9", "F7#9", "Fm7b5")):  # where the hand cannot go back behind the nut
        for grip in grips(symbol)[:40]:
            stack = tuple(Note(Pitch.of_midi(midi), Fraction(0), Fraction(1), place.string, place.fret, place.finger)
                          for midi, place in zip(grip.midis, grip.places, strict=True))
            assert fingering_cost(Line(stack, Chart.parse(f"| {symbol} |"))).jump == 0, f"{symbol} {grip}"


def test_dead_strokes_go_the_way_of_the_hand() -> None:
    """Down on the beat in straight eighths (common practice, no source)."""
    line = strummed(Chart.parse("| Am7 |"), "advanced")
    dead = {(note.onset_beats, note.marked("pick down") is not None) for note in line.notes if note.marked("dead")}
    assert dead == {(Fraction(1), True), (Fraction(3), True)}
