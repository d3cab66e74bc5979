"""What commands tell a script: phrases found, pairs made, pages and names of the guide, each pack that is watched."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result
from support.short import short_lesson

from workbook.cli import main


def say(*words: object) -> Result:
    return CliRunner().invoke(main, list(map(str, words)))


def told(*words: object) -> dict[str, Any]:
    done = say(*words, "--json", "-")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_phrases_that_fit_with_their_files(tmp_path: Path) -> None:
    shelf = tmp_path / "phrases"
    shelf.mkdir()
    text = "title: Dawn\nover: | Am7 |\nlevel: beginner\ntechniques: bends, slides\ne A3 C4 E4 G4 h A4\n"
    (shelf / "dawn.txt").write_text(text, encoding="utf-8")
    one = {"file": str(shelf / "dawn.txt"), "title": "Dawn", "over": "Am7", "level": "beginner",
           "techniques": ["bends", "slides"], "up": 3}
    assert told("phrases", "--folder", tmp_path, "--over", "| Cm7 |") == {"phrases": [one]}
    assert told("phrases", "dusk", "--folder", tmp_path) == {"phrases": []}


def test_pages_and_names_of_the_guide() -> None:
    found = told("guide", "tempo_ladder")["guide"]
    assert [one["name"] for one in found["names"]] == ["tempo_ladder"]
    assert found["names"][0]["call"] == "tempo_ladder(target, …)"
    assert found["names"][0]["about"].endswith(".")
    every = told("guide")["guide"]
    assert {"welcome.ipynb", "workbook/guide/course.ipynb"} <= {one["file"] for one in every["pages"]}
    assert len(every["names"]) > 90
    assert say("guide", "zzz", "--json", "-").exit_code == 1


def test_what_was_heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The hearing itself has its own tests; here it has been heard already."""
    heard = SimpleNamespace(json=lambda: '{"file": "café"}\n', text=lambda: "| Am7 |", summary=lambda: ["an A"],
                            words=lambda: ["well played"], page=str, pdf=bytes)
    monkeypatch.setattr("workbook.recorded.recordings.hear", lambda *_, **__: heard)
    monkeypatch.setattr("workbook.recorded.takes.take", lambda *_, **__: heard)
    monkeypatch.chdir(tmp_path)
    assert told("hear", "café.wav") == told("take", "café.wav", "--lesson", "x.ipynb") == {"file": "café"}
    assert list(tmp_path.iterdir()) == [], "no file of the name -"
    assert say("hear", "café.wav", "--json", "x.json").stdout.splitlines() == ["an A", "| Am7 |", "x.json"]


def test_pairs_and_why_one_was_not_made(tmp_path: Path) -> None:
    good, other = tmp_path / "good.ipynb", tmp_path / "other.ipynb"
    for path in (good, other):
        path.write_text(short_lesson(), encoding="utf-8")
    other.with_suffix(".py").write_text("mine = 1\n", encoding="utf-8")
    report = tmp_path / "report.json"
    done = say("pair", good, other, "--json", report, "-q")
    assert done.exit_code == 1
    first, second = json.loads(report.read_text(encoding="utf-8"))["paired"]
    assert first == {"lesson": str(good), "text": str(good.with_suffix(".py")), "error": ""}
    assert (second["text"], "is no pair of other.ipynb" in second["error"]) == ("", True)
    report.write_text("my own\n", encoding="utf-8")
    assert say("pair", good, "--json", report).exit_code == 1
    assert report.read_text(encoding="utf-8") == "my own\n"


def test_each_pack_of_a_watched_lesson_is_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    lesson = json.loads(short_lesson())
    aims = next(cell for cell in lesson["cells"] if cell["id"] == "aims")
    aims["source"] = "".join(aims["source"]) + "\n\nPlay it at a tempo of 140."
    Path("low-tide.ipynb").write_text(json.dumps(lesson), encoding="utf-8")
    done = say("watch", "low-tide.ipynb", "--no-run", "--times", 1, "--json", "-")
    assert done.stdout.count("\n") == 1
    one = json.loads(done.stdout)
    made = {"backing.mid", "handout.pdf", "lesson.html", "lesson.mid", "lesson.musicxml"}
    assert set(one["packs"][0]["files"]) == made
    assert one["packs"][0]["was_run"] is False
    assert [(found["cell"], found["note"]) for found in one["findings"]] == [(2, False)]
    done = say("watch", "low-tide.ipynb", "--no-run", "--times", 1, "--json", "told.json", "--with-parent")
    assert json.loads(Path("told.json").read_text(encoding="utf-8"))["findings"] == one["findings"]
