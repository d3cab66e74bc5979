"""What Lab's menu is answered: a lesson written, checked and built by the command, told as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from support.short import short_lesson

from workbook.lab import answer


def asked(**request: str) -> dict[str, object]:
    told: dict[str, object] = json.loads(answer(json.dumps(request)))
    return told


def test_a_lesson_is_built_beside_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lessons = tmp_path / "lessons"
    lessons.mkdir()
    monkeypatch.chdir(lessons)
    Path("slack water.ipynb").write_text(short_lesson(), encoding="utf-8")
    built = asked(what="build", name="slack water.ipynb")
    assert built["words"] == "Built"
    assert "../build/slack-water/handout.pdf" in built["files"]  # type: ignore[operator]
    assert Path("../build/slack-water/handout.pdf").read_bytes().startswith(b"%PDF")


def test_what_is_wrong_comes_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    told = asked(what="new", title="--help", changes="| Gm7 | Qb |")
    assert str(told["error"]).startswith("line 1, column 9: “Qb” is not a chord symbol")
    assert "“samba”" in str(asked(what="new", title="A", changes="| G |", feel="samba")["error"])
    assert list(tmp_path.rglob("*.ipynb")) == []
