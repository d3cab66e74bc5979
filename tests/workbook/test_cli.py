"""The command line: what a teacher types, and what bad input gets: one line, the place, and nothing lost."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from workbook.cli import main
from workbook.lesson.lesson import Lesson

pytestmark = pytest.mark.usefixtures("warm")


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def say(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def new(title: str = "Low tide", changes: str = "| Gm7 | C9 |", *more: str) -> Result:
    return say("new", title, "--changes", changes, "--no-run", *more)


def tree() -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(Path().rglob("*")) if path.is_file()}


def one_line(result: Result) -> str:
    assert result.exit_code == 1, result.output
    lines = result.output.strip().splitlines()
    assert len(lines) == 1, result.output
    assert "Traceback" not in lines[0]
    return lines[0]


def test_new_build_and_check_from_one_line_of_changes() -> None:
    """The whole main path in a fresh kernel; the second build is the same bytes."""
    done = say("new", "Low tide", "--changes", "| Gm7 | C9 |", "--tempo", "92", "--feel", "straight 16")
    assert done.exit_code == 0, done.output
    assert done.stdout == "lessons/low-tide.ipynb\n"
    assert "next: jupyter lab lessons/low-tide.ipynb to read" in done.stderr
    built = say("build", "lessons/low-tide.ipynb", "--minutes", "0.2")
    assert built.exit_code == 0
    assert built.stderr == f"  next: open {Path('build/low-tide/lesson.html').resolve().as_uri()}\n"
    first = {name: data for name, data in tree().items() if name.startswith("build")}
    assert set(first) == {f"build/low-tide/{name}" for name in (
        ".vampbook.json", "backing.mid", "handout.pdf", "lesson.html", "lesson.mid", "lesson.musicxml")}
    assert say("build", "lessons/", "-q", "--minutes", "0.2").output == ""
    assert {name: data for name, data in tree().items() if name.startswith("build")} == first
    checked = say("check", "lessons")
    counted, told = checked.output.splitlines()
    assert re.match(r"lessons/low-tide\.ipynb: [5-9] lines with \d+ places, no claims, ", counted)
    assert told == "1 lesson checked: nothing false found"
    assert checked.exit_code == 0


def test_a_changed_output_a_false_fret_and_a_raising_cell_are_found() -> None:
    say("new", "Low tide", "--changes", "| Gm7 | C9 |")
    path = Path("lessons/low-tide.ipynb")
    good = path.read_text(encoding="utf-8")

    path.write_text(good.replace("2nd mode of F major | G", "3rd mode of F major | G"), encoding="utf-8")
    found = say("check", "lessons")
    assert found.exit_code == 1
    assert "low-tide.ipynb: cell 14: its output differs from the recorded one" in found.output
    assert "3rd mode of" in found.output

    notebook = json.loads(good)
    cell = next(cell for cell in notebook["cells"] if cell["id"] == "drill")
    data = cell["outputs"][0]["data"]
    mime = "application/vnd.vampbook.line+json"
    line = data[mime] if isinstance(data[mime], dict) else json.loads("".join(data[mime]))
    line["notes"][0][4] += 1
    data[mime] = line
    path.write_text(json.dumps(notebook), encoding="utf-8")
    found = say("check", "--no-run", "lessons")
    assert found.exit_code == 1
    assert "note 1 (G2, bar 1): string 6 fret 4 does not sound G2" in found.output

    path.write_text(good.replace("moves(read)", "moves(reed)"), encoding="utf-8")
    assert "low-tide.ipynb: cell 17 “moves”, line 1: NameError: name 'reed' is not defined" in one_line(
        say("build", str(path)))
    assert not Path("build").exists()


@pytest.mark.parametrize(("words", "message"), [
    (["new", "X", "--changes", "| Gm77 |"], "line 1, column 3: cannot read “m77” in the chord “Gm77”"),
    (["new", "X", "--changes", "|: Gm7 | C9"], "line 1, column 1: the repeat is never closed"),
    (["new", "X", "--changes", "| Gm7 |", "--feel", "swin"], "did you mean swing"),
    (["new", "X", "--changes", "| Gm7 |", "--tempo", "fast"], "“fast” is not a tempo"),
    (["new", "X", "--changes", "| Gm7 |", "--key", "G doria"], "did you mean G dorian"),
    (["new", "X", "--changes", "| Gm7 |", "--tuning", "drop X"], "did you mean drop D"),
    (["new", "…", "--changes", "| Gm7 |"], "gives no file name"),
    (["new", "X", "--chart", "none.txt"], "cannot read none.txt: No such file"),
    (["new", "X", "--changes", "| Gm7 |", "--per-chord", "64"], "too short"),
    (["build", "none.ipynb"], "there is no none.ipynb"),
    (["check", "."], "no notebook there"),
])
def test_bad_input_gets_one_line_and_writes_nothing(words: list[str], message: str) -> None:
    assert message in one_line(say(*words, *(["--no-run"] if words[0] == "new" else [])))
    assert tree() == {}


def test_a_position_without_the_chord_names_the_bar_and_others() -> None:
    """Four strings tuned alike: frets 13 to 18 of an E string hold neither E nor B (MIDI arithmetic)."""
    said = one_line(new("X", "| Gm7 | E5 |", "--position", "14", "--tuning", "E2 E2 E2 E2"))
    assert "bar 2: no note of E5 lies within reach of position 14; expected a position such as" in said


def test_an_existing_lesson_is_kept_unless_forced() -> None:
    new()
    before = tree()
    assert "lessons/low-tide.ipynb exists" in one_line(new())
    assert tree() == before
    assert new("Low tide", "| Am7 | D7 |", "--force").exit_code == 0
    assert tree() != before


def test_a_near_name_is_offered() -> None:
    new()
    assert "did you mean lessons/low-tide.ipynb?" in one_line(say("build", "lessons/lowtide.ipynb"))


def test_a_file_that_is_no_notebook() -> None:
    Path("a.ipynb").write_text("{", encoding="utf-8")
    assert "a.ipynb: line 1, column 2: it is not a notebook" in one_line(say("build", "a.ipynb"))
    Path("a.ipynb").write_text("[]", encoding="utf-8")
    assert "a.ipynb: it is not a notebook; expected a Jupyter notebook in format 4" in one_line(say("build", "a.ipynb"))
    Path("a.ipynb").write_bytes(b"\xff\xfe")
    assert "not a text file" in one_line(say("build", "a.ipynb"))


def test_an_unrun_lesson_is_neither_built_nor_passed_by_check() -> None:
    new()
    assert "holds no outputs" in one_line(say("build", "--no-run", "lessons"))
    found = say("check", "--no-run", "lessons")
    assert found.exit_code == 1
    assert "this cell was never run" in found.output


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_an_unwritable_folder() -> None:
    Path("locked").mkdir(mode=0o500)
    assert "cannot write" in one_line(new("X", "| Gm7 |", "--folder", "locked"))


def test_a_folder_that_is_a_file() -> None:
    Path("lessons").write_text("mine", encoding="utf-8")
    assert "cannot write" in one_line(new())
    assert tree() == {"lessons": b"mine"}


def test_one_bad_lesson_does_not_stop_the_others() -> None:
    say("new", "Low tide", "--changes", "| Gm7 | C9 |")
    Path("lessons/bad.ipynb").write_text("{", encoding="utf-8")
    done = say("build", "--no-run", "--minutes", "0.2", "lessons")
    assert done.exit_code == 1
    assert Path("build/low-tide/handout.pdf").exists()


def test_wrong_usage_is_status_2() -> None:
    for words in (["new", "X"], ["new", "X", "--changes", "| A |", "--chart", "f"], ["build"], ["nonsense"]):
        assert say(*words).exit_code == 2


def test_a_chart_file_keeps_its_headers_and_options_override_them() -> None:
    Path("c.txt").write_text("title: Written\ntempo: 70\n[A] |: Gm7 | C9 :|\n", encoding="utf-8")
    assert say("new", "Mine", "--chart", "c.txt", "--tempo", "80", "--no-run").exit_code == 0
    source = "".join(next(cell for cell in Lesson.read(Path("lessons/mine.ipynb")).notebook["cells"]
                          if cell["id"] == "choices")["source"])
    assert "tempo = 80" in source
    assert "title: Written" in source, "the changes keep a name of their own"
    assert "[A] |: Gm7 | C9 :|" in source
