"""Lessons that harm: each is stopped or ends by itself, is named, and leaves the process that ran it as it was."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
import time
from pathlib import Path
from typing import Any

import psutil
import pytest

from workbook.running.bounds import Bounds
from workbook.running.kernel import stop
from workbook.running.run import RunError, run_notebook
from workbook.running.workers import each

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="these lessons fork")
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SECONDS = (1.0, 5.0, 25.0)  # from the beginning of the first cell: more where a busy machine needs them for that one
# name: a cell, and what is said of it (empty: it ends well).
HARM = {
    "endless loop": ("while True: pass", "ran longer"),
    "deaf loop": ("import signal\nfor one in set(signal.Signals) - {9, 19}: signal.signal(one, 1)\nwhile True: pass",
                  "ran longer"),
    "one long step in C": ("10 ** (10 ** 9)", "ran longer"),
    "output": ("while True: print('x' * 1_000_000)", "shows more than 4 MB"),
    "one big value": ("'x' * 100_000_000", "shows more than 4 MB"),
    "output below Python": ("import os\nfor _ in range(100): os.write(1, b'x' * 1_000_000)", ""),
    "leaves": ("import os\nos._exit(0)", "process died"),
    # A crash that says nothing: the one who runs the tests may have asked for a trace of every crash.
    "crashes": ("import ctypes, faulthandler\nfaulthandler.disable()\nctypes.string_at(0)", "process died"),
    "kills its parent": ("import os, time\nos.kill(os.getppid(), 9)\ntime.sleep(9)", "process died"),
    "stops its parent": ("import os, time\nos.kill(os.getppid(), 19)\nwhile True: time.sleep(1)", "ran longer"),
    "kills its group": ("import os\nos.killpg(0, 9)", "process died"),
    "goes elsewhere": ("import os, shutil, tempfile\nplace = tempfile.mkdtemp()\nos.chdir(place)\nos.rmdir(place)", ""),
    "closes its output": ("import sys\nsys.stdout.close()\nsys.stderr = None\nsys.stdin = None\nprint('x')", ""),
    "deep recursion": ("def f(): return f()\nf()", "RecursionError"),
    "endless recursion": ("import sys\nsys.setrecursionlimit(10 ** 9)\ndef f(): return f()\nf()", ""),
    "threads left over": (("from threading import Thread\nimport time\nfor _ in range(50):\n"
                           "    Thread(target=time.sleep, args=(99,)).start()"), ""),
    "closes all files": ("import os\nos.closerange(0, 4096)", "process died"),
    "writes to all files": (("import os\nfor number in range(3, 64):\n    try: os.write(number, b'{}\\nnonsense\\n')\n"
                             "    except OSError: pass"), "makes no sense"),
    "empties sys.modules": ("import sys\nsys.modules.clear()", ""),
    "breaks builtins": (("import builtins, json, os\nbuiltins.open = builtins.print = builtins.len = None\n"
                         "json.dumps = os.write = None"), ""),
    "forks and forks": ("import os, time\nfor _ in range(5):\n    os.fork()\ntime.sleep(99)", "ran longer"),
    "exits by an exception": ("raise SystemExit(0)", ""),
    "memory": ("found = []\nwhile True: found.append(bytearray(10_000_000))", "emory"),
    "an exception that cannot be shown": ("class Odd(Exception):\n    def __str__(self): raise self\nraise Odd", ""),
    "a value that never ends": ("class Odd:\n    def __repr__(self):\n        while True: pass\nOdd()", "ran longer"),
    "runs when it ends": ("import atexit\n@atexit.register\ndef wait():\n    while True: pass", ""),
    "an alarm": ("import signal\nsignal.alarm(1)\nwhile True: pass", "process died"),
    "awaits for ever": ("import asyncio\nawait asyncio.sleep(999)", "ran longer"),
}
# tests/workbook/test_run.py has others of these kinds, in quick.
LATER = {"deaf loop", "output", "one big value", "leaves", "deep recursion", "endless recursion", "awaits for ever",
         "memory", "a value that never ends"}
APART = "writes to all files"  # among which are those by which this process talks with the one that collects results
SOME = [name for name in HARM if (EXPLORE or name not in LATER) and name != APART]


def notebook(*cells: str) -> dict[str, Any]:
    code = [{"cell_type": "code", "id": f"c{number}", "metadata": {}, "outputs": [], "source": source,
             "execution_count": None} for number, source in enumerate(cells)]
    return {"cells": code, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}


def ended(lesson: dict[str, Any], folder: Path, bounds: Bounds, fork: bool) -> str:
    """What is said of a lesson; empty when it ran to its end."""
    try:
        run_notebook(lesson, folder, bounds=bounds, fork=fork)
    except RunError as error:
        return str(error)
    return ""


def state() -> dict[str, Any]:
    """What a lesson must not change in the process that runs it."""
    handlers = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGCHLD, signal.SIGALRM)]
    files = len(os.listdir("/proc/self/fd")) if Path("/proc/self/fd").exists() else 0
    return {"folder": os.getcwd(), "handlers": handlers, "files": files, "path": list(sys.path), "open": open,
            "threads": threading.active_count(), "stdout": sys.stdout, "modules": len(sys.modules) > 100,
            "below": {one.pid for one in psutil.Process().children(recursive=True)}}


@pytest.mark.parametrize("name", SOME)
def test_a_hostile_lesson_is_contained(name: str, tmp_path: Path) -> None:
    source, words = HARM[name]
    run_notebook(notebook("1"), tmp_path, fork=True)  # what is loaded once is loaded
    before = state()
    for seconds in SECONDS if words in ("ran longer", "") else (60,):
        start = time.monotonic()
        said = ended(notebook("40 + 2", source), tmp_path, Bounds(seconds, 300, 4), True)
        assert time.monotonic() - start < seconds + 30
        assert state() == before
        if "cell 1 “c0”" not in said:  # it came to the second, which harms
            break
    assert (words in said and "cell 2 “c1”" in said) or not words
    assert run_notebook(notebook("40 + 2"), tmp_path)["cells"][0]["outputs"][0]["data"]["text/plain"] == ["42"]


def test_a_lesson_that_writes_to_all_files_is_contained(tmp_path: Path) -> None:
    """In a worker of ours, which has no file that another program reads."""
    source, words = HARM[APART]
    tasks = [(notebook("40 + 2", source), tmp_path, Bounds(60, 300, 4), True),
             (notebook("40 + 2"), tmp_path, Bounds(60), True)]
    found = dict(each(ended, tasks, 1))
    assert words in found[0]
    assert "cell 2 “c1”" in found[0]
    assert found[1] == ""


def test_a_lesson_cannot_speak_for_its_worker(tmp_path: Path) -> None:
    """It finds every open file; a text that a pipe between processes takes for a value would run in who reads it."""
    evil = pickle.dumps(Evil(str(tmp_path / "ran")))
    said = len(evil).to_bytes(4, "big") + evil  # as multiprocessing.connection frames what it sends
    source = f"import os\nfor one in range(3, 99):\n    try: os.write(one, {said!r})\n    except OSError: pass\n1 / 0"
    found = dict(each(ended, [(notebook("40 + 2", source), tmp_path, Bounds(30), True)] * 2, 2))
    assert all("makes no sense" in found[number] for number in (0, 1)), found
    assert dict(each(ended, [(notebook("40 + 2"), tmp_path, Bounds(30), True)])) == {0: ""}, "the server lives"
    assert not (tmp_path / "ran").exists()


class Evil:
    """A value that is a file when it is read."""

    def __init__(self, path: str) -> None:
        self.path = path

    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, (self.path,)


@pytest.mark.skipif(not EXPLORE, reason="a kernel for each lesson takes minutes; set VAMPBOOK_EXPLORE=1")
@pytest.mark.parametrize("name", [name for name in HARM if not name.endswith("its parent")])  # which is this process
def test_a_hostile_lesson_is_contained_in_a_kernel(name: str, tmp_path: Path) -> None:
    before = {one.pid for one in psutil.Process().children(recursive=True)}
    said = ended(notebook("40 + 2", HARM[name][0]), tmp_path, Bounds(9, 300, 4), False)
    stop()
    assert not said or "cell" in said
    assert {one.pid for one in psutil.Process().children(recursive=True)} <= before
