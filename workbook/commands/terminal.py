"""The one door to the terminal: every line that the command prints goes through it, click's own refusals as well."""

from __future__ import annotations

import io
import os
import sys
from typing import Any

import click

from theorylib.errors import VampError

from ..legible import legible
from .progress import without_bar

_PICTURE = "\n    "


def say(words: object, *, err: bool = False) -> None:
    """Print one line, with nothing in it that the terminal would obey.

    The picture of a place that an error may hold keeps its two lines: set in, they cannot pass for lines of ours.
    """
    shown = _PICTURE.join(map(legible, str(words).split(_PICTURE, 2)))
    with without_bar():
        click.echo(shown, file=sys.stderr if err else sys.stdout)  # by itself it takes ASCII for a mistake


def say_unless(quiet: bool, words: object) -> None:
    """Print one line, unless the teacher asked for nothing but errors."""
    if not quiet:
        say(words)


def say_next(quiet: bool, words: object) -> None:
    """Print what one may do next, beside the output that a script reads."""
    if words and not quiet:
        say(f"  next: {words}", err=True)


def _read_utf8() -> None:
    """Begin anew in Python's UTF-8 mode where it was told to take what is typed for ASCII: a title's é would come as
    two signs of nothing, and a file of that name could not be named."""
    if sys.getfilesystemencoding() == "ascii" and not sys.flags.ignore_environment:
        os.environ["PYTHONUTF8"] = "1"
        os.execv(sys.executable, sys.orig_argv)


class Group(click.Group):
    """Turns our own errors into one line and exit status 1; its processes leave the current folder alone."""

    def main(self, *args: Any, **more: Any) -> Any:
        if not args and more.get("args") is None:  # as a terminal calls us
            _read_utf8()
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # one in ASCII, say: what it cannot show must not end us
                stream.reconfigure(errors="backslashreplace")
        return super().main(*args, **more)

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        try:
            return super().make_context(*args, **more)
        except click.ClickException as error:
            vars(error).update(message=legible(error.message))
            raise

    def invoke(self, ctx: click.Context) -> Any:
        from ..running.apart import leave_folder

        leave_folder()
        try:
            return super().invoke(ctx)
        except VampError as error:
            say(f"vampbook: {error}", err=True)
            ctx.exit(1)
        except click.ClickException as error:
            vars(error).update(message=legible(error.message))
            raise
