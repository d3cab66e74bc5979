"""What the commands of the terminal share: their options, and the lessons that they are given."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from theorylib.errors import closest

from ..files import FileError


def feels() -> list[str]:
    from theorylib.changes.meters import FEELS

    return list(FEELS)


def tunings() -> list[str]:
    from theorylib.necks.tuning_text import NAMED_TUNINGS

    return list(NAMED_TUNINGS)


def keys() -> list[str]:
    """Every tonic as it is usually spelled, major and minor (the circle of fifths)."""
    majors = ["C", "G", "D", "A", "E", "B", "F#", "Gb", "Db", "Ab", "Eb", "Bb", "F"]
    minors = ["A", "E", "B", "F#", "C#", "G#", "D#", "Eb", "Bb", "F", "C", "G", "D"]
    return [*(f"{tonic} major" for tonic in majors), *(f"{tonic} minor" for tonic in minors)]


class Listed(click.Option):
    """An option that takes more than a few names: a shell completes them, and `--help` lists them if it `shows` them.

    The names are asked for when they are needed, so that no command waits for their tables.
    """

    def __init__(self, *given: Any, names: Callable[[], list[str]], shows: bool = True, **more: Any) -> None:
        self.names, self.shows = names, shows
        super().__init__(*given, **more)

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        record = super().get_help_record(ctx)
        if record is None or not self.shows:
            return record
        return record[0], f"{record[1]}  Names: {', '.join(self.names())}."

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        typed = incomplete.lower()
        found = [name for name in self.names() if name.lower().startswith(typed)]
        in_bash = os.environ.get("_VAMPBOOK_COMPLETE", "").startswith("bash")  # which sets no space apart by itself
        return [CompletionItem(name.replace(" ", "\\ ").replace("#", "\\#") if in_bash else name) for name in found]


def complete_lessons(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Folders, and the notebooks in them."""
    place = Path(incomplete)
    folder = place if incomplete.endswith(("/", os.sep)) else place.parent
    found = sorted(one for one in folder.glob("*") if str(one).startswith(incomplete or "") or folder == place)
    shown = [f"{one}/" if one.is_dir() else str(one) for one in found
             if not one.name.startswith(".") and (one.is_dir() or one.suffix == ".ipynb")]
    return [CompletionItem(name) for name in shown]


lessons_argument = click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path),
                                  shell_complete=complete_lessons)
quiet = click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
jobs = click.option("--jobs", type=click.IntRange(1, 256), metavar="NUMBER",
                     help="Processes at work.  [default: one a core]")


def bounds(command: Callable[..., Any]) -> Callable[..., Any]:
    """What a lesson may take while it runs."""
    command = click.option("--memory", type=click.IntRange(64, 1_000_000), default=2048, show_default=True,
                           metavar="MB", help="Memory that a lesson may take, and the making of its pack.")(command)
    return click.option("--seconds", type=click.FloatRange(1, 86_400), default=120.0, show_default=True,
                        help="How long a lesson may run, and the making of its pack.")(command)


# Who plays the backing and how: each stands in the place of what the lesson says (play/band.py).
_BAND = (
    click.option("--style", metavar="STYLE", help="How the band plays: a style's name (vampbook styles lists them) "
                 "or a file of your own, such as mine.txt.  [default: the feel of the changes]"),
    click.option("--density", metavar="WORDS", help="How much it plays: grows, light, main, full or stop, or one for "
                 'each chorus, such as "light, main x2, full".  [default: grows]'),
    click.option("--choruses", type=click.IntRange(1, 400), metavar="NUMBER",
                 help="How many choruses, in the place of --minutes; of a short form, eight bars make one."),
    click.option("--intro", type=click.IntRange(0, 16), metavar="BARS", help="Bars before the first chorus."),
    click.option("--tag", type=click.IntRange(0, 16), metavar="BARS", help="The form's last bars once more."),
    click.option("--no-ending", is_flag=True, help="No held last chord."),
    click.option("--loop", is_flag=True, help="A track to loop without a seam, safest as ogg, flac or wav: no "
                 "count-in, intro, tag or ending."),
    click.option("--without", multiple=True, type=click.Choice(["drums", "bass", "comp"]),
                 help="Leave out a part, to play it yourself; give it twice for two."),
)


def packs(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of every command that builds packs."""
    for option in reversed((
            click.option("--out", type=click.Path(path_type=Path), default=Path("build"), show_default=True,
                         help="Where the pack folders go; what else lies there stays."),
            click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True),
            click.option("--large-print", is_flag=True, help="A handout in larger type."),
            click.option("--teacher", is_flag=True, help="Also teacher.pdf: a handout with the cells tagged teacher."),
            click.option("--no-run", is_flag=True, help="Build from the stored outputs without running the lesson."),
            click.option("--audio", type=click.Choice(["ogg", "mp3", "flac", "wav"]),
                         help="Render the backing track too."),
            click.option("--minutes", type=click.FloatRange(0.1, 60),
                         help="About how long the backing track lasts.  [default: as the lesson says, or 5]"),
            *_BAND,
            click.option("--tempo-step", type=click.IntRange(0, 40), default=0, metavar="NUMBER",
                         help="Quarter notes a minute by which each pass is faster; --minutes is kept."),
            click.option("--tempo-every", type=click.IntRange(1, 64), default=1, show_default=True, metavar="PASSES",
                         help="With --tempo-step: faster only after so many passes."),
            click.option("--tempo-top", type=click.IntRange(20, 400), metavar="NUMBER",
                         help="With --tempo-step: the highest tempo.  [default: half as fast again]"),
            click.option("--click", is_flag=True, help="A click through the whole track, not in the count-in alone."),
            click.option("--stems", is_flag=True, help="With --audio: a file for each part of the track as well."),
            click.option("--soundfont", type=click.Path(path_type=Path), metavar="FILE",
                         help="Your own SoundFont (SF2)."),
            jobs,
            click.option("--cluster", default="", metavar="ADDRESS",
                         help="Build by the workers of a dask scheduler instead, such as tcp://10.0.0.5:8786."),
            click.option("--force", is_flag=True, help="Build what is unchanged too."), bounds, quiet)):
        command = option(command)
    return command


def notebooks(given: tuple[Path, ...]) -> list[Path]:
    """The notebooks named, and those in the folders named, checkpoints left out."""
    found: list[Path] = []
    for path in given:
        if path.is_dir():
            found += sorted(one for one in path.rglob("*.ipynb")
                            if not any(part.startswith(".") for part in one.relative_to(path).parts))
        elif path.exists():
            found.append(path)
        else:
            near = closest(path.name, [one.name for one in path.parent.glob("*.ipynb")]) if path.parent.is_dir() else ()
            raise FileError(f"there is no {path}", value=str(path), nearest=[str(path.parent / name) for name in near])
    if not found:
        raise FileError("no notebook there", value=" ".join(map(str, given)),
                        expected="a .ipynb file or a folder of them")
    return found
