"""The command that lists the styles of the band, writes one out to be changed, and reads one that was."""

from __future__ import annotations

import click

from .options import quiet
from .terminal import say


@click.command()
@click.argument("style", default="")
@quiet
def styles(style: str, quiet: bool) -> None:
    """List the styles that a band plays, print one to be copied, or check your own.

    STYLE is a name, whose text is printed with what its signs mean, or the file of a style (one that ends in .txt),
    which is read: what is wrong is said with its line.

    \b
    Example:
      vampbook styles
      vampbook styles rock > lessons/mine.txt
      vampbook styles lessons/mine.txt
      vampbook build lessons/slack-water.ipynb --audio mp3 --style lessons/mine.txt
    """
    from .play.style_text import as_style, copied_text, style_names

    if not style:
        lines = style_names()
    elif style.endswith(".txt"):
        lines = (f"{style}: {as_style(style).name}, nothing wrong",)
    else:
        lines = tuple(copied_text(style).splitlines())
    for line in () if quiet else lines:
        say(line)
