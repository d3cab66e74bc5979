"""Folders in which other things lie: a build replaces what it wrote itself, and touches nothing else."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from workbook.cli import main
from workbook.files import FileError
from workbook.library import folders
from workbook.library.folders import is_whole, take_away, write_pack
from workbook.library.mark import COURSE, MARK, PackError, read_mark

LESSON = json.dumps({  # words alone: it is quick to build
    "cells": [{"cell_type": "markdown", "id": "title", "metadata": {}, "source": "# Slack water\n\nPlay slowly."}],
    "metadata": {"vampbook": {"title": "Slack water", "level": "beginner", "minutes": 10, "key": "C", "tempo": "60"}},
    "nbformat": 4, "nbformat_minor": 5})
RECORDING = b"RIFF the only take there is"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, and a cache of its own."""
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path / "here"


def lesson(path: str) -> Path:
    found = Path(path)
    found.parent.mkdir(parents=True, exist_ok=True)
    found.write_text(LESSON, encoding="utf-8")
    return found


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def build(*words: str) -> Result:
    return run("build", "--no-run", "--jobs", "1", *words)


def seen(folder: Path | str) -> dict[str, bytes]:
    """Every file below a folder, the marks too."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in Path(folder).rglob("*")
            if path.is_file()}


# -- the whole command -----------------------------------------------------------------------------------------------
def test_a_teachers_folder_of_the_packs_name_keeps_what_it_has() -> None:
    lesson("lessons/x.ipynb")
    (Path("x") / "takes").mkdir(parents=True)
    for name in ("x/one.wav", "x/takes/two.wav", "x/.hidden"):
        Path(name).write_bytes(RECORDING)
    done = build("lessons/x.ipynb", "--out", ".")
    assert done.exit_code == 0, done.output
    found = seen("x")
    assert all(found[name] == RECORDING for name in ("one.wav", "takes/two.wav", ".hidden"))
    assert {"handout.pdf", "lesson.html", MARK} < found.keys()
    assert build("lessons/x.ipynb", "--out", ".", "--force", "--large-print").exit_code == 0
    assert seen("x")["one.wav"] == RECORDING


@pytest.mark.parametrize("kind", ["file", "folder", "link"])
def test_where_a_file_of_theirs_stands_in_the_way_nothing_is_touched(kind: str) -> None:
    lesson("lessons/x.ipynb")
    Path("x").mkdir()
    Path("other.pdf").write_bytes(RECORDING)
    in_the_way = Path("x/handout.pdf")
    if kind == "file":
        in_the_way.write_bytes(RECORDING)
    elif kind == "folder":
        in_the_way.mkdir()
        (in_the_way / "mine.wav").write_bytes(RECORDING)
    else:
        in_the_way.symlink_to(Path("other.pdf").absolute())
    before = seen(".")
    for words in ((), ("--force",)):
        done = build("lessons/x.ipynb", "--out", ".", *words)
        assert done.exit_code == 1
        assert "handout.pdf in x; nothing there was touched" in done.output
        assert seen(".") == before
        assert in_the_way.is_symlink() == (kind == "link")


def test_a_lesson_named_like_its_folder() -> None:
    lesson("lessons/lessons.ipynb")
    lesson("lessons/other.ipynb")
    before = seen(".")
    done = build("lessons", "--out", ".")
    assert done.exit_code == 1
    assert "where lessons lie" in done.output
    after = seen(".")
    assert {name for name in after if not name.startswith("other/")} == before.keys()
    assert "other/handout.pdf" in after, "the others are built"


def test_packs_inside_the_folder_of_lessons() -> None:
    for name in ("lessons/x.ipynb", "lessons/inner/inner.ipynb"):
        lesson(name)
    before = seen(".")
    done = build("lessons", "--out", "lessons")
    assert done.exit_code == 1
    assert "lessons/inner" in done.output
    after = seen(".")
    assert before.items() <= after.items()
    assert {name for name in after.keys() - before.keys() if not name.startswith("lessons/x/")} == set()
    again = build("lessons/x.ipynb", "--out", "lessons")
    assert "unchanged" in again.output, "a pack does not count as something that lies beside its lesson"


def test_a_teachers_file_in_a_pack_stays_and_changes_nothing() -> None:
    path = lesson("lessons/x.ipynb")
    assert build("lessons/x.ipynb").exit_code == 0
    Path("build/x/notes.txt").write_bytes(b"my notes")
    assert "unchanged" in build("lessons/x.ipynb").output
    path.write_text(LESSON.replace("Slack water", "Low tide"), encoding="utf-8")
    done = build("lessons/x.ipynb")
    assert (done.exit_code, "unchanged" in done.output) == (0, False)
    assert Path("build/x/notes.txt").read_bytes() == b"my notes"
    assert b"Low tide" in Path("build/x/lesson.html").read_bytes()


def test_what_the_teacher_changed_in_a_pack_stays() -> None:
    lesson("lessons/x.ipynb")
    assert build("lessons/x.ipynb").exit_code == 0
    with Path("build/x/lesson.html").open("ab") as page:
        page.write(b"<!-- my own words -->")
    before = seen("build")
    for words in ((), ("--force",), ("--large-print",)):
        done = build("lessons/x.ipynb", *words)
        assert done.exit_code == 1
        assert "changed since: lesson.html in build/x" in done.output
        assert seen("build") == before
    Path("build/x/lesson.html").rename("build/x/my-lesson.html")
    assert build("lessons/x.ipynb").exit_code == 0
    assert Path("build/x/my-lesson.html").read_bytes().endswith(b"<!-- my own words -->")


def test_a_pack_from_before_marks_is_known_by_its_record() -> None:
    """And without a record only where it holds what would be written anyway."""
    path = lesson("lessons/x.ipynb")
    assert build("lessons/x.ipynb").exit_code == 0
    mark = Path("build/x") / MARK
    mark.unlink()
    (record,) = (one for one in Path("../cache").rglob("*.json"))
    data = json.loads(record.read_text(encoding="utf-8"))
    del data["files"][MARK]
    record.write_text(json.dumps(data), encoding="utf-8")
    path.write_text(LESSON.replace("Slack water", "Low tide"), encoding="utf-8")
    assert build("lessons/x.ipynb").exit_code == 0
    assert b"Low tide" in Path("build/x/lesson.html").read_bytes()
    for old in (mark, record):
        old.unlink()
    assert build("lessons/x.ipynb").exit_code == 0, "the same bytes are nobody's loss"
    for old in (mark, record):
        old.unlink()
    before = seen("build")
    path.write_text(LESSON, encoding="utf-8")
    assert build("lessons/x.ipynb").exit_code == 1
    assert seen("build") == before


def test_a_student_and_a_course_of_the_same_names() -> None:
    lesson("lessons/ada.ipynb")
    Path("build/ada/x").mkdir(parents=True)
    Path("build/ada/x/take.wav").write_bytes(RECORDING)
    assert build("lessons/ada.ipynb").exit_code == 0, "the pack lies where a student's packs lie"
    assert Path("build/ada/x/take.wav").read_bytes() == RECORDING
    done = run("personal", "lessons/ada.ipynb", "--name", "Ada", "--quiet")
    assert done.exit_code == 0, done.output
    assert {"handout.pdf", "x/take.wav", "ada/handout.pdf"} <= seen("build/ada").keys()


def course(*names: str, title: str = "Harbour") -> None:
    for name in names:
        lesson(f"lessons/{name}.ipynb")
    words = f'title = "{title}"\n[[level]]\nname = "All"\nlessons = {json.dumps(list(names))}\n'
    Path("lessons/course.toml").write_text(words, encoding="utf-8")


def test_a_course_takes_away_only_what_it_made() -> None:
    course("x", "y")
    whole = Path("build/harbour")
    (whole / "mine").mkdir(parents=True)
    (whole / "mine" / "take.wav").write_bytes(RECORDING)
    command = ("course", "lessons", "--no-run", "--jobs", "1")
    done = run(*command)
    assert done.exit_code == 0, done.output
    (whole / "y" / "notes.txt").write_bytes(b"my notes")
    lesson("other/z.ipynb")
    assert build("other/z.ipynb", "--out", str(whole)).exit_code == 0, "a pack that the teacher put beside"
    Path("lessons/y.ipynb").unlink()
    course("x")
    assert run(*command).exit_code == 0
    found = seen(whole)
    assert {name for name in found if name.startswith("y/")} == {"y/notes.txt"}
    assert found["mine/take.wav"] == RECORDING
    assert {"z/handout.pdf", "x/handout.pdf", "course.pdf", "index.html"} <= found.keys()
    assert list(read_mark(whole).packs) == ["x"]  # type: ignore[union-attr]
    (whole / "index.html").write_bytes(b"my own index")
    course("x", title="harbour")
    done = run(*command)
    assert (done.exit_code, (whole / "index.html").read_bytes()) == (1, b"my own index")


def test_a_course_and_a_lesson_of_one_name_stay_apart() -> None:
    course("x")
    assert run("course", "lessons", "--no-run", "--jobs", "1").exit_code == 0
    before = seen("build")
    lesson("other/harbour.ipynb")
    done = build("other/harbour.ipynb")
    assert done.exit_code == 1
    assert "holds the pack of a course" in done.output
    assert seen("build") == before
    done = run("course", "lessons", "--no-run", "--jobs", "1", "--out", "lessons/..")
    assert done.exit_code == 0
    course("x", title="Lessons")
    done = run("course", "lessons", "--no-run", "--jobs", "1", "--out", ".")
    assert done.exit_code == 1
    assert "where lessons lie" in done.output


# -- one folder ------------------------------------------------------------------------------------------------------
def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def test_the_mark_is_the_same_bytes_for_the_same_pack(tmp_path: Path) -> None:
    """What stands in it is typed here from its description."""
    for name in ("one", "two"):
        write_pack(tmp_path / name, {"b": "2", "a": "1"})
    write_pack(tmp_path / "two", {"a": "3", "c": "4"})
    write_pack(tmp_path / "two", {"a": "1", "b": "2"})
    text = (tmp_path / "one" / MARK).read_text(encoding="utf-8")
    assert json.loads(text) == {"format": "vampbook-pack", "version": 1, "kind": "lesson",
                                "files": {"a": digest(b"1"), "b": digest(b"2")}}
    assert seen(tmp_path / "one") == seen(tmp_path / "two")
    assert str(tmp_path) not in text


def test_an_equal_file_is_not_written_again(tmp_path: Path) -> None:
    write_pack(tmp_path / "pack", {"a": "1", "b": "2"})
    before = os.stat(tmp_path / "pack" / "a")
    write_pack(tmp_path / "pack", {"a": "1", "b": "3"})
    after = os.stat(tmp_path / "pack" / "a")
    assert (before.st_ino, before.st_mtime_ns) == (after.st_ino, after.st_mtime_ns)


def test_what_the_new_pack_no_longer_has_goes_unless_it_was_changed(tmp_path: Path) -> None:
    pack = tmp_path / "pack"
    write_pack(pack, {"a": "1", "b": "2", "c": "3"})
    (pack / "c").write_text("changed", encoding="utf-8")
    write_pack(pack, {"a": "1"})
    assert {name: data for name, data in seen(pack).items() if name != MARK} == {"a": b"1", "c": b"changed"}
    with pytest.raises(PackError, match="changed since: c in"):
        write_pack(pack, {"a": "5", "c": "4"})
    assert (pack / "a").read_bytes() == b"1"


@pytest.mark.parametrize("step", range(8))
def test_a_crash_at_any_step_is_known_and_healed(step: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The process dies at each rename and removal in turn; meanwhile every file is whole, old or new."""
    class Died(BaseException):
        pass

    old, new = {"a": "old a", "b": "old b", "gone": "old"}, {"a": "new a", "b": "new b", "more": "new"}
    pack, left = tmp_path / "pack", [step]

    def dying(real: object) -> object:
        def act(*given: object, **more: object) -> object:
            if left[0] == 0:
                raise Died
            left[0] -= 1
            return real(*given, **more)  # type: ignore[operator]
        return act

    write_pack(pack, old)
    (pack / "theirs").write_text("theirs", encoding="utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(folders.os, "replace", dying(os.replace))
        patched.setattr(folders.Path, "unlink", dying(Path.unlink))
        patched.setattr(folders.shutil, "rmtree", lambda *_, **__: None)  # as if killed: nothing is tidied
        try:
            write_pack(pack, new)
            died = False
        except Died:
            died = True
    assert died == (step < 6)  # the mark, three files, one removal, the mark
    found = {name: data for name, data in seen(pack).items() if "/" not in name and name != MARK}
    assert {"a", "b", "theirs"} <= found.keys()
    assert all(data.decode() in (old.get(name), new.get(name), "theirs") for name, data in found.items())
    assert is_whole(pack) == (step in (0, 6, 7)), "before the first and after the last step it is one pack"
    for place in pack.glob(".pack.*"):
        shutil.rmtree(place)
    last = {"a": "last a", "more": "last"}
    write_pack(pack, last)
    assert {name: data.decode() for name, data in seen(pack).items() if name != MARK} == last | {"theirs": "theirs"}
    assert is_whole(pack)


def test_a_disk_that_fills_leaves_the_old_pack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """At each write in turn."""
    pack = tmp_path / "pack"
    write_pack(pack, {"a": "1", "b": "2"})
    before = seen(pack)
    for count in range(4):
        left, real = [count], os.fsync

        def full(handle: int, left: list[int] = left, real: Any = real) -> None:
            if left[0] == 0:
                raise OSError(28, "No space left on device")
            left[0] -= 1
            real(handle)

        with monkeypatch.context() as patched:
            patched.setattr(os, "fsync", full)
            with pytest.raises(FileError, match="No space left"):
                write_pack(pack, {"a": "3", "b": "4"})
        assert seen(pack) == before
        assert [one.name for one in tmp_path.iterdir() if one.name.startswith(".")] == []


@pytest.mark.parametrize("text", [
    "", "[]", "not json", '{"files": {}}', "[" * 100_000,
    json.dumps({"format": "vampbook-pack", "version": 2, "kind": "lesson", "files": {}}),
    json.dumps({"format": "vampbook-pack", "version": 1, "kind": "lesson", "files": {"../out": digest(RECORDING)}}),
    json.dumps({"format": "vampbook-pack", "version": 1, "kind": "lesson", "files": {"a": 1}}),
    json.dumps({"format": "vampbook-pack", "version": 1, "kind": "lesson", "files": {}, "before": {"..": "x"}}),
    json.dumps({"format": "vampbook-pack", "version": 1, "kind": "course", "files": {}, "packs": ["../x"]}),
    json.dumps({"format": "vampbook-pack", "version": 1, "kind": "other", "files": {}}),
], ids=range(11))
def test_a_mark_that_cannot_be_trusted_is_no_leave_to_touch_anything(text: str, tmp_path: Path) -> None:
    pack = tmp_path / "pack"
    pack.mkdir()
    (tmp_path / "out").write_bytes(RECORDING)
    (pack / "a").write_bytes(RECORDING)
    (pack / MARK).write_text(text, encoding="utf-8")
    before = seen(tmp_path)
    for act in (lambda: write_pack(pack, {"a": "1"}), lambda: take_away(pack)):
        with pytest.raises(PackError, match=r"no mark of a pack|another version"):
            act()
    assert seen(tmp_path) == before
    assert not is_whole(pack)


def test_a_record_cannot_lead_out_of_the_pack(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(RECORDING)
    (tmp_path / "pack").mkdir()
    (tmp_path / "pack" / "a").write_bytes(RECORDING)
    write_pack(tmp_path / "pack", {"b": "1"}, known=["../out", str(tmp_path / "out"), "a", "none"])
    assert seen(tmp_path / "pack").keys() == {"b", MARK}
    assert (tmp_path / "out").read_bytes() == RECORDING


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "pack").write_bytes(RECORDING)
    with pytest.raises(PackError, match="is no folder"):
        write_pack(tmp_path / "pack", {"a": "1"})
    assert (tmp_path / "pack").read_bytes() == RECORDING


def test_taking_away_leaves_what_others_put_there(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_pack(tmp_path / name, {"a": "1", "b": "2"}, COURSE)
    (tmp_path / "two" / "b").write_text("changed", encoding="utf-8")
    (tmp_path / "two" / "mine").mkdir()
    for name in ("one", "two"):
        take_away(tmp_path / name)
    assert seen(tmp_path / "two") == {"b": b"changed"}
    assert (tmp_path / "two" / "mine").is_dir()
    assert not (tmp_path / "one").exists()
