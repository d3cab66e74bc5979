"""The command that lists the styles of the band, writes one out to be changed, and reads one that was."""

from __future__ import annotations

from pathlib import Path

import click

from .options import quiet
from .terminal import say


@click.command()
@click.argument("style", default="")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write the copy into a file, such as lessons/mine.txt, which must not be there yet.")
@quiet
def styles(style: str, out: Path | None, quiet: bool) -> None:
    """List the styles that a band plays, copy one to be changed, or check your own.

    STYLE is a name, whose text is printed (or written by --out) with what its signs mean, or the file of a style (one
    that ends in .txt), which is read: what is wrong is said with its line.

    \b
    Example:
      vampbook styles
      vampbook styles rock --out lessons/mine.txt
      vampbook styles lessons/mine.txt
      vampbook build lessons/slack-water.ipynb --audio mp3 --style lessons/mine.txt
    """
    from ..files import write_new
    from ..play.style_text import SUFFIX, as_style, copied_text, style_names

    lines: tuple[str, ...]
    if out is not None:
        if out.suffix != SUFFIX:
            raise click.UsageError(f"--out {out}: a style's file ends in {SUFFIX}")
        write_new(out, copied_text(style))
        lines = (f"{out}",)
    elif not style:
        lines = style_names()
    elif style.endswith(SUFFIX):
        lines = (f"{style}: {as_style(style).name}, nothing wrong",)
    else:
        lines = tuple(copied_text(style).splitlines())
    for line in () if quiet else lines:
        say(line)
