"""Whatever a lesson takes from elsewhere makes its pack due when it changes, and nothing else does; run either way.

The four that were missed once: a file of equal size and time, a new file in a folder that was listed, a file that
appears later, a variable of the environment.
"""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from workbook.handouts.tracks import SILENT
from workbook.library import stamps as stamping
from workbook.library.library import build_library
from workbook.library.orders import How, Outcome, orders_for
from workbook.library.stamps import absolute, beside_of, stamps, unknown
from workbook.running.run import run_notebook

WAYS = pytest.mark.parametrize("fork", [True, False], ids=["fork", "kernel"])


def notebook(*sources: str) -> dict[str, Any]:
    cells: list[dict[str, Any]] = [{"cell_type": "markdown", "id": "title", "metadata": {}, "source": "# Low tide"}]
    cells += [{"cell_type": "code", "id": f"c{number}", "metadata": {}, "outputs": [], "execution_count": None,
               "source": source} for number, source in enumerate(sources)]
    return {"cells": cells, "metadata": {"vampbook": {"title": "Low tide"}}, "nbformat": 4, "nbformat_minor": 5}


def told(folder: Path, fork: bool, *sources: str) -> set[str]:
    found: set[str] = set()
    run_notebook(notebook(*sources), folder, fork=fork, reads=found)
    return found


