"""The commands that listen: to a recording, and write what was heard."""

from __future__ import annotations

from pathlib import Path

import click

from .options import quiet
from .terminal import say


@click.command()
@click.argument("track", type=click.Path(path_type=Path))
@click.option("--tempo", metavar="NUMBER", help="Quarter notes a minute, as you count them.")
@click.option("--meter", metavar="METER", help="Time signature, such as 3/4.")
@click.option("--first-bar", metavar="SECONDS", help="Where the first bar begins, from the beginning of the file.")
@click.option("--key", metavar="KEY", help='Key or home, such as "B minor" or "A dorian".')
@click.option("--form", metavar="FORM", help='Bars of a chorus, such as 12, or sections with theirs: "A8 B8".')
@click.option("--chart", "chart_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A chart that you corrected: what it says is taken as right, bars still marked ? are heard anew.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Write the chart there, not here.")
@click.option("--picture", type=click.Path(path_type=Path), metavar="FILE",
              help="Write a picture (SVG): level, bars, sections, how sure each chord is.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), metavar="FILE", help="Write all numbers as JSON.")
@click.option("--force", is_flag=True, help="Replace files of those names; the ones before stay as FILE.1 (.2 …).")
@quiet
def hear(track: Path, chart_file: Path | None, out: Path | None, picture: Path | None, json_file: Path | None,
         force: bool, quiet: bool, **said: str | None) -> None:
    """Hear a recording: its tempo, meter, bars, key, chords and form, as a chart to correct.

    Everything is a suggestion: correct the chart, give it back with --chart, and the rest is heard anew. WAV, FLAC,
    OGG and MP3, up to 30 minutes. Keep the volume moderate when you check it by ear.

    \b
    Example:
      vampbook hear groove.wav --out groove.txt --picture groove.svg
      vampbook hear groove.wav --chart groove.txt --tempo 92
    """
    from .files import read_text
    from .recordings import hear as heard_of

    chart = read_text(chart_file) if chart_file is not None else None
    found = heard_of(track, chart=chart, **said)  # type: ignore[arg-type]
    made = ((out, found.text), (json_file, found.json), (picture, lambda: found.picture().svg))
    written = [(path, make()) for path, make in made if path is not None]
    _write(written, track, force)
    if quiet:
        return
    for line in found.summary():
        say(line)
    if out is None:
        for line in found.text().splitlines():
            say(line)
    for path, _ in written:
        say(str(path))


def _write(written: list[tuple[Path, str]], track: Path, force: bool) -> None:
    """Write the files; none replaces another without being told to, and none the recording."""
    import os

    from .files import FileError, keep_beside, write_new, write_whole

    for path, _ in written:
        if path.exists() and (not force or os.path.samefile(path, track)):
            raise FileError(f"{path} exists", value=str(path), expected="another name, or --force to replace it")
    for path, content in written:
        if path.exists():
            keep_beside(path)
            write_whole(path, content)
        else:
            write_new(path, content)
