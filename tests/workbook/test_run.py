"""Running a lesson: the same outputs in a fork, in a kernel and in nbval's judgement, and bounds that hold."""

from __future__ import annotations

import builtins
import gc
import json
import os
import subprocess
import sys
import time
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT

from workbook.checking.check import check_runs, difference
from workbook.lesson.lesson import Lesson
from workbook.running import forked
from workbook.running.bounds import Bounds
from workbook.running.kernel import stop
from workbook.running.reads import parts
from workbook.running.run import RunError, run_notebook
from workbook.running.shell import load
from workbook.running.workers import each

LESSONS = sorted((ROOT / "lessons").glob("*.ipynb"))
SHOWS = [  # each a cell: what kernels store in many ways
    "import sys\nprint('one')\nprint('two', end='')\nprint('three', file=sys.stderr)\nprint('four')",
    "from IPython.display import HTML, Markdown, clear_output, display\ndisplay(HTML('<b>1</b>'))\nMarkdown('*a*\\n*')",
    "print('gone')\nclear_output()\nprint('stays')\nclear_output(wait=True)\nprint('last')",
    "shown = display('first', display_id='x')\nshown.update('second')",
    "import matplotlib.pyplot as plt\nplt.plot([1, 2])\nplt.show()",
    "import asyncio\nawait asyncio.sleep(0.01)\n1 + 1",
    "x = 5;\nx;",
    "def f():\n    return 1 / 0\n\nf()",
    "from pathlib import Path\nPath('beside.txt').read_text(), __name__",
    "get_ipython().execution_count, _",
    "from fractions import Fraction\n{'a': Fraction(1, 3), 'b': [1, 2]}",
    "",
    "{'application/json': 1}",
    "from workbook.kit import *\nChart.parse('| Am7 | D7 |')",
    "%%time_is_not_a_magic\n1",
]


@pytest.fixture(scope="module", autouse=True)
def _prepared() -> Iterator[None]:
    """What cells need is loaded once for all forks, and a kernel started for the next run is the next test's."""
    load()
    yield
    stop()


def notebook(*cells: str, tags: dict[int, list[str]] | None = None) -> dict[str, Any]:
    code = [{"cell_type": "code", "id": f"c{number}", "metadata": {"tags": (tags or {}).get(number, [])}, "outputs": [],
             "source": source, "execution_count": None} for number, source in enumerate(cells)]
    return {"cells": code, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}


def by_kernel_rules(ran: dict[str, Any]) -> list[Any]:
    """Cells without what may differ: traceback wording, and the picture of a plot (its twin is its text)."""
    cells = json.loads(json.dumps(ran["cells"]))
    for cell in cells:
        cell["source"] = "".join(cell["source"])
        for output in cell["outputs"]:
            output.pop("traceback", None)
            output.get("data", {}).pop("image/png", None)
    return cells


def test_a_fork_and_a_kernel_store_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(builtins, "_", "what a prompt showed last", raising=False)  # as a fork may find it
    (tmp_path / "beside.txt").write_text("words", encoding="utf-8")
    wanted = notebook(*SHOWS, "1 / 0", tags={7: ["raises-exception"], 14: ["raises-exception"], 15: ["skip-execution"]})
    wanted["cells"][15]["outputs"] = [{"output_type": "stream", "name": "stdout", "text": ["as it was\n"]}]
    forked = run_notebook(wanted, tmp_path, fork=True)
    for _ in range(2):  # the second time in a kernel that was started beforehand
        assert by_kernel_rules(run_notebook(wanted, tmp_path, fork=False)) == by_kernel_rules(forked)
    ((_, worked),) = each(run_notebook, [(wanted, tmp_path)])  # by a server that has imported a lot
    assert by_kernel_rules(worked) == by_kernel_rules(forked)
    assert "<Figure size 640x480 with 1 Axes>" in str(forked["cells"][4]["outputs"])
    assert forked["cells"][0]["outputs"][0]["text"] == ["one\n", "twofour\n"]
    assert "ZeroDivisionError" in str(forked["cells"][7]["outputs"])
    assert "application/vnd.vampbook" not in str(forked["cells"][12]["outputs"])


