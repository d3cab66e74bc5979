"""What this machine lacks, what is remembered, and what the Tab key offers in a shell and in a cell."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from workbook.cells.completing import offered
from workbook.cli import main
from workbook.commands import machine


def say(*words: str, **variables: str) -> Result:
    return CliRunner().invoke(main, list(words), env=variables)


def test_a_machine_with_everything_and_one_without(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = say("doctor")
    assert whole.exit_code == 0
    assert "ok    libraries: typst " in whole.output
    assert "ok    sound: sampled instruments" in whole.output
    known = machine._version
    monkeypatch.setattr(machine, "_version", lambda name: "" if name == "typst" else known(name))
    monkeypatch.setenv("VAMPBOOK_CACHE", "/dev/null/nowhere")
    without = say("doctor")
    assert without.exit_code == 1
    assert "LACKS libraries: lacking typst; pip install typst" in without.output
    assert "lacks cache: /dev/null/nowhere cannot be written" in without.output
    told = json.loads(say("doctor", "--json", "-").stdout)["machine"]
    assert {one["what"] for one in told if not one["is_well"]} >= {"libraries", "cache"}


def test_clearing_the_cache_removes_what_is_ours_alone(tmp_path: Path) -> None:
    place = tmp_path / ("0123456789ab" * 2)
    place.mkdir()
    ours = [place / "low-tide.json", place / "low-tide.tree", tmp_path / "explorer-1f.bank"]
    (tmp_path / "kept").mkdir()
    theirs = [tmp_path / "locks", tmp_path / "kept" / "low-tide.json",
              tmp_path / "letter.json", place / "letter.txt", tmp_path / "explorer.txt"]
    for path in (*ours, *theirs):
        path.write_text("x")
    env = {"VAMPBOOK_CACHE": str(tmp_path)}
    assert say("cache", **env).stdout.startswith(f"{tmp_path}  3 files, 0.0 MB")
    assert all(path.exists() for path in ours), "nothing is removed that nobody asked for"
    assert say("cache", "--clear", **env).stdout.endswith("removed\n")
    assert [path.exists() for path in ours] == [False] * 3
    assert [path.exists() for path in theirs] == [True] * 5


@pytest.mark.parametrize(("words", "offers"), [
    ("vampbook new x --feel st", ["straight\\ 8", "straight\\ 16"]),
    ("vampbook new x --tuning drop\\ D", ["drop\\ D"]),
    ("vampbook new x --key c#", ["C\\#\\ minor"]),
    ("vampbook build lessons/lo", ["lessons/low-tide.ipynb"]),
    ("vampbook build le", ["lessons/"]),
    ("vampbook check lessons/", ["lessons/low-tide.ipynb"]),
    ("vampbook docto", ["doctor"]),
])
def test_bash_is_offered_names_and_lessons(words: str, offers: list[str], tmp_path: Path,
                                           monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "lessons").mkdir()
    for name in ("low-tide.ipynb", "notes.txt", ".hidden.ipynb"):
        (tmp_path / "lessons" / name).write_text("{}")
    monkeypatch.chdir(tmp_path)
    count = len(words.replace("\\ ", "_").split(" ")) - 1
    told = CliRunner().invoke(main, prog_name="vampbook", env={
        "_VAMPBOOK_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(count)})
    assert [line.partition(",")[2] for line in told.stdout.splitlines()] == offers


def test_completion_is_installed_and_never_over_another_file(tmp_path: Path) -> None:
    env = {"HOME": str(tmp_path), "SHELL": "/bin/bash"}
    place = tmp_path / ".local/share/bash-completion/completions/vampbook"
    assert say("completion", "--install", **env).stdout == f"{place}\n"
    assert "_VAMPBOOK_COMPLETE=bash_complete" in place.read_text()
    assert say("completion", "--install", **env).exit_code == 0
    place.write_text("my own")
    assert say("completion", "--install", **env).exit_code == 1
    assert place.read_text() == "my own"
    assert "expected bash, fish, zsh" in say("completion", "csh", **env).output


def test_help_lists_every_name() -> None:
    told = " ".join(say("new", "--help").output.split())
    assert "straight 8, straight 16, swing, swing 16, shuffle, half-time" in told
    assert "drop D, drop C#" in told


@pytest.mark.parametrize(("line", "offers"), [
    ('lesson_chart(chart, feel="st', ["straight 8", "straight 16"]), ('x(tuning="double dr', ["drop D"]),
    ('lesson_chart(chart, feel="straight 1', ["16"]),
    ("play_along(chart, level = 'be", ["beginner"]), ('arpeggio_drill(chart, direction="', ["up", "down"]),
    ('print(colour="', []), ("feel = swing", []), ('feel="swing"', []),
])
def test_a_cell_is_offered_the_choices_between_quotes(line: str, offers: list[str]) -> None:
    assert offered(line) == offers
