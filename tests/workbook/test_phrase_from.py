"""A phrase from a file in a lesson: run, moved to another key, built anew when the file changes."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.documents import HEAD, harmony, note, place, tune

from theorylib.errors import MusicFileError
from workbook.kit import Drill, from_bar, phrase_from
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
    assert phrase_from(file, from_bar("| Cm7 | F7 | Gm7 | D7 |", 3), quiet=True).line.notes[0].degree == "1"
    assert "| 1 | 2 | B♭3 | Gm7 | ♭3 | chord tone |" in drill.notes().markdown
    assert [str(one.pitch) for one in drill.backwards().line.notes] == ["F4", "D4", "Bb3", "G3"]
    capsys.readouterr()
    phrase_from(file, quiet=True)
    assert capsys.readouterr().out == ""


def test_a_key_moves_notes_changes_and_places(file: Path) -> None:
    up = phrase_from(file, key="A minor", quiet=True).line
    assert [str(one.pitch) for one in up.notes] == ["A3", "C4", "E4", "G4"]
    assert str(up.chart.events[0].chord) == "Am7"
    assert [one.degree for one in up.notes] == ["1", "b3", "5", "b7"]
    assert not up.problems()
    fretted = phrase_from(file, key="A minor", passage="bars 2", quiet=True).line
    assert [(one.string, one.fret, one.finger) for one in fretted.notes] == [(1, 3, 1)]
    round_the_nut = phrase_from(file, key="F# minor", passage="bars 2", quiet=True).line  # no finger holds fret 0
    assert [(one.string, one.fret, one.finger) for one in round_the_nut.notes] == [(1, 12, 1)]
    over = phrase_from(file, "| Cm7 |", key="C minor", quiet=True).line
    assert [str(one.pitch) for one in over.notes] == ["C4", "Eb4", "G4", "Bb4"]
    with pytest.raises(MusicFileError, match="in G minor, and cannot be moved to A major; expected a minor"):
        phrase_from(file, key="A major")


def test_a_hammer_that_falls_and_a_grace_note_off_its_string_are_left_out(tmp_path: Path) -> None:
    def joined(pitch: str, way: str, where: str) -> str:
        return note(pitch, 24, where.replace("<technical>", f'<technical><hammer-on type="{way}" number="1"/>'))

    grace = "<note><grace/><pitch><step>E</step><octave>3</octave></pitch><voice>1</voice></note>"
    for second, fret, kept in (("B3", 4, ["hammer"]), ("G#3", 1, [])):
        path = tmp_path / f"{fret}.musicxml"
        path.write_text(tune(joined("A3", "start", place(3, 2)) + joined(second, "stop", place(3, fret)),
                             grace + note("G3", 48, place(3, 0))), encoding="utf-8")
        drill = phrase_from(path, quiet=True)
        assert [mark.kind for one in drill.line.notes for mark in one.marks] == kept
        said = "bar 1: a hammer that does not fit the note before it is left out"
        assert (said in drill.said) == (not kept)
        assert "bar 2: a grace note that its string does not have is left out" in drill.said


def lesson_with(call: str) -> dict:
    notebook = Lesson.read(Path(__file__).parents[2] / "lessons" / "slack-water.ipynb").notebook
    notebook["cells"].append(code_cell("file", call))
    return notebook


def test_a_lesson_that_moves_takes_the_phrase_along_or_says_that_it_cannot(file: Path) -> None:
    with pytest.raises(LessonError, match=r"cell \d+: a phrase does not move.*expected key= in phrase_from"):
        moved(lesson_with(f'tune = phrase_from("{file}")'), Target(key="A"), 2)
    with pytest.raises(LessonError, match="expected tuning="):
        moved(lesson_with(f'tune = phrase_from("{file}", key="G minor")'), Target(tuning="drop D"), 0)
    new = moved(lesson_with(f'tune = phrase_from("{file}", key="G minor")'), Target(key="A"), 2)
    assert new.cells[-1].source == f'tune = phrase_from("{file}", key="A minor")'
