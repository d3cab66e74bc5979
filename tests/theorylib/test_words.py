"""Lines of words and printed TAB read back to the same line; degrees and values checked from outside.

Pitches of degrees are music21's (BSD-3), note values are counted by hand.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.drills import DRILLS, made
from support.techniques import long_bend, one_of_each, unison_bend

from theorylib import Chart, Line, LineError, Mark, Note, Pitch, Tuning, finger
from theorylib.playing.marks import MARKS
from theorylib.playing.values import read_value, value_text

# Counted by hand, in quarter-note beats.
VALUES = {"w": "4", "h": "2", "q": "1", "e": "1/2", "s": "1/4", "t": "1/8", "q.": "3/2", "h..": "7/2", "e3": "1/3",
          "q3": "2/3", "s5": "1/5", "s7": "1/7", "h~e": "5/2", "q..": "7/4", "h~s": "9/4", "=5/11": "5/11"}


@pytest.mark.parametrize(("text", "beats"), VALUES.items())
def test_a_value_is_as_long_as_it_says(text: str, beats: str) -> None:
    assert read_value(text) == Fraction(beats)
    assert value_text(Fraction(beats)) == text


@given(st.fractions(min_value=Fraction(1, 64), max_value=40, max_denominator=960))
def test_every_length_has_a_text(beats: Fraction) -> None:
    assert read_value(value_text(beats)) == beats


@pytest.mark.parametrize("tuning", ["standard", "seven-string"])
@pytest.mark.parametrize("name", DRILLS)
def test_every_drill_reads_back_from_words_and_from_tab(name: str, tuning: str) -> None:
    line = made(name, "Eb", tuning, "swing")
    assert Line.parse(line.words()) == line
    played = finger(line, line.tuning, line.position)
    assert Line.parse(played.words()) == played
    assert Line.parse(played.tab()) == played


@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_every_technique_reads_back(make) -> None:
    assert Line.parse(make().words()) == make()
    back = Line.parse(make().tab())
    assert replace(back, notes=()) == replace(make(), notes=())
    assert set(back.notes) == set(make().notes)  # a chord comes back from the lowest string up


CHARTS = ("| Am7 | D7 |", "key: Eb major\nmeter: 3/4\n[A] |: Fm7 / Bb7 | Ebmaj7 :| x3\nkey: G minor\n| Am7b5 |",
          "title: Low tide\nmeter: 7/8\ntempo: 92.5\n| N.C. | E7#9 |")
TITLES = ("", "Low tide", " x ", "a: b", '"', "Łukasz’ 2nd\nline", "over: | A |")


def a_mark(chance: Random) -> Mark:
    kind = chance.choice(sorted(MARKS))
    low, high = MARKS[kind].limits or (0, 0)
    size = low + Fraction(chance.randint(0, 24), 24) * (high - low)
    return Mark(kind, size, chance.choice([Fraction(0), Fraction(1, 2), Fraction(2, 3)]))


def a_line(chance: Random) -> Line:
    """Any line that there can be, sensible or not."""
    now, notes = Fraction(0), []
    for _ in range(chance.randint(0, 8)):
        now += chance.choice([Fraction(0), Fraction(0), Fraction(1, 2), Fraction(1, 3), Fraction(9, 2)])
        length = Fraction(chance.randint(1, 96), chance.choice([3, 5, 7, 11, 16, 24, 48]))
        for _ in range(chance.choice([1, 1, 1, 2, 3])):
            string, fret = chance.choice([(None, None), (3, None), (2, 5), (6, 0), (1, 22)])
            pitch = Pitch.parse(chance.choice(["A2", "F##4", "Bb3", "C#5", "Ebb4"]))
            notes.append(Note(pitch, now, length, string, fret, chance.choice([None, 0, 1, 4]),
                              chance.choice(["", "1", "b3", "#11", "bb7"]),
                              tuple(a_mark(chance) for _ in range(chance.randint(0, 3)))))
        now += length
    chart = Chart.parse(chance.choice(CHARTS), feel=chance.choice(["swing", "funk"]))
    neck = replace(Tuning.parse(chance.choice(["standard", "drop D", "seven-string", "standard capo 2"])),
                   frets=chance.choice([22, 24]), scale_length_mm=chance.choice([648.0, 628.65]))
    return Line(tuple(notes), chart, neck, chance.choice(TITLES), now + chance.choice([0, 9]),
                chance.choice([None, 1, 12]), chance.choice(["", "chord tones"]))


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32))
def test_every_line_reads_back_from_its_words(seed: int) -> None:
    line = a_line(Random(seed))
    assert Line.parse(line.words()) == line


# (typed, over, MIDI numbers by music21's reading of the note names, which were worked out by hand)
DEGREES = [("3 5 b7 9 over Dm7", "F4 A4 C5 E5"), ("1 3 5 7 over Fmaj7", "F4 A4 C5 E5"),
           ("b3 n3 #9 3 over E7", "G4 G#4 G4 G#4"), ("1, 1 1' over A7", "A3 A3 A4"),
           ("b9 #9 #11 b13 over G7", "Ab4 A#4 C#5 Eb5"), ("5 b7 1 b3 over Bm7b5", "F4 A4 B4 D5"),
           ("n3 n7 over Dm7", "F#4 C#4"), ("1 #11 over C", "C4 F#4"), ("1 b5 over Cm7b5", "C4 Gb4")]


@pytest.mark.parametrize(("text", "names"), DEGREES)
def test_degrees_sound_over_their_chord(text: str, names: str) -> None:
    from music21 import pitch

    line = Line.parse(text)
    wanted = [pitch.Pitch(name.replace("b", "-")).midi for name in names.split()]
    assert [note.pitch.midi % 12 for note in line.notes] == [midi % 12 for midi in wanted]
    steps = [two.pitch.midi - one.pitch.midi for one, two in pairwise(line.notes)]
    assert steps == [two - one for one, two in pairwise(wanted)]
    assert not line.problems()


def test_degrees_follow_the_changes_and_own_chords_make_a_chart() -> None:
    line = Line.parse("e 1 b3 5 b7 h 1 | e 3 5 b7 9 h 1", chart="| Am7 | D7 |")
    assert [note.degree for note in line.notes] == ["1", "b3", "5", "b7", "1", "3", "5", "b7", "9", "1"]
    assert [str(note.pitch.name) for note in line.notes] == ["A", "C", "E", "G", "A", "F#", "A", "C", "E", "D"]
    own = Line.parse("q 1 3 5 7 over Cmaj7 | h 1 b3 over Am7 | q 1 3 over D7 3 5 over G7")
    assert [(str(event.chord), event.onset_beats) for event in own.chart.events] == [
        ("Cmaj7", 0), ("Am7", 4), ("D7", 8), ("G7", 10)]


REFUSED = [("7 over Dm7", 1, 1, "its own b7"), ("3 5", 1, 1, "no chord to stand over"),
           ("e A3 X4", 1, 6, "“X4” is no note"), ("e A3[zz]", 1, 6, "“zz” is no mark"),
           ("q A3 | A3", 1, 6, "a bar line q into a bar"), ("e A3[b9]", 1, 6, "expected 1/4 to 5"),
           ("e A3\ne 9/5", 2, 3, "no string 9"), ("e 3/40", 1, 3, "fret 40"), ("e A3 over Hm7", 1, 11, "Hm7"),
           ("tempo: 9\nover: | A |\ne A3", 2, 7, "tempo"), ("tuning: dropp\ne A3", 1, 9, "drop"),
           ("q A3:9", 1, 5, "cannot be read"), ("position: x\ne A3", 1, 11, "no position")]


@pytest.mark.parametrize(("text", "line", "column", "said"), REFUSED)
def test_what_cannot_be_read_is_shown_with_a_caret(text: str, line: int, column: int, said: str) -> None:
    with pytest.raises(LineError) as caught:
        Line.parse(text)
    assert caught.value.where == f"line {line}, column {column}"
    assert said in str(caught.value)
    *_, shown, caret = str(caught.value).splitlines()
    assert shown.strip() == text.splitlines()[line - 1].strip()
    assert caret.index("^") - 4 == column - 1


def test_of_a_long_line_the_part_around_the_place_is_shown() -> None:
    with pytest.raises(LineError) as caught:
        Line.parse("e " + "A3 " * 40 + "ZZ " + "A3 " * 40)
    *_, shown, caret = str(caught.value).splitlines()
    assert shown[caret.index("^"):].startswith("ZZ")
    assert len(shown) < 80


def test_a_line_of_words_is_a_line_wherever_one_is_asked_for() -> None:
    assert finger("q 3/5 3/7 2/5 2/8").notes[0].finger is not None
