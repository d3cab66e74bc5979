"""Broken notebooks: each way through the program takes or refuses them in our own words, with file, cell and field.

Real lessons with one place changed are checked, built, moved and paired; what is no plain file is refused at once.
"""

from __future__ import annotations

import json
import os
import re
import signal
import socket
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner
from support.lab import ROOT
from support.mutations import Place, broken
from support.short import short_lesson

from theorylib.errors import VampError
from workbook.checking.check import check_lesson
from workbook.cli import main
from workbook.handouts.pack import BRIEF
from workbook.handouts.tracks import Sound
from workbook.lesson.door import LessonError, checked
from workbook.lesson.facts import facts_of
from workbook.lesson.lesson import Lesson
from workbook.library.making import make
from workbook.library.moving import Target, hand_shifts, moved
from workbook.library.orders import How, Order, orders_in_keys
from workbook.library.records import _record, remembered, standing

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
COUNT = 1800 if EXPLORE else 160
SEED = os.environ.get("VAMPBOOK_SEED", "1")
LESSONS = ("", *(("slack-water", "copper-kettle", "lantern-stairs", "chain-ferry") if EXPLORE else ()))
HOW = How({"sound": Sound(minutes=0.1), "paging": BRIEF}, run=False, keep=True)


def stored(name: str = "") -> dict[str, Any]:
    """A lesson of ours; without a name the short one, which has each kind of cell and output once."""
    return json.loads((ROOT / "lessons" / f"{name}.ipynb").read_text(encoding="utf-8") if name else short_lesson())


def written(folder: Path, notebook: Any, name: str = "lesson") -> Path:
    path = folder / f"{name}.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


def refusals(path: Path, notebook: Any) -> tuple[list[str], str]:
    """What each way through the program says of a notebook, and why no pack of it is built (empty where one is)."""
    said = [str(one) for one in check_lesson(path, run=False).findings if not one.offer]
    error = ""
    if said:  # else the check has built its pack already
        error = make(Order(path, path.parent / "out"), HOW).error
        said += [error] if error else []
    else:
        facts_of(Lesson.read(path))
    said += [order.refused for order in orders_in_keys([path], path.parent, ["all"], "") if order.refused]
    target = Target(key="A", tuning="drop D", tempos=(60, 80))
    with suppress(VampError):
        ours = checked(notebook)
        moved(ours, target, hand_shifts(ours, target)[0])
    return said, error


def cell_of(place: Place) -> str:
    """How a refusal names the cell in which a place lies; empty for one outside, or for a whole cell."""
    return f"cell {place[1] + 1}" if place[0] == "cells" and len(place) > 2 else ""


