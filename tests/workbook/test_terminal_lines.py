"""What a command prints: lines that the bar does not overwrite, each thing once, JSON alone where it is asked for."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from workbook.checking.findings import Finding, grouped
from workbook.cli import main
from workbook.commands import progress, terminal


def test_the_bar_is_gone_while_a_line_is_printed(monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []

    class Bar:
        def stop(self) -> None:
            done.append("gone")

        def start(self) -> None:
            done.append("back")

    monkeypatch.setattr(progress, "_shown", [Bar()])
    monkeypatch.setattr(terminal.click, "echo", lambda words, file: done.append(words))
    terminal.say("build/low-tide/")
    assert done == ["gone", "build/low-tide/", "back"]


def test_a_never_run_lesson_is_told_in_two_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    CliRunner().invoke(main, ["new", "Low tide", "--changes", "| Gm7 | C9 |", "--no-run"])
    told = CliRunner().invoke(main, ["check", "--no-run", "lessons"])
    lines = told.stderr.splitlines()
    assert len(lines) == 2
    assert lines[0].startswith("lessons/low-tide.ipynb: cells 3, 4, 6, ")
    assert lines[0].endswith(": this cell was never run; run the lesson and save it")


def test_what_is_said_of_two_cells_or_of_two_lessons_stays_apart() -> None:
    one, two = Path("one.ipynb"), Path("two.ipynb")
    same = [Finding(one, 3, "no"), Finding(one, 4, "no"), Finding(two, 5, "no"), Finding(one, 0, "whole")]
    assert grouped(same) == [str(finding) for finding in same]
    more = [*same, Finding(one, 9, "no"), Finding(one, 9, "yes", note=True)]
    assert grouped(more) == ["one.ipynb: cells 3, 4, 9: no", "two.ipynb: cell 5: no", "one.ipynb: whole",
                             "note: one.ipynb: cell 9: yes"]


def test_json_on_the_output_is_alone_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    new = ["new", "Café ♭", "--changes", "| Gm7 | C9 |", "--no-run", "--json", "-"]
    written = json.loads(CliRunner().invoke(main, new).stdout)["written"]
    assert Path(written).is_file()
    for command, word in (("check", "lessons"), ("refresh", "refreshed")):
        told = CliRunner().invoke(main, [command, "--no-run", "--json", "-", written])
        assert json.loads(told.stdout)[word]
    mine = tmp_path / "mine.json"
    mine.write_text("[1]")
    refused = CliRunner().invoke(main, ["check", "--no-run", "--json", str(mine), written])
    assert refused.exit_code == 1
    assert mine.read_text() == "[1]"
