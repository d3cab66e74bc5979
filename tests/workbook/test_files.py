"""Files appear whole or not at all."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from workbook import files
from workbook.files import FileError, keep_beside, read_text, slug, write_new, write_whole
from workbook.library.folders import write_pack
from workbook.library.mark import MARK


def test_write_whole_replaces_and_leaves_nothing_beside(tmp_path: Path) -> None:
    target = tmp_path / "sub" / "a.txt"
    write_whole(target, "one")
    write_whole(target, b"two")
    assert target.read_bytes() == b"two"
    assert [path.name for path in target.parent.iterdir()] == ["a.txt"]


def test_a_link_stays_and_so_does_who_may_read(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    real, link = tmp_path / "real" / "a.txt", tmp_path / "a.txt"
    real.write_text("one", encoding="utf-8")
    real.chmod(0o600)
    link.symlink_to(real)
    write_whole(link, "two")
    assert link.is_symlink()
    assert (real.read_text(encoding="utf-8"), real.stat().st_mode & 0o777) == ("two", 0o600)
    nowhere = tmp_path / "b.txt"
    nowhere.symlink_to(tmp_path / "none" / "b.txt")
    write_whole(nowhere, "three")
    assert (nowhere.is_symlink(), nowhere.read_text(encoding="utf-8")) == (False, "three")
    assert not (tmp_path / "none").exists()


def test_a_failed_rename_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.txt"
    write_whole(target, "old")

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(FileError, match=r"cannot write .*a\.txt: No space left"):
        write_whole(target, "new")
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_a_new_file_never_replaces_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a disk without hard links too."""
    def refuse(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    for number in range(2):
        target = tmp_path / f"{number}.txt"
        write_new(target, "one")
        with pytest.raises(FileError, match="exists"):
            write_new(target, "two")
        assert target.read_text() == "one"
        monkeypatch.setattr(os, "link", refuse)
    assert len(list(tmp_path.iterdir())) == 2


def test_a_copy_kept_beside_never_replaces_another(tmp_path: Path) -> None:
    target = tmp_path / "x.ipynb"
    kept = []
    for text in ("one", "two", "two", "one", "three"):
        target.write_text(text)
        kept.append(keep_beside(target).name)
    assert kept == ["x.ipynb.1", "x.ipynb.2", "x.ipynb.2", "x.ipynb.1", "x.ipynb.3"]
    assert [(tmp_path / f"x.ipynb.{number}").read_text() for number in (1, 2, 3)] == ["one", "two", "three"]


def test_a_folder_is_written_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pack = tmp_path / "pack"
    write_pack(pack, {"a": "1", "b": "2"})
    write_pack(pack, {"a": "3"})
    assert {path.name: path.read_text() for path in pack.iterdir() if path.name != MARK} == {"a": "3"}
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: (_ for _ in ()).throw(OSError(5, "Input/output error")))
    with pytest.raises(FileError, match="Input/output error"):
        write_pack(pack, {"a": "4"})
    monkeypatch.setattr(os, "fsync", real)
    assert (pack / "a").read_text() == "3"
    assert [path.name for path in tmp_path.iterdir()] == ["pack"]
    assert {path.name for path in pack.iterdir()} == {"a", MARK}


def test_reading_names_the_fault(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="No such file"):
        read_text(tmp_path / "none")
    (tmp_path / "b").write_bytes(b"ok\xff")
    with pytest.raises(FileError, match=r"not a text file in UTF-8 \(byte 2\)"):
        read_text(tmp_path / "b")


@pytest.mark.parametrize(("title", "name"), [
    ("Low tide", "low-tide"),
    ("  Čaj & mёd, nº 2! ", "čaj-mёd-no-2"), ("../../etc/x", "etc-x"), ("A" * 200, "a" * 80),
])
def test_slug(title: str, name: str) -> None:
    assert slug(title) == name


def test_a_title_without_letters_is_refused() -> None:
    with pytest.raises(FileError, match="gives no file name"):
        slug("…")


def test_the_lock_of_windows_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []

    def locking(handle: int, how: int, count: int) -> None:
        asked.append((os.lseek(handle, 0, os.SEEK_CUR), count))
        if len(asked) < 3:
            raise PermissionError(13, "Permission denied")

    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2))
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    place = Path(write_pack.__code__.co_filename).with_name("cache.py")
    spec = importlib.util.spec_from_file_location(write_pack.__module__.replace("folders", "cache_there"), place)
    assert spec is not None
    assert spec.loader is not None
    there = importlib.util.module_from_spec(spec)
    with monkeypatch.context() as elsewhere:
        elsewhere.setattr(sys, "platform", "win32")
        spec.loader.exec_module(there)
    with there.locked(tmp_path / "build" / "low-tide"):
        assert len(asked) == 3
        assert len(set(asked)) == 1, "the same byte each time"


def held(times: int) -> Any:
    """os.replace as it is where another program has the file open, so many times."""
    real, left = os.replace, [times]

    def replace(fresh: Any, target: Any) -> None:
        if left[0]:
            left[0] -= 1
            raise PermissionError(13, "Access is denied")
        real(fresh, target)

    return replace


def test_a_file_that_is_held_for_a_moment_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "_ON_WINDOWS", True)
    monkeypatch.setattr(os, "replace", held(3))
    write_whole(tmp_path / "a.txt", "two")
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "two"


def test_a_handout_that_stays_open_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "pack"
    write_pack(folder, {"handout.pdf": "one"})
    monkeypatch.setattr(files, "_ON_WINDOWS", True)
    monkeypatch.setattr(files, "_HELD_SECONDS", 0.1)
    monkeypatch.setattr(os, "replace", held(10**9))
    with pytest.raises(FileError, match="another program has it open"):
        write_pack(folder, {"handout.pdf": "two"})
    monkeypatch.undo()
    assert (folder / "handout.pdf").read_text(encoding="utf-8") == "one"
    write_pack(folder, {"handout.pdf": "two"})
    assert (folder / "handout.pdf").read_text(encoding="utf-8") == "two"
