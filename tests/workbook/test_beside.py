"""A part of a worker's task made by a fork beside it: its value, or the worker's own where the fork has none."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import time
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT

from workbook.running.keeper import lives

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no fork here")
# A module that workers import by its name; each task gives (what it made, whether that was made elsewhere).
_TASKS = '''
import os, signal
from workbook.running.beside import beside
from workbook.running.workers import bounded

def half(how):
    me = os.getpid()
    bounded("it", 60, 200)
    def make():
        if os.getpid() != me:
            if how == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            if how == "greedy":
                bytearray(300_000_000)
            if how == "deaf":
                print("a word too many", flush=True)
        if how == "wrong":
            raise ValueError("no such half")
        return [how] * 200_000, os.getpid() != me
    made, elsewhere = beside(make)()
    return len(made), made[0], elsewhere

def left(how):
    forked = beside(lambda: (__import__("time").sleep(60), how))
    return [one.pid for one in __import__("psutil").Process().children()]
'''
# No guard about it, as in a script that somebody writes: a worker that loaded it would start workers of its own.
_SCRIPT = """
import sys
from workbook.running.workers import each
ways = sys.argv[1:]
made = [next(each("tasks:half", [(way,)], 9))[1] for way in ways]  # one by one: many load much
print({index: getattr(one, "why", one) for index, one in enumerate(made)})
print({index: made for index, made in each("tasks:half", [("busy",)], 1)})
print({index: made for index, made in each("tasks:left", [("left",)], 9)})
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> list[dict[int, Any]]:
    folder: Path = tmp_path_factory.mktemp("beside")
    (folder / "tasks.py").write_text(_TASKS)
    (folder / "script.py").write_text(textwrap.dedent(_SCRIPT))
    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(folder), str(ROOT)))}
    done = subprocess.run([sys.executable, "script.py", "good", "killed", "greedy", "deaf", "wrong"], cwd=folder,
                          env=env, capture_output=True, text=True, timeout=100)
    assert done.stderr == ""
    return [eval(line) for line in done.stdout.splitlines()]


def test_a_fork_makes_a_part_and_the_worker_what_its_fork_could_not(told: list[dict[int, Any]]) -> None:
    made = told[0]
    assert made[0] == (200_000, "good", True), "more than a pipe holds"
    assert made[1] == (200_000, "killed", False)
    if sys.platform == "linux":
        assert made[2] == (200_000, "greedy", False), "its memory is bounded as the worker's is"
    assert made[3] == (200_000, "deaf", True), "what it prints comes to nobody"
    assert made[4] == "ValueError: no such half"


def test_where_no_core_is_idle_nothing_is_forked(told: list[dict[int, Any]]) -> None:
    assert told[1] == {0: (200_000, "busy", False)}


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere it goes on to its end")
def test_a_fork_that_nobody_asks_ends_with_its_worker(told: list[dict[int, Any]]) -> None:
    (forked,) = told[2][0]
    until = time.monotonic() + 20  # it is killed when its worker ends; a busy machine may be late
    while lives(forked) and time.monotonic() < until:
        time.sleep(0.05)
    assert not lives(forked)
