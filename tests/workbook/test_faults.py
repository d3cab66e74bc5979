"""What goes wrong around a build: a process killed, a full or read-only disk, lessons that harm; the rest stands."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest
from support.lab import ROOT
from support.short import BRIEF, short_lesson

from workbook.library.library import build_library
from workbook.library.orders import How, Outcome, orders_for
from workbook.running import workers
from workbook.running.bounds import Bounds
from workbook.running.workers import Lost, each

LESSON = short_lesson()
pytestmark = pytest.mark.usefixtures("warm")


def lessons(folder: Path, *more: str) -> list[Path]:
    """As many lessons as there are texts, each with that code as a last cell."""
    folder.mkdir(exist_ok=True)
    paths = []
    for number, source in enumerate(more):
        notebook = json.loads(LESSON)
        if source:
            notebook["cells"].append({"cell_type": "code", "id": "more", "metadata": {}, "outputs": [],
                                      "source": source, "execution_count": None})
        paths.append(folder / f"lesson-{number}.ipynb")
        paths[-1].write_text(json.dumps(notebook), encoding="utf-8")
    return paths


def build(paths: list[Path], out: Path, **how: Any) -> dict[str, Outcome]:
    chosen = How({"sound": BRIEF}, how.pop("run", False), how.pop("bounds", Bounds()))
    return {one.path.stem: one for one in build_library(orders_for(paths, out), chosen, **how)}


def seen(out: Path) -> dict[str, bytes]:
    return {str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()}


# -- tasks in processes ----------------------------------------------------------------------------------------------
def task(kind: str, file: str = "") -> str:
    if kind == "raise":
        raise ValueError("so it is")
    if kind == "hang":
        time.sleep(99)
    if kind == "die" or (kind == "die once" and not Path(file).exists()):
        if file:
            Path(file).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return kind


@pytest.mark.parametrize("way", ["forkserver", "spawn"])  # the second is what Windows has
def test_a_task_that_dies_hangs_or_raises_leaves_the_rest(way: str, tmp_path: Path,
                                                          monkeypatch: pytest.MonkeyPatch) -> None:
    if way == "spawn":
        monkeypatch.setattr(workers, "_context", lambda *_: (multiprocessing.get_context("spawn"), False))
    tasks = [("well",), ("die",), ("hang",), ("raise",), ("die once", str(tmp_path / "died")), ("well",)]
    seconds = 4 if way == "forkserver" else 10  # a process that is spawned imports all anew, which counts
    found = dict(each(task, tasks, 2, seconds=seconds))
    assert [found[index] for index in (0, 4, 5)] == ["well", "die once", "well"]
    assert found[1] == Lost("its process was killed (SIGKILL)")
    assert found[2] == Lost(f"it took longer than {seconds} s")
    assert found[3] == Lost("ValueError: so it is")


def test_an_abandoned_round_leaves_no_process() -> None:
    rounds = each(task, [("well",), ("hang",), ("hang",)], 2)
    assert next(rounds) == (0, "well")
    before = {one.pid for one in psutil.Process().children(recursive=True)}
    rounds.close()
    after = {one.pid for one in psutil.Process().children(recursive=True)}
    assert before - after


# -- lessons that harm -----------------------------------------------------------------------------------------------
def test_harmful_lessons_do_not_stop_the_rest(tmp_path: Path) -> None:
    """Run for real, side by side, with little time and memory."""
    harm = {"import time\nwhile True: time.sleep(1)": "ran longer",
            "found = []\nwhile True: found.append(bytearray(1_000_000))": "Memory",
            "print('x' * 100_000_000)": "more than 16 MB",
            "import os, time\nos.kill(os.getppid(), 9)\ntime.sleep(9)": "process died",
            "import os\nos.kill(os.getpid(), 11)": "process died",
            "import shutil, os\nshutil.rmtree(os.environ['VAMPBOOK_CACHE'], ignore_errors=True)": "",
            "from IPython.display import HTML\nHTML('<script>alert(1)</script><img src=x onerror=alert(2)>')": ""}
    paths = lessons(tmp_path / "lessons", "", *harm, "")
    done = build(paths, tmp_path / "out", run=True, bounds=Bounds(6, 400), jobs=2)
    assert not done["lesson-0"].error
    assert not done[f"lesson-{len(harm) + 1}"].error
    for number, words in enumerate(harm.values(), 1):
        one = done[f"lesson-{number}"]
        assert words in one.error if words else not one.error, one
    page = (tmp_path / "out" / f"lesson-{len(harm)}" / "lesson.html").read_text(encoding="utf-8")
    assert "alert(" not in page


def test_a_pack_names_no_path_and_no_user(tmp_path: Path) -> None:
    """What a lesson itself prints stays out of its pack as well: streams are for the notebook."""
    source = "import os, getpass\nprint(os.getcwd(), os.path.expanduser('~'))"
    (path,) = lessons(tmp_path / "somewhere private", source)
    assert not build([path], tmp_path / "out", run=True)["lesson-0"].error
    for name, data in seen(tmp_path / "out").items():
        for word in (str(tmp_path), "somewhere private", f"{Path.home()}/", str(ROOT)):
            assert word.encode() not in data, (name, word)
            assert word.encode("utf-16-be") not in data, (name, word)


def test_no_run_runs_nothing(tmp_path: Path) -> None:
    (path,) = lessons(tmp_path / "lessons", f"open({str(tmp_path / 'ran')!r}, 'w')")
    build([path], tmp_path / "out", run=False)
    assert not (tmp_path / "ran").exists()
    assert not build([path], tmp_path / "out", run=True)["lesson-0"].error
    assert (tmp_path / "ran").exists()


# -- disks -----------------------------------------------------------------------------------------------------------
@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A small disk, where the system lets one be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    if shutil.which("mount") is None or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=30m", "tmpfs", str(place)],
                                                       check=False, capture_output=True).returncode:
        pytest.skip("only who may mount can try a small disk")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=False)


def remount(place: Path, options: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{options}", str(place)], check=True)


def test_a_full_disk_leaves_whole_packs_only(tmp_path: Path, small_disk: Path) -> None:
    paths = lessons(tmp_path / "lessons", "", "", "")
    build(paths, tmp_path / "right", jobs=1)
    right = seen(tmp_path / "right")
    out = small_disk / "out"
    remount(small_disk, f"size={sum(map(len, right.values())) // 2}")  # one pack fits, a second perhaps, three do not
    done = build(paths, out, jobs=1)
    failed = [one for one in done.values() if one.error]
    assert 1 <= len(failed) <= 2
    assert all("No space left" in one.error for one in failed), failed
    assert seen(out).items() <= right.items()
    assert {name.split("/")[0] for name in seen(out)} == {stem for stem, one in done.items() if not one.error}
    remount(small_disk, "size=30m")
    again = build(paths, out, jobs=1)
    assert sorted(one.unchanged for one in again.values()) == [False] * len(failed) + [True] * (3 - len(failed))
    assert seen(out) == right


def test_a_read_only_folder_keeps_what_it_has(tmp_path: Path, small_disk: Path) -> None:
    paths, out = lessons(tmp_path / "lessons", ""), small_disk / "out"
    assert not build(paths, out)["lesson-0"].error
    before = seen(out)
    remount(small_disk, "ro")
    assert build(paths, out)["lesson-0"].unchanged
    assert not build(paths, out, force=True)["lesson-0"].error, "it holds what would be written"
    paths[0].write_text(LESSON.replace("Slack water", "Low tide"), encoding="utf-8")
    error = build(paths, out)["lesson-0"].error
    assert "Read-only file system" in error
    assert "lesson-0" in error
    assert seen(out) == before
    remount(small_disk, "rw")
    assert not build(paths, out, force=True)["lesson-0"].error