def test_what_a_lesson_reads_is_known_by_both_ways(tmp_path: Path) -> None:
    """And each lesson has its own module, not the one of that name from another folder."""
    ran: dict[bool, list[set[str]]] = {True: [], False: []}
    for fork in (True, False):
        for place, large in (("one", ", music21"), ("two", "")):
            folder = tmp_path / place
            folder.mkdir(exist_ok=True)
            (folder / "helping.py").write_text(f"place = {place!r}\n", encoding="utf-8")
            (folder / "words.txt").write_text(place, encoding="utf-8")
            reads: set[str] = set()
            done = run_notebook(notebook("import helping, os\nhelping.place",
                                       "with open('words.txt') as file: print(file.read())",
                                       "os.path.exists('asked.txt')\nopen('made.txt', 'w').close()",
                                       "try: open('no\\0file')\nexcept ValueError: pass",
                                       f"import matplotlib.pyplot{large}\nos.chdir('/')\nprint = None"),
                              folder, fork=fork, reads=reads)
            shown = [json.dumps(cell["outputs"]) for cell in done["cells"]]
            assert f"'{place}'" in shown[0]
            assert place in shown[1]
            ran[fork].append({one for one in reads if not os.path.isabs(parts(one)[1]) and "variable" not in one})
    assert ran[True] == ran[False] == [{'file "helping.py"', 'file "words.txt"', 'asked "asked.txt"'}] * 2


def test_lessons_give_their_records_by_both_ways() -> None:
    """The kernel is ipykernel with nbclient, the makers' own way to run a notebook."""
    for path in LESSONS if os.environ.get("VAMPBOOK_EXPLORE") else LESSONS[::8]:
        recorded = Lesson.read(path).notebook
        for fork in (True, False):
            assert run_notebook(recorded, path.parent, fork=fork) == recorded, (path.name, fork)


OVERRUNS = {
    "loops for ever": ("while True: pass", "ran longer than 1.5 s"),
    "waits for another process": ("import subprocess\nsubprocess.run(['sleep', '99'])", "ran longer than 1.5 s"),
    "eats memory": ("found = []\nwhile True: found.append(bytearray(1_000_000))", "memory"),
    "eats memory by numpy": ("import numpy\nfound = [numpy.ones(9_000_000) for _ in range(99)]", "memory"),
    "prints 100 MB": ("print('x' * 100_000_000)", "more than 4 MB"),
    "prints for ever": ("while True: print('again ' * 99)", "more than 4 MB"),
    "shows 100 MB": ("'x' * 100_000_000", "more than 4 MB"),
    "ends its process": ("import os\nos._exit(0)", "process died"),
    "kills its process": ("import os\nos.kill(os.getpid(), 9)", "process died"),
    "asks": ("input()", "EOFError"),
    "raises": ("1\n1 / 0", "line 2: ZeroDivisionError"),
}


@pytest.mark.parametrize("name", OVERRUNS)
def test_bounds_hold_and_name_the_cell(name: str, tmp_path: Path) -> None:
    source, words = OVERRUNS[name]
    start = time.monotonic()
    bounds = Bounds(1.5 if "1.5 s" in words else 60, 300, 4)
    with pytest.raises(RunError) as caught:
        run_notebook(notebook("1", "2", source), tmp_path, bounds=bounds, fork=True)
    assert "cell 3 “c2”" in str(caught.value)
    assert words.lower() in str(caught.value).lower()
    assert time.monotonic() - start < 40
    assert run_notebook(notebook("40 + 2"), tmp_path)["cells"][0]["outputs"][0]["data"]["text/plain"] == ["42"]


