"""The tree keeps its own rules: lint, types, folders, the README's commands, and help for every command."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from packaging.requirements import Requirement

from workbook.cli import main

ROOT = Path(__file__).resolve().parent.parent
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "workbook", "lessons", "theorylib", "tests", "build"}


def tracked() -> list[str]:
    found = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if found.returncode:
        pytest.skip("not a git checkout")
    return found.stdout.splitlines()


def run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)


def test_lint() -> None:
    done = run("ruff", "check", ".", "--output-format", "concise")
    assert done.returncode == 0, done.stdout


def test_types() -> None:
    done = run("mypy")
    assert done.returncode == 0, done.stdout


OXLINT = [str(Path(sys.executable).with_name("oxlint")), "-c", str(ROOT / ".oxlintrc.json"), "--deny-warnings"]


def test_lint_of_scripts() -> None:
    done = subprocess.run([*OXLINT, "workbook", "tests/support"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    files = len([name for name in tracked() if name.endswith(".js")])
    assert f"on {files} files" in done.stdout, "every script is read"


@pytest.mark.parametrize(("text", "rule"), [
    ("export function f() { return misspelt; }", "no-undef"),
    ("export function f() { const left = 1; }", "no-unused-vars"),
    ('import { left } from "./other.js";', "no-unused-vars"),
    ('import { none } from "./other.js";\nexport const f = none;', "named"),
    ("export function f() { counter = 1; }", "no-undef"),
    ("export let counter = 0;\ncounter += 1;", "no-mutable-exports"),
    ("export function f(a) { return a == 1; }", "eqeqeq"),
    ("export function f(a) { var b = a; return b; }", "no-var"),
    ('import { a } from "./other.js";\nexport const b = a;', "no-cycle"),
])
def test_the_linter_finds(tmp_path: Path, text: str, rule: str) -> None:
    (tmp_path / "planted.js").write_text(text + "\n", encoding="utf-8")
    circle = 'import { b } from "./planted.js";\nexport const a = b;\n' if rule == "no-cycle" else ""
    (tmp_path / "other.js").write_text(circle + "export const left = 1;\n", encoding="utf-8")
    done = subprocess.run([*OXLINT, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert f"({rule})" in done.stdout


def test_top_level_holds_what_it_should_and_nothing_else() -> None:
    names = {name.split("/")[0] for name in tracked()}
    assert {name for name in names if not name.startswith(".")} == TOP


def test_build_holds_outputs_only() -> None:
    assert [name for name in tracked() if name.startswith("build/")] == ["build/.gitignore", "build/README.md"]


def test_no_source_file_is_long() -> None:
    """About 400 lines at most; a longer module has more than one purpose."""
    long = {name: count for name in tracked() if name.endswith((".py", ".js", ".typ", ".css"))
            if (count := len((ROOT / name).read_text(encoding="utf-8").splitlines())) > 420}
    assert long == {}


def test_ci_runs_the_commands_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    commands = re.findall(r"^```sh\n(.+?)\n```$", readme, re.MULTILINE | re.DOTALL)
    assert len(commands) == 2
    assert "vampbook build lessons/" in commands[0]
    assert "python -m pytest -n 3 --dist loadgroup --ignore tests/bench" in commands[1]
    assert commands[1].endswith("python -m pytest tests/bench")
    lesson = re.search(r"build (lessons/\S+\.ipynb)", commands[0])
    assert lesson is not None
    assert (ROOT / lesson[1]).exists()
    assert f"build/{Path(lesson[1]).stem}/" in readme
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_ci_tries_the_lowest_version_of_every_dependency() -> None:
    """As pyproject.toml declares them: a bound below which nothing was tried would be a false promise."""
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = declared["optional-dependencies"]
    script = [sys.executable, str(ROOT / ".ci" / "lowest.py")]
    told = subprocess.run([*script, *extras], capture_output=True, text=True, check=True).stdout.splitlines()
    wanted = [*declared["dependencies"], *(one for rest in extras.values() for one in rest)]
    assert len(told) == len(wanted)
    for line, text in zip(told, map(Requirement, wanted), strict=True):
        lowest = Requirement(line)
        assert (lowest.name, lowest.marker) == (text.name, text.marker)
        (pinned,) = lowest.specifier
        assert pinned.operator == "=="
        assert text.specifier.contains(pinned.version), "the bound itself is allowed"
        assert not text.specifier.contains("0"), f"{text} has no lower bound"
        assert text.specifier.contains(version(text.name)), "what the tests run with is allowed"
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "python3 .ci/lowest.py cluster pair music21 >" in run
    told = "CI tries those of users; the tests' own tools stay as they are"
    assert set(extras) == {"cluster", "pair", "music21", "test"}, told


def commands(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], click.Command]]:
    return [found for name, command in group.commands.items() for found in (
        [((*path, name), command)] + (commands(command, (*path, name)) if isinstance(command, click.Group) else []))]


@pytest.mark.parametrize(("path", "command"), commands(main), ids=lambda one: one[0] if isinstance(one, tuple) else "")
def test_every_command_has_help_with_an_example(path: tuple[str, ...], command: click.Command) -> None:
    shown = CliRunner().invoke(main, [*path, "--help"])
    assert shown.exit_code == 0
    assert "Example:" in shown.output
    assert f"vampbook {' '.join(path)}" in shown.output
    assert "--quiet" in shown.output
    assert all(option.help for option in command.params if isinstance(option, click.Option) and option.name not in (
        "level", "folder", "paper")), "every option says what it is for"


def test_start_up_is_light() -> None:
    """`vampbook --help` and `import theorylib` load none of the slow libraries."""
    code = "import sys, theorylib, workbook.cli; print(*sys.modules)"
    loaded = set(subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                                check=True).stdout.split())
    assert not loaded & {"numpy", "matplotlib", "music21", "verovio", "typst", "nbformat", "nbconvert", "IPython"}
