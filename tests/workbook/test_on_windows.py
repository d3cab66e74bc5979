"""What Windows lacks taken away: forks and groups of processes; and what only it has: long paths told of.

Nobody tried it on a Windows here: this is what can be tried elsewhere.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from support.short import short_lesson

import workbook
from workbook import files
from workbook.commands.options import notebooks
from workbook.files import FileError, write_new

LACKING = """
import multiprocessing, os, signal  # what the library of this system itself asks for must stay
for name in ("fork", "forkpty", "killpg", "setpgid", "getpgid", "setsid", "mkfifo", "link",
             "O_DIRECTORY", "getloadavg"):
    vars(os).pop(name, None)
for name in ("SIGHUP", "SIGALRM", "SIGXCPU", "SIGCHLD", "alarm", "setitimer", "pthread_sigmask"):
    vars(signal).pop(name, None)
multiprocessing.get_all_start_methods = lambda: ["spawn"]
"""
# Names that Windows has not, and the modules that may say them: those that work only where there is a fork.
ELSEWHERE_ONLY = re.compile(r"(?<![\w\"])(?:os\.(?:fork\w*|killpg|[sg]etpgid|setsid|mkfifo|[sg]ete?[ug]id|waitpid)"
                            r"|signal\.(?:SIGHUP|SIGALRM|SIGXCPU|SIGCHLD|SIGKILL|SIGCONT|alarm|setitimer)"
                            r"|import (?:fcntl|resource|pwd|grp|termios|pty)\b)")
FORKED = {"running/keeper.py", "running/forked.py", "running/beside.py"}
GUARDED = {"library/cache.py": {"import fcntl"}}  # where sys.platform is another, see below


@pytest.fixture
def without(tmp_path: Path) -> dict[str, str]:
    """Surroundings in which every Python lacks what Windows lacks."""
    place = tmp_path / "site"
    place.mkdir()
    (place / "sitecustomize.py").write_text(LACKING, encoding="utf-8")
    places = [str(place), str(Path(workbook.__file__).parents[1])]
    return os.environ | {"PYTHONPATH": os.pathsep.join(places), "VAMPBOOK_CACHE": str(tmp_path / "cache")}


def test_a_lesson_is_run_and_built_without_a_fork(tmp_path: Path, without: dict[str, str]) -> None:
    lessons = tmp_path / "Übung d'été"
    lessons.mkdir()
    (lessons / "aux.ipynb").write_text(short_lesson(), encoding="utf-8")
    done = subprocess.run([sys.executable, "-m", "workbook", "build", "aux.ipynb"], cwd=lessons, env=without,
                          capture_output=True, text=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    assert (lessons / "build" / "aux-" / "handout.pdf").read_bytes().startswith(b"%PDF"), "no name that is a device"


def test_what_windows_has_not_is_said_only_where_there_is_a_fork() -> None:
    place = Path(workbook.__file__).parent
    said = {path.relative_to(place).as_posix(): set(ELSEWHERE_ONLY.findall(path.read_text(encoding="utf-8")))
            for path in place.rglob("*.py")}
    found = {name: words for name, words in said.items() if words and name not in FORKED}
    assert found.pop("running/run.py", {"os.fork"}) == {"os.fork"}
    assert found == GUARDED
    assert said.keys() >= FORKED


def test_a_path_too_long_for_windows_is_told_as_that(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    deep = tmp_path.joinpath(*["a" * 80] * 4) / "x.txt"
    monkeypatch.setattr(files, "_ON_WINDOWS", True)

    def refuse(**how: Any) -> Any:
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr(files.tempfile, "mkstemp", refuse)
    with pytest.raises(FileError, match=rf"{len(str(deep))} signs; Windows takes 259"):
        write_new(deep, "one")
    with pytest.raises(FileError) as caught:
        write_new(tmp_path / "x.txt", "one")
    assert "Windows" not in str(caught.value)


def test_lessons_below_a_hidden_folder_or_above_are_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lessons = tmp_path / ".hidden" / "lessons"
    for name in ("a.ipynb", ".ipynb_checkpoints/a.ipynb", "sub/b.ipynb"):
        (lessons / name).parent.mkdir(parents=True, exist_ok=True)
        (lessons / name).write_text(short_lesson(), encoding="utf-8")
    assert [path.name for path in notebooks((lessons,))] == ["a.ipynb", "b.ipynb"]
    monkeypatch.chdir(lessons / "sub")
    assert [path.name for path in notebooks((Path("../../lessons"),))] == ["a.ipynb", "b.ipynb"]
