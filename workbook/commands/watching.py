"""The command that keeps a lesson's pack current while one edits it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from itertools import islice, takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import bounds, complete_lessons, notebooks, quiet
from .reports import STDOUT, json_option, packs_json, silent, tell_json
from .terminal import say, say_next, say_unless

if TYPE_CHECKING:
    from ..library.watching import Renewed, Watch


@click.command()
@click.argument("lesson", type=click.Path(path_type=Path), shell_complete=complete_lessons)
@click.option("--out", type=click.Path(path_type=Path), default=Path("build"), show_default=True,
              help="Where the pack's folder goes.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True)
@click.option("--large-print", is_flag=True, help="A handout in larger type.")
@click.option("--no-run", is_flag=True, help="Build from the outputs that are saved, without running the lesson.")
@click.option("--times", type=click.IntRange(1), metavar="NUMBER", help="End after so many packs.")
@click.option("--with-parent", is_flag=True, hidden=True, help="End with the process that began this one.")
@json_option
@bounds
@quiet
def watch(lesson: Path, out: Path, no_run: bool, times: int | None, quiet: bool, **chosen: Any) -> None:
    """Keep the pack of a LESSON current while you edit it, and say what is false in it; Ctrl+C ends.

    The page in build/<lesson>/lesson.html is renewed whenever the notebook is saved: reload it in the browser. The
    lesson's code is run again only where the code changed. With --json - each pack is a line of JSON.

    \b
    Example:
      vampbook watch lessons/slack-water.ipynb
    """
    from ..handouts.tracks import Sound
    from ..library.orders import How, orders_for
    from ..library.watching import Watch, changes, every
    from ..running.bounds import Bounds

    (path,) = notebooks((lesson,))[:1]
    (order,) = orders_for([path], out)
    options = {"sound": Sound(""), "teacher": False, "paper": chosen["paper"], "large_print": chosen["large_print"]}
    kept = Watch(order, How(options, not no_run, Bounds(chosen["seconds"], chosen["memory"])))
    page = (order.folder / "lesson.html").resolve()
    quiet = silent(quiet, chosen["json_file"])
    looks = _with_parent(every()) if chosen["with_parent"] else every()
    try:
        for number, one in enumerate(islice(changes(kept, looks), times)):
            _tell(kept, one, quiet)
            _tell_json(kept, one, chosen["json_file"])
            say_next(quiet, f"open {page.as_uri()}, edit {path} and save it" if number == 0 and not one.outcome.error
                     else "")
    except KeyboardInterrupt:
        say_unless(quiet, f"{order.folder} is as the lesson was saved last")


def _tell(kept: Watch, one: Renewed, quiet: bool) -> None:
    """What became of one change: the pack first, then what is false."""
    from ..checking.findings import grouped

    if one.outcome.error:
        say(f"vampbook: {one.outcome.error}", err=True)
        return
    how = "run and built" if one.was_run else "built"
    say_unless(quiet, f"{one.outcome.folder}/  {how} in {one.seconds:.1f} s")
    for line in grouped(finding for finding in kept.findings() if not finding.offer):
        say(line, err=True)


def _tell_json(kept: Watch, one: Renewed, json_file: Path | None) -> None:
    """The same for a program: in a file the last pack, on the terminal a line for each."""
    if json_file is None:
        return
    (pack,) = packs_json([one.outcome])["packs"]
    found = [{key: value for key, value in asdict(finding).items() if key not in ("path", "offer")}
             for finding in kept.findings() if not finding.offer] if not one.outcome.error else []
    told = {"packs": [pack | {"seconds": round(one.seconds, 2), "was_run": one.was_run}], "findings": found}
    if json_file == STDOUT:
        click.echo(json.dumps(told))
    else:
        tell_json(json_file, told)


def _with_parent(looks: Iterator[None]) -> Iterator[None]:
    """Looks while the process that began this one is there: one that was killed could not end us."""
    import psutil

    parent = psutil.Process().parent()
    return takewhile(lambda _: parent is not None and parent.is_running(), looks)
