"""The commands that write lessons: `new`, and `refresh` after a choice was changed."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import replace
from itertools import starmap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from theorylib.levels import LEVELS

from .options import Listed, bounds, feels, jobs, keys, lessons_argument, notebooks, quiet, tunings
from .progress import progress
from .reports import json_option, silent, tell_json
from .terminal import say, say_next, say_unless

if TYPE_CHECKING:
    from theorylib.changes.charts import Chart

    from ..lesson.chosen import Choices
    from ..library.renewing import Renewed
    from ..recorded.own_tracks import Brought


@click.command()
@click.argument("title")
@click.option("--changes", metavar="TEXT", help='The chords between bar lines: "| Gm7 | C9 |".')
@click.option("--chart", "chart_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Read the chart (headers and bars) from a text file instead.")
@click.option("--key", cls=Listed, names=keys, shows=False, metavar="KEY",
              help='Key of the changes, such as "B minor"; found from the chords without it.')
@click.option("--meter", metavar="METER", help="Time signature, such as 3/4.  [default: 4/4]")
@click.option("--tempo", metavar="NUMBER", help="Quarter notes a minute, or “♩. = 60” in 6/8 and 12/8.  [default: 100]")
@click.option("--feel", cls=Listed, names=feels, metavar="FEEL", help="How it moves.  [default: straight 8]")
@click.option("--level", type=click.Choice(LEVELS), default="intermediate", show_default=True)
@click.option("--minutes", type=click.IntRange(5, 240), default=30, show_default=True,
              help="How long the lesson lasts.")
@click.option("--position", type=click.IntRange(1, 20), metavar="FRET",
              help="Fret of the first finger; the easiest position near the root without it.")
@click.option("--per-chord", type=click.IntRange(1, 64), default=8, show_default=True, help="Notes over a chord.")
@click.option("--passes", type=click.IntRange(1, 8),
              help="Times through the changes.  [default: 2; of a form longer than 8 bars 1]")
@click.option("--tuning", cls=Listed, names=tunings, default="standard", show_default=True, metavar="TUNING",
              help="A name, or pitches from low to high.")
@click.option("--kind", type=click.Choice(["groove", "blues", "rock", "modern"]), default="groove", show_default=True,
              help="groove: arpeggios; blues: targets and bends; rock: sixteenths; modern: taps and vibrato.")
@click.option("--phrase", "phrase_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A lesson about the phrase in a text file (TAB or words); its heading may hold the changes.")
@click.option("--track", type=click.Path(path_type=Path), metavar="FILE",
              help="A lesson over your own recording; --chart may be what `hear` wrote of it, corrected.")
@click.option("--substitutes", is_flag=True, help="Add a section on substitute arpeggios.")
@click.option("--folder", type=click.Path(path_type=Path), default=Path("lessons"), show_default=True)
@click.option("--force", is_flag=True, help="Replace a lesson of the same name; the old one stays as x.ipynb.1 (.2 …).")
@click.option("--no-run", is_flag=True, help="Write the lesson without running it.")
@json_option
@quiet
def new(title: str, folder: Path, force: bool, no_run: bool, quiet: bool, json_file: Path | None,
        **choices: Any) -> None:
    """Write a lesson notebook on some changes, ready to read and to edit.

    With --track the changes may be left out: they are heard, and you correct them. The recording is copied beside the
    lesson, with a text that says where its bars lie; the practice page then plays it.

    \b
    Example:
      vampbook new "Slack water" --changes "| Gm7 | C9 |" --tempo 92 --feel "straight 16"
      vampbook new "Night bus" --track groove.wav --chart groove.txt
    """
    from ..files import FileError, slug
    from ..lesson.lesson import Lesson
    from ..lesson.writing import new_lesson
    from ..running.run import run_lesson

    path = folder / f"{slug(title)}.ipynb"
    if path.exists() and not force:
        raise FileError(f"{path} exists", value=str(path), expected="another title, or --force to replace it")
    chart, chosen, brought = _chosen(title, folder, choices)
    lesson = Lesson.of(new_lesson(chart, chosen), path)
    if not no_run:
        with progress(quiet, f"running {path.name}") as tick:
            lesson = run_lesson(lesson, folder if folder.is_dir() else Path.cwd(), on_cell=tick)
    told = brought.write(force) if brought else []
    kept = lesson.write(new=not force, keep=True)
    quiet = silent(quiet, json_file)
    for words in (f"{path}" + (f"  (the one before: {kept})" if kept else ""), *told):
        say_unless(quiet, words)
    say_next(quiet, f"jupyter lab {_typed(path)} to read and change it, vampbook build {_typed(path)} for the pack")
    tell_json(json_file, {"written": str(path), "kept": str(kept) if kept else None})


def _chosen(title: str, folder: Path, choices: dict[str, Any]) -> tuple[Chart, Choices, Brought | None]:
    """The chart and the choices of a new lesson, and the recording that is brought to it, if one is."""
    from theorylib.necks.tunings import as_tuning

    from ..lesson.chosen import PHRASE, Choices
    from ..lesson.fitting import usual_passes
    from ..lesson.phrase_lines import in_its_tuning, typed_phrase

    headers = {word: choices.pop(word) for word in ("key", "meter", "tempo", "feel")}
    words = ("changes", "chart_file", "phrase_file", "track")
    changes, chart_file, phrase_file, track = (choices.pop(word) for word in words)
    typed, own = typed_phrase(phrase_file) if phrase_file is not None else ("", None)
    text = _changes(changes if changes or chart_file else own, chart_file, needed=track is None)
    brought = _brought(track, folder, text, headers) if track is not None else None
    chart = brought.chart if brought else _chart(text, headers)
    chart = chart if chart.title else replace(chart, title=title)
    choices["passes"] = choices["passes"] or usual_passes(chart)
    if brought:
        choices |= {"track": brought.name, "passes": brought.passes(choices["passes"])}
    if typed:
        choices |= {"kind": PHRASE, "per_chord": 4, "phrase": in_its_tuning(typed, choices["tuning"], chart)}
    choices["tuning"] = as_tuning(choices["tuning"])
    return chart, Choices(title, **choices), brought


def _typed(path: Path) -> str:
    """A path as it is typed in a shell."""
    return shlex.join([str(path)]) if os.name != "nt" else subprocess.list2cmdline([str(path)])


def _changes(changes: str | None, chart_file: Path | None, *, needed: bool) -> str:
    """The text of the changes; empty where none are given and none are needed."""
    both, none = changes is not None and chart_file is not None, changes is None and chart_file is None
    if both or (none and needed):
        raise click.UsageError("give the changes with --changes or a file with --chart (one of the two)")
    if chart_file is not None:
        from ..files import read_text

        return read_text(chart_file)
    return changes or ""


def _chart(text: str, headers: Mapping[str, str | None]) -> Chart:
    from theorylib.changes.charts import Chart

    return Chart.parse(text, **{word: value for word, value in headers.items() if value})


def _brought(track: Path, folder: Path, text: str, headers: Mapping[str, str | None]) -> Brought:
    from ..recorded.own_tracks import bring

    return bring(track, folder, text, headers)


@click.command()
@lessons_argument
@click.option("--dry-run", is_flag=True, help="Show as a diff what would change, and change nothing.")
@click.option("--all", "every", is_flag=True,
              help="Write cells anew that you changed, too; the lesson before stays as x.ipynb.1 (.2 …).")
@click.option("--no-run", is_flag=True, help="Write the words and the code, and do not run the lesson.")
@jobs
@bounds
@json_option
@quiet
def refresh(lessons: tuple[Path, ...], dry_run: bool, every: bool, no_run: bool, quiet: bool, **chosen: Any) -> None:
    """Write the words and the code of lessons anew from their choices, run them and save them.

    Change a line of the cell of choices (tagged “parameters”) first. What you wrote or changed yourself stays, and the
    command names it. Save the lesson and close it in Jupyter before, or reload it from the disk afterwards.

    \b
    Example:
      vampbook refresh lessons/slack-water.ipynb --dry-run
      vampbook refresh lessons/slack-water.ipynb
    """
    from ..library.renewing import Renewal, Renewed, renew
    from ..running.bounds import Bounds
    from ..running.workers import Lost, each

    quiet = silent(quiet, chosen["json_file"])
    how = Renewal(every, dry_run, not no_run, Bounds(chosen["seconds"], chosen["memory"]))
    tasks = [(path, how) for path in notebooks(lessons)]
    here = dry_run or no_run  # words alone take less time than to start a process
    told = []
    with progress(quiet, "refreshing") as tick:
        renewed = enumerate(starmap(renew, tasks)) if here else each(renew, tasks, chosen["jobs"])
        for done, (number, one) in enumerate(renewed, 1):
            tick(done, len(tasks))
            if isinstance(one, Lost):
                one = Renewed(tasks[number][0], error=f"{tasks[number][0]}: {one.why}")
            told.append(one)
            _tell(one, quiet)
    rows = [{"lesson": str(one.path), "said": one.said, "notes": list(one.notes), "diff": list(one.diff),
             "error": one.error} for one in told]
    tell_json(chosen["json_file"], {"refreshed": rows})
    if any(one.error for one in told):
        sys.exit(1)


def _tell(one: Renewed, quiet: bool) -> None:
    if one.error:
        say(f"vampbook: {one.error}", err=True)
        return
    for words in one.notes:
        say(f"vampbook: {one.path}: {words}", err=True)
    for line in one.diff or [one.said]:
        say_unless(quiet, line)
