"""A lesson about a phrase: written from a text file, run, checked, and moved to another key and neck."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from theorylib import Line
from workbook.checking.phrases import check_typed_over, typed_over
from workbook.cli import main
from workbook.lesson.chosen import read_choices, with_choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.refreshing import refreshed
from workbook.library.moving import Target, hand_shifts, moved
from workbook.running.run import run_lesson

TAB = """title: Tuesday
over: | Am7 | D9 |
key: A dorian
tempo: 90

   e e e e e e q        e e q h
e|---------------------|---------|
B|---------5-8---------|---5-----|
G|-----5-7-----7b9r7---|-7---5-4-|
D|-5-7-----------------|---------|
A|---------------------|---------|
E|---------------------|---------|
"""
# G3 A3 C4 D4 E4 G4 D4 | D4 E4 C4 B3, read off the neck by hand.
MIDI = [55, 57, 60, 62, 64, 67, 62, 62, 64, 60, 59]


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("phrases")
    (folder / "lick.txt").write_text(TAB, encoding="utf-8")
    said = ["new", "Tuesday lick", "--phrase", str(folder / "lick.txt"), "--folder", str(folder)]
    done = CliRunner().invoke(main, said)
    assert done.exit_code == 0, done.output
    return folder / "tuesday-lick.ipynb"


def the_phrase(lesson: Lesson) -> Line:
    return next(line for _, line in lesson.lines if line.title.startswith("Tuesday lick"))


def midi(lesson: Lesson) -> list[int]:
    return [note.pitch.midi for note in the_phrase(lesson).notes]


def test_it_holds_the_phrase_and_nothing_false(lesson: Path) -> None:
    read = Lesson.read(lesson)
    chart, choices = read_choices(read)
    assert (str(chart.events[1].chord), choices.kind, choices.up) == ("D9", "phrase", 0)
    assert "tuning: standard" in choices.phrase
    assert midi(read) == MIDI
    assert "passing note to E4" in lesson.read_text(encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "--no-run", str(lesson)])
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize(("target", "semitones"), [(Target(key="C"), 3), (Target(tuning="drop D"), 0),
                                                  (Target(key="E", tuning="DADGAD"), -5)])
def test_it_moves_with_its_phrase(lesson: Path, target: Target, semitones: int) -> None:
    read = Lesson.read(lesson)
    shift = hand_shifts(read, target)[0]
    ran = run_lesson(moved(read, target, shift), lesson.parent)
    steps = {now - then for now, then in zip(midi(ran), MIDI, strict=True)}
    assert len(steps) == 1
    assert (steps.pop() - semitones) % 12 == 0
    assert check_typed_over(ran) == []
    first = the_phrase(ran)
    assert not first.problems()
    assert [note.degree for note in first.notes][:4] == ["b7", "1", "b3", "11"]
    if target.tuning:
        assert str(first.tuning.open_strings[-1]) == "D2"


@pytest.mark.parametrize(("changes", "right"), [
    ("| Am7 | D9 |", None), ("| Am7 | D9 | Em7 |", None), ("| Am7 | % |", "change the line over:"),
    ("| Em7 | A7 |", "change the line over:"), ("| Cm7 | F9 |", "up = 3 moves it there")])
def test_a_phrase_left_over_other_changes_is_found(lesson: Path, changes: str, right: str | None) -> None:
    read = with_choices(Lesson.read(lesson), {"changes": changes})
    found = check_typed_over(read)
    assert bool(found) == (right is not None)
    for one in found:
        assert f"typed over | Am7 | D9 | and the lesson's changes are {changes}" in one.message
        assert one.right.startswith(str(right))
        assert one.is_fault
        assert one.message in typed_over(read)


def test_it_goes_through_the_changes_only_where_there_are_others(lesson: Path) -> None:
    read = Lesson.read(lesson)
    assert "Through the changes" not in read.text
    longer = refreshed(with_choices(read, {"changes": "| Am7 | D9 | Em7 | A7 |"})).lesson
    assert "Through the changes" in longer.text
    assert "lick." not in "".join(cell.source for cell in longer.cells if not cell.is_code)  # a task holds no code


def test_moved_twice_it_stands_where_it_began(lesson: Path) -> None:
    read = Lesson.read(lesson)
    there = moved(read, Target(key="C"), hand_shifts(read, Target(key="C"))[0])
    assert read_choices(there)[1].up % 12 == 3
    back = moved(there, Target(key="A"), hand_shifts(there, Target(key="A"))[0])
    assert read_choices(back)[1].up % 12 == 0


def test_the_meter_of_the_changes_holds_for_the_phrase(tmp_path: Path) -> None:
    (tmp_path / "waltz.txt").write_text("|-5-7-8-|\n" + "|-------|\n" * 5, encoding="utf-8")
    said = ["new", "Waltz", "--phrase", str(tmp_path / "waltz.txt"), "--folder", str(tmp_path), "--no-run"]
    done = CliRunner().invoke(main, said)
    assert done.exit_code == 2
    assert "--changes" in done.output
    done = CliRunner().invoke(main, [*said, "--changes", "| Am7 |", "--meter", "3/4"])
    assert done.exit_code == 0, done.output
    done = CliRunner().invoke(main, [*said, "--changes", "| Am7 |", "--force"])
    assert done.exit_code == 1
    assert "3 notes in a bar of 4 beats" in done.output