def test_a_slow_start_is_not_counted_against_the_first_cell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a machine with much to do; a start that does not end is said to be one."""
    real = forked._in_child

    def slowly(*given: Any) -> None:
        time.sleep(1.8)
        real(*given)

    monkeypatch.setattr(forked, "_in_child", slowly)
    bounds = Bounds(1.2, 300, 4)
    assert run_notebook(notebook("40 + 2"), tmp_path, bounds=bounds, fork=True)["cells"][0]["outputs"]
    with pytest.raises(RunError, match=r"cell 2 “c1”: it ran longer than 1\.2 s"):
        run_notebook(notebook("1", "while True: pass"), tmp_path, bounds=bounds, fork=True)
    monkeypatch.setattr(forked, "_START_SECONDS", 0.3)
    with pytest.raises(RunError, match=r"its first cell did not begin within 0\.3 s"):
        run_notebook(notebook("40 + 2"), tmp_path, bounds=bounds, fork=True)


def test_a_fork_ends_nothing_that_was_left_behind(tmp_path: Path) -> None:
    """Such as a connection, whose end waits for a thread that the fork does not have."""
    class Left:
        def __init__(self) -> None:
            self.circle = self

        def __del__(self) -> None:
            (tmp_path / str(os.getpid())).touch()

    gc.disable()
    try:
        Left()
        ran = run_notebook(notebook("import gc\ngc.collect()\n40 + 2"), tmp_path, fork=True)
        assert ran["cells"][0]["outputs"][0]["data"]["text/plain"] == ["42"]
        assert not any(path.name.isdigit() for path in tmp_path.iterdir())
    finally:
        gc.enable()
    gc.collect()
    assert (tmp_path / str(os.getpid())).exists()


def test_bounds_hold_in_a_kernel(tmp_path: Path) -> None:
    """One after the other: that the third cell is named says that the kernel after the last overrun ran two."""
    for name in ("loops for ever", "eats memory", "prints for ever", "kills its process", "raises"):
        source, words = OVERRUNS[name]
        bounds = Bounds(2.5 if "longer" in words else 60, 300 if words == "memory" else 2000, 4)
        with pytest.raises(RunError) as caught:
            run_notebook(notebook("1", "2", source), tmp_path, bounds=bounds, fork=False)
        assert "cell 3 “c2”" in str(caught.value), name
        assert words.replace("process died", "kernel died").replace("1.5 s", "2.5 s") in str(caught.value), name
    ran = run_notebook(notebook("40 + 2"), tmp_path, fork=False)
    assert ran["cells"][0]["outputs"][0]["data"]["text/plain"] == ["42"]


def test_the_time_of_a_fork_is_that_of_all_its_cells() -> None:
    clock = forked._Clock(Bounds(60, 300, 4))
    clock.begin()
    deadline = clock.deadline
    clock.begin()  # the second cell
    assert clock.deadline == deadline
    assert clock.passed() == ""
    clock.deadline = 0.0
    assert "ran longer than 60 s" in clock.passed()


@pytest.mark.parametrize("fork", [True, False])
def test_nothing_of_one_lesson_reaches_the_next(fork: bool, tmp_path: Path) -> None:
    """Nor whom it is read by: the next student's lesson would show it."""
    setting = """import builtins, fractions, matplotlib, os
from workbook.reader import for_reader
os.environ["MARK"], builtins.mark, fractions.Fraction.mark = "1", 1, 1
matplotlib.rcParams["lines.linewidth"] = 9
for_reader(tempos=(60, 80))
os.chdir("/")"""
    told = """import builtins, fractions, matplotlib, os, workbook.reader
marks = "MARK" in os.environ, hasattr(builtins, "mark"), hasattr(fractions.Fraction, "mark")
(*marks, matplotlib.rcParams["lines.linewidth"], workbook.reader.reader().tempos)"""
    run_notebook(notebook(setting), tmp_path, fork=fork)
    assert "MARK" not in os.environ
    for _ in range(2):
        ran = run_notebook(notebook(told), tmp_path, fork=fork)
        assert ran["cells"][0]["outputs"][0]["data"]["text/plain"] == ["(False, False, False, 1.5, None)"]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(RunError, match="there is no folder"):
        run_notebook(notebook("1"), tmp_path / "gone")


