"""A phrase from a file in a lesson: run, moved to another key, built anew when the file changes."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.documents import HEAD, harmony, note, place, tune

from theorylib.errors import MusicFileError
from workbook.kit import Drill, phrase_from
from workbook.lesson.cells import code_cell
from workbook.lesson.door import LessonError
from workbook.lesson.lesson import Lesson
from workbook.library.moving import Target, moved

MINOR = HEAD.replace("major", "minor").replace("<fifths>0", "<fifths>-2")  # G minor
TUNE = tune(harmony("G", "minor-seventh") + note("G3", 12, place(3, 0)) + note("Bb3", 12, place(3, 3, 1))
            + note("D4", 24, place(2, 3, 1)), note("F4", 48, place(1, 1, 1)), head=MINOR)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "tune.musicxml"
    path.write_text(TUNE, encoding="utf-8")
    return path


def test_it_is_a_drill_like_any_other(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    drill = phrase_from(file)
    assert isinstance(drill, Drill)
    assert [(one.string, one.fret, one.finger, one.degree) for one in drill.line.notes] == [
        (3, 0, 0, "1"), (3, 3, 1, "b3"), (2, 3, 1, "5"), (1, 1, 1, "b7")]
    assert drill.said == ("no tempo: 100 is taken",)
    assert capsys.readouterr().out == "no tempo: 100 is taken\n"
    assert "<svg" in drill.score().svg
    phrase_from(file, quiet=True)
    assert capsys.readouterr().out == ""


def test_a_key_moves_notes_changes_and_places(file: Path) -> None:
    up = phrase_from(file, key="A minor", quiet=True).line
    assert [str(one.pitch) for one in up.notes] == ["A3", "C4", "E4", "G4"]
    assert str(up.chart.events[0].chord) == "Am7"
    assert [one.degree for one in up.notes] == ["1", "b3", "5", "b7"]
    assert not up.problems()
    fretted = phrase_from(file, key="A minor", bars="2", quiet=True).line
    assert [(one.string, one.fret, one.finger) for one in fretted.notes] == [(1, 3, 1)]
    over = phrase_from(file, "| Cm7 |", key="C minor", quiet=True).line
    assert [str(one.pitch) for one in over.notes] == ["C4", "Eb4", "G4", "Bb4"]
    with pytest.raises(MusicFileError, match="in G minor, and cannot be moved to A major; expected a minor"):
        phrase_from(file, key="A major")


def lesson_with(call: str) -> dict:
    notebook = Lesson.read(Path(__file__).parents[2] / "lessons" / "slack-water.ipynb").notebook
    notebook["cells"].append(code_cell("file", call))
    return notebook


def test_a_lesson_that_moves_takes_the_phrase_along_or_says_that_it_cannot(file: Path) -> None:
    with pytest.raises(LessonError, match=r"cell \d+: a phrase from a file .*expected key= in phrase_from"):
        moved(lesson_with(f'tune = phrase_from("{file}")'), Target(key="A"), 2)
    with pytest.raises(LessonError, match="expected tuning="):
        moved(lesson_with(f'tune = phrase_from("{file}", key="G minor")'), Target(tuning="drop D"), 0)
    new = moved(lesson_with(f'tune = phrase_from("{file}", key="G minor")'), Target(key="A"), 2)
    assert new.cells[-1].source == f'tune = phrase_from("{file}", key="A minor")'
