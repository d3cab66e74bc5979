"""Words of twenty lessons written anew after a choice was changed, beside nbformat with the same files."""

from __future__ import annotations

import time
from pathlib import Path

import nbformat
import pytest
from click.testing import CliRunner
from support.edited import saved
from support.generated import unrun

from workbook.cli import main
from workbook.lesson.chosen import with_choices
from workbook.lesson.lesson import Lesson

LESSONS = 20
MOST = 15  # times what nbformat (BSD-3) takes to read, validate and write; we read, reckon, write and keep the old file


def through_nbformat(path: Path, other: Path) -> None:
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    nbformat.write(notebook, other)


def test_words_of_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number in range(LESSONS):
        saved(tmp_path, with_choices(Lesson.of(unrun(number)), {"tempo": 130}), f"{number}.ipynb")
    paths = sorted(tmp_path.glob("*.ipynb"))
    through_nbformat(paths[0], tmp_path / "warm.json")
    began = time.process_time()
    for path in paths:
        through_nbformat(path, path.with_suffix(".json"))
    theirs = time.process_time() - began
    began = time.process_time()
    done = CliRunner().invoke(main, ["refresh", "--no-run", "-q", str(tmp_path)])
    ours = time.process_time() - began
    assert done.exit_code == 0, done.output
    each, peer = 1000 * ours / LESSONS, 1000 * theirs / LESSONS
    with capsys.disabled():
        print(f"\na lesson refreshed without a run: {each:.0f} ms of work; nbformat reads, validates and writes it in "
              f"{peer:.1f} ms: {each / peer:.1f} times (at most {MOST})")
    assert ours < MOST * theirs
