"""Modules beside the lessons: ours are never taken from there, and the lesson's own only when it runs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from support.lab import EXPLORE, ROOT
from support.short import short_lesson

from workbook.checking.pairing import pair
from workbook.running.apart import apart, leave_folder

# What our processes import, by name: the standard library but for what is built in, and the packages that we use.
PACKAGES = ("IPython", "asttokens", "attr", "click", "comm", "cycler", "dateutil", "decorator", "executing",
            "fastjsonschema",
            "ipykernel", "ipykernel_launcher", "ipywidgets", "jedi", "jsonschema", "jupyter_client", "jupyter_core",
            "jupytext", "lxml", "matplotlib", "matplotlib_inline", "midirenderer", "mido", "mistune", "nbclient",
            "nbconvert", "nbformat", "nest_asyncio", "numpy", "packaging", "pexpect", "PIL", "platformdirs",
            "prompt_toolkit", "psutil", "pure_eval", "pygments", "pyloudnorm", "pyparsing", "pytz", "rich", "scipy",
            "sitecustomize", "six", "soundfile", "stack_data", "theorylib", "tornado", "traitlets", "typst",
            "usercustomize", "verovio", "wcwidth", "workbook", "yaml", "zmq")
NAMES = sorted((sys.stdlib_module_names | set(PACKAGES)) - set(sys.builtin_module_names) - {"__main__"})
COURSE = 'title = "Tides"\n\n[[level]]\nname = "all"\nlessons = ["low"]\n'
DRIVER = """
import os, sys
from workbook.cli import main
from workbook.running import workers
if __name__ == "__main__":
    if sys.argv[1] == "spawn":
        import multiprocessing
        workers._context = lambda *_: (multiprocessing.get_context("spawn"), False)
    for words in {commands!r}:
        try:
            main(words, standalone_mode=False)
        except SystemExit as ended:
            assert not ended.code, words
        print(words[0], "done", *sorted({{name for name in os.listdir({witnesses!r})}}), flush=True)
"""


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder with a lesson and a module of each name beside it, which notes that it was imported and by whom."""
    assert len(NAMES) > 200
    folder, witnesses = tmp_path / "lessons", tmp_path / "witnesses"
    folder.mkdir()
    witnesses.mkdir()
    for name in NAMES:
        (folder / f"{name}.py").write_text(f"open({str(witnesses / name)!r}, 'a').close()\n", encoding="utf-8")
    whole = (ROOT / "lessons" / "slack-water.ipynb").read_text(encoding="utf-8")
    (folder / "low.ipynb").write_text(whole if EXPLORE else short_lesson(), encoding="utf-8")
    (folder / "course.toml").write_text(COURSE, encoding="utf-8")
    return folder


