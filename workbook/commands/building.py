"""The commands that build packs: `build`, `personal` and `course`."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .options import Listed, lessons_argument, notebooks, packs, tunings
from .options import keys as keys_of_all
from .progress import progress
from .reports import json_option, packs_json, silent, tell_json
from .terminal import say, say_next, say_unless

if TYPE_CHECKING:
    from ..library.orders import Outcome
    from ..play.band import Band


@click.command()
@lessons_argument
@click.option("--key", "keys", cls=Listed, names=lambda: ["all", *keys_of_all()], shows=False, multiple=True,
              metavar="KEY",
              help='Move the lessons to a key or tonic, such as "A" or "A dorian"; all: to each of the twelve.')
@click.option("--tuning", cls=Listed, names=tunings, default="", metavar="TUNING",
              help="Move them to a tuning: a name, or pitches from low to high.")
@packs
@json_option
def build(lessons: tuple[Path, ...], keys: tuple[str, ...], tuning: str, quiet: bool, **chosen: Any) -> None:
    """Run lessons and write their packs: handout, practice page, MIDI, MusicXML and backing track.

    LESSONS are notebooks or folders of them; the pack of lessons/x.ipynb comes out in build/x/. Only what changed is
    built again. The backing track is MIDI; with --audio it is rendered as well.

    \b
    Example:
      vampbook build lessons/slack-water.ipynb --audio mp3 --minutes 3
      vampbook build lessons/slack-water.ipynb --key all
    """
    from ..library.library import BUILD, build_library
    from ..library.orders import orders_for, orders_in_keys
    from ..running.workers import MANY, begin

    paths = notebooks(lessons)
    if len(paths) < MANY and not (keys or tuning or chosen["cluster"]):
        begin(len(paths), BUILD)  # it loads while we look whether the pack still stands
    orders = orders_in_keys(paths, chosen["out"], keys, tuning) if keys or tuning else orders_for(paths, chosen["out"])
    _built(build_library(orders, _how(chosen), **_where(chosen)), len(orders), quiet, chosen)


@click.command()
@lessons_argument
@click.option("--roster", type=click.Path(path_type=Path), metavar="FILE",
              help="A CSV file with a row for each student; its columns are the options below.")
@click.option("--name", default="", help="One student, without a roster.")
@click.option("--tuning", cls=Listed, names=tunings, default="", metavar="TUNING",
              help="A name, or pitches from low to high.")
@click.option("--left-handed", is_flag=True, help="Necks turned for a left-handed player.")
@click.option("--level", default="", metavar="LEVEL", help="beginner, intermediate or advanced: the steps of a plan.")
@click.option("--key", cls=Listed, names=keys_of_all, shows=False, default="", metavar="KEY",
              help='A tonic ("A") or a key of the lesson\'s kind.')
@click.option("--tempo", default="", metavar="RANGE", help="Quarter notes a minute to begin with and to reach: 60-92.")
@click.option("--note-names", default="", metavar="LANGUAGE", help="english, german (H and B) or solfege.")
@packs
@json_option
def personal(lessons: tuple[Path, ...], roster: Path | None, quiet: bool, **chosen: Any) -> None:
    """Build packs for one student or a whole roster: their key, tuning, tempos, hand and note names.

    The pack of lessons/x.ipynb for Ada comes out in build/ada/x/.

    \b
    Example:
      vampbook personal lessons/slack-water.ipynb --name Ada --key A --left-handed
      vampbook personal lessons/ --roster students.csv
    """
    from ..library.library import build_library
    from ..library.orders import orders_for
    from ..library.personal import read_roster, student_of

    columns = {"name": "name", "tuning": "tuning", "level": "level", "key": "key", "tempo": "tempo",
               "note_names": "note names"}
    cells = {column: chosen[option] for option, column in columns.items()}
    cells["left handed"] = "yes" if chosen["left_handed"] else ""
    if (roster is None) == (not any(cells.values())):
        raise click.UsageError("name one student with --name, or a file with --roster (one of the two)")
    students = (student_of(cells, "the student"),) if roster is None else read_roster(roster)
    orders = orders_for(notebooks(lessons), chosen["out"], students)
    _built(build_library(orders, _how(chosen), **_where(chosen)), len(orders), quiet, chosen)


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@packs
@json_option
def course(folder: Path, quiet: bool, **chosen: Any) -> None:
    """Build a whole course: every pack, one PDF with contents, and an index to search.

    FOLDER holds lessons and a course.toml, which puts them in order, in levels, with what each needs first. It comes
    out in build/<title of the course>/, to be opened at index.html.

    \b
    Example:
      vampbook course lessons/
    """
    from ..library.course import read_course, unlisted
    from ..library.course_build import build_course

    found = read_course(folder)
    for path in unlisted(found):
        say(f"vampbook: {path} stands in no level of the course", err=True)
    outcomes = build_course(found, chosen["out"], _how(chosen), **_where(chosen))
    _built(outcomes, len(found.lessons) + 1, quiet, chosen)


def _how(chosen: dict[str, Any]) -> Any:
    from ..handouts.tracks import SOUND_WORDS, Ladder, Sound
    from ..library.orders import How
    from ..play.sound import renderer_name
    from ..running.bounds import Bounds

    if chosen["minutes"] is not None and chosen["choruses"] is not None:
        raise click.UsageError("give --minutes or --choruses (one of the two)")
    ladder = Ladder(chosen["tempo_step"], chosen["tempo_every"], top=chosen["tempo_top"])
    sound = Sound(chosen["audio"] or "", ladder=ladder, band=_band(chosen),
                  **{word: chosen[word] for word in SOUND_WORDS})
    if sound.form and renderer_name(sound.soundfont) != "SoundFont":
        say("vampbook: no SoundFont renderer here, so the numpy voices play", err=True)
    options = {"sound": sound, **{word: chosen[word] for word in ("paper", "large_print", "teacher")}}
    return How(options, not chosen["no_run"], Bounds(chosen["seconds"], chosen["memory"]))


def _band(chosen: dict[str, Any]) -> Band:
    """What the options say of the band, files of styles read: another machine may build."""
    from ..play.band import band_of

    words = ("style", "density", "choruses", "intro", "tag", "loop", "without")
    said = {word: chosen[word] for word in words if chosen[word] not in (None, False, ())}
    return band_of(said | ({"ending": False} if chosen["no_ending"] else {})).settled()


def _where(chosen: dict[str, Any]) -> dict[str, Any]:
    return {word: chosen[word] for word in ("jobs", "force", "cluster")}


def _built(outcomes: Iterable[Outcome], count: int, quiet: bool, chosen: dict[str, Any]) -> None:
    """Say what became of each pack as it gets done; exit status 1 if one failed."""
    json_file = chosen["json_file"]
    quiet = silent(quiet, json_file)
    done: list[Outcome] = []
    with progress(quiet, "building") as tick:
        for one in outcomes:
            done.append(one)
            tick(len(done), count)
            _tell(one, quiet)
    tell_json(json_file, packs_json(done))
    say_next(quiet, _what_to_open([one.folder for one in done if not one.error], chosen["out"]))
    if any(one.error for one in done):
        sys.exit(1)


def _tell(one: Outcome, quiet: bool) -> None:
    if one.error:
        say(f"vampbook: {one.error}", err=True)
        return
    if one.note:
        say(f"vampbook: {one.path.name}: {one.note}", err=True)
    say_unless(quiet, f"{one.folder}/  " + ("unchanged" if one.unchanged else "  ".join(one.files)))


def _what_to_open(folders: list[Path], out: Path) -> str:
    """The page of a course, of a single pack, or the folder in which several lie; empty where none was built."""
    pages = [folder / name for folder in folders[-1:] for name in ("index.html", "lesson.html")]
    page = next((page for page in pages if page.is_file()), None)
    if page is None or (len(folders) > 1 and page.name == "lesson.html"):
        return f"open {out.resolve().as_uri()}" if folders else ""
    return f"open {page.resolve().as_uri()}"
