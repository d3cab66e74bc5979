"""A teacher's folder: what `vampbook start` lays, what it never touches, and its commands in a cell."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from workbook import teacher_folder
from workbook.cells import magic
from workbook.cli import main
from workbook.commands import starting
from workbook.files import write_whole
from workbook.library.course import check_course
from workbook.teacher_folder import RECORD, folder_of, lay, places

ROOT = Path(__file__).resolve().parents[2]


def start(folder: Path, *more: str) -> Result:
    return CliRunner().invoke(main, ["start", str(folder), "--no-lab", *more])


def tree(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def fresh(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("start") / "my lessons"
    done = start(folder)
    assert done.exit_code == 0, done.output
    return folder


@pytest.fixture
def mine(fresh: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(fresh, tmp_path / "mine"))


def test_a_folder_holds_all_to_begin_with(fresh: Path) -> None:
    names = set(tree(fresh))
    assert {"welcome.ipynb", "lessons/course.toml", "lessons/first-light.ipynb", "phrases/harbour-lights.txt",
            "workbook/explore.ipynb", "workbook/drills.ipynb", "workbook/targets.ipynb",
            "workbook/guide/your-own-lesson.ipynb", "workbook/guide/course.ipynb", RECORD} <= names
    assert check_course(fresh / "lessons") == []
    lesson = json.loads((fresh / "lessons" / "first-light.ipynb").read_text(encoding="utf-8"))
    assert all(cell["outputs"] for cell in lesson["cells"] if cell["cell_type"] == "code" and "score" in cell["source"])


def test_every_page_of_the_guide_has_its_place() -> None:
    shipped = {path.name for path in (ROOT / "workbook" / "notebooks" / "guide").glob("*.ipynb")}
    assert {path.name for path in places().values() if path.parent.name == "guide"} == shipped


def test_run_again_it_changes_nothing(mine: Path) -> None:
    before = tree(mine)
    done = start(mine)
    assert done.exit_code == 0
    assert "all is there" in done.output
    assert tree(mine) == before


def test_the_first_lesson_is_the_teachers_from_the_first_day(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A later version writes another, and does not put it in the place of one that was handed out."""
    from workbook.commands import starting

    monkeypatch.setattr(starting, "_first_lesson", lambda path: "another")
    before = tree(mine)
    assert start(mine).exit_code == 0
    assert tree(mine) == before


def test_the_words_of_a_cells_command() -> None:
    """As a shell takes them, but that a sharp begins no comment and a path of Windows keeps its backslashes."""
    from workbook.cells.magic import _words

    line = r'new "Low tide" --key F#m --tuning # --folder C:\lessons'
    assert _words(line) == ["new", "Low tide", "--key", "F#m", "--tuning", "#", "--folder", "C:\\lessons"]


def test_what_the_teacher_changed_removed_or_brought_stays(mine: Path) -> None:
    (mine / "welcome.ipynb").write_text("changed", encoding="utf-8")
    (mine / "lessons" / "course.toml").write_text('title = "Mine"', encoding="utf-8")
    (mine / "workbook" / "drills.ipynb").unlink()
    (mine / "lessons" / "first-light.ipynb").unlink()
    (mine / "lessons" / "own.ipynb").write_text("own", encoding="utf-8")
    before = tree(mine)
    done = start(mine)
    assert done.exit_code == 0
    assert "drills.ipynb  left out, since you removed it" in done.output
    assert tree(mine) == before
    assert start(mine, "--restore", "-q").output == ""
    after = tree(mine)
    assert set(after) - set(before) == {"workbook/drills.ipynb", "lessons/first-light.ipynb"}
    assert {name: after[name] for name in before if name != RECORD} == {
        name: before[name] for name in before if name != RECORD}


