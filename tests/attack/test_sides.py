"""Commands that write where a teacher writes: a pair changed on both sides, a new lesson where one is."""

from __future__ import annotations

import os
import shutil
import time
from itertools import product
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.lab import ROOT

from workbook.checking import pairing
from workbook.checking.pairing import PairError, check_pair, pair
from workbook.cli import main
from workbook.files import FileError
from workbook.lesson.lesson import Lesson


@pytest.fixture
def lesson(tmp_path: Path) -> Path:
    return Path(shutil.copy(ROOT / "lessons" / "slack-water.ipynb", tmp_path))


def in_the_lesson(lesson: Path, old: str, new: str) -> None:
    notebook = Lesson.read(lesson).notebook
    for cell in notebook["cells"]:
        cell["source"] = "".join(cell["source"]).replace(old, new).splitlines(True)
    lesson.write_text(Lesson.of(notebook).text, encoding="utf-8")


def in_the_text(lesson: Path, old: str, new: str) -> None:
    text = lesson.with_suffix(".py")
    text.write_text(text.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")


def both(lesson: Path) -> list[bytes]:
    return [lesson.read_bytes(), lesson.with_suffix(".py").read_bytes()]


def cell(lesson: Path, name: str) -> str:
    return next("".join(one["source"]) for one in Lesson.read(lesson).notebook["cells"] if one["id"] == name)


# -- pairs -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("side", "later"), list(product(["lesson", "text"], ["lesson", "text"])))
def test_a_change_of_one_side_reaches_the_other_whatever_the_clock_says(lesson: Path, side: str, later: str) -> None:
    text = pair(lesson)
    (in_the_lesson if side == "lesson" else in_the_text)(lesson, "minutes = 30", "minutes = 50")
    seconds = time.time() + 60
    os.utime(lesson if later == "lesson" else text, (seconds, seconds))
    pair(lesson)
    assert "minutes = 50" in cell(lesson, "choices")
    assert "minutes = 50" in text.read_text(encoding="utf-8")
    assert check_pair(Lesson.read(lesson)) == []
    assert sorted(path.name for path in lesson.parent.iterdir()) == ["slack-water.ipynb", "slack-water.py"]


@pytest.mark.parametrize("take", ["lesson", "text"])
def test_both_changed_is_said_and_neither_is_lost(lesson: Path, take: str) -> None:
    pair(lesson)
    in_the_lesson(lesson, "Slack water", "Low tide")
    in_the_text(lesson, "minutes = 30", "minutes = 50")
    before = both(lesson)
    for _ in range(2):
        with pytest.raises(PairError, match="both changed since they were last together"):
            pair(lesson)
        assert both(lesson) == before
    done = CliRunner().invoke(main, ["pair", str(lesson)])
    assert done.exit_code == 1
    assert "--take lesson or --take text" in done.output
    assert CliRunner().invoke(main, ["pair", "--take", take, str(lesson)]).exit_code == 0
    kept = lesson.with_name("slack-water.py.1" if take == "lesson" else "slack-water.ipynb.1")
    assert kept.read_bytes() == before[1 if take == "lesson" else 0]
    assert ("Low tide" in cell(lesson, "title")) == (take == "lesson")
    assert ("minutes = 50" in cell(lesson, "choices")) == (take == "text")
    assert check_pair(Lesson.read(lesson)) == []
    assert pair(lesson)
    assert len(list(lesson.parent.iterdir())) == 3


def test_a_pair_of_which_nobody_knows_the_past_is_not_guessed_at(lesson: Path) -> None:
    """As one paired before what they held was kept."""
    pair(lesson)
    notebook = Lesson.read(lesson).notebook
    del notebook["metadata"]["vampbook_paired"]
    lesson.write_text(Lesson.of(notebook).text, encoding="utf-8")
    in_the_text(lesson, "minutes = 30", "minutes = 50")
    before = both(lesson)
    with pytest.raises(PairError, match="both changed"):
        pair(lesson)
    assert both(lesson) == before


def test_what_was_brought_together_by_others_is_together(lesson: Path) -> None:
    pair(lesson)
    for change in (in_the_lesson, in_the_text):
        change(lesson, "minutes = 30", "minutes = 50")
    pair(lesson)
    in_the_text(lesson, "minutes = 50", "minutes = 70")
    pair(lesson)
    assert "minutes = 70" in cell(lesson, "choices")


@pytest.mark.parametrize("side", ["lesson", "text"])
def test_a_crash_in_between_loses_no_change(lesson: Path, side: str, monkeypatch: pytest.MonkeyPatch) -> None:
    text = pair(lesson)
    (in_the_lesson if side == "lesson" else in_the_text)(lesson, "minutes = 30", "minutes = 50")
    real, left = pairing.write_whole, [1 if side == "lesson" else 0]

    def dying(path: Path, content: str) -> None:
        if not left[0]:
            raise KeyboardInterrupt
        left[0] -= 1
        real(path, content)

    with monkeypatch.context() as patched:
        patched.setattr(pairing, "write_whole", dying)
        patched.setattr("workbook.lesson.lesson.write_whole", dying)
        with pytest.raises(KeyboardInterrupt):
            pair(lesson)
    pair(lesson)
    assert "minutes = 50" in cell(lesson, "choices")
    assert "minutes = 50" in text.read_text(encoding="utf-8")


def test_a_pair_that_is_together_is_not_written(lesson: Path) -> None:
    pair(lesson)
    before = both(lesson), lesson.stat().st_mtime_ns
    pair(lesson)
    assert (both(lesson), lesson.stat().st_mtime_ns) == before


def test_one_pair_that_is_refused_does_not_stop_the_rest(lesson: Path) -> None:
    other = Path(shutil.copy(lesson, lesson.with_name("a.ipynb")))
    other.with_suffix(".py").write_text("print('mine')\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["pair", str(other), str(lesson)])
    assert done.exit_code == 1
    assert lesson.with_suffix(".py").exists()
    assert other.with_suffix(".py").read_text(encoding="utf-8") == "print('mine')\n"


# -- new lessons -----------------------------------------------------------------------------------------------------
def new(folder: Path, *words: str) -> str:
    done = CliRunner().invoke(main, ["new", "Low tide", "--folder", str(folder), "--no-run", *words])
    assert done.exit_code == 0, done.output
    return done.output


def test_a_forced_new_lesson_keeps_the_one_before(tmp_path: Path) -> None:
    path = tmp_path / "low-tide.ipynb"
    new(tmp_path, "--changes", "| Am7 | D7 |")
    edited = path.read_text(encoding="utf-8").replace("Low tide", "My words")
    path.write_text(edited, encoding="utf-8")
    assert "low-tide.ipynb.1" in new(tmp_path, "--changes", "| Gm7 | C9 |", "--force")
    assert path.with_name("low-tide.ipynb.1").read_text(encoding="utf-8") == edited
    assert "Gm7" in path.read_text(encoding="utf-8")
    new(tmp_path, "--changes", "| Gm7 | C9 |", "--force")
    assert len(list(tmp_path.iterdir())) == 2, "an equal one needs no copy"


def test_a_lesson_that_came_meanwhile_stays(tmp_path: Path) -> None:
    path = tmp_path / "low-tide.ipynb"
    path.write_text("by another", encoding="utf-8")
    with pytest.raises(FileError, match="exists"):
        Lesson.of({"cells": []}, path).write()
    assert path.read_text(encoding="utf-8") == "by another"
    assert [one.name for one in tmp_path.iterdir()] == ["low-tide.ipynb"]


# -- reports ---------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("option", ["--json", "--junit"])
def test_a_report_replaces_reports_alone(lesson: Path, option: str) -> None:
    words = ["check", "--no-run", str(lesson), option]
    report, own, empty = (lesson.with_name(name) for name in ("report", "own.txt", "empty"))
    own.write_text("my notes", encoding="utf-8")
    empty.touch()
    for _ in "12":
        assert CliRunner().invoke(main, [*words, str(report)]).exit_code == 0
    assert CliRunner().invoke(main, [*words, str(empty)]).exit_code == 0
    assert empty.read_bytes() == report.read_bytes()
    for path in (own, lesson):
        before = path.read_bytes()
        done = CliRunner().invoke(main, [*words, str(path)])
        assert done.exit_code == 1
        assert "holds something else than a report" in done.output
        assert path.read_bytes() == before
