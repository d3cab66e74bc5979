"""Several writers of one pack at once, readers meanwhile, writers that are killed, and what those leave."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from multiprocessing.synchronize import Event
from pathlib import Path
from random import Random

import pytest
from support.lab import ROOT

from workbook import files
from workbook.files import FileError, is_temporary, sweep, temporary_folder, write_whole
from workbook.library import cache
from workbook.library.cache import locked
from workbook.library.folders import is_whole, write_pack
from workbook.library.mark import MARK, digest_of, read_mark

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
WRITERS, ROUNDS = (8, 200) if EXPLORE else (5, 12)
KILLS = 200 if EXPLORE else 12
NAMES = ("handout.pdf", "lesson.html", "lesson.mid")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))


def pack_of(writer: int, turn: int) -> dict[str, bytes | str]:
    """Each writer's pack: files that all say whose they are, one of them under a name of the writer's own."""
    said = f"{writer} {turn} ".encode() * 3000
    return {name: name.encode() + said for name in (*NAMES, f"own-{writer % 3}.mid")}


def write_often(folder: str, writer: int, rounds: int, said: multiprocessing.SimpleQueue[str]) -> None:
    for turn in range(rounds):
        try:
            with locked(Path(folder)):
                write_pack(Path(folder), pack_of(writer, turn))
                if not fits_together(Path(folder)):
                    said.put(f"writer {writer}, turn {turn}: the pack is not whole")
        except Exception as error:
            said.put(f"writer {writer}, turn {turn}: {error!r}")


def fits_together(folder: Path) -> bool:
    """Whether the files are those of one writer's one pack, and the mark says so."""
    found = {path.name: path.read_bytes() for path in folder.iterdir() if path.name not in (MARK, "theirs.txt")}
    whose = {data.removeprefix(name.encode())[:12] for name, data in found.items()}
    mark = read_mark(folder)
    return (len(whose) == 1 and len(found) == len(NAMES) + 1 and mark is not None and mark.before is None
            and dict(mark.files) == {name: digest_of(data) for name, data in found.items()})


def read_often(folder: str, stop: Event, said: multiprocessing.SimpleQueue[str]) -> None:
    """A reader that is told when once it finds no pack, or a torn file."""
    looks = 0
    while not stop.is_set():
        for name in NAMES:
            try:
                data = (Path(folder) / name).read_bytes()
            except OSError as error:
                said.put(f"no moment without a pack: {error!r}")
                return
            words = data.removeprefix(name.encode())
            period = words.find(b" ", words.find(b" ") + 1) + 1
            if not words or words != words[:period] * 3000:
                said.put(f"a torn {name}")
                return
            looks += 1
    if not looks:
        said.put("the reader saw nothing")


def test_writers_at_once_give_no_error_and_one_whole_pack(tmp_path: Path) -> None:
    folder = tmp_path / "out" / "pack"
    context = multiprocessing.get_context("spawn")
    said, stop = context.SimpleQueue(), context.Event()
    write_pack(folder, pack_of(0, 0))
    (folder / "theirs.txt").write_bytes(b"theirs")
    reader = context.Process(target=read_often, args=(str(folder), stop, said))
    writers = [context.Process(target=write_often, args=(str(folder), writer, ROUNDS, said))
               for writer in range(WRITERS)]
    for process in (reader, *writers):
        process.start()
    for process in writers:
        process.join()
    stop.set()
    reader.join()
    assert [process.exitcode for process in (reader, *writers)] == [0] * (WRITERS + 1)
    errors = []
    while not said.empty():
        errors.append(said.get())
    assert errors == []
    assert fits_together(folder)
    assert (folder / "theirs.txt").read_bytes() == b"theirs"
    assert [path.name for path in folder.parent.iterdir()] == ["pack"]


def test_a_pack_that_is_not_there_yet_appears_once(tmp_path: Path) -> None:
    """All begin where there is no folder."""
    context = multiprocessing.get_context("spawn")
    said = context.SimpleQueue()
    folder = tmp_path / "out" / "new"
    writers = [context.Process(target=write_often, args=(str(folder), writer, 1, said)) for writer in range(4)]
    for process in writers:
        process.start()
    for process in writers:
        process.join()
    assert said.empty(), said.get()
    assert fits_together(folder)


KILLED = """
import sys
sys.path[:0] = [{tests!r}]
from pathlib import Path
from attack.test_writers import pack_of
from workbook.library.cache import locked
from workbook.library.folders import write_pack
print("ready", flush=True)
turn = 0
while True:
    turn += 1
    with locked(Path({folder!r})):
        write_pack(Path({folder!r}), pack_of(turn % 5, turn))
"""


def test_killed_while_it_writes(tmp_path: Path) -> None:
    """At moments drawn from a seed: every file is whole, theirs stays, and the next writer heals and tidies."""
    folder = tmp_path / "out" / "pack"
    write_pack(folder, pack_of(0, 0))
    (folder / "theirs.txt").write_bytes(b"theirs")
    chance, left = Random(13), 0
    source = KILLED.format(tests=str(ROOT / "tests"), folder=str(folder))
    for _ in range(KILLS):
        process = subprocess.Popen([sys.executable, "-c", source], stdout=subprocess.PIPE, cwd=ROOT)
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(chance.uniform(0.02, 0.1))
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        for name in NAMES:
            assert (folder / name).read_bytes().endswith(b" "), "there and whole"
        left += sum(is_temporary(path.name) for place in (folder, folder.parent) for path in place.iterdir())
        if chance.random() < 0.5:
            continue  # sometimes two are killed in a row
        with locked(folder):
            write_pack(folder, pack_of(1, 10**6))
        assert fits_together(folder), "healed, and nothing left over"
        assert (folder / "theirs.txt").read_bytes() == b"theirs"
    assert left, "at least one was killed with something half done"


