"""The commands that listen: to a recording, and to a take of a lesson's line; they write what was heard."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from .options import quiet
from .reports import STDOUT, silent, tell_json
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
@click.option("--json", "json_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Write all numbers as JSON; - prints them in place of the lines.")
@click.option("--force", is_flag=True, help="Replace files of those names; the ones before stay as FILE.1 (.2 …).")
@quiet
def hear(track: Path, quiet: bool, **said: Any) -> None:
    """Hear a recording: its tempo, meter, bars, key, chords and form, as a chart to correct.

    Everything is a suggestion: correct the chart, give it back with --chart, and the rest is heard anew. WAV, FLAC,
    OGG and MP3, up to 30 minutes. Keep the volume moderate when you check it by ear.

    \b
    Example:
      vampbook hear groove.wav --out groove.txt --picture groove.svg
      vampbook hear groove.wav --chart groove.txt --tempo 92
    """
    from ..files import read_text
    from ..recorded.recordings import hear as heard_of

    out, picture, json_file, force = (said.pop(word) for word in ("out", "picture", "json_file", "force"))
    chart_file = said.pop("chart_file")
    found = heard_of(track, chart=read_text(chart_file) if chart_file is not None else None, **said)
    made = ((out, found.text), (_file(json_file), found.json), (picture, lambda: found.picture().svg))
    written = [(path, make()) for path, make in made if path is not None]
    _write(written, track, force)
    if json_file == STDOUT:
        tell_json(json_file, json.loads(found.json()))
    if silent(quiet, json_file):
        return
    for line in found.summary():
        say(line)
    if out is None:
        for line in found.text().splitlines():
            say(line)
    for path, _ in written:
        say(str(path))


@click.command()
@click.argument("recording", type=click.Path(path_type=Path))
@click.option("--lesson", type=click.Path(path_type=Path), metavar="LESSON",
              help="The lesson whose line was played.")
@click.option("--over", type=click.Path(path_type=Path), metavar="FILE",
              help="Instead of a lesson: a chart over which was played freely, held up as in a mirror.")
@click.option("--line", type=click.IntRange(1, 999), metavar="NUMBER",
              help="Which of its lines; the first that is no rhythm part without it.")
@click.option("--tempo", type=click.FloatRange(20, 400), metavar="NUMBER",
              help="Quarter notes a minute that it was played at, if not the lesson's.")
@click.option("--track", type=click.Path(path_type=Path), metavar="FILE",
              help="The backing that is heard in the take: early and late are then judged against it.")
@click.option("--first-beat", type=float, metavar="SECONDS",
              help="Where the line's first beat lies in the take (in the track, with --track).")
@click.option("--claps", type=click.Path(path_type=Path), metavar="FILE",
              help="You clapping to a click of the same tempo from the start: how late your device records.")
@click.option("--student", default="", metavar="NAME", help="Whose take it is; named in the report.")
@click.option("--page", type=click.Path(path_type=Path), metavar="FILE", help="Write the report as an HTML page.")
@click.option("--pdf", type=click.Path(path_type=Path), metavar="FILE", help="Write it as a PDF.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Write all numbers as JSON; - prints them in place of the lines.")
@click.option("--progress", type=click.Path(path_type=Path), metavar="FOLDER",
              help="Keep the numbers there by student and lesson, and show what became of them over the weeks.")
@click.option("--force", is_flag=True, help="Replace files of those names; the ones before stay as FILE.1 (.2 …).")
@quiet
def take(recording: Path, quiet: bool, **said: Any) -> None:
    """Hold a recorded take against a lesson's line: what went well, and what to work on at which tempo.

    Each note is early or late, wrong or missing; bends and vibrato are measured. What cannot be judged is said: without
    --track or --first-beat only differences between notes are. Record with headphones, at a moderate volume.

    \b
    Example:
      vampbook take monday.wav --lesson lessons/slack-water.ipynb --page monday.html
    """
    from ..recorded.takes import latency_in
    from ..recorded.takes import take as held

    page, pdf, json_file, force = (said.pop(word) for word in ("page", "pdf", "json_file", "force"))
    claps, progress, over = said.pop("claps"), said.pop("progress"), said.pop("over")
    if (over is None) == (said["lesson"] is None):
        raise click.UsageError("name the lesson with --lesson, or a chart with --over (one of the two)")
    if over is not None:
        _mirrored(recording, over, said, quiet)
        return
    latency = latency_in(claps, said["lesson"], said["line"], said["tempo"]) if claps is not None else 0.0
    found = held(recording, latency_ms=latency, **said)
    made = ((page, found.page), (pdf, found.pdf), (_file(json_file), found.json))
    written = [(path, make()) for path, make in made if path is not None]
    _write(written, recording, force)
    if progress is not None:
        from ..recorded.progress import keep

        written.append((keep(found, progress, recording), ""))
    if json_file == STDOUT:
        tell_json(json_file, json.loads(found.json()))
    if silent(quiet, json_file):
        return
    for line in found.words():
        say(line)
    for path, _ in written:
        say(str(path))


def _mirrored(recording: Path, over: Path, said: dict[str, Any], quiet: bool) -> None:
    from ..files import read_text
    from ..recorded.takes import mirror

    found = mirror(recording, read_text(over), **{word: said[word] for word in ("first_beat", "tempo", "track")})
    for line in found.words() if not quiet else ():
        say(line)


def _file(asked: Path | None) -> Path | None:
    """The file to write, where it is not the terminal."""
    return None if asked == STDOUT else asked


def _write(written: Sequence[tuple[Path, str | bytes]], track: Path, force: bool) -> None:
    """Write the files; none replaces another without being told to, and none the recording."""
    import os

    from ..files import FileError, keep_beside, write_new, write_whole

    for path, _ in written:
        if path.exists() and (not force or os.path.samefile(path, track)):
            raise FileError(f"{path} exists", value=str(path), expected="another name, or --force to replace it")
    for path, content in written:
        if path.exists():
            keep_beside(path)
            write_whole(path, content)
        else:
            write_new(path, content)
