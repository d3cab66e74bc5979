"""The command that makes a teacher's folder, and opens it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import click

from ..teacher_folder import LESSONS, PAGE_LOOK, SHEET, SIMPLE, WELCOME, Laid, lay, make_folder, shipped, was_laid
from .guiding import cheat_sheet
from .options import quiet
from .terminal import say

_PACKS = r"build/.*\.(pdf|html|mp3|mid|musicxml)"  # what the page without code hands out
_NOTHING_FETCHED = ("--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate")
_ASKS_NOTHING = Path(__file__).parents[1] / "lab" / "config"  # Lab's question whether it may fetch news is not put
_FIRST = "First light"
_FIRST_CHANGES = "| Am7 | D7 |"
_COURSE = """\
# A course puts lessons in order. Build it with: vampbook course lessons/
title = "My course"
about = "What it is about, in a sentence or two."

[[level]]
name = "beginner"
lessons = ["first-light"]  # the names of the files in this folder, without .ipynb

# [[level]]
# name = "intermediate"
# lessons = ["second-wind"]
#
# [needs]
# second-wind = ["first-light"]  # what comes before what
"""


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@click.option("--no-lab", is_flag=True, help="Write the folder only, and do not open JupyterLab.")
@click.option("--simple", is_flag=True, help="Open a page without code in place of JupyterLab: changes in, pack out.")
@click.option("--port", type=click.IntRange(1, 65_535), help="Where the page or JupyterLab is served.  [default: free]")
@click.option("--no-browser", is_flag=True, help="Print the address, without opening a browser.")
@click.option("--allow-root", is_flag=True, help="Let JupyterLab run for the administrator, as in a container.")
@click.option("--restore", is_flag=True, help="Write again what came with the kit and was removed since.")
@quiet
@click.pass_context
def start(context: click.Context, folder: Path, no_lab: bool, restore: bool, quiet: bool, **how: Any) -> None:
    """Make a folder to work in, and open it: lessons, phrases, the workbook with its guide.

    FOLDER is the current one if none is named. In a folder that was made before it adds what is new, and renews what
    came with the kit and was not changed since; what you wrote, changed or removed stays as it is.

    \b
    Example:
      vampbook start my-lessons
      vampbook start my-lessons --simple
    """
    _refuse_our_own(folder)
    make_folder(folder)
    sheet = {SHEET: cheat_sheet(context)}
    laid = lay(folder, shipped() | sheet | _first(folder, restore), restore=restore)
    if not quiet:
        for line in _told(folder, laid):
            say(line)
    if no_lab:
        if not quiet:
            say(f"next: vampbook start {folder}" if str(folder) != "." else "next: vampbook start")
        return
    if not quiet:
        page = SIMPLE if how["simple"] else WELCOME
        say(f"{(folder / page).absolute()} opens in your browser; it ends with Ctrl+C here")
    sys.exit(_serve(folder, **how))


def _refuse_our_own(folder: Path) -> None:
    """A checkout of this project has a folder `workbook` that is the program."""
    from ..files import FileError

    if (folder / "workbook" / "__init__.py").exists():
        raise FileError(f"{folder.absolute()} holds the program itself", value=str(folder),
                        expected="a folder of your own, such as vampbook start ../my-lessons")


def _first(folder: Path, restore: bool) -> dict[str, bytes]:
    """A first lesson, run, and a course of it: only once, for they are the teacher's from then on."""
    files = {f"{LESSONS}/course.toml": _COURSE.encode()}
    name = f"{LESSONS}/first-light.ipynb"
    if not was_laid(folder, name) or (restore and not (folder / name).exists()):
        files[name] = _first_lesson(folder / name).encode()
    return files


def _first_lesson(path: Path) -> str:
    from theorylib.changes.charts import Chart

    from ..lesson.chosen import Choices
    from ..lesson.lesson import Lesson
    from ..lesson.writing import new_lesson
    from ..running.run import run_lesson

    chart = Chart.parse(_FIRST_CHANGES, title=_FIRST, tempo="84")
    return run_lesson(Lesson.of(new_lesson(chart, Choices(_FIRST, level="beginner", minutes=20)), path)).text


def _told(folder: Path, laid: Laid) -> list[str]:
    words = {"written": laid.added, "brought up to date": laid.renewed,
             "kept as you changed it": laid.kept, "left out, since you removed it (--restore writes it again)":
             laid.left_out}
    lines = [f"{folder / name}  {what}" for what, names in words.items() for name in names]
    return lines or [f"{folder.absolute()}: all is there"]


def _serve(folder: Path, simple: bool, port: int | None, no_browser: bool, allow_root: bool) -> int:
    """JupyterLab in the folder, or the page without code alone, until it ends; its status."""
    if simple:
        command = ["voila", SIMPLE, "--template=vampbook", f"--VoilaConfiguration.file_allowlist={_PACKS}",
                   "--Voila.ip=127.0.0.1", f"--Voila.root_dir={folder.absolute()}",
                   *([f"--port={port}"] if port else [])]
    else:
        command = ["jupyterlab", f"--ServerApp.root_dir={folder.absolute()}",
                   f"--LabApp.default_url=/lab/tree/{WELCOME}", *_NOTHING_FETCHED,
                   *([f"--ServerApp.port={port}"] if port else []), *(["--allow-root"] if allow_root else [])]
    command += ["--no-browser"] if no_browser else []
    # A terminal in JupyterLab, and a cell's own commands, find `vampbook` beside this Python.
    places = {"PATH": str(Path(sys.executable).parent), "JUPYTER_PATH": str(PAGE_LOOK),
              "JUPYTER_CONFIG_PATH": str(_ASKS_NOTHING)}
    surroundings = {name: os.pathsep.join((first, os.environ.get(name, ""))) for name, first in places.items()}
    running = subprocess.Popen([sys.executable, "-m", "workbook.lab.server", *command], cwd=folder,
                               env={**os.environ, **surroundings})
    while True:
        try:
            return running.wait()
        except KeyboardInterrupt:  # the server got it as well, and asks whether it is meant
            continue