def test_the_lock_goes_with_its_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, other = tmp_path / "pack", tmp_path / "other"
    source = (f"import time\nfrom pathlib import Path\nfrom workbook.library.cache import locked\n"
              f"with locked(Path({str(folder)!r})):\n    print('held', flush=True)\n    time.sleep(99)")
    process = subprocess.Popen([sys.executable, "-c", source], stdout=subprocess.PIPE, cwd=ROOT)
    try:
        assert process.stdout is not None
        assert process.stdout.readline() == b"held\n"
        monkeypatch.setattr(cache, "WAIT_SECONDS", 0.2)
        with pytest.raises(FileError, match=r"another process has been writing .*pack for 0\.2 s"), locked(folder):
            pass
        with locked(other):
            pass  # one pack's lock is not another's
    finally:
        process.kill()
        process.communicate()
    with locked(folder):
        pass


def test_one_place_by_two_names_has_one_lock(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    source = (f"from pathlib import Path\nfrom workbook.library import cache\ncache.WAIT_SECONDS = 0.1\n"
              f"with cache.locked(Path({str(tmp_path / 'link' / 'pack')!r})):\n    pass")
    with locked(tmp_path / "real" / "pack"):
        done = subprocess.run([sys.executable, "-c", source], capture_output=True, text=True, check=False, cwd=ROOT)
    assert "another process has been writing" in done.stderr


def test_without_a_cache_packs_are_written_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "file" / "cache"))
    with locked(tmp_path / "pack"):
        write_pack(tmp_path / "pack", {"a": "1"})
    assert is_whole(tmp_path / "pack")


# -- what is left over -----------------------------------------------------------------------------------------------
def ended() -> int:
    """The number of a process that is no more."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def left_by(place: Path, process: int, machine: str = "") -> Path:
    """A temporary file as that process would have left it, had it begun when this one did."""
    name = temporary_folder("lesson.html", place).name
    (place / name).rmdir()
    name = name.replace(f"-{os.getpid()}-", f"-{process}-").replace(files._machine(), machine or files._machine())
    path = place / name
    path.write_bytes(b"half")
    return path


def test_what_ended_runs_left_is_removed_and_nothing_else(tmp_path: Path) -> None:
    dead = ended()
    made = f"x.{files._machine()}-{dead}-1-abcd1234.vampbook-tmp"
    theirs = [tmp_path / name for name in (".pack.abcd1234", ".lesson.html.old", "x.vampbook-tmp", ".x.vampbook-tmp",
                                           f".x.{'0' * 8}-{dead}-1.vampbook-tmp", made, f".{made}.txt")]
    for path in theirs:
        path.write_bytes(b"theirs")
    living = left_by(tmp_path, os.getpid())
    elsewhere = left_by(tmp_path, dead, "0123abcd")
    old = left_by(tmp_path, dead, "0123abce")
    os.utime(old, (time.time() - 90_000, time.time() - 90_000))
    half = left_by(tmp_path, dead)
    whole = tmp_path / half.name.replace("lesson.html", "pack")
    whole.mkdir()
    (whole / "handout.pdf").write_bytes(b"half")
    left_by(tmp_path, 1)  # that process lives, but began at another time
    sweep(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in (*theirs, living, elsewhere)}


@pytest.mark.parametrize("name", ["x" * 250, "李" * 80, "a\nb", ".hidden"])
def test_long_and_strange_names_leave_names_that_are_known(name: str, tmp_path: Path) -> None:
    seen = []
    place = temporary_folder(name, tmp_path)
    seen.append(place.name)
    place.rmdir()
    assert all(map(is_temporary, seen)), seen
    write_whole(tmp_path / name, "whole")
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_write_tidies_the_folder_it_writes_in(tmp_path: Path) -> None:
    files._sweep_once.cache_clear()
    half = left_by(tmp_path, ended())
    write_whole(tmp_path / "lesson.html", "whole")
    assert not half.exists()
    assert [path.name for path in tmp_path.iterdir()] == ["lesson.html"]


def test_builds_at_once_by_the_command(tmp_path: Path) -> None:
    """Whole runs of the command on the same lessons."""
    cell = {"cell_type": "markdown", "id": "title", "metadata": {}, "source": "# Slack water"}
    (tmp_path / "lessons").mkdir()
    for number in range(3):
        text = json.dumps({"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5})
        (tmp_path / "lessons" / f"x{number}.ipynb").write_text(text, encoding="utf-8")
    command = [sys.executable, "-c", "from workbook.cli import main; main()", "build", "--no-run", "--force", "--jobs",
               "1", "--out", str(tmp_path / "out"), str(tmp_path / "lessons")]
    runs = [subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) for _ in range(3)]
    said = [run.communicate()[0].decode() for run in runs]
    assert [run.returncode for run in runs] == [0, 0, 0], said
    for number in range(3):
        assert is_whole(tmp_path / "out" / f"x{number}")
    assert len(list((tmp_path / "out").iterdir())) == 3
