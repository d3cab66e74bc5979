"""A lesson kept built while it is edited: what is saved is what the pack shows, and only changed code is run."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner
from support.short import short_lesson
from support.track_lessons import edges, lesson_over

from workbook.cli import main
from workbook.handouts.tracks import Sound
from workbook.library.orders import How, Order
from workbook.library.watching import Watch, changes
from workbook.media.grid_text import bars_text

OPTIONS = {"sound": Sound(""), "teacher": False, "paper": "a4", "large_print": False}


def edit(path: Path, cell: str, old: str, new: str) -> None:
    lesson = json.loads(path.read_text(encoding="utf-8"))
    one = next(one for one in lesson["cells"] if one["id"] == cell)
    source = "".join(one["source"])
    assert old in source
    one["source"] = source.replace(old, new, 1)
    path.write_text(json.dumps(lesson), encoding="utf-8")


def test_each_saved_change_is_in_the_pack_and_only_changed_code_is_run(tmp_path: Path) -> None:
    path = tmp_path / "low-tide.ipynb"
    path.write_text(short_lesson(), encoding="utf-8")
    watch = Watch(Order(path, tmp_path / "build" / "low-tide"), How(OPTIONS))
    page = tmp_path / "build" / "low-tide" / "lesson.html"

    def edits() -> Iterator[None]:
        yield  # as it is
        yield  # nothing changed: nothing is built
        edit(path, "aims", "Play", "Whistle it at a tempo of 140. Play")
        yield
        edit(path, "choices", '"| Gm7 | C9 |"', '"| Gm7 | C13 |"')
        yield
        path.write_text(path.read_text(encoding="utf-8")[:500], encoding="utf-8")  # half saved
        yield
        path.write_text(short_lesson(), encoding="utf-8")
        yield

    told = []
    for one in changes(watch, edits()):
        text = re.sub(r"[A-Za-z0-9+/=]{100,}", "", page.read_text(encoding="utf-8"))  # fonts and sounds spell anything
        found = [str(finding) for finding in watch.findings() if finding.cell == 2]
        told.append((one.was_run, bool(one.outcome.error), "Whistle" in text, "C13" in text, len(found)))
    assert told == [(True, False, False, False, 0), (False, False, True, False, 1), (True, False, True, True, 1),
                    (False, True, True, True, 1), (True, False, False, False, 0)]
    assert (page.parent / "handout.pdf").read_bytes().startswith(b"%PDF")


def test_the_command_says_where_to_look(tmp_path: Path) -> None:
    path = tmp_path / "low-tide.ipynb"
    path.write_text(short_lesson(), encoding="utf-8")
    done = CliRunner().invoke(main, ["watch", str(path), "--no-run", "--times", "1", "--out", str(tmp_path / "build")])
    assert done.exit_code == 0, done.output
    assert done.stdout.endswith(" s\n")
    page = (tmp_path / "build" / "low-tide" / "lesson.html").resolve()
    assert page.is_file()
    assert f"next: open {page.as_uri()}" in done.stderr


def test_a_watched_lesson_follows_what_lies_beside_it(tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    lesson.write()
    order = Order(lesson.path, tmp_path / "out")
    watch = Watch(order, How({}, run=False))
    bars = bars_text(list(edges()))
    (tmp_path / "ferry.grid.txt").write_text(f"meter: 3/4\n| Gm7 | C9 |\n{bars}", encoding="utf-8")

    def looks() -> Iterator[None]:
        yield
        yield
        (tmp_path / "ferry.grid.txt").write_text(f"| Fm7 | Bb9 |\n{bars}", encoding="utf-8")
        yield

    said = [one.outcome.error for one in changes(watch, looks())]
    assert ["in 3/4" in said[0], "half steps above" in said[1], len(said)] == [True, True, 2]
