"""The commands that look lessons over: `check`, and `pair` for their plain texts."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from theorylib.errors import VampError

from .options import bounds, jobs, lessons_argument, notebooks, quiet
from .progress import progress
from .reports import json_option, silent, tell_json, tell_text
from .terminal import say, say_unless

if TYPE_CHECKING:
    from ..checking.counts import Checked
    from ..checking.findings import Finding

_CHECK = "workbook.checking.check:check_lesson"  # by its name: what it needs is loaded where it works


@click.command()
@lessons_argument
@click.option("--no-run", is_flag=True, help="Check what is stored only, without running the lessons.")
@click.option("--junit", type=click.Path(path_type=Path), metavar="FILE", help="Write the report as JUnit XML too.")
@json_option
@click.option("--offers", is_flag=True, help="Also list claims in the prose that could be marked and checked.")
@jobs
@bounds
@quiet
def check(lessons: tuple[Path, ...], no_run: bool, offers: bool, quiet: bool, **chosen: Any) -> None:
    """Check that lessons run and give what they recorded, that they are true, and that they can be used.

    Judges claims, {= Dm7b5 over E7 gives b7 b9 3 b13 =}, and what your sentences name, but in cells tagged “aside”.

    \b
    Example:
      vampbook check lessons/ --junit build/check.xml
    """
    from ..running.workers import begin

    paths = notebooks(lessons)
    begin(len(paths), _CHECK)  # it loads while we do
    quiet = silent(quiet, chosen["json_file"])
    checked = _checked(paths, not no_run, quiet, chosen)
    folders = [folder for folder in lessons if folder.is_dir()]
    findings = [one for done in checked.values() for one in done.findings] + _beside(folders)
    _write_reports([*paths, *_files_beside(folders)], findings, checked, chosen)
    _tell(findings, checked, offers, quiet)
    if any(finding.is_fault for finding in findings):
        sys.exit(1)


def _beside(folders: list[Path]) -> list[Finding]:
    """What is wrong with the courses and the phrases of folders."""
    from ..checking.phrases import check_phrases
    from ..library.course import check_course

    return [one for folder in folders for one in (*check_course(folder), *check_phrases(folder))]


def _files_beside(folders: list[Path]) -> list[Path]:
    """The files that `_beside` looked at."""
    from ..checking.phrases import phrase_files
    from ..library.course import FILE

    courses = [folder / FILE for folder in folders if (folder / FILE).is_file()]
    return courses + [file for folder in folders for file in phrase_files(folder)]


def _tell(findings: list[Finding], checked: dict[Path, Checked], offers: bool, quiet: bool) -> None:
    """Each finding, once where it is said of many cells; how much was looked at; how many faults there are."""
    from ..checking.findings import grouped

    for line in grouped(finding for finding in findings if offers or not finding.offer):
        say(line, err=True)
    for path, done in checked.items():
        say_unless(quiet, f"{path}: {done.counts}")
    faults = sum(finding.is_fault for finding in findings)
    told = f", {faults} problem{'' if faults == 1 else 's'}" if faults else ": nothing false found"
    say_unless(quiet, f"{len(checked)} lesson{'' if len(checked) == 1 else 's'} checked{told}")


def _checked(paths: list[Path], run: bool, quiet: bool, chosen: dict[str, Any]) -> dict[Path, Checked]:
    """What the check of each lesson found, side by side, in the order of the lessons."""
    from ..checking.counts import Checked
    from ..checking.findings import Finding
    from ..running.bounds import Bounds
    from ..running.workers import Lost, each

    done: dict[int, Checked] = {}
    tasks = [(path, run, Bounds(chosen["seconds"], chosen["memory"])) for path in paths]
    with progress(quiet, "checking") as tick:
        for number, found in each(_CHECK, tasks, chosen["jobs"]):
            done[number] = Checked((Finding(paths[number], 0, found.why),)) if isinstance(found, Lost) else found
            tick(len(done), len(paths))
    return {path: done[number] for number, path in enumerate(paths)}


def _write_reports(paths: list[Path], findings: list[Finding], checked: dict[Path, Checked],
                   chosen: dict[str, Any]) -> None:
    from ..checking.reports import as_json, as_junit, write_report

    counts = {path: done.counts for path, done in checked.items()}
    if chosen["junit"] is not None:
        write_report(chosen["junit"], as_junit(paths, findings, counts))
    if chosen["json_file"] is not None:
        tell_text(chosen["json_file"], as_json(paths, findings, counts))


@click.command()
@lessons_argument
@click.option("--take", type=click.Choice(["lesson", "text"]), default=None,
              help="Where both were changed: which to go by; the other stays as x.ipynb.1 or x.py.1.")
@json_option
@quiet
def pair(lessons: tuple[Path, ...], take: str | None, json_file: Path | None, quiet: bool) -> None:
    """Keep each lesson beside a plain Python text of its cells, which merges line by line.

    Changed in one of the two, it is brought into the other; JupyterLab does the same where jupytext is installed.
    Where both were changed, nothing is, and the command says so.

    \b
    Example:
      vampbook pair lessons/slack-water.ipynb
    """
    from ..checking.pairing import pair as together

    quiet, told = silent(quiet, json_file), []
    for path in notebooks(lessons):
        text, wrong = "", ""
        try:
            text = str(together(path, take or ""))
            say_unless(quiet, text)
        except VampError as error:
            wrong = str(error)
            say(f"vampbook: {error}", err=True)
        told.append({"lesson": str(path), "text": text, "error": wrong})
    tell_json(json_file, {"paired": told})
    if any(one["error"] for one in told):
        sys.exit(1)