# What nbval (BSD-3) passes and what it fails, each a recorded cell that is run again.
JUDGED: dict[str, tuple[str, str, list[str]]] = {  # name: source recorded, source run again, tags
    "the same": ("1", "1", []), "another value": ("1", "2", []), "another stream": ("print(1)", "print(2)", []),
    "less": ("print(1)\n1", "1", []), "more": ("1", "print(1)\n1", []), "none left": ("1", "x = 1", []),
    "streams in another order": ("import sys\nprint(1)\nprint(2, file=sys.stderr)",
                                 "import sys\nprint(2, file=sys.stderr)\nprint(1)", []),
    "ignored by tag": ("1", "2", ["nbval-ignore-output"]), "ignored by comment": ("1", "# NBVAL_IGNORE_OUTPUT\n2", []),
    "skipped": ("1", "1 / 0", ["nbval-skip"]), "allowed to raise": ("1 / 0", "1 / 0", ["raises-exception"]),
    "raises another": ("1 / 0", "int('x')", ["raises-exception"]), "raises": ("1", "1 / 0", []),
    "other metadata only": ("from IPython.display import display\ndisplay('a', metadata={'b': 1})",
                            "from IPython.display import display\ndisplay('a', metadata={'b': 2})", []),
    "a picture, never compared": ("from IPython.display import Image\nImage(b'\\x89PNG\\r\\n\\x1a\\n1234567')",
                                  "from IPython.display import Image\nImage(b'\\x89PNG\\r\\n\\x1a\\n7654321')", []),
}


def test_we_judge_as_nbval_does(tmp_path: Path) -> None:
    runs = {number: [tag for tag in tags if tag != "nbval-skip"]
            for number, (_, _, tags) in enumerate(JUDGED.values())}
    together = run_notebook(notebook(*(recorded for recorded, _, _ in JUDGED.values()), tags=runs), tmp_path, fork=True)
    for cell, (_, again, tags) in zip(together["cells"], JUDGED.values(), strict=True):
        cell["source"], cell["metadata"]["tags"] = again, tags
    ours = {}
    stops = {"raises"}  # our run ends there, nbval's goes on: it is a lesson of its own
    for part in (JUDGED.keys() - stops, stops):
        names = [name for name in JUDGED if name in part]
        cells = [cell for name, cell in zip(JUDGED, together["cells"], strict=True) if name in part]
        path = tmp_path / "judged.json"
        path.write_text(json.dumps({**together, "cells": cells}), encoding="utf-8")
        found = [one.cell for one in check_runs(Lesson.read(path))]
        assert all(found)
        ours |= {name: number in found for number, name in enumerate(names, 1)}
    (tmp_path / "together.ipynb").write_text(json.dumps(together), encoding="utf-8")
    (tmp_path / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    report = tmp_path / "report.xml"
    subprocess.run([sys.executable, "-m", "pytest", "--nbval", "--nbval-current-env", "-q", "-p", "no:cacheprovider",
                    f"--junitxml={report}", "together.ipynb"], cwd=tmp_path, check=False, stdout=subprocess.DEVNULL)
    theirs = [case.find("failure") is not None for case in ElementTree.parse(report).iter("testcase")]
    assert {name: ours[name] for name in JUDGED} == dict(zip(JUDGED, theirs, strict=True))
    assert set(ours.values()) == {True, False}


def test_a_difference_says_both_sides() -> None:
    def text(words: str) -> list[dict[str, Any]]:
        return [{"output_type": "execute_result", "metadata": {}, "execution_count": 1, "data": {"text/plain": words}}]

    assert difference(text("a\nb"), text("a\nc")).endswith("recorded “c”, now “b”")
    assert difference(text("a"), text("a")) == ""
