"""Many machines: packs made by dask workers in processes of their own, byte for byte as made here, one worker killed.

The scheduler and the workers are started by dask's own commands; they run in other folders than this process and get
no path from it that leads to a lesson.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest
from jupyter_core.utils import ensure_event_loop
from support.lab import ROOT
from support.short import BRIEF, short_lesson
from support.track_lessons import lesson_over

from workbook.files import write_whole
from workbook.handouts.tracks import Sound
from workbook.library import cluster as cluster_module
from workbook.library.cluster import ClusterError, Parcel, made_there, packed
from workbook.library.library import build_library
from workbook.library.making import Made
from workbook.library.orders import How, orders_for
from workbook.library.personal import Student
from workbook.running.kernel import stop

LESSON = short_lesson()
# One is done when a worker is killed, the others are at work.
MANY = 12 if os.environ.get("VAMPBOOK_EXPLORE") else 3
HOW, SAVED = (How({"sound": BRIEF}, run=run) for run in (True, False))

pytestmark = pytest.mark.usefixtures("warm")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))


def lessons(folder: Path, count: int) -> list[Path]:
    folder.mkdir()
    (folder / "inner").mkdir()
    (folder / "inner" / "words.txt").write_text("read below the lesson", encoding="utf-8")
    paths = [folder / f"lesson-{number}.ipynb" for number in range(count)]
    for number, path in enumerate(paths):
        asks = '"assert open(\'inner/words.txt\').read()\\nread = harmony(chart)\\n"'
        text = LESSON.replace("Slack water", f"Slack water {number}").replace('"read = harmony(chart)\\n"', asks)
        assert "words.txt" in text
        path.write_text(text, encoding="utf-8")
    return paths


def content(out: Path) -> dict[str, bytes]:
    return {str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()}


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "start_new_session": True}
    started = [subprocess.Popen([sys.executable, "-m", "dask", "scheduler", "--host", "127.0.0.1", "--port", str(port),
                                 "--no-dashboard"], cwd=tmp_path, **quiet)]
    for number in range(2):
        place = tmp_path / f"machine-{number}"
        place.mkdir()
        command = [sys.executable, "-m", "dask", "worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
        surroundings = {**os.environ, "HOME": str(place), "PYTHONPATH": str(ROOT)}
        started.append(subprocess.Popen(command, cwd=place, env=surroundings, **quiet))
    try:
        yield address, started[1:]
    finally:
        for process in started:
            with suppress(ProcessLookupError):  # one was killed by the test
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def test_same_bytes_with_a_worker_killed_in_mid_build(
        tmp_path: Path, scheduler: tuple[str, list[subprocess.Popen[bytes]]]) -> None:
    """Lessons as they were saved, since each that runs there needs a kernel; one then runs."""
    paths = lessons(tmp_path / "lessons", MANY)
    assert not any(one.error for one in build_library(orders_for(paths, tmp_path / "here"), SAVED))
    address, workers = scheduler
    done = []
    for number, one in enumerate(build_library(orders_for(paths, tmp_path / "there"), SAVED, cluster=address)):
        done.append(one)
        if number == 0:
            os.killpg(workers[0].pid, signal.SIGKILL)
    assert [one.error for one in done] == [""] * MANY
    assert workers[0].wait(60) == -signal.SIGKILL
    assert content(tmp_path / "there") == content(tmp_path / "here")
    again = list(build_library(orders_for(paths, tmp_path / "there"), SAVED, cluster="tcp://127.0.0.1:1"))
    assert all(one.unchanged for one in again), "nothing is due, so nobody is asked"
    orders = orders_for(paths[:1], tmp_path / "there")
    stands = []
    for text in ("read below the lesson", "read below the lesson", "changed"):
        (tmp_path / "lessons" / "inner" / "words.txt").write_text(text, encoding="utf-8")
        (one,) = build_library(orders, HOW, cluster=address)
        assert not one.error
        stands.append(one.unchanged)
    assert stands == [False, True, False], "the worker told what the lesson read"


def test_a_parcel_is_all_that_a_worker_needs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (path,) = lessons(tmp_path / "lessons", 1)
    (order,) = orders_for([path], tmp_path / "out", [Student("Ada", key="A")])
    for name in ("notes.txt", ".secret", ".hidden/word.txt", "build/old.txt"):
        (path.parent / name).parent.mkdir(exist_ok=True)
        (path.parent / name).write_text("word", encoding="utf-8")
    parcel = packed(order, HOW)
    assert set(parcel.files) == {path.name, "inner/words.txt", "notes.txt"}
    assert str(tmp_path) not in repr(parcel)
    path.unlink()
    made = made_there(parcel)
    assert not made.error
    assert b"Am7" in str(made.files["lesson.html"]).encode()
    assert made_there(parcel) == made
    monkeypatch.setattr(cluster_module, "program", lambda: "older")
    assert "another version" in made_there(parcel).error


def test_a_worker_with_threads_mixes_no_students(tmp_path: Path) -> None:
    """dask's own default is a worker with as many threads as the machine has cores."""
    (path,) = lessons(tmp_path / "lessons", 1)
    students = [Student("Ada", tempos=(50, 60), note_names="german"), Student("Cy", left_handed=True)]
    parcels = [packed(order, HOW) for order in orders_for([path], tmp_path / "out", students)]
    alone = [made_there(parcel) for parcel in parcels]
    assert [made.error for made in alone] == [""] * 2

    def in_a_thread(parcel: Parcel) -> Made:
        try:
            return made_there(parcel)
        finally:
            stop()
            ensure_event_loop().close()  # a worker's threads stay; these end

    with ThreadPoolExecutor(2) as threads:
        assert list(threads.map(in_a_thread, parcels)) == alone