@pytest.mark.parametrize("part", range(4))
def test_only_our_own_errors_come_out_of_broken_notebooks(part: int, tmp_path: Path) -> None:
    chance = Random(f"{SEED} {part}")
    lessons = [stored(name) for name in LESSONS]
    refused = 0
    for number in range(COUNT // 4):
        notebook, place = broken(chance.choice(lessons), chance)
        path = written(tmp_path, notebook)
        try:
            said, error = refusals(path, notebook)
        except Exception as fault:
            raise AssertionError(f"{type(fault).__name__}: {fault} at {place} (number {number})") from fault
        assert all("lesson.ipynb" in words for words in said), (place, said)
        if error and cell_of(place):
            assert any(re.search(rf"{cell_of(place)}\b", words) for words in said), (place, said)
        refused += bool(error)
    assert COUNT // 20 < refused < COUNT // 4  # some are refused, some are not


# -- planted faults: what the refusal says ---------------------------------------------------------------------------
def at(notebook: Any, *keys: Any) -> Callable[[Any], None]:
    def put(value: Any) -> None:
        holder = notebook
        for key in keys[:-1]:
            holder = holder[key]
        holder[keys[-1]] = value
    return put


def drawn(notebook: dict[str, Any]) -> int:
    """The number from 0 of the first cell with a figure."""
    return next(number for number, cell in enumerate(notebook["cells"])
                if any("image/svg+xml" in output.get("data", {}) for output in cell.get("outputs", ())))


FIGURE = drawn(stored())
SHAPES: dict[str, tuple[tuple[Any, ...], Any, tuple[str, ...]]] = {
    "no metadata": (("metadata",), None, ("metadata", "an object")),
    "an old format": (("nbformat",), 3, ("format 3",)),
    "a format to come": (("nbformat",), 5, ("format 5",)),
    "a format that is true": (("nbformat",), True, ("format true",)),
    "a minor format in words": (("nbformat_minor",), "five", ("nbformat_minor",)),
    "cells of no list": (("cells",), {}, ("not a notebook",)),
    "a cell that is none": (("cells", 1), "x", ("cell 2", "an object")),
    "a kind of cell nobody knows": (("cells", 1, "cell_type"), "heading", ("cell 2, cell_type", "markdown")),
    "a source of numbers": (("cells", 1, "source"), [1], ("cell 2, source", "lines")),
    "tags in one text": (("cells", 1, "metadata", "tags"), "answer", ("cell 2, metadata, tags",)),
    "an id with blanks": (("cells", 1, "id"), "a b", ("cell 2, id",)),
    "an id twice": (("cells", 1, "id"), "title", ("cell 2, id", "cell 1")),
    "outputs of no list": (("cells", FIGURE, "outputs"), {}, (f"cell {FIGURE + 1}, outputs",)),
    "an output nobody knows": (("cells", FIGURE, "outputs", 0, "output_type"), "pyout",
                               (f"cell {FIGURE + 1}, output 1, output_type", "display_data")),
    "data of no text": (("cells", FIGURE, "outputs", 0, "data", "text/plain"), 5,
                        (f"cell {FIGURE + 1}, output 1, data, text/plain",)),
    "a width in words": (("cells", FIGURE, "outputs", 0, "metadata", "image/svg+xml", "width_mm"), "wide",
                         (f"cell {FIGURE + 1}, output 1, metadata, image/svg+xml, width_mm",)),
    "a count in words": (("cells", FIGURE, "execution_count"), "1", (f"cell {FIGURE + 1}, execution_count",)),
    "our metadata in a list": (("metadata", "vampbook"), [], ("metadata, vampbook",)),
    "aims in one text": (("metadata", "vampbook", "aims"), "to play", ("metadata, vampbook, aims",)),
    "a key that is a number": (("metadata", "vampbook", "key"), 5, ("metadata, vampbook, key", "a text")),
    "a newer version of our metadata": (("metadata", "vampbook", "version"), 2, ("version 2", "newer kit")),
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_refusal_names_file_cell_and_field(name: str, tmp_path: Path) -> None:
    keys, value, words = SHAPES[name]
    notebook = stored()
    at(notebook, *keys)(value)
    with pytest.raises(LessonError) as caught:
        Lesson.read(written(tmp_path, notebook))
    assert str(caught.value).startswith(f"{tmp_path / 'lesson.ipynb'}: ")
    for one in words:
        assert one in str(caught.value)


@pytest.mark.parametrize(("text", "words"), [
    ("", "line 1, column 1"), ("[", "line 1"), ("[]", "not a notebook"), ('{"cells": NaN}', "NaN"),
    ('{"cells": [Infinity]}', "Infinity"), ('{"cells": [{"source": 1e999}]}', "cell 1, source"),
    ("[" * 100_000, "nested"), ('{"cells": ' + "[" * 300 + "]" * 300 + "}", "nested"), ("9" * 5000, "too long"),
    ('{"cells": [{"source": "\\ud800"}]}', "cell 1, source"), ('{"cells": []} x', "column 15"),
])
def test_a_text_that_is_no_notebook_is_refused(text: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "lesson.ipynb"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(VampError, match=re.escape(str(path))) as caught:
        Lesson.read(path)
    assert words in str(caught.value)


def test_what_jupyter_takes_is_taken(tmp_path: Path) -> None:
    """A mark at the beginning, sources in one piece, line ends of Windows, older minor formats without ids."""
    notebook = stored()
    for cell in notebook["cells"]:
        cell["source"] = "".join(cell["source"])
        del cell["id"]
    notebook["nbformat_minor"] = 4
    path = tmp_path / "lesson.ipynb"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(notebook, indent=1).replace("\n", "\r\n").encode())
    assert Lesson.read(path).notebook["cells"][0]["source"].startswith("# Slack water")
    assert not make(Order(path, tmp_path / "out"), HOW).error


# -- what is no plain file -------------------------------------------------------------------------------------------
def no_files(folder: Path) -> dict[str, Path]:
    """Things with a notebook's name that are none: opened for reading, some of them would wait for ever."""
    made = {kind: folder / f"{kind}.ipynb" for kind in ("pipe", "socket", "device", "loop", "folder", "nothing")}
    os.mkfifo(made["pipe"])
    with socket.socket(socket.AF_UNIX) as one:
        here = os.getcwd()
        os.chdir(folder)  # the address of a socket must be short
        try:
            one.bind("socket.ipynb")
        finally:
            os.chdir(here)
    made["device"].symlink_to("/dev/zero")
    made["loop"].symlink_to("loop.ipynb")
    made["folder"].mkdir()
    made["nothing"].symlink_to("not-there.ipynb")
    return made


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_what_is_no_plain_file_is_refused_at_once(tmp_path: Path) -> None:
    good = written(tmp_path, stored(), "good")
    made = no_files(tmp_path)
    rung: list[int] = []

    def ring(*_: object) -> None:
        rung.append(1)
        raise TimeoutError

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, 60, 1)  # whoever waits at a pipe by then is woken, again and again
    for kind, path in made.items():
        with pytest.raises(VampError, match=path.name):
            Lesson.read(path)
        assert check_lesson(path, run=False).findings, kind
        assert path.name in make(Order(path, tmp_path / "out"), HOW).error
    done = CliRunner().invoke(main, ["build", str(tmp_path), "--no-run", "--out", str(tmp_path / "out"), "--jobs", "1"])
    signal.setitimer(signal.ITIMER_REAL, 0)
    signal.signal(signal.SIGALRM, before)
    assert done.exit_code == 1
    assert not rung
    assert (tmp_path / "out" / good.stem / "handout.pdf").is_file()
    for kind in ("pipe", "socket", "device"):
        assert f"{kind}.ipynb: it is a {kind}" in done.stderr


# -- one bad lesson stops no other -----------------------------------------------------------------------------------
def test_a_bad_lesson_stops_no_other_in_any_key(tmp_path: Path) -> None:
    good, bad = written(tmp_path, stored(), "good"), tmp_path / "bad.ipynb"
    bad.write_text("{", encoding="utf-8")
    silent = written(tmp_path, {"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}, "silent")
    orders = orders_in_keys([bad, good, silent], tmp_path / "out", ["all"], "")
    assert [(order.path.name, bool(order.refused)) for order in orders] == [
        ("bad.ipynb", True), *[("good.ipynb", False)] * 12, ("silent.ipynb", True)]
    assert all(order.path.name in order.refused for order in orders if order.refused)
    done = CliRunner().invoke(main, ["build", str(bad), str(silent), "--key", "all", "--out", str(tmp_path / "out")])
    assert done.exit_code == 1
    assert "bad.ipynb" in done.stderr
    assert "silent.ipynb" in done.stderr
    assert done.exception is None or isinstance(done.exception, SystemExit)


def test_a_bad_lesson_stops_no_other_pair(tmp_path: Path) -> None:
    good = written(tmp_path, stored(), "good")
    (tmp_path / "bad.ipynb").write_text("{", encoding="utf-8")
    done = CliRunner().invoke(main, ["pair", str(tmp_path)])
    assert done.exit_code == 1
    assert "bad.ipynb" in done.stderr
    assert good.with_suffix(".py").is_file()


def test_findings_hide_no_others(tmp_path: Path) -> None:
    """Claims and lines that cannot be read stand beside the rest, each with its cell."""
    notebook = stored()
    for number, text in enumerate(("{= N.C. has C E G =}", "{= Gm7 has , =}", "{= N.C. is V in C major =}",
                                   "{= A dorian is mode 3 of G major =}")):
        notebook["cells"].append({"cell_type": "markdown", "id": f"c{number}", "metadata": {}, "source": text})
    notebook["metadata"]["vampbook"]["tempo"] = "1e99999999"
    line = next((cell, output) for cell in notebook["cells"] for output in cell.get("outputs", ())
                if "application/vnd.vampbook.line+json" in output.get("data", {}))
    line[1]["data"]["application/vnd.vampbook.line+json"] = "{"
    found = [str(one) for one in check_lesson(written(tmp_path, notebook), run=False).findings]
    for words in ("N.C. sounds nothing", "lists nothing", "mode 2 of G major", "is no tempo", "not a line"):
        assert any(words in one for one in found), (words, found)
    count = len(notebook["cells"])
    assert any(f"cell {count}, line 1" in one for one in found)


def test_a_broken_record_is_none(tmp_path: Path) -> None:
    """The cache is a file like any other: cut short, of another kind, or nested without end."""
    folder = tmp_path / "pack"
    folder.mkdir()
    record = _record(folder)
    record.parent.mkdir(parents=True, exist_ok=True)
    for text in ("", "{", "[]", "7", "[" * 100_000, '{"digest": ' + "[" * 100_000, "9" * 5000, '{"digest": "x"}',
                 '{"digest": "x", "reads": [1], "files": {}}', '{"digest": "x", "reads": {"a": 1}, "files": {}}',
                 '{"digest": "x", "reads": {"a ' + "[" * 100_000 + '": 1}, "files": {}}'):
        record.write_text(text, encoding="utf-8")
        assert standing(folder, "x") == ()
        if not text.startswith('{"digest": "'):
            with pytest.raises(VampError, match=re.escape(str(record))):
                remembered(folder)
