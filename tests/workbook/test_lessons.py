"""Writing lessons: what a new one says and holds, on input that nobody tuned it to."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib import Chart, Tuning
from theorylib.errors import VampError
from theorylib.practice.outline import read_outline
from workbook.cli import new
from workbook.kit import Drill
from workbook.lesson.chosen import KINDS, Choices
from workbook.lesson.derived import best_position, with_key
from workbook.lesson.door import LessonError
from workbook.lesson.kinds import SECTIONS
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson

CHART = Chart.parse("tempo: 92\n| Gm7 | C9 |")


def words(notebook: dict) -> str:
    return "\n".join("".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "markdown")


def code(notebook: dict) -> str:
    return "\n".join("".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "code")


def test_a_new_lesson_reads_as_one() -> None:
    """G dorian is the 2nd mode of F major (common practice, no source)."""
    text = words(new_lesson(CHART, Choices("Slack water", level="beginner", minutes=20)))
    for heading in ("# Slack water", "## Aims", "## The changes", "## How to use 20 minutes", "## Land on the chord",
                    "## Practice plan", "## Until next week"):
        assert heading in text
    assert "Level: beginner · about 20 minutes · ♩ = 92" in text
    more = words(new_lesson(CHART, Choices("Slack water", minutes=20)))
    for heading in ("## The home scale", "## Each chord in turn", "## On the neck", "## The arpeggios"):
        assert heading in more
        assert heading not in text
    assert "**G dorian**, 2nd mode of F major" in more


def test_code_cells_are_short_and_run_as_they_stand() -> None:
    notebook = new_lesson(CHART, Choices("Slack water"))
    assert all(len(cell["source"]) <= 5 for cell in notebook["cells"]
               if cell["cell_type"] == "code" and cell["id"] != "choices")
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            compile("".join(cell["source"]), cell["id"], "exec")
    ids = [cell["id"] for cell in notebook["cells"]]
    assert len(ids) == len(set(ids))


def test_the_same_choices_give_the_same_bytes() -> None:
    one, two = (Lesson.of(new_lesson(CHART, Choices("Slack water"))).text for _ in range(2))
    assert one == two
    assert json.loads(one)["nbformat"] == 4


def test_a_lesson_is_valid_for_jupyter() -> None:
    """nbformat (BSD-3) validates against the notebook schema."""
    import nbformat

    nbformat.validate(nbformat.reads(Lesson.of(new_lesson(CHART, Choices("Slack water"))).text, as_version=4))


def test_the_key_is_found_and_printed_unless_given() -> None:
    assert str(with_key(CHART).key) == "G dorian"
    assert str(with_key(Chart.parse("| A7 | D7 | A7 | E7 |")).key) == "A major"
    given_key = Chart.parse("key: C minor\n| Cm7 | G7#9 |")
    assert with_key(given_key) is given_key
    assert "key = None" in code(new_lesson(CHART, Choices("x")))
    assert 'key = "C minor"' in code(new_lesson(given_key, Choices("x")))


def test_the_position_lies_under_the_root() -> None:
    """Position 3 for G and 8 for C on the sixth string: where teachers place these shapes (common practice)."""
    assert best_position(CHART) == 3
    assert best_position(Chart.parse("| Cm7 | Fm7 |")) in (7, 8)


CHORDS = ("Am7", "D7", "Bbmaj7", "F#m7b5", "B7b9", "Eb6/9", "Ab7#9", "Gsus4", "Bdim7", "Cm11", "F/G", "E5", "C#7alt")


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from(CHORDS), min_size=1, max_size=5), st.sampled_from(["4/4", "3/4", "6/8"]),
       st.sampled_from(["standard", "drop D", "DADGAD", "seven-string"]), st.integers(3, 9))
def test_any_changes_give_a_lesson_or_our_own_error(chords: list[str], meter: str, tuning: str, per_chord: int) -> None:
    chart = Chart.parse(" | ".join(chords), meter=meter)
    try:
        notebook = new_lesson(chart, Choices("Any", per_chord=per_chord, tuning=Tuning.parse(tuning)))
    except VampError:
        return
    assert "## The arpeggios" in words(notebook)


@pytest.mark.parametrize("kind", SECTIONS)
@pytest.mark.parametrize("changes", ["| Dm7 | G7 |", "key: Bb major\nfeel: shuffle\n| Bb7 | Eb7 | Bb7 | F7alt |",
                                     "meter: 3/4\n| Em | C | Am | B7 |"])
def test_every_kind_of_lesson_runs_as_it_stands(kind: str, changes: str) -> None:
    notebook = new_lesson(Chart.parse(changes), Choices("Any", kind=kind))
    space: dict = {}
    exec(code(notebook), space)
    lines = [value.line for value in space.values() if isinstance(value, Drill)]
    assert lines
    assert all(line.problems() == () for line in lines)
    assert "## A solo" in words(notebook)
    plan = read_outline(str(space["plan"]), space["chart"])
    assert plan.beginning is not None
    assert plan.ending.bar >= plan.bars - 1
    assert all(aim in words(notebook) for aim in notebook["metadata"]["vampbook"]["aims"])


def test_the_command_offers_every_kind() -> None:
    option = next(one for one in new.params if one.name == "kind")
    assert list(option.type.choices) == list(KINDS) == list(SECTIONS)


def test_refusals() -> None:
    with pytest.raises(LessonError, match="blues"):
        new_lesson(CHART, Choices("x", kind="bluse"))
    with pytest.raises(LessonError, match="not a level"):
        new_lesson(CHART, Choices("x", level="expert"))


@pytest.mark.parametrize(("level", "feel", "has", "lacks"), [
    ("beginner", "straight 8", "every stroke goes down", "cross"),
    ("intermediate", "straight 8", "∨ up", "cross"),
    ("advanced", "straight 8", "a cross a stroke over strings", "every stroke goes down"),
    ("advanced", "rock", "every stroke goes down", "∨ up"),
])
def test_the_words_of_a_rhythm_part_name_the_signs_that_stand_in_it(level: str, feel: str, has: str,
                                                                    lacks: str) -> None:
    lesson = new_lesson(Chart.parse("| Am7 | D9 |", feel=feel), Choices("Low tide", level=level))
    said = next("".join(cell["source"]) for cell in lesson["cells"] if cell["id"] == "rhythm-words")
    assert has in said
    assert lacks not in said


def cell_words(notebook: dict, by: str) -> str:
    return next("".join(cell["source"]) for cell in notebook["cells"] if cell["id"] == by)


@pytest.mark.parametrize(("meter", "tempo", "beats"), [
    ("4/4", 150, (0, 1, 2, 3)), ("5/4", 150, (0, 1, 2, 3, 4)), ("7/8", 130, (0, 1, 2)), ("12/8", 150, (0, 1.5, 3, 4.5)),
])
def test_what_is_said_of_strokes_and_speeds_is_what_the_lines_have(meter: str, tempo: int, beats: tuple) -> None:
    """Strokes by turns: in eighths the second bar of 7/8 begins on an upstroke, and so does the second beat of 12/8.

    The beats of a bar in quarters, typed by hand: 7/8 in two, two and three (common practice, no source).
    """
    notebook = new_lesson(Chart.parse(f"meter: {meter}\ntempo: {tempo}\nfeel: rock\n| Bm7 | G | A | Bm7 |"),
                          Choices("Any", kind="rock", minutes=60))
    space: dict = {}
    exec(code(notebook), space)
    run = space["run"].line
    on_beats = [note for note in run.notes if note.onset_beats % run.chart.bar_beats in beats]
    down = all(note.marked("pick down") for note in on_beats)
    assert len(on_beats) > 8
    assert down == (meter in ("4/4", "5/4"))
    assert ("Down on the beat" in cell_words(notebook, "run-words")) == down
    bars = [[note.pitch for note in space["steps"].line.notes if note.onset_beats // run.chart.bar_beats == bar]
            for bar in (0, 1)]
    assert bars[0] != bars[1][:len(bars[0])]
    assert "same notes" not in cell_words(notebook, "ladder-words")


@pytest.mark.parametrize(("tuning", "strings"), [
    ("drop D", "D A D G B E"), ("open G", "D G D G B D"), ("drop D capo 2", "D A D G B E"), ("standard", "")])
def test_a_tuning_that_is_not_the_usual_one_is_told_string_by_string(tuning: str, strings: str) -> None:
    """From the thickest string to the thinnest, as the names of the tunings are explained (common practice)."""
    said = cell_words(new_lesson(CHART, Choices("Any", tuning=Tuning.parse(tuning))), "changes-words")
    assert (f"thinnest: {strings}. " in said) == bool(strings)
    assert ("Tune first" in said) == bool(strings)


@pytest.mark.parametrize(("changes", "heard"), [
    ("| G7 | C7 | D7 |", "for the pull of all three. "),
    ("| D5 | F5 |", "for the bare sound of both, which have no 3rd. "),
    ("| Dm7 | Dm7/C |", "for the dark, settled sound of both. "), ("| G7 |", "for the pull of G7. "),
    ("| Dm7 | G7 |", "for the dark, settled sound of Dm7 and for the pull of G7. ")])
def test_chords_of_one_kind_are_named_once(changes: str, heard: str) -> None:
    said = cell_words(new_lesson(Chart.parse(changes), Choices("Any")), "changes-words")
    assert f"Listen {heard}" in said


def test_what_is_tapped_is_the_next_chord_tone_not_always_a_third() -> None:
    """Above the F sharp of E flat 7 sharp 9 lies its G, a half step on (typed by hand)."""
    notebook = new_lesson(Chart.parse("| Abm7 | Eb7#9 |"), Choices("Any", kind="modern", level="advanced"))
    space: dict = {}
    exec(code(notebook), space)
    notes = space["taps"].line.notes
    steps = {two.pitch.midi - one.pitch.midi for one, two in pairwise(notes) if two.marked("tap")}
    assert 1 in steps
    assert "taps the next one above them" in cell_words(notebook, "taps-words")


def test_a_bass_has_no_grips_to_strum() -> None:
    ids = {tuning: [cell["id"] for cell in new_lesson(Chart.parse("| Am7 | D7 |"), Choices(
        "Low tide", tuning=Tuning.parse(tuning)))["cells"]] for tuning in ("bass", "five-string bass", "drop D")}
    assert [("grips" in found, "rhythm" in found) for found in ids.values()] == [
        (False, False), (False, False), (True, True)]