def test_what_cannot_travel_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (path,) = lessons(tmp_path / "lessons", 1)
    (order,) = orders_for([path], tmp_path / "out")
    monkeypatch.setattr(cluster_module, "BESIDE_MB", 0.1)
    (tmp_path / "lessons" / "film.bin").write_bytes(bytes(200_000))
    with pytest.raises(ClusterError, match="beside the lesson"):
        packed(order, HOW)
    bank = tmp_path / "own.sf2"
    bank.write_bytes(b"RIFF")
    (tmp_path / "lessons" / "hand.jpg").write_bytes(b"a picture")
    parcel = packed(order, How({"sound": Sound(soundfont=bank)}, run=False))
    assert set(parcel.files) == {path.name, "hand.jpg"}  # what is only shown travels without being run
    assert parcel.soundfont == b"RIFF"
    assert str(tmp_path) not in repr(parcel)


def test_no_scheduler(tmp_path: Path) -> None:
    paths = lessons(tmp_path / "lessons", 1)
    start = time.monotonic()
    with pytest.raises(ClusterError, match="no scheduler answers"):
        list(build_library(orders_for(paths, tmp_path / "out"), HOW, cluster="nonsense://here"))
    assert time.monotonic() - start < 30


def test_the_commands_of_the_readme_as_they_stand_there(tmp_path: Path) -> None:
    """Its three lines, but for the port: a scheduler, two worker processes, and a build where the lessons lie."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    block = next(one for one in readme.split("```") if "dask scheduler" in one)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    commands = [line.replace("8786", port).split() for line in block.strip().splitlines()]
    assert [command[0] for command in commands] == ["dask", "dask", "vampbook"]
    assert "--nworkers 2" in block
    for name in ("one", "two"):
        write_whole(tmp_path / "lessons" / f"{name}.ipynb", LESSON.replace("Slack water", name))
    surroundings = os.environ | {"PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
                                 "PYTHONPATH": str(ROOT)}
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "start_new_session": True}
    started = [subprocess.Popen(command, cwd=tmp_path, env=surroundings, **quiet) for command in commands[:-1]]
    try:
        done = subprocess.run(commands[-1], cwd=tmp_path, env=surroundings, capture_output=True, text=True, check=False)
    finally:
        for process in started:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
    assert done.returncode == 0, done.stderr
    for name in ("one", "two"):
        assert (tmp_path / "build" / name / "handout.pdf").read_bytes().startswith(b"%PDF")


def test_a_lesson_travels_with_its_own_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However long it is; what else lies there may not be big."""
    monkeypatch.setattr(cluster_module, "BESIDE_MB", 1)
    lesson = lesson_over(tmp_path)
    lesson.write()
    for name in ("other.wav", "noise.wav", "words.md"):
        (tmp_path / name).write_bytes(b"1")
    (tmp_path / "other.grid.txt").write_text("| Gm7 | C9 |\n", encoding="utf-8")
    (order,) = orders_for([lesson.path], tmp_path / "out")
    there = set(packed(order, How({})).files)
    assert there == {"ferry.ipynb", "ferry.wav", "ferry.grid.txt", "noise.wav", "other.grid.txt", "words.md"}
    there = set(packed(order, How({}, run=False)).files)
    assert there == {"ferry.ipynb", "ferry.wav", "ferry.grid.txt", "noise.wav", "other.grid.txt"}
    assert (tmp_path / "ferry.wav").stat().st_size > 1_000_000
    (tmp_path / "noise.wav").write_bytes(bytes(1_100_000))
    with pytest.raises(ClusterError, match="more than 1 MB"):
        packed(order, How({}))