def test_a_newer_version_reaches_what_nobody_changed(tmp_path: Path) -> None:
    lay(tmp_path, {"a.txt": b"one", "b.txt": b"one"})
    (tmp_path / "b.txt").write_bytes(b"the teacher's")
    laid = lay(tmp_path, {"a.txt": b"two", "b.txt": b"two", "c.txt": b"two"})
    assert (laid.added, laid.renewed, laid.kept, laid.left_out) == (["c.txt"], ["a.txt"], ["b.txt"], [])
    assert tree(tmp_path).items() >= {"a.txt": b"two", "b.txt": b"the teacher's", "c.txt": b"two"}.items()


def test_a_file_that_was_there_before_is_not_ours(tmp_path: Path) -> None:
    (tmp_path / "welcome.ipynb").write_text("of old", encoding="utf-8")
    done = start(tmp_path)
    assert "welcome.ipynb  kept as you changed it" in done.output
    assert (tmp_path / "welcome.ipynb").read_text(encoding="utf-8") == "of old"


@pytest.mark.parametrize(("plant", "told"), [
    (lambda folder: (folder / "lessons").write_text("a file"), "cannot make the folder"),
    (lambda folder: (folder / RECORD).write_text("{}"), "is no list of what was laid"),
    (lambda folder: (folder / RECORD).write_text(json.dumps(
        {"format": "vampbook-folder", "version": 1, "files": {"../out.txt": "0"}})), "is no list of what was laid"),
    (lambda folder: write_whole(folder / "workbook" / "__init__.py", ""), "the program itself"),
])
def test_it_refuses_in_one_line(tmp_path: Path, plant: object, told: str) -> None:
    plant(tmp_path)  # type: ignore[operator]
    before = tree(tmp_path)
    done = start(tmp_path)
    assert done.exit_code == 1
    assert told in done.output
    assert len(done.output.splitlines()) == 1
    assert tree(tmp_path) == before


