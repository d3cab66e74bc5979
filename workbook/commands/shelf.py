"""The command that lists and searches a folder's phrases."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from theorylib.levels import LEVELS

from .options import quiet
from .reports import json_option, silent, tell_json
from .terminal import say

if TYPE_CHECKING:
    from ..lesson.shelf import Wish


def wished(command: Callable[..., None]) -> Callable[..., None]:
    """The words and options that say what a phrase must be, handed to a command as one wish."""
    @click.argument("words", nargs=-1)
    @click.option("--over", metavar="TEXT", help='Changes that they must fit: "| Am7 | D9 |".')
    @click.option("--position", type=click.IntRange(1, 24), metavar="FRET", help="A position that they must lie in.")
    @click.option("--level", type=click.Choice(LEVELS))
    @click.option("--technique", default="", metavar="NAME", help="A technique that they must train, such as bends.")
    @wraps(command)
    def with_wish(words: tuple[str, ...], over: str | None, position: int | None, level: str | None, technique: str,
                  **others: Any) -> None:
        from ..lesson.shelf import Wish

        command(Wish(" ".join(words), over, position, level or "", technique), **others)

    return with_wish


@click.command()
@wished
@click.option("--folder", type=click.Path(path_type=Path), default=Path("lessons"), show_default=True,
              help="The folder of lessons in which phrases/ lies.")
@json_option
@quiet
def phrases(wish: Wish, folder: Path, json_file: Path | None, quiet: bool) -> None:
    """List the phrases of a folder, or those with some WORDS, that fit some changes or a position.

    Each is a text file in the folder phrases/: TAB or words under a heading (title, over, level, techniques). One that
    fits after a move is listed with the half steps.

    \b
    Example:
      vampbook phrases bends --over "| Am7 | D9 |" --position 5
    """
    from ..files import FileError
    from ..lesson.shelf import FOLDER, SUFFIX, files_in, read_filed, search

    files = files_in(folder)
    if not files:
        raise FileError(f"there are no phrases in {folder}", value=str(folder),
                        expected=f"text files such as {folder / FOLDER / ('harbour-lights' + SUFFIX)}")
    found = search(map(read_filed, files), wish)
    tell_json(json_file, {"phrases": [
        {"file": str(one.filed.path), "title": one.filed.title, "over": one.filed.over, "level": one.filed.level,
         "techniques": list(one.filed.techniques), "up": one.up} for one in found]})
    if silent(quiet, json_file):
        return
    for one in found:
        filed = one.filed
        facts = (filed.over and f"over {filed.over}", filed.level, ", ".join(filed.techniques),
                 f"moved {one.up:+d} half steps" if one.up else "")
        say(f"{filed.path}  {filed.title}" + "".join(f" · {fact}" for fact in facts if fact))
    if not found:
        say("no phrase fits")
