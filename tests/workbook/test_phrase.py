"""A phrase of one's own in the kit: shown, judged, varied, moved with its lesson, and in a notebook's cell."""

from __future__ import annotations

from pathlib import Path

import pytest
from IPython.lib.pretty import pretty
from support.schema import validate

from theorylib import LineError, Tuning
from workbook.cells.drill import Phrase
from workbook.exchange.music_files import line_of_text
from workbook.kit import from_bar, phrase
from workbook.lesson.lesson import Lesson
from workbook.library.by_rule import Move, stays_behind
from workbook.running.run import run_lesson

PASTED = """
> Hi, this is the one from Tuesday:
>
>    e e e e e e q        e e q h
> e|---------------------|---------|
> B|---------5-8---------|---5-----|
> G|-----5-7-----7b9r7---|-7---5-4-|
> D|-5-7-----------------|---------|
> A|---------------------|---------|
> E|---------------------|---------|
"""
OVER = "key: A dorian\n| Am7 | D9 |"


def midi(one: Phrase) -> list[int]:
    return [note.pitch.midi for note in one.line.notes]


def test_given_places_are_kept_and_fingers_found() -> None:
    one = phrase(PASTED, over=OVER, title="Tuesday")
    assert [(note.string, note.fret) for note in one.line.notes] == [
        (4, 5), (4, 7), (3, 5), (3, 7), (2, 5), (2, 8), (3, 7), (3, 7), (2, 5), (3, 5), (3, 4)]
    assert all(note.finger is not None for note in one.line.notes)
    assert not one.line.problems()
    assert repr(one) == "Tuesday over 2 chords, 11 notes"


def test_a_given_finger_is_kept() -> None:
    assert [note.finger for note in phrase("q 3/5:3 3/7:4 3/5 r").line.notes][:2] == [3, 4]


def test_it_says_what_its_notes_do_where_it_lands_and_how_hard_it_is() -> None:
    one = phrase(PASTED, over=OVER)
    rows = one.notes().markdown.splitlines()
    assert rows[2] == "| 1 | 1 | G3 | Am7 | ♭7 | chord tone |"
    assert rows[5] == "| 1 | 2½ | D4 | Am7 | 11 | passing note to E4 |"
    assert rows[8] == "| 1 | 4 | D4 | Am7 | 11 bent to 5 | chord tone |"
    assert rows[12] == "| 2 | 3 | B3 | D9 | 13 | colour |"
    assert one.landings().markdown == ("- Am7 (bar 1, beat 1): G3, the ♭7, a guide tone, on the change.\n"
                                       "- D9 (bar 2, beat 1): D4, the 1, a chord tone, on the change.")
    hard = phrase("t 1/5 1/8 1/5 1/8 1/5 1/8 1/5 1/12[b4]", over="tempo: 160\n| Am7 |").hands().markdown
    assert "it reaches 21.3 notes a second" in hard  # 160 quarters a minute, eight to a quarter
    assert "it bends 4 semitones" in hard
    assert "Stop if anything hurts" in hard
    assert "stretch" not in hard
    # Frets 1 to 5 on a scale of 648 mm: 648 (2^(-1/12) - 2^(-5/12)) = 126.2 mm, over the bound of 110.
    assert "- Widest stretch: 126 mm." in phrase("e 6/1 6/5 6/1 6/5 r h", over="| Fm7 |").hands().markdown


def test_variations_are_phrases_again() -> None:
    one = phrase(PASTED, over=OVER)
    moved = one.in_position(7)
    assert midi(moved) == midi(one)
    assert all(6 <= (note.fret or 7) <= 11 for note in moved.line.notes)
    assert 7 in one.positions()
    assert 20 not in one.positions()
    for varied in (one.through("| Dm7 | G7 |"), one.through(), one.from_degree(2), one.backwards(), one.displaced(),
                   one.backwards().displaced("1/2")):
        assert isinstance(varied, Phrase)
        assert not varied.line.problems()
        assert all(note.place is not None for note in varied.line.notes)


def test_what_cannot_be_slurred_elsewhere_is_struck_and_said() -> None:
    # D4 to G4 lie a fifth of a string apart in a position: no hammer reaches that far.
    one = phrase("e 3/7 3/12[sl] r q. r h r", over="| Am7 |").in_position(5)
    assert one.line.title.endswith("each note struck")
    assert not any(note.marks for note in one.line.notes)


def test_it_begins_at_a_bar_of_the_form() -> None:
    one = phrase("q B3 D4 F#4 A4", over=from_bar("| Am7 | D7 | Gmaj7 | % |", 4))
    assert [str(event.chord) for event in one.line.chords()] == ["Gmaj7"]
    assert [note.degree for note in one.line.notes] == ["3", "5", "7", "9"]


