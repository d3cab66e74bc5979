"""What a lesson starts ends with it and counts as its own; the making of a pack has bounds, too."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest
from click.testing import CliRunner
from support.lab import ROOT

from workbook.cli import main
from workbook.running.bounds import Bounds
from workbook.running.forked import _messages
from workbook.running.keeper import end_keeper
from workbook.running.kernel import stop
from workbook.running.run import RunError, run_notebook
from workbook.running.workers import Lost, bounded, each

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="these lessons fork")
# Each way to get away that we know: it writes the number of its process into pids/.
START = """
import os, signal, subprocess, sys, time
os.makedirs("pids", exist_ok=True)
def note():
    open(f"pids/{os.getpid()}", "w").close()
SLEEP = "import os, time; open(f'pids/{os.getpid()}', 'w').close(); time.sleep(300)"
subprocess.Popen([sys.executable, "-c", SLEEP])
subprocess.Popen([sys.executable, "-c", SLEEP], start_new_session=True)
subprocess.Popen(["nohup", sys.executable, "-c", SLEEP], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
subprocess.Popen([sys.executable, "-c", SLEEP], start_new_session=True, env={"PATH": os.environ["PATH"]})
subprocess.Popen([sys.executable, "-c", "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); "
                  "signal.signal(signal.SIGHUP, signal.SIG_IGN); " + SLEEP], process_group=0)
if os.fork() == 0:
    os.setsid()
    if os.fork() == 0:
        note()
        time.sleep(300)
    os._exit(0)
os.wait()
until = time.time() + 20
while len(os.listdir("pids")) < 6 and time.time() < until:
    time.sleep(0.05)
started = len(os.listdir("pids"))
"""
ENDINGS = {  # how the lesson ends then, and what is said of it
    "well": ("started", ""), "loops": ("while True: pass", "ran longer"), "leaves": ("os._exit(3)", "process died"),
    "kills its group": ("os.killpg(0, 9)", "process died"),
}


def notebook(*cells: str) -> dict[str, Any]:
    code = [{"cell_type": "code", "id": f"c{number}", "metadata": {}, "outputs": [], "source": source,
             "execution_count": None} for number, source in enumerate(cells)]
    return {"cells": code, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}


def alive(folder: Path) -> list[int]:
    """Which of the noted processes still run (one that its parent has yet to take note of is none)."""
    found = []
    for path in (folder / "pids").iterdir():
        try:
            if psutil.Process(int(path.name)).status() != psutil.STATUS_ZOMBIE:
                found.append(int(path.name))
        except psutil.NoSuchProcess:
            continue
    return found


def gone(folder: Path, seconds: float = 0) -> bool:
    until = time.monotonic() + seconds
    while alive(folder):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return len(list((folder / "pids").iterdir())) == 6


def ends(folder: Path, ending: str, fork: bool) -> None:
    source, words = ENDINGS[ending]
    if not words:
        ran = run_notebook(notebook(START, source), folder, fork=fork)
        assert ran["cells"][1]["outputs"][0]["data"]["text/plain"] == ["6"]
        return
    with pytest.raises(RunError) as caught:
        run_notebook(notebook(START, source), folder, fork=fork, bounds=Bounds(30 if words != "ran longer" else 4))
    assert words.replace("process", "process" if fork else "kernel") in str(caught.value)
    assert "cell 2" in str(caught.value)


def test_a_lesson_that_says_nothing_is_stopped_in_time() -> None:
    """Before it says something after all, else this would wait for ever where nobody looks at the clock."""
    reader, writer = os.pipe()
    late = threading.Timer(3, os.write, (writer, b"7\n"))
    late.start()
    os.write(writer, b"0\n")  # its first cell begins: from here on its seconds count
    messages = _messages(reader, os.getpid(), Bounds(0.3))
    try:
        assert next(messages) == 0
        assert "ran longer than 0.3 s" in str(next(messages))
    finally:
        late.cancel()
        late.join()
        os.close(reader)
        os.close(writer)


@pytest.mark.parametrize("ending", ["well", "loops", "leaves", "kills its group"])
def test_nothing_outlives_a_fork(ending: str, tmp_path: Path) -> None:
    ends(tmp_path, ending, True)
    assert gone(tmp_path)


@pytest.mark.parametrize("ending", ["well", "leaves"])
def test_nothing_outlives_a_kernel(ending: str, tmp_path: Path) -> None:
    """One that dropped its environment and whose kernel killed itself would; the rest is found by its mark."""
    try:
        ends(tmp_path, ending, False)
    finally:
        stop()
    left = alive(tmp_path)
    assert len(left) <= (1 if ending == "leaves" else 0)
    for process in left:
        os.kill(process, 9)


def kills(what: str, folder: Path) -> str:
    """A task: a lesson that kills its keeper, or the worker above it."""
    above = {"keeper": "os.getppid()", "worker": "__import__('psutil').Process().parent().ppid()"}[what]
    try:
        run_notebook(notebook(START, f"os.kill({above}, 9)\ntime.sleep(20)"), folder, bounds=Bounds(30))
    except RunError as error:
        return str(error)
    return "it ran"


@pytest.mark.parametrize(("what", "words"), [("keeper", "its process died"), ("worker", "killed (SIGKILL)")])
def test_nor_where_a_lesson_kills_those_above(what: str, words: str, tmp_path: Path) -> None:
    ((_, result),) = each(kills, [(what, tmp_path)], 1)
    assert words in (result.why if isinstance(result, Lost) else result)
    for path in list((tmp_path / "pids").iterdir())[6:]:  # a task whose worker died is tried twice
        path.unlink()
    assert gone(tmp_path, 5)


def test_a_keeper_that_was_made_to_stand_still_does_its_work() -> None:
    """It is told to go on before anything else, and is not killed meanwhile."""
    reader, writer = os.pipe()
    keeper = os.fork()
    if keeper == 0:
        os.kill(os.getpid(), signal.SIGSTOP)
        os.write(writer, b"went on")
        os._exit(0)
    os.close(writer)
    os.waitpid(keeper, os.WUNTRACED)  # it stands
    end_keeper(keeper)
    with os.fdopen(reader, "rb") as told:
        assert told.read() == b"went on"


def test_a_keeper_that_does_not_end_is_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workbook.running.keeper._PATIENCE_SECONDS", 0.1)
    keeper = os.fork()
    if keeper == 0:
        time.sleep(60)
        os._exit(0)
    try:
        end_keeper(keeper)
        assert not psutil.pid_exists(keeper)
    finally:
        if psutil.pid_exists(keeper):
            os.kill(keeper, signal.SIGKILL)
            os.waitpid(keeper, 0)


# -- memory ----------------------------------------------------------------------------------------------------------
# Each within what one process may take, together more.
GREEDY = """import subprocess, sys
started = [subprocess.Popen([sys.executable, "-c", "import time; x = b'1' * 150_000_000; time.sleep(60)"]{})
           for _ in range(4)]
started[0].wait()"""
FORKS = """import os, time
for _ in range(4):
    if os.fork() == 0:
        os.setsid()
        x = b'1' * 150_000_000
        time.sleep(60)
os.wait()"""


@pytest.mark.parametrize("source", [GREEDY.format(""), GREEDY.format(", start_new_session=True"), FORKS],
                         ids=["child", "detached", "fork"])
def test_memory_of_children_counts(source: str, tmp_path: Path) -> None:
    start = time.monotonic()
    with pytest.raises(RunError, match="cell 2 “c1”: it took more than 300 MB of memory"):
        run_notebook(notebook("1", source), tmp_path, bounds=Bounds(50, 300), fork=True)
    assert time.monotonic() - start < 40


def test_memory_of_children_counts_in_a_kernel(tmp_path: Path) -> None:
    try:
        with pytest.raises(RunError, match="took more than 300 MB of memory"):
            run_notebook(notebook(GREEDY.format("")), tmp_path, bounds=Bounds(50, 300), fork=False)
    finally:
        stop()


def test_memory_that_forks_share_counts_once(tmp_path: Path) -> None:
    source = ("import os, time\nx = b'1' * 150_000_000\nfor _ in range(6):\n    if os.fork() == 0:\n"
              "        time.sleep(1.5)\n        os._exit(0)\nfor _ in range(6): os.wait()\n'all well'")
    ran = run_notebook(notebook(source), tmp_path, bounds=Bounds(50, 400), fork=True)
    assert ran["cells"][0]["outputs"][0]["data"]["text/plain"] == ["'all well'"]


# -- the making of a pack --------------------------------------------------------------------------------------------
def part(kind: str) -> str:
    bounded("making its pack", 1, 100)
    if kind == "busy":
        while True:
            pass
    if kind == "greedy":
        found: Callable[[], bytes] | bytes = b"1" * 400_000_000
        time.sleep(30)
        return str(type(found))
    bounded("saying so", 60, 500)
    if kind == "slow elsewhere":
        time.sleep(2)
    return kind


def test_a_part_of_a_task_keeps_its_bounds() -> None:
    """And a machine that is busy with other things ends nothing: who sleeps takes no time of the processor."""
    found = dict(each(part, [("busy",), ("greedy",), ("well",), ("slow elsewhere",)], 2))
    assert found == {0: Lost("making its pack took longer than 1 s"), 2: "well", 3: "slow elsewhere",
                     1: Lost("making its pack took more than 100 MB of memory")}


@pytest.mark.parametrize(("bound", "words"), [("--seconds=1", "longer than 1 s"), ("--memory=150", "more than 150 MB")])
def test_the_making_of_a_pack_has_bounds(bound: str, words: str, tmp_path: Path) -> None:
    """Ten minutes of sound take more than both, and no part of a pack is left."""
    said = CliRunner().invoke(main, ["build", "--no-run", str(ROOT / "lessons" / "slack-water.ipynb"), "--audio", "wav",
                                     "--minutes", "10", "--out", str(tmp_path), bound])
    assert said.exit_code == 1
    assert f"slack-water.ipynb: making its pack took {words}" in said.output
    assert list(tmp_path.rglob("*.pdf")) == []
