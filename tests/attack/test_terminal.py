"""What the command prints and reports: texts from lessons, file names and errors do nothing to a terminal or a file."""

from __future__ import annotations

import doctest
import json
import os
import re
import subprocess
import sys
import unicodedata
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import example, given
from hypothesis import strategies as st
from lxml import etree
from support.lab import ROOT

import workbook.legible
from theorylib.errors import shortened
from workbook.checking.findings import Finding
from workbook.checking.reports import as_json, as_junit
from workbook.cli import main
from workbook.legible import MOST, legible
from workbook.lesson.lesson import Lesson
from workbook.running.run import run_notebook

SIGNS = st.characters(exclude_categories=())  # all of them, lone surrogates too
# A line that acts: colours, the window's title, a cleared screen, keys (ECMA-48), C1 forms of the same, a bell, a
# carriage return, a forged second line, right-to-left (UAX 9), lone surrogates, what XML forbids.
ACTS = ("\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\x1b[2J", "\x1bc", "\x9b31m", "\x90q\x9c", "\x07", "a\rb",
        "a\nb: fine", "\u202eevil", "\u2066x\u2069", "\ud800", "\udcff", "\x00", "\x7f", "\ufffe", "\uffff", "\u2028",
        "\x85", "\u200fx")
FORBIDDEN = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def say(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def clean(result: Result) -> str:
    """All that was printed, which holds nothing that acts."""
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert FORBIDDEN.search(result.output) is None, ascii(result.output[:500])
    return result.output


def lesson(path: Path, *cells: str, prose: str = "# A title\n", title: str = "A title") -> Path:
    code = [{"cell_type": "code", "id": f"c{number}", "metadata": {}, "outputs": [], "source": source,
             "execution_count": None} for number, source in enumerate(cells)]
    words = {"cell_type": "markdown", "id": "words", "metadata": {}, "source": prose}
    path.write_text(json.dumps({"cells": [words, *code], "metadata": {"vampbook": {"title": title}}, "nbformat": 4,
                                "nbformat_minor": 5}), encoding="utf-8")
    return path


# -- one line --------------------------------------------------------------------------------------------------------
@given(st.text(SIGNS), st.integers(40, 400))
@example("".join(map(chr, range(0x300))), 9999)
def test_any_text_is_one_harmless_line(text: str, most: int) -> None:
    line = legible(text, most)
    assert len(line.splitlines()) <= 1
    assert not any(unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") for sign in line)
    assert FORBIDDEN.search(line) is None
    line.encode()
    if len(text) <= most and all(sign.isprintable() for sign in text):
        assert line == text


@given(st.text(min_size=1, max_size=500), st.integers(40, 200))
@example("abc" * 99, 40)
def test_what_is_left_out_is_counted(text: str, most: int) -> None:
    cut = shortened(text, most)
    found = re.search(r" … \(([\d,]+) characters left out\) … ", cut)
    if len(text) <= most:
        assert cut == text
        return
    assert found is not None
    assert len(cut) <= most + 50
    assert text.startswith(cut[:found.start()])
    assert text.endswith(cut[found.end():])
    assert found.start() + int(found[1].replace(",", "")) + len(cut) - found.end() == len(text)


def test_the_examples_of_the_docstrings() -> None:
    assert doctest.testmod(workbook.legible).failed == 0


def test_words_of_every_script_stay() -> None:
    for words in ("Łukasz и Анна 李 हिन्दी العربية ♯♭♮ “quoted”", "👩‍👩‍👧 🎸", "naïve e\u0301"):
        assert legible(words) == words


# -- reports ---------------------------------------------------------------------------------------------------------
@given(st.lists(st.text(SIGNS, max_size=30), min_size=3, max_size=3), st.text(SIGNS, min_size=1, max_size=9))
def test_any_report_is_xml_and_json(texts: list[str], name: str) -> None:
    """Read by lxml (libxml2) and by the standard library, as UTF-8."""
    paths = [Path(f"lessons/{name}x"), Path("b.ipynb")]
    found = [Finding(paths[0], 1, texts[0], right=texts[1]), Finding(paths[1], 2, texts[2])]
    root = etree.fromstring(as_junit(paths, found).encode())
    assert [suite.get("name") for suite in root] == [legible(path) for path in paths]
    assert root[1].find(".//failure").get("message") == legible(texts[2])
    rows = json.loads(as_json(paths, found).encode())
    assert rows["findings"][0]["message"] == legible(texts[0])


def test_a_check_of_hostile_lessons_gives_reports(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Prose, titles, errors and file names, to the terminal and into both files."""
    monkeypatch.chdir(tmp_path)
    Path("lessons").mkdir()
    acts = "".join(ACTS)
    lesson(Path("lessons/prose.ipynb"), prose=f"# A title\n\n{{= {acts} over D7 gives 1 =}}\n\n### {acts}", title=acts)
    lesson(Path("lessons/raises.ipynb"), f"raise ValueError({acts!r} + 'x' * 10_000_000)")
    lesson(Path("lessons/named.ipynb"), f"type({'a' + acts.replace(chr(0), '')!r}.encode('utf-8', 'replace').decode(), "
           "(Exception,), {})()\nclass Odd(Exception): pass\nOdd.__name__ = '\\x1b[31m' * 9\nraise Odd")
    Path(os.fsdecode(b"lessons/\xff\x1b[31m.ipynb")).write_text("{", encoding="utf-8")
    Path("lessons/\x1b]0;x\x07.ipynb").write_text("[]", encoding="utf-8")
    said = say("check", "lessons", "--junit", "out.xml", "--json", "out.json", "--offers")
    assert said.exit_code == 1
    assert max(map(len, clean(said).splitlines())) < MOST + 200
    assert "characters left out" in said.output
    assert "\\x1b[31m" in said.output
    assert len(etree.parse("out.xml").getroot()) == 5
    assert len(json.loads(Path("out.json").read_text(encoding="utf-8"))["lessons"]) == 5
    assert Path("out.json").stat().st_size < 60_000


# -- commands --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("act", ["".join(ACTS).replace("\x00", "").replace("\ud800", "")])
def test_no_command_prints_what_acts(act: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("c.txt").write_text(f"title: x\n| {act.encode('utf-8', 'replace').decode()} |", encoding="utf-8")
    Path("r.csv").write_text("name,key\n" + act.replace("\n", "").encode("utf-8", "replace").decode() + ",H\n",
                             encoding="utf-8")
    Path("course").mkdir()
    Path("course/course.toml").write_text('title = "\\u001b[31m"\nabout = "\\u202E"\n[[level]]\nname = "\\u0007"\n'
                                          'lessons = ["\\u001b[2J"]', encoding="utf-8")
    bad = lesson(tmp_path / "bad.ipynb", "1")
    for words in (["new", act, "--changes", "| Gm7 |"], ["new", "X", "--changes", act],
                  ["new", "X", "--chart", "c.txt"], ["new", "X", "--chart", act], ["new", "X", "--changes", act, "-q"],
                  ["new", "X", "--changes", "| Gm7 |", "--key", act, "--no-run"],
                  ["new", "X", "--changes", "| Gm7 |", "--tuning", act, "--no-run"],
                  ["new", "X", "--changes", "| Gm7 |", "--level", act], ["new", "X", "--changes", "| Gm7 |", act],
                  ["build", act], ["build", "--no-run", str(bad), "--out", act], ["build", str(bad), "--key", act],
                  ["build", f"--{act}", str(bad)], ["build", str(bad), "--minutes", act], [act], ["check", act],
                  ["check", str(bad), "--no-run", "--junit", act + "/x"], ["personal", str(bad), "--roster", "r.csv"],
                  ["personal", str(bad), "--name", act, "--level", act], ["personal", str(bad), "--roster", act],
                  ["course", act], ["course", "course"], ["pair", act], [f"--{act}"]):
        said = say(*words)
        assert said.exit_code in (1, 2), words
        clean(said)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_any_encoding_of_the_output_serves(encoding: str, tmp_path: Path) -> None:
    """“Quotes”, notes and names that the output cannot show are written as escapes."""
    script = "import sys; from workbook.cli import main; main(sys.argv[1:])"
    name = tmp_path / "李 ♭.ipynb"
    name.write_text("{", encoding="utf-8")
    for words, status in ((["check", "--no-run", str(name)], 1), (["new", "--help"], 0), (["new", "♭", "李"], 2)):
        done = subprocess.run([sys.executable, "-c", script, *words], cwd=tmp_path, capture_output=True, check=False,
                              env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"})
        assert done.returncode == status, done.stderr
        assert b"Traceback" not in done.stderr
        if status == 1:  # click itself writes UTF-8 where it takes ASCII for a mistake
            assert "check" in (done.stdout + done.stderr).decode(encoding)


@pytest.mark.skipif(os.name != "posix", reason="elsewhere what is typed never comes as bytes")
def test_what_is_typed_is_read_as_utf_8_where_python_was_told_to_take_it_for_ascii(tmp_path: Path) -> None:
    ascii_only = {"LANG": "C", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    words = ["new", "Étude ♭", "--changes", "| Gm7 | C9♯11 |", "--no-run", "-q", "--folder", "leçons"]
    done = subprocess.run([sys.executable, "-m", "workbook", *words], cwd=tmp_path, capture_output=True, check=False,
                          env={**os.environ, **ascii_only, "PYTHONPATH": str(ROOT)})
    assert (done.returncode, done.stderr) == (0, b"")
    (lesson,) = (tmp_path / "leçons").iterdir()
    assert Lesson.read(lesson).title == "Étude ♭"
    assert "C9♯11" in str(Lesson.read(lesson).text)


def test_what_a_lesson_writes_below_python_stays_out(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """To the file descriptors themselves, or by a program that it starts."""
    source = ("import os\nos.write(1, b'\\x1b[31m')\nos.write(2, b'\\x1b[31m')\n"
              "os.system('printf \"\\\\033[32m\"; printf \"\\\\033[32m\" >&2')")
    cells: list[dict[str, Any]] = [{"cell_type": "code", "id": "c", "metadata": {}, "outputs": [], "source": source,
                                    "execution_count": None}]
    run_notebook({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}, tmp_path, fork=True)
    assert capfd.readouterr() == ("", "")