def test_midi_and_musicxml_hold_it() -> None:
    one = phrase(PASTED, over=OVER)
    assert one.midi().startswith(b"MThd")
    validate(one.musicxml())
    assert line_of_text(one.musicxml()).line.notes == one.line.notes


def test_text_and_phrase_give_each_other() -> None:
    one = phrase(PASTED, over=OVER)
    assert phrase(one.tab()).line == one.line
    assert phrase(one.words()).line == one.line
    for text in (one.tab(), one.words()):  # a cell shows them as they print
        assert repr(text) == text
        assert "\\n" not in repr(text)
        assert pretty(text) == str(text)


def test_on_another_neck_it_sounds_the_same() -> None:
    other = phrase("tuning: standard\nq 6/3 6/5 5/7 4/5", over=OVER, tuning="drop D")
    assert other.line.tuning == Tuning.parse("drop D")
    assert [str(note.pitch) for note in other.line.notes] == ["G2", "A2", "E3", "G3"]
    assert [(note.string, note.fret) for note in other.line.notes][:2] == [(6, 5), (6, 7)]
    assert (other.line.notes[2].string, other.line.notes[2].fret) == (5, 7)


def test_a_moved_phrase_keeps_its_shape_where_it_can() -> None:
    one = phrase(PASTED, over=OVER)
    up = phrase(PASTED, over="key: C dorian\n| Cm7 | F9 |", up=3)
    assert [(note.string, (note.fret or 0) - 3) for note in up.line.notes] == [
        (note.string, note.fret) for note in one.line.notes]
    assert [str(note.pitch.name) for note in up.line.notes][3:5] == ["F", "G"]
    fingered = phrase("q 3/5:3 3/7:4 3/5:3 r", over="| F |", up=5)
    assert [note.finger for note in fingered.line.notes] == [3, 4, 3]
    low = phrase("q 6/0 6/3 5/0 r", over="| Em |", up=-1 + 12)
    assert [note.pitch.midi for note in low.line.notes] == [51, 54, 56]


CODE = '''tab = """
e|-5-8-|
"""
p = phrase("""
   q q h
e|-5-8-|
B|-----|
G|---5-|
D|-----|
A|-5-7-|
E|-----|
""", over="| Am7 | D7 |", position=5)
phrase("C5 | D5", chart)
phrase("q A3", up=2,)
'''


def test_a_lesson_that_moves_tells_its_phrases_how_far() -> None:
    from theorylib import Interval

    moved = Move(Interval.parse("m3"), 3, None).code(CODE)
    assert "| Cm7 | F7 |" in moved
    assert "position=8, up=3)" in moved
    assert "e|-5-8-|\nB|-----|\nG|---5-|" in moved
    assert 'phrase("C5 | D5", chart, up=3)' in moved
    assert 'phrase("q A3", up=5,)' in moved
    compile(moved, "cell", "exec")
    down = Move(Interval.parse("m7"), -2, None, octaves=-1).code('phrase("q A3")')
    assert down == 'phrase("q A3", up=-2)'  # ten half steps up, an octave down


def test_a_phrase_that_would_be_read_on_another_neck_stays_behind() -> None:
    assert stays_behind('phrase("q 3/5", over=chart)', False, True)[1]
    assert stays_behind('phrase("q 3/5", tuning=tuning)', False, True)[1]
    assert stays_behind('phrase("tuning: standard\\nq 3/5", tuning=tuning)', False, True) == ("", "")
    assert stays_behind('phrase("q 3/5", over=chart)', True, False) == ("", "")


def test_a_pasted_phrase_works_in_a_notebook_cell() -> None:
    cell = {"cell_type": "code", "id": "lick", "metadata": {}, "outputs": [], "execution_count": None,
            "source": f'from workbook.kit import *\nlick = phrase("""{PASTED}""", over="| Am7 | D9 |")\nlick'}
    broken = cell | {"id": "more", "source": "lick.through('| Dm7 | G7 |').notes()"}
    notebook = {"cells": [cell, broken], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    run = Lesson.of(run_lesson(Lesson.of(notebook), Path()).notebook)
    assert [len(line.notes) for _, line in run.lines] == [11]
    assert "chord tone" in str(run.notebook["cells"][1]["outputs"])


def test_what_cannot_be_read_is_shown_in_the_cell() -> None:
    with pytest.raises(LineError, match=r"line 2, column 6.*\n    e A3 ZZ\n {9}\^$"):
        phrase("q A3\ne A3 ZZ", over="| Am7 |")
