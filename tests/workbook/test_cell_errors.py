"""The commonest mistakes in a cell: each is told in one line with the nearest choice, and an example where it can be.

Collected by trying. What stands on the right was written by hand: words that whoever made the mistake must find there.
"""

from __future__ import annotations

import inspect
from typing import Any

import pytest

import workbook.kit
from workbook.cells import mistakes
from workbook.lesson.lesson import Lesson
from workbook.running.run import RunError, run_lesson

KIT: dict[str, Any] = {name: getattr(workbook.kit, name) for name in workbook.kit.__all__}
MISTAKES = {
    # chords
    'arpeggio_drill("| Am7 | H7 |")': "column 9: “H7” is not a chord symbol",
    'arpeggio_drill("| Amm7 | D7 |")': "did you mean Am7",
    'arpeggio_drill("| Am7b | D7 |")': "did you mean Am7b5",
    'substitutes("E7#9b")': "did you mean E7#9",
    'plot_neck("A dorian", over="Am77")': "did you mean Am7",
    "Chord.parse(Am7)": 'a chord stands between quotes: "Am7"',
    'Chord("Am7")': "Chord.parse('Am7')",
    'explore("| Am7 | Q |")': "column 9: “Q” is not a chord symbol",
    # keys and scales
    'Scale.parse("A doran")': "did you mean A dorian",
    'Scale.parse("Adorian")': "a note name and a kind such as A dorian",
    'Scale.parse("dorian")': "a note name and a kind",
    'Chart.parse("| Am7 |", key="H minor")': "key: “H minor” is not a scale",
    'harmony("| Am7 | D7 |", key="minor A")': "a note name and a kind",
    'lesson_chart("| Am7 |", key="A mino")': "did you mean A minor",
    'plot_neck("A dorain")': "did you mean A dorian",
    'bursts("A minor pentatonc", 5)': "did you mean A minor pentatonic",
    # feels, meters, tempos
    'lesson_chart("| Am7 |", feel="strait 8")': "did you mean straight 8",
    'lesson_chart("| Am7 |", feel="mazurka")': "expected one of straight 8",
    'lesson_chart("| Am7 |", meter="4")': "such as 4/4",
    'lesson_chart("| Am7 |", tempo="fast")': "quarter notes a minute, 20 to 400",
    'lesson_chart("| Am7 |", tempo=1000)': "quarter notes a minute, 20 to 400",
    # bars
    'arpeggio_drill("", 5)': "no bars; expected chords between bar lines",
    'arpeggio_drill(["Am7", "D7"])': "is no chart; expected chords between bar lines",
    'Chart.parse("Am7 | D7 ||: G")': "column 10: the repeat is never closed",
    'outline("| Am7 |", bars="eight")': "expected 1 to",
    'rhythm_part("| Am7 |", passes=-1)': "-1 is no number of passes",
    # positions, strings, degrees
    'arpeggio_drill("| Am7 |", 55)': "no position 55 on this neck; expected a fret from 1 to 22",
    'arpeggio_drill("| Am7 |", "five")': "no position five",
    'plot_neck("Am7", position=30)': "expected a fret from 1 to 22",
    'targets("Am7", "1 b3 8", near=5)': "“8” is no degree",
    # phrases
    'phrase("e A3 C4 G9 h A4")': "note 3 (G9, bar 1): G9 has no place on this neck",
    'phrase("e|--5--7--|")': "expected rows of the tuning",
    'phrase("q A3 H3")': "“H3” is no note",
    'score("Am7")': "“Am7” cannot be read",
    'phrase_from("nothing.mid")': "nothing.mid cannot be opened",
    # choices
    'arpeggio_drill("| Am7 |", direction="upp")': "expected up or down",
    'play_along("| Am7 |", "expert")': "expected beginner, intermediate, advanced",
    'ear_training("| Am7 |", "beginer")': "did you mean beginner",
    'phrase_chorus("| Am7 |", "jazz")': "expected groove, blues, minor blues, rock, modern",
    'for_reader(note_names="french")': "expected english, german, solfege",
    # calls
    'arpegio_drill("| Am7 |")': "did you mean arpeggio_drill",
    "arpeggio_drill()": "arpeggio_drill is not told its chart",
    'arpeggio_drill("| Am7 |", per_cord=4)': "did you mean per_chord",
    'arpeggio_drill("| Am7 |", 5, 4)': "give those after the first by their names: chart, position, per_chord",
    'arpeggio_drill("| Am7 |").scor()': "a Drill has no “scor”; did you mean score",
    'Chord.pars("Am7")': "did you mean parse",
    'targets("Am7", "1 b3")': "targets is not told its near",
}


@pytest.mark.parametrize("code", MISTAKES)
def test_a_mistake_reads_well(code: str) -> None:
    with pytest.raises((ValueError, NameError, TypeError, AttributeError)) as raised:
        exec(compile(code, "a cell", "exec"), dict(KIT))
    words = mistakes.words_of(raised.value, KIT)
    assert MISTAKES[code] in words
    assert len(words.splitlines()[0]) < 300


