"""The command that keeps a lesson's pack current while one edits it."""

from __future__ import annotations

from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import bounds, complete_lessons, notebooks, quiet
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
@bounds
@quiet
def watch(lesson: Path, out: Path, no_run: bool, times: int | None, quiet: bool, **chosen: Any) -> None:
    """Keep the pack of a LESSON current while you edit it, and say what is false in it; Ctrl+C ends.

    The page in build/<lesson>/lesson.html is renewed whenever the notebook is saved: reload it in the browser. The
    lesson's code is run again only where the code changed.

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
    try:
        for number, one in enumerate(islice(changes(kept, every()), times)):
            _tell(kept, one, quiet)
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