def drive(place: Path, way: str, *commands: list[str]) -> str:
    """The commands in one process that began in the folder, from a script that lies elsewhere; what was imported."""
    script = place.parent / "elsewhere" / "driver.py"
    script.parent.mkdir(exist_ok=True)
    script.write_text(DRIVER.format(commands=commands, witnesses=str(place.parent / "witnesses")), encoding="utf-8")
    done = subprocess.run([sys.executable, str(script), way], cwd=place, capture_output=True, text=True, check=False,
                          env={**os.environ, "VAMPBOOK_CACHE": str(place.parent / "cache")}, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr
    assert [line.split()[0] for line in done.stdout.splitlines() if " done" in line] == [one[0] for one in commands]
    return " ".join(sorted(path.name for path in (place.parent / "witnesses").iterdir())) or "nothing"


UNRUN = (["check", "--no-run", "."],
         ["build", "--no-run", ".", "--out", "../out", "--jobs", "1"],
         ["course", "--no-run", ".", "--out", "../out", "--jobs", "2"],
         ["new", "Low", "--changes", "| Gm7 | C9 |", "--no-run", "--folder", "../new"])


@pytest.mark.parametrize("way", ["forkserver", "spawn"])  # the second is what Windows has
def test_without_a_run_nothing_there_is_imported(way: str, place: Path) -> None:
    assert drive(place, way, *(UNRUN if way == "forkserver" else UNRUN[:1])) == "nothing"


def test_an_innocent_module_stops_no_run(place: Path) -> None:
    """Asked to run, lessons import what they themselves name, and no module of ours comes from their folder."""
    notebook = json.loads((place / "low.ipynb").read_text(encoding="utf-8"))
    notebook["cells"][-1:] = [{"cell_type": "code", "id": "own", "metadata": {}, "outputs": [], "execution_count": None,
                               "source": "import helping, random\nrandom.random() < 1, helping.mine"}]
    (place / "own.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    (place / "helping.py").write_text("mine = 'this one'\n", encoding="utf-8")
    commands = (["build", "own.ipynb", "--out", "../out"], ["check", "low.ipynb"], ["pair", "low.ipynb"],
                ["personal", "low.ipynb", "--name", "Ada", "--key", "A", "--out", "../out"],
                ["new", "Low", "--changes", "| Gm7 | C9 |", "--folder", "."])
    assert drive(place, "forkserver", *commands) == "nothing"
    assert (place.parent / "out" / "own" / "handout.pdf").exists()


KERNEL = """
import sys, threading
from pathlib import Path
from workbook.running.kernel import stop
from workbook.running.run import run_notebook
cells = [{{"cell_type": "code", "id": f"c{{number}}", "metadata": {{"tags": ["raises-exception"]}}, "outputs": [],
           "source": source, "execution_count": None}} for number, source in enumerate({cells!r})]
book = {{"cells": cells, "metadata": {{}}, "nbformat": 4, "nbformat_minor": 5}}
for _ in range({times}):
    ran = run_notebook(book, Path({folder!r}), fork={fork})
    for cell in ran["cells"]:
        for output in cell["outputs"]:
            print((output.get("ename") or "".join(output.get("text") or output["data"]["text/plain"])).strip())
stop()
"""


@pytest.mark.parametrize("fork", [True, False])
def test_both_ways_to_run_see_the_folder_alike(fork: bool, place: Path) -> None:
    """The folder stands after the standard library, as in IPython; what is loaded already is not imported again."""
    (place / "helping.py").write_text("from colorsys import rgb_to_hsv as x\nmine = x.__module__\n", encoding="utf-8")
    cells = ["import helping, sys, os\nprint(helping.mine, os.path.basename(helping.__file__))",
             "print(sys.path.index('') > sys.path.index(os.path.dirname(os.__file__)))",
             "print(os.environ.get('PYTHONSAFEPATH'), os.getcwd() == os.path.realpath(os.getcwd()))",
             "1 / 0", "from workbook.kit import *\nChart.parse('| Gm7 |').title", "import tinyown"]
    (place / "tinyown.py").write_text("print('mine too')\n", encoding="utf-8")
    script = place.parent / "elsewhere.py"
    times = 1 if fork else 2
    script.write_text(KERNEL.format(cells=cells, folder=str(place), fork=fork, times=times), encoding="utf-8")
    done = subprocess.run([sys.executable, str(script)], cwd=place, capture_output=True, text=True, check=False,
                          timeout=200)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == ["colorsys helping.py", "True", "None True", "ZeroDivisionError", "''",
                                        "mine too"] * times
    assert list((place.parent / "witnesses").iterdir()) == []


def test_settings_that_are_a_program_are_not_run(place: Path) -> None:
    """Jupytext would run a .jupytext.py from any folder above the lesson (its documentation, “configuration”)."""
    (place.parent / ".jupytext.py").write_text("open('ran', 'w')\n", encoding="utf-8")
    pair(place / "low.ipynb")
    with (place / "low.py").open("a", encoding="utf-8") as text:
        text.write("\n# %%\n1 + 1\n")
    pair(place / "low.ipynb")
    assert not list(place.parent.rglob("ran"))


# -- the path itself -------------------------------------------------------------------------------------------------
def test_the_path_is_as_it_was_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    before: list[Any] = ["", *sys.path]
    monkeypatch.setattr(sys, "path", before)
    monkeypatch.delenv("PYTHONSAFEPATH", raising=False)
    with apart():
        assert "" not in sys.path
        assert os.environ["PYTHONSAFEPATH"] == "1"
    assert sys.path is before
    assert "PYTHONSAFEPATH" not in os.environ
    monkeypatch.setenv("PYTHONSAFEPATH", "mine")
    with apart():
        pass
    assert os.environ["PYTHONSAFEPATH"] == "mine"


@pytest.mark.parametrize(("first", "asked", "left"), [("", "", False), ("HERE", "", False), ("HERE", "HERE", True),
                                                      ("/elsewhere", "", True)])
def test_only_what_python_put_there_goes(first: str, asked: str, left: bool, tmp_path: Path,
                                         monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", asked.replace("HERE", str(tmp_path)))
    monkeypatch.setattr(sys, "path", [first.replace("HERE", str(tmp_path)), "/lib"])
    leave_folder()
    assert (len(sys.path) == 2) == left