# A call as the kit took it once: as it is written now.
THEN = {
    'phrase("e|-5-7-|", each="e")': 'rhythm="e"',
    'phrase("e A3 C4", over="| Am7 | D7 |", from_bar=2)': "over=from_bar(chart, 5)",
    'phrase_from("tune.mid", bars="5-8")': 'passage="bars …"',
    'phrase_from("tune.mid", top=True)': 'passage="top"',
    'listen("| Am7 |", form="wav")': 'listen(…).save("groove.wav")',
    'plot_neck("Am7", frets=(5, 9))': "plot_neck(…).between(5, 9)",
    'plot_neck("Am7", vertical=True)': "plot_neck(…).turned(vertical=True)",
    'arpeggio_drill("| Am7 |", title="Tide")': 'arpeggio_drill(…).titled("…")',
    'continuous_arpeggio("| Am7 |", lowest="A2")': 'within=("A2", "E4")',
    'bend_drill("G7", tempo=60)': "bend_drill(…).at_tempo(60)",
}


@pytest.mark.parametrize("code", THEN)
def test_a_call_of_an_older_lesson_is_told_as_it_is_written_now(code: str) -> None:
    with pytest.raises(TypeError) as raised:
        exec(compile(code, "a cell", "exec"), dict(KIT))
    words = mistakes.words_of(raised.value, KIT)
    assert words.endswith(f"any more; write {THEN[code]}")


def test_no_call_is_told_anew_that_is_taken_as_it_is() -> None:
    for function, word in mistakes.SAID_NOW:
        assert word not in inspect.signature(KIT[function]).parameters, (function, word)


@pytest.mark.parametrize("code", [
    'phrase("\\n".join(f"{name}|-5-7-|" for name in "eBGDAE"), rhythm="q").line.notes[6].onset_beats == 1',
    'phrase("q C4 E4", over=from_bar("| Am7 | D7 |", 2)).line.notes[0].degree == "b7"',
    'plot_neck("Am7").between(5, 9).labelled("names").turned(vertical=True).captioned("Here").caption == "Here"',
    'plot_neck(targets("G7", "1 9 6", near=9), over="G7").bent(0).view.arrows == ()',
    'arpeggio_drill("| Am7 |").titled("Tide").line.title == "Tide"',
    'max(note.pitch.midi for note in continuous_arpeggio("| Am7 |", 8, None, within=("A2", "E4")).notes) == 64',
    'min(note.pitch.midi for note in continuous_arpeggio("| Am7 |", 8, None, within=("A2", "E4")).notes) == 45',
    'bend_drill("G7").at_tempo(60).chart.tempo == 60',
])
def test_what_is_told_can_be_written(code: str) -> None:
    assert eval(code, dict(KIT))


@pytest.mark.parametrize("code", ["1 + 'a'", "nothing_like_it_zz", "[].appendd", "int('x')", "len()"])
def test_what_is_not_ours_is_left_to_ipython(code: str) -> None:
    with pytest.raises((ValueError, NameError, TypeError, AttributeError)) as raised:
        exec(compile(code, "a cell", "exec"), dict(KIT))
    assert mistakes.words_of(raised.value, KIT) == ""


def test_a_notebook_keeps_the_error_and_the_line() -> None:
    """As it is saved: the line with the folded way to it, which names no path, then the error as nbclient reads it."""
    cells = ["from workbook.kit import *", 'changes = "| Am7 | H7 |"\narpeggio_drill(changes)', "1 + 'a'"]
    notebook = {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [
        {"cell_type": "code", "id": f"c{number}", "metadata": {"tags": ["raises-exception"]}, "source": source,
         "outputs": [], "execution_count": None} for number, source in enumerate(cells)]}
    ran = run_lesson(Lesson.of(notebook)).notebook["cells"]
    told, error = ran[1]["outputs"]
    plain = "".join(told["data"]["text/plain"])
    assert plain.splitlines()[0].startswith("Line 2 of this cell: in the text given, line 1, column 9: “H7” is not")
    assert plain.splitlines()[1] == 'For example: arpeggio_drill("| Am7 | D7 |", 5, per_chord=4)'
    shown = "".join(told["data"]["text/html"])
    assert "<details><summary>" in shown
    assert "workbook.kit, in arpeggio_drill\n" in shown
    assert "/" not in shown.replace("</", "").replace("| Am7", "")
    assert (error["output_type"], error["ename"]) == ("error", "ChartError")
    assert error["evalue"].startswith("line 1, column 9")
    (other,) = ran[2]["outputs"]
    assert other["ename"] == "TypeError"

    del notebook["cells"][1]["metadata"]["tags"]  # type: ignore[index]
    with pytest.raises(RunError, match=r"cell 2 “c1”, line 2: ChartError: line 1, column 9"):
        run_lesson(Lesson.of(notebook))
