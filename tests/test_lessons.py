"""Every lesson of ours runs, gives what it recorded, is true, and builds.

`check` runs them all; so nbval runs two of them again, and the course is built of what is stored.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from workbook.cli import main
from workbook.library.course import read_course
from workbook.library.mark import MARK

ROOT = Path(__file__).resolve().parent.parent
LESSONS = sorted((ROOT / "lessons").rglob("*.ipynb"))
NOTEBOOKS = sorted((ROOT / "workbook" / "notebooks").glob("*.ipynb"))
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
BY_NBVAL = ["lessons/"] if EXPLORE else ["lessons/harbour-lamp.ipynb", "lessons/slack-water.ipynb"]


def test_lessons_run_and_compare_by_nbval() -> None:
    """nbval (BSD-3) runs each cell again and compares; an unrecorded one it would pass, so `check` looks for those.

    The very command that a teacher would type, without flags.
    """
    done = subprocess.run([sys.executable, "-m", "pytest", "--nbval", *BY_NBVAL], cwd=ROOT, capture_output=True,
                          text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    assert " passed" in done.stdout


def test_check_finds_nothing_wrong() -> None:
    done = CliRunner().invoke(main, ["check", str(ROOT / "lessons")])
    assert done.exit_code == 0, done.output
    assert f"{len(LESSONS)} lessons checked: nothing false found" in done.output


def test_the_lessons_are_a_course_that_builds(tmp_path: Path) -> None:
    """With sounds, for each width of screen; the first of a level stands for the others, of which check builds packs.

    That course.toml names them all, in an order that it can hold, check has seen as well.
    """
    folder, out = course_of_some(tmp_path / "lessons"), tmp_path / "out"
    done = CliRunner().invoke(main, ["course", "--no-run", "--out", str(out), str(folder)])
    assert done.exit_code == 0, done.output
    assert "no level" not in done.output
    (course,) = out.iterdir()
    packs = {path.stem for path in folder.glob("*.ipynb")}
    assert len(packs) == (len(LESSONS) if EXPLORE else 3)
    assert {file.name for file in course.iterdir()} == {"index.html", "course.pdf", MARK} | packs
    for name in packs:
        pack = course / name
        assert {file.name for file in pack.iterdir()} == {"backing.mid", "handout.pdf", "lesson.html", "lesson.mid",
                                                          "lesson.musicxml", MARK}
        assert (pack / "handout.pdf").read_bytes().startswith(b"%PDF")
        assert (pack / "lesson.mid").read_bytes().startswith(b"MThd")


def course_of_some(folder: Path) -> Path:
    """Our course with the first lesson of each level alone; all of it when exploring."""
    if EXPLORE:
        return Path(shutil.copytree(ROOT / "lessons", folder))
    course = read_course(ROOT / "lessons")
    folder.mkdir()
    text = f"title = {json.dumps(course.title)}\n"
    for level in course.levels:
        shutil.copy(ROOT / "lessons" / f"{level.lessons[0]}.ipynb", folder)
        text += f"[[level]]\nname = {json.dumps(level.name)}\nlessons = [{json.dumps(level.lessons[0])}]\n"
    (folder / "course.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_interactive_notebooks_run(path: Path) -> None:
    from workbook.lesson.lesson import Lesson
    from workbook.running.run import run_notebook

    ran = run_notebook(Lesson.read(path).notebook, path.parent)
    shown = [output for cell in ran["cells"] for output in cell.get("outputs", ())]
    assert shown
    assert not any(output["output_type"] == "stream" for output in shown)
