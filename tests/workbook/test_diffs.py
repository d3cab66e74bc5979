"""Lessons under version control: paired with a text by Jupytext, stripped by nbstripout, compared by nbdime.

All three are the makers' own packages (MIT, MIT, BSD-3); we check that our lessons go through them unharmed.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from support.lab import ROOT
from support.short import write_short

from workbook.checking.pairing import PairError, check_pair, pair
from workbook.cli import main
from workbook.lesson.lesson import Lesson
from workbook.running.run import run_notebook

LESSONS = sorted((ROOT / "lessons").glob("*.ipynb"))


@pytest.fixture
def lesson(tmp_path: Path) -> Path:
    return write_short(tmp_path)


def newer(path: Path, than: Path) -> None:
    seconds = than.stat().st_mtime + 5
    os.utime(path, (seconds, seconds))


def test_a_pair_holds_the_same_cells_both_ways(lesson: Path) -> None:
    before = Lesson.read(lesson).notebook
    text = pair(lesson)
    words = text.read_text(encoding="utf-8")
    assert words.startswith("# %% [markdown]\n# # Slack water\n")
    assert '# %% tags=["parameters"]\ntitle' in words
    assert check_pair(Lesson.read(lesson)) == []
    after = Lesson.read(lesson).notebook
    assert after["cells"] == before["cells"], "ids, tags and outputs stay"
    text.write_text(words.replace("minutes = 30", "minutes = 50"), encoding="utf-8")
    newer(text, lesson)
    (found,) = check_pair(Lesson.read(lesson))
    assert found.cell == 4
    assert "slack-water.py differs" in str(found)
    pair(lesson)
    assert check_pair(Lesson.read(lesson)) == []
    cells = {cell["id"]: cell for cell in Lesson.read(lesson).notebook["cells"]}
    assert list(cells) == [cell["id"] for cell in before["cells"]], "a changed cell keeps its id"
    assert "minutes = 50" in "".join(cells["choices"]["source"])
    assert cells["changes"]["outputs"], "an unchanged cell keeps its outputs"


def test_a_text_that_is_no_pair_is_left_alone(lesson: Path) -> None:
    own = lesson.with_suffix(".py")
    own.write_text("print('mine')\n", encoding="utf-8")
    with pytest.raises(PairError, match="is no pair"):
        pair(lesson)
    assert own.read_text(encoding="utf-8") == "print('mine')\n"
    assert check_pair(Lesson.read(lesson)) == []


def test_the_command_and_the_check(lesson: Path) -> None:
    done = CliRunner().invoke(main, ["pair", str(lesson)])
    assert done.exit_code == 0
    assert done.output.strip().endswith("slack-water.py")
    text = lesson.with_suffix(".py")
    text.write_text(text.read_text(encoding="utf-8") + "\n# %%\n1 + 1\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "--no-run", str(lesson)])
    assert done.exit_code == 1
    assert "has 13 cells, the lesson 12" in done.output


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_every_lesson_is_written_as_jupyter_writes_it(path: Path) -> None:
    """nbformat's own writer and validator (BSD-3)."""
    import nbformat

    text = path.read_text(encoding="utf-8")
    node = nbformat.reads(text, as_version=4)
    nbformat.validate(node)
    assert nbformat.writes(node) + "\n" == text


def test_stripped_and_run_again_it_is_the_same_file(lesson: Path) -> None:
    recorded, metadata = lesson.read_text(encoding="utf-8"), Lesson.read(lesson).notebook["metadata"]
    subprocess.run([sys.executable, "-m", "nbstripout", "--keep-id", str(lesson)], check=True)
    stripped = Lesson.read(lesson).notebook
    assert not any(cell.get("outputs") for cell in stripped["cells"])
    ran = run_notebook(stripped, lesson.parent)
    ran["metadata"] = metadata  # nbstripout drops the kernel's
    assert Lesson.of(ran).text == recorded


def ops(diff: list[Any]) -> set[int]:
    """The cells that an nbdime diff touches, by number from 0."""
    cells = next((one["diff"] for one in diff if one["key"] == "cells"), [])
    return {one["key"] for one in cells}


def test_a_change_touches_only_what_follows_from_it(lesson: Path) -> None:
    from nbdime.diffing.notebooks import diff_notebooks
    from nbformat import reads

    recorded = Lesson.read(lesson).notebook
    again = run_notebook(recorded, lesson.parent)
    assert diff_notebooks(reads(Lesson.of(recorded).text, 4), reads(Lesson.of(again).text, 4)) == []
    changed = json.loads(json.dumps(recorded))
    number = next(number for number, cell in enumerate(changed["cells"]) if cell["id"] == "neck")
    changed["cells"][number]["source"] = ["necks(read, 5, tuning=neck)"]
    ran = run_notebook(changed, lesson.parent)
    assert ops(diff_notebooks(reads(Lesson.of(recorded).text, 4), reads(Lesson.of(ran).text, 4))) == {number}