def test_phrases_beside_the_lessons_are_found_and_checked(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(mine)
    assert "Harbour lights" in CliRunner().invoke(main, ["phrases", "bends"]).output
    from workbook.checking.phrases import check_phrases
    from workbook.kit import phrases

    assert check_phrases(Path("lessons")) == []
    (mine / "phrases" / "wrong.txt").write_text("over: | Am7 |\nq H9", encoding="utf-8")
    assert check_phrases(Path("lessons"))
    (mine / "phrases" / "wrong.txt").unlink()
    monkeypatch.chdir(mine / "lessons")
    assert "Harbour lights" in str(phrases())


def test_the_module_is_the_command_where_a_folder_has_its_name(mine: Path) -> None:
    """A folder `workbook` without __init__.py must not hide the program."""
    done = subprocess.run([sys.executable, "-m", "workbook", "--version"], cwd=mine, capture_output=True, text=True,
                          check=False, env=os.environ | {"PYTHONPATH": ""})
    assert done.stdout.startswith("vampbook, version"), done.stderr


def test_lab_opens_in_the_folder_on_the_welcome(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its command only: a browser on the page without code is in tests/browser/test_without_code.py."""
    from workbook.commands import starting

    asked: list[list[str]] = []

    class Ended:
        def __init__(self, command: list[str], *, cwd: Path, env: dict[str, str]) -> None:
            asked.append(command)
            assert env["PATH"].split(os.pathsep)[0] == str(Path(sys.executable).parent)

        def wait(self) -> int:
            return 3

    monkeypatch.setattr(starting.subprocess, "Popen", Ended)
    done = CliRunner().invoke(main, ["start", str(mine), "--no-browser"])
    assert done.exit_code == 3, "Lab's own status"
    (command,) = asked
    assert command[1:4] == ["-m", "workbook.lab.server", "jupyterlab"]
    assert f"--ServerApp.root_dir={mine}" in command
    assert "--no-browser" in command
    assert "--LabApp.news_url=None" in command, "nobody is asked for news"


def test_a_place_in_a_folder_knows_its_top(mine: Path, tmp_path: Path) -> None:
    assert folder_of(mine / "workbook" / "guide") == mine
    assert folder_of(tmp_path) is None


def test_a_lesson_from_the_explorer_lies_among_the_lessons(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from workbook.kit import explore

    monkeypatch.chdir(mine / "workbook")
    answer = explore("| Am7 | D7 |")._answers()["new"]({"title": "Paper boat"})
    assert (mine / "lessons" / "paper-boat.ipynb").is_file()
    assert "lessons/paper-boat.ipynb is written" in answer


def test_the_page_without_code_replaces_only_its_own_lessons(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from workbook.widgets import without_code

    monkeypatch.chdir(mine / "workbook")
    monkeypatch.setattr(without_code, "output_of", lambda words: (0, ""))
    page = without_code.make_lessons("| Am7 | D7 |")
    page.make()
    assert "no title yet" in page.told.value
    lesson = mine / "lessons" / "paper-boat.ipynb"
    page.title.value = "Paper boat"
    for level in ("beginner", "advanced"):
        page.level.value = level
        page.make()
        assert "The pack is ready" in page.told.value
        assert f'level = \\"{level}\\"' in lesson.read_text(encoding="utf-8")
    lesson.write_text(lesson.read_text(encoding="utf-8") + " ", encoding="utf-8")
    before = lesson.read_bytes()
    page.make()
    assert "was not made here" in page.told.value
    assert lesson.read_bytes() == before, "changed by hand since"


def test_a_cell_runs_a_command_at_the_top_of_the_folder(mine: Path, monkeypatch: pytest.MonkeyPatch,
                                                        capsys: pytest.CaptureFixture[str]) -> None:
    from IPython.core.error import UsageError

    from workbook.cells.magic import in_folder, made, run_command

    monkeypatch.chdir(mine / "workbook" / "guide")
    run_command('new "Low tide #1" --changes "| F#m7 | B7 |" --no-run')
    assert "low-tide-1.ipynb" in capsys.readouterr().out
    assert (mine / "lessons" / "low-tide-1.ipynb").is_file()
    assert in_folder("lessons/low-tide-1.ipynb").is_file()
    with pytest.raises(UsageError, match="not done"):
        run_command('new "Low tide #1" --changes "| F#m7 | B7 |" --no-run')
    assert "exists" in capsys.readouterr().out
    assert "- [low-tide-1.ipynb](../../lessons/low-tide-1.ipynb)" in str(made("lessons"))
    with pytest.raises(teacher_folder.FileError, match="did you mean lessons"):
        made("lesons")


def test_a_page_run_among_the_kit_s_own_works_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else its commands would write beside the code."""
    monkeypatch.setattr(magic, "_for_a_while", lambda: tmp_path)
    monkeypatch.chdir(ROOT / "workbook" / "notebooks" / "guide")
    assert magic.work_folder() == tmp_path


def test_lab_is_opened_on_the_folder_and_asks_nothing_about_news(mine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from jupyterlab_server.config import get_page_config

    begun: list[tuple[list[str], dict[str, str]]] = []

    class Begun:
        def __init__(self, command: list[str], *, cwd: Path, env: dict[str, str]) -> None:
            begun.append((command, env))

        def wait(self) -> int:
            return 0

    monkeypatch.setattr(starting.subprocess, "Popen", Begun)
    assert CliRunner().invoke(main, ["start", str(mine), "--no-browser"]).exit_code == 0
    ((command, env),) = begun
    assert "--LabApp.default_url=/lab/tree/welcome.ipynb" in command
    assert env["PATH"].split(os.pathsep)[0] == str(Path(sys.executable).parent)
    monkeypatch.setenv("JUPYTER_CONFIG_PATH", env["JUPYTER_CONFIG_PATH"])
    off = get_page_config([])["disabledExtensions"]
    assert "@jupyterlab/apputils-extension:announcements" in off