# -- what is noted ---------------------------------------------------------------------------------------------------
@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A lesson's folder with things in it, and a folder elsewhere."""
    home = tmp_path / "home"
    for name in ("home/songs", "home/deep/er", "away/listed"):
        (tmp_path / name).mkdir(parents=True)
    for name in ("home/songs/a.txt", "home/read.txt", "home/deep/er/b.txt", "away/c.txt"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    with sqlite3.connect(home / "tunes.db") as base:
        base.execute("create table tune (name text)")
    base.close()
    return home


@WAYS
def test_a_search_for_packages_is_not_the_lessons_own(place: Path, fork: bool) -> None:
    """The kit looks up once in a process who draws: the first lesson would be told apart from the others."""
    found = told(place, fork, "import importlib.metadata\nimportlib.metadata.version('verovio')")
    assert {one for one in found if not one.startswith("variable")} == set()


@WAYS
def test_everything_that_can_be_noted_is(place: Path, fork: bool) -> None:
    away = place.parent / "away"
    source = f"""
import contextlib, glob, io, os, pathlib, sqlite3
open('read.txt').read(); pathlib.Path('deep/er/b.txt').read_bytes(); open(pathlib.Path({str(away)!r}) / 'c.txt').read()
glob.glob('songs/*.txt'); list(pathlib.Path({str(away)!r}, 'listed').iterdir()); list(os.walk('deep'))
glob.glob('nowhere/*.txt')
os.path.exists('coming-1.txt'); pathlib.Path('coming-2.txt').is_file(); os.access('coming-3.txt', os.R_OK)
with contextlib.suppress(OSError):
    os.stat('coming-4.txt')
with contextlib.suppress(OSError):
    open('coming-5.txt')
glob.glob('coming-6.txt')
os.getenv('MY_KEY'); os.environ.get('MY_TEMPO'); 'MY_FEEL' in os.environ
with contextlib.suppress(KeyError):
    os.environ['MY_BAND']
sqlite3.connect('tunes.db').close()
os.chdir('songs')
open('a.txt').read()
"""
    found = told(place, fork, source)
    wanted = {"file": ["read.txt", "deep/er/b.txt", f"{away}/c.txt", "coming-5.txt", "tunes.db", "songs/a.txt"],
              "folder": ["songs", f"{away}/listed", "deep", "deep/er", "nowhere"],
              "asked": [f"coming-{number}.txt" for number in (1, 2, 3, 4, 6)],
              "variable": ["MY_KEY", "MY_TEMPO", "MY_FEEL", "MY_BAND"]}
    assert {f"{kind} {json.dumps(name)}" for kind, names in wanted.items() for name in names} - found == set()
    assert not any(one.startswith("unknown") for one in found)


@WAYS
def test_a_lesson_of_ours_brings_no_noise(place: Path, fork: bool) -> None:
    """Nothing that differs from run to run, from terminal to terminal; no folder that modules were looked for in."""
    source = ("from workbook.kit import *\nimport matplotlib.pyplot as plt\nplt.plot([1, 2])\nplt.savefig('own.png')\n"
              "open('own.png', 'rb').read()\nopen('own.txt', 'w').write('mine')\nopen('own.txt').read()\n"
              "try:\n    import no_such_module\nexcept ImportError:\n    pass\nplot_neck('G dorian')")
    found = told(place, fork, source)
    assert {one for one in found if one.split(" ")[0] in ("file", "folder", "unknown")} == set()
    assert not {one for one in found if one.startswith("variable")} & {
        f'variable "{name}"' for name in ("TERM", "COLUMNS", "LINES", "MPLBACKEND", "*", "IPYKERNEL_CELL_NAME")}


STARTS = "import subprocess, sys\nsubprocess.run([sys.executable, '-c', ''])"
ASKS = "import socket\ntry:\n    socket.create_connection(('127.0.0.1', 9), 1)\nexcept OSError:\n    pass"


@pytest.mark.parametrize(("fork", "source", "words"), [
    (True, STARTS, ["another program"]),
    (True, "import os\nos.system('true')", ["another program"]),
    (True, "import os\nif (child := os.fork()) == 0:\n    os._exit(0)\nos.waitpid(child, 0)", ["another program"]),
    (True, ASKS, ["the network"]),
    (False, STARTS + "\n" + ASKS, ["another program", "the network"]),
], ids=["subprocess", "system", "fork", "network", "kernel"])
def test_what_cannot_be_watched_is_said(place: Path, fork: bool, source: str, words: list[str]) -> None:
    assert unknown(told(place, fork, source)) == words


def test_all_variables_looked_through(place: Path) -> None:
    assert 'variable "*"' in told(place, True, "import os\ndict(os.environ)")


@WAYS
def test_a_lesson_sees_the_functions_as_they_are(place: Path, fork: bool) -> None:
    """What stands in for them behaves alike: results, errors, keywords, bytes, numbers of open files."""
    source = """
import os, pathlib, shutil
assert os.stat('read.txt').st_size == 13 and os.stat(b'read.txt').st_size == 13
assert os.path.exists(pathlib.Path('read.txt')) and not os.path.exists('a\\0b')
with open('read.txt') as file:
    assert os.stat(file.fileno()).st_size == 13
assert os.stat in os.supports_fd and os.stat in os.supports_follow_symlinks
try:
    os.stat('nothing')
except FileNotFoundError as error:
    assert error.filename == 'nothing'
else:
    raise AssertionError
try:
    os.stat(None)
except TypeError:
    pass
os.environ['SET'] = '1'
assert os.getenv('SET') == '1' and os.environb[b'SET'] == b'1' and dict(os.environ)['SET'] == '1'
assert {**os.environ}['SET'] and os.environ.copy()['SET'] and len(os.environ) and os.environ.pop('SET') == '1'
shutil.copytree('songs', 'copied')
shutil.rmtree('copied')
"""
    told(place, fork, source)


def test_a_lesson_that_reads_very_much_is_due_each_time(place: Path) -> None:
    assert unknown(told(place, True, "import os\nfor number in range(20_001):\n    os.path.exists(f'x{number}')")) == [
        "very many files"]


# -- what a stamp tells ----------------------------------------------------------------------------------------------
def times(path: Path) -> tuple[int, int]:
    seen = path.stat()
    return seen.st_atime_ns, seen.st_mtime_ns


@pytest.mark.parametrize("size", [0, 10, 999_999, 1_000_000, 1_000_001, 3_000_000])
def test_a_file_of_equal_size_and_time_differs(tmp_path: Path, size: int) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"a" * size)
    told, then = [f"file {json.dumps(str(path))}"], times(path)
    before, beside = stamps(told), beside_of(tmp_path)
    assert stamps(told) == before
    for middle in {size // 2, max(0, size - 1)} if size else ():
        path.write_bytes(b"a" * middle + b"b" + b"a" * (size - middle - 1))
        os.utime(path, ns=then)
        assert path.stat().st_size == size
        assert stamps(told) != before
        assert beside_of(tmp_path) != beside
    path.write_bytes(b"a" * size)
    os.utime(path, ns=(then[0], then[1] + 5))
    assert (stamps(told) == before) == (size <= 1_000_000), "of a small file the content alone counts"


@pytest.mark.parametrize("place", [0, 65_535, 3_000_000 - 65_536, 3_000_000 - 1])
def test_both_ends_of_a_large_file_count(tmp_path: Path, place: int) -> None:
    """Where a system keeps no time of a change of entry, they and the times are all there is."""
    path = tmp_path / "a"
    path.write_bytes(b"a" * 3_000_000)
    before = stamping._of_file(str(path))[-1]
    path.write_bytes(b"a" * place + b"b" + b"a" * (3_000_000 - place - 1))
    assert stamping._of_file(str(path))[-1] != before


def test_each_kind_of_stamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each step changes the stamps named, and no others."""
    folder, path, link = tmp_path / "folder", tmp_path / "folder" / "a", tmp_path / "link"
    folder.mkdir()
    told = {"file": f"file {json.dumps(str(path))}", "folder": f"folder {json.dumps(str(folder))}",
            "asked": f"asked {json.dumps(str(path))}", "link": f"file {json.dumps(str(link))}",
            "variable": 'variable "MY_KEY"', "all": 'variable "*"'}

    def put_link() -> None:
        link.unlink(missing_ok=True)
        link.symlink_to(path)

    steps: list[tuple[Any, set[str]]] = [
        (lambda: path.write_text("1", encoding="utf-8"), {"file", "folder", "asked"}),
        (put_link, {"link"}),
        (lambda: path.write_text("2", encoding="utf-8") and os.utime(path, (5, 5)), {"file", "asked", "link"}),
        (lambda: (folder / "b").write_text("", encoding="utf-8"), {"folder"}),
        (lambda: (folder / "b").write_text("more", encoding="utf-8"), set()),
        (lambda: ((folder / "b").unlink(), (folder / "b").mkdir()), {"folder"}),
        (lambda: monkeypatch.setenv("MY_KEY", ""), {"variable", "all"}),
        (lambda: monkeypatch.setenv("MY_KEY", "A"), {"variable", "all"}),
        (lambda: monkeypatch.setenv("OTHER", "A"), {"all"}),
        (lambda: path.unlink(), {"file", "folder", "asked", "link"}),
        (lambda: path.mkdir(), {"file", "folder", "asked", "link"}),
    ]
    before = stamps(told.values())
    for step, wanted in steps:
        step()
        after = stamps(told.values())
        assert {name for name, one in told.items() if before[one] != after[one]} == wanted
        before = after
    monkeypatch.setenv("MY_KEY", "a secret word")
    assert "secret" not in json.dumps(stamps(told.values()))


def test_a_fifo_is_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert stamps([f"file {json.dumps(str(tmp_path / 'pipe'))}"])
    assert "pipe" not in beside_of(tmp_path)


def test_a_file_that_changed_while_its_lesson_ran_never_stands(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_text("1", encoding="utf-8")
    told, changed = [f"file {json.dumps(str(path))}"], path.stat().st_mtime_ns
    assert stamps(told, changed + 1) == stamps(told)
    assert stamps(told, changed) != stamps(told)


def test_many_files_beside_are_not_all_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beyond a bound size, times and ends tell; that is still enough to see a change."""
    monkeypatch.setattr(stamping, "BESIDE_BYTES", 10)
    for name in "abc":
        (tmp_path / name).write_text("12345", encoding="utf-8")
    before, then = beside_of(tmp_path), times(tmp_path / "c")
    (tmp_path / "c").write_text("12346", encoding="utf-8")
    os.utime(tmp_path / "c", ns=then)
    assert beside_of(tmp_path) != before
    assert stamping._of_file(str(tmp_path / "a")) in before
    assert stamping._of_file(str(tmp_path / "c")) not in beside_of(tmp_path)


def test_paths_travel_from_the_lessons_folder(tmp_path: Path) -> None:
    assert absolute('file "songs/a.txt"', tmp_path) == f'file "{tmp_path}/songs/a.txt"'
    assert absolute('folder "."', tmp_path) == f'folder "{tmp_path}"'
    assert absolute('asked "/else"', tmp_path) == 'asked "/else"'
    assert absolute('variable "HOME"', tmp_path) == 'variable "HOME"'


# -- whole builds ----------------------------------------------------------------------------------------------------
SOURCE = """
import contextlib, glob, os
print(open('deep/words.txt').read(), glob.glob('songs/*'), os.path.exists('songs/coming.txt'), os.getenv('MY_KEY'))
"""


def test_the_four_that_were_missed_make_a_pack_due(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    home = tmp_path / "lessons"
    for name in ("deep", "songs", "empty"):
        (home / name).mkdir(parents=True)
    words, beside = home / "deep" / "words.txt", home / "beside.txt"
    for path in (words, beside):
        path.write_text("first", encoding="utf-8")
    (home / "x.ipynb").write_text(json.dumps(notebook(SOURCE)), encoding="utf-8")

    def build() -> Outcome:
        orders = orders_for([home / "x.ipynb"], tmp_path / "out")
        (one,) = build_library(orders, How({"sound": SILENT}), jobs=1)
        assert not one.error, one.error
        assert not one.note
        return one

    def rewritten(path: Path) -> None:
        then = times(path)
        path.write_text("other", encoding="utf-8")
        os.utime(path, ns=then)

    steps = [lambda: rewritten(words), lambda: rewritten(beside),
             lambda: (home / "songs" / "new.txt").write_text("new", encoding="utf-8"),
             lambda: (home / "songs" / "coming.txt").write_text("new", encoding="utf-8"),
             lambda: monkeypatch.setenv("MY_KEY", "A"), lambda: monkeypatch.delenv("MY_KEY")]
    assert [build().unchanged, build().unchanged] == [False, True]
    for number, step in enumerate(steps):
        step()
        assert [build().unchanged, build().unchanged] == [False, True], number
    os.utime(words)
    (home / "empty" / "new.txt").write_text("new", encoding="utf-8")
    (home / "y.ipynb").write_text(json.dumps(notebook("1")), encoding="utf-8")
    assert build().unchanged, "a touch, a file that nobody listed and another lesson change nothing"


def test_a_lesson_that_starts_programs_is_built_anew_and_says_why(tmp_path: Path,
                                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    (tmp_path / "x.ipynb").write_text(json.dumps(notebook("import os\nos.system('true')")), encoding="utf-8")
    command = [sys.executable, "-c", "from workbook.cli import main; main()", "build", "--jobs", "1", "--out",
               str(tmp_path / "out"), str(tmp_path / "x.ipynb")]
    for _ in "12":
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert "it uses another program, which nobody can watch: it is built anew each time" in done.stderr
        assert "unchanged" not in done.stdout
