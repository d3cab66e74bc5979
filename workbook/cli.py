"""The `vampbook` command: it reads arguments, calls the workbook and prints; nothing else imports it.

Exit status: 0 done, 1 something is wrong with a lesson or a file (one line says what and where), 2 wrong usage.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from itertools import starmap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from theorylib.errors import VampError
from theorylib.levels import LEVELS

from .listen_commands import hear, take
from .options import bounds, jobs, notebooks, packs, quiet
from .progress import progress
from .shelf_command import phrases
from .terminal import Group, say

if TYPE_CHECKING:
    from theorylib.changes.charts import Chart

    from .checking.counts import Checked
    from .checking.findings import Finding
    from .library.orders import Outcome

_CHECK = "workbook.checking.check:check_lesson"  # by its name: what it needs is loaded where it works


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="vampbook", prog_name="vampbook")
def main() -> None:
    """Changes in, checked lesson out: write, build and check guitar lessons.

    \b
    Example:
      vampbook new "Slack water" --changes "| Gm7 | C9 |" --tempo 92 --feel "straight 16"
      vampbook build lessons/slack-water.ipynb
      vampbook check lessons/
    """


@main.command()
@click.argument("title")
@click.option("--changes", metavar="TEXT", help='The chords between bar lines: "| Gm7 | C9 |".')
@click.option("--chart", "chart_file", type=click.Path(path_type=Path), metavar="FILE",
              help="Read the chart (headers and bars) from a text file instead.")
@click.option("--key", metavar="KEY", help='Key of the changes, such as "B minor"; found from the chords without it.')
@click.option("--meter", metavar="METER", help="Time signature, such as 3/4.  [default: 4/4]")
@click.option("--tempo", metavar="NUMBER", help="Quarter notes a minute.  [default: 100]")
@click.option("--feel", metavar="FEEL", help='"straight 8", "straight 16", "swing", "shuffle" …  [default: straight 8]')
@click.option("--level", type=click.Choice(LEVELS), default="intermediate", show_default=True)
@click.option("--minutes", type=click.IntRange(5, 240), default=30, show_default=True,
              help="How long the lesson lasts.")
@click.option("--position", type=click.IntRange(1, 20), metavar="FRET",
              help="Fret of the first finger; the easiest position near the root without it.")
@click.option("--per-chord", type=click.IntRange(1, 64), default=8, show_default=True, help="Notes over a chord.")
@click.option("--passes", type=click.IntRange(1, 8), default=2, show_default=True, help="Times through the changes.")
@click.option("--tuning", default="standard", show_default=True, metavar="TUNING",
              help='A name ("drop D") or pitches from low to high.')
@click.option("--kind", type=click.Choice(["groove", "blues", "rock", "modern"]), default="groove", show_default=True,
              help="groove: arpeggios; blues: targets and bends; rock: sixteenths; modern: taps and vibrato.")
@click.option("--phrase", "phrase_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A lesson about the phrase in a text file (TAB or words); its heading may hold the changes.")
@click.option("--substitutes", is_flag=True, help="Add a section on substitute arpeggios.")
@click.option("--folder", type=click.Path(path_type=Path), default=Path("lessons"), show_default=True)
@click.option("--force", is_flag=True, help="Replace a lesson of the same name; the old one stays as x.ipynb.1 (.2 …).")
@click.option("--no-run", is_flag=True, help="Write the lesson without running it.")
@quiet
def new(title: str, changes: str | None, chart_file: Path | None, phrase_file: Path | None, folder: Path, force: bool,
        no_run: bool, quiet: bool, **choices: Any) -> None:
    """Write a lesson notebook on some changes, ready to read and to edit.

    \b
    Example:
      vampbook new "Slack water" --changes "| Gm7 | C9 |" --tempo 92 --feel "straight 16"
    """
    from theorylib.necks.tunings import as_tuning

    from .files import FileError, slug
    from .lesson.chosen import PHRASE, Choices
    from .lesson.lesson import Lesson
    from .lesson.phrase_lines import in_its_tuning, typed_phrase
    from .lesson.writing import new_lesson
    from .running.run import run_lesson

    headers = {word: choices.pop(word) for word in ("key", "meter", "tempo", "feel")}
    typed, own = typed_phrase(phrase_file) if phrase_file is not None else ("", None)
    chart = _chart(title, changes if changes or chart_file else own, chart_file, headers)
    if typed:
        choices |= {"kind": PHRASE, "per_chord": 4, "phrase": in_its_tuning(typed, choices["tuning"], chart)}
    choices["tuning"] = as_tuning(choices["tuning"])
    path = folder / f"{slug(title)}.ipynb"
    if path.exists() and not force:
        raise FileError(f"{path} exists", value=str(path), expected="another title, or --force to replace it")
    lesson = Lesson.of(new_lesson(chart, Choices(title, **choices)), path)
    if not no_run:
        with progress(quiet, f"running {path.name}") as tick:
            lesson = run_lesson(lesson, folder if folder.is_dir() else Path.cwd(), on_cell=tick)
    kept = lesson.write(new=not force, keep=True)
    _say(quiet, f"{path}" + (f"  (the one before: {kept})" if kept else ""))


@main.command()
@click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--key", "keys", multiple=True, metavar="KEY",
              help='Move the lessons to a key or tonic, such as "A" or "A dorian"; all: to each of the twelve.')
@click.option("--tuning", default="", metavar="TUNING", help='Move them to a tuning: a name ("drop D") or pitches.')
@packs
def build(lessons: tuple[Path, ...], keys: tuple[str, ...], tuning: str, quiet: bool, **chosen: Any) -> None:
    """Run lessons and write their packs: handout, practice page, MIDI, MusicXML and backing track.

    LESSONS are notebooks or folders of them; the pack of lessons/x.ipynb comes out in build/x/. Only what changed is
    built again. The backing track is MIDI; with --audio it is rendered as well.

    \b
    Example:
      vampbook build lessons/slack-water.ipynb --audio mp3 --minutes 3
      vampbook build lessons/slack-water.ipynb --key all
    """
    from .library.library import build_library
    from .library.orders import orders_for, orders_in_keys

    paths = notebooks(lessons)
    orders = orders_in_keys(paths, chosen["out"], keys, tuning) if keys or tuning else orders_for(paths, chosen["out"])
    _built(build_library(orders, _how(chosen), **_where(chosen)), len(orders), quiet)


@main.command()
@click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--roster", type=click.Path(path_type=Path), metavar="FILE",
              help="A CSV file with a row for each student; its columns are the options below.")
@click.option("--name", default="", help="One student, without a roster.")
@click.option("--tuning", default="", metavar="TUNING", help='A name ("drop D") or pitches from low to high.')
@click.option("--left-handed", is_flag=True, help="Necks turned for a left-handed player.")
@click.option("--level", default="", metavar="LEVEL", help="beginner, intermediate or advanced: the steps of a plan.")
@click.option("--key", default="", metavar="KEY", help='A tonic ("A") or a key of the lesson\'s kind.')
@click.option("--tempo", default="", metavar="RANGE", help="Quarter notes a minute to begin with and to reach: 60-92.")
@click.option("--note-names", default="", metavar="LANGUAGE", help="english, german (H and B) or solfege.")
@packs
def personal(lessons: tuple[Path, ...], roster: Path | None, quiet: bool, **chosen: Any) -> None:
    """Build packs for one student or a whole roster: their key, tuning, tempos, hand and note names.

    The pack of lessons/x.ipynb for Ada comes out in build/ada/x/.

    \b
    Example:
      vampbook personal lessons/slack-water.ipynb --name Ada --key A --left-handed
      vampbook personal lessons/ --roster students.csv
    """
    from .library.library import build_library
    from .library.orders import orders_for
    from .library.personal import read_roster, student_of

    columns = {"name": "name", "tuning": "tuning", "level": "level", "key": "key", "tempo": "tempo",
               "note_names": "note names"}
    cells = {column: chosen[option] for option, column in columns.items()}
    cells["left handed"] = "yes" if chosen["left_handed"] else ""
    if (roster is None) == (not any(cells.values())):
        raise click.UsageError("name one student with --name, or a file with --roster (one of the two)")
    students = (student_of(cells, "the student"),) if roster is None else read_roster(roster)
    orders = orders_for(notebooks(lessons), chosen["out"], students)
    _built(build_library(orders, _how(chosen), **_where(chosen)), len(orders), quiet)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@packs
def course(folder: Path, quiet: bool, **chosen: Any) -> None:
    """Build a whole course: every pack, one PDF with contents, and an index to search.

    FOLDER holds lessons and a course.toml, which puts them in order, in levels, with what each needs first. It comes
    out in build/<title of the course>/, to be opened at index.html.

    \b
    Example:
      vampbook course lessons/
    """
    from .library.course import read_course, unlisted
    from .library.course_build import build_course

    found = read_course(folder)
    for path in unlisted(found):
        say(f"vampbook: {path} stands in no level of the course", err=True)
    outcomes = build_course(found, chosen["out"], _how(chosen), **_where(chosen))
    _built(outcomes, len(found.lessons) + 1, quiet)


@main.command()
@click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--no-run", is_flag=True, help="Check what is stored only, without running the lessons.")
@click.option("--junit", type=click.Path(path_type=Path), metavar="FILE", help="Write the report as JUnit XML too.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), metavar="FILE", help="Write it as JSON too.")
@click.option("--offers", is_flag=True, help="Also list claims in the prose that could be marked and checked.")
@jobs
@bounds
@quiet
def check(lessons: tuple[Path, ...], no_run: bool, offers: bool, quiet: bool, **chosen: Any) -> None:
    """Check that lessons run and give what they recorded, that they are true, and that they can be used.

    Judges claims, {= Dm7b5 over E7 gives b7 b9 3 b13 =}, and what your sentences name, but in cells tagged “aside”.

    \b
    Example:
      vampbook check lessons/ --junit build/check.xml
    """
    from .running.workers import begin

    paths = notebooks(lessons)
    begin(len(paths), _CHECK)  # it loads while we do
    from .checking.phrases import check_phrases, phrase_files
    from .library.course import FILE, check_course

    checked = _checked(paths, not no_run, quiet, chosen)
    findings = [one for done in checked.values() for one in done.findings]
    folders = [folder for folder in lessons if folder.is_dir()]
    findings += [one for folder in folders for one in (*check_course(folder), *check_phrases(folder))]
    others = [folder / FILE for folder in folders if (folder / FILE).is_file()]
    others += [file for folder in folders for file in phrase_files(folder)]
    _write_reports([*paths, *others], findings, checked, chosen)
    for finding in findings:
        if offers or not finding.offer:
            say("note: " * finding.note + str(finding), err=True)
    for path, done in checked.items():
        _say(quiet, f"{path}: {done.counts}")
    faults = sum(finding.is_fault for finding in findings)
    told = f", {faults} problem{'' if faults == 1 else 's'}" if faults else ": nothing false found"
    _say(quiet, f"{len(paths)} lesson{'' if len(paths) == 1 else 's'} checked{told}")
    if faults:
        sys.exit(1)


def _checked(paths: list[Path], run: bool, quiet: bool, chosen: dict[str, Any]) -> dict[Path, Checked]:
    """What the check of each lesson found, side by side, in the order of the lessons."""
    from .checking.counts import Checked
    from .checking.findings import Finding
    from .running.bounds import Bounds
    from .running.workers import Lost, each

    done: dict[int, Checked] = {}
    tasks = [(path, run, Bounds(chosen["seconds"], chosen["memory"])) for path in paths]
    with progress(quiet, "checking") as tick:
        for number, found in each(_CHECK, tasks, chosen["jobs"]):
            done[number] = Checked((Finding(paths[number], 0, found.why),)) if isinstance(found, Lost) else found
            tick(len(done), len(paths))
    return {path: done[number] for number, path in enumerate(paths)}


def _write_reports(paths: list[Path], findings: list[Finding], checked: dict[Path, Checked],
                   chosen: dict[str, Any]) -> None:
    from .checking.reports import as_json, as_junit, write_report

    counts = {path: done.counts for path, done in checked.items()}
    if chosen["junit"] is not None:
        write_report(chosen["junit"], as_junit(paths, findings, counts))
    if chosen["json_file"] is not None:
        write_report(chosen["json_file"], as_json(paths, findings, counts))


@main.command()
@click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Show as a diff what would change, and change nothing.")
@click.option("--all", "every", is_flag=True,
              help="Write cells anew that you changed, too; the lesson before stays as x.ipynb.1 (.2 …).")
@click.option("--no-run", is_flag=True, help="Write the words and the code, and do not run the lesson.")
@jobs
@bounds
@quiet
def refresh(lessons: tuple[Path, ...], dry_run: bool, every: bool, no_run: bool, jobs: int | None, seconds: float,
            memory: int, quiet: bool) -> None:
    """Write the words and the code of lessons anew from their choices, run them and save them.

    Change a line of the cell of choices (tagged “parameters”) first. What you wrote or changed yourself stays, and the
    command names it. Save the lesson and close it in Jupyter before, or reload it from the disk afterwards.

    \b
    Example:
      vampbook refresh lessons/slack-water.ipynb --dry-run
      vampbook refresh lessons/slack-water.ipynb
    """
    from .library.renewing import Renewal, renew
    from .running.bounds import Bounds
    from .running.workers import Lost, each

    paths = notebooks(lessons)
    how = Renewal(every, dry_run, not no_run, Bounds(seconds, memory))
    failed = False
    with progress(quiet, "refreshing") as tick:
        tasks = [(path, how) for path in paths]
        here = dry_run or no_run  # words alone take less time than to start a process
        renewed = enumerate(starmap(renew, tasks)) if here else each(renew, tasks, jobs)
        for done, (number, one) in enumerate(renewed, 1):
            tick(done, len(paths))
            error = f"{paths[number]}: {one.why}" if isinstance(one, Lost) else one.error
            if error:
                failed = True
                say(f"vampbook: {error}", err=True)
                continue
            for words in one.notes:
                say(f"vampbook: {one.path}: {words}", err=True)
            for line in one.diff or [one.said]:
                _say(quiet, line)
    if failed:
        sys.exit(1)


@main.command()
@click.argument("lessons", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--take", type=click.Choice(["lesson", "text"]), default=None,
              help="Where both were changed: which to go by; the other stays as x.ipynb.1 or x.py.1.")
@quiet
def pair(lessons: tuple[Path, ...], take: str | None, quiet: bool) -> None:
    """Keep each lesson beside a plain Python text of its cells, which merges line by line.

    Changed in one of the two, it is brought into the other; JupyterLab does the same where jupytext is installed.
    Where both were changed, nothing is, and the command says so.

    \b
    Example:
      vampbook pair lessons/slack-water.ipynb
    """
    from .checking.pairing import pair as together

    failed = False
    for path in notebooks(lessons):
        try:
            _say(quiet, str(together(path, take or "")))
        except VampError as error:
            failed = True
            say(f"vampbook: {error}", err=True)
    if failed:
        sys.exit(1)


for _command in (phrases, hear, take):
    main.add_command(_command)


def _how(chosen: dict[str, Any]) -> Any:
    from .handouts.tracks import SOUND_WORDS, Ladder, Sound
    from .library.orders import How
    from .play.sound import renderer_name
    from .running.bounds import Bounds

    ladder = Ladder(chosen["tempo_step"], chosen["tempo_every"], top=chosen["tempo_top"])
    sound = Sound(chosen["audio"] or "", ladder=ladder, **{word: chosen[word] for word in SOUND_WORDS})
    if sound.form and renderer_name(sound.soundfont) != "SoundFont":
        say("vampbook: no SoundFont renderer here, so the numpy voices play", err=True)
    options = {"sound": sound, **{word: chosen[word] for word in ("paper", "large_print", "teacher")}}
    return How(options, not chosen["no_run"], Bounds(chosen["seconds"], chosen["memory"]))


def _where(chosen: dict[str, Any]) -> dict[str, Any]:
    return {word: chosen[word] for word in ("jobs", "force", "cluster")}


def _built(outcomes: Iterable[Outcome], count: int, quiet: bool) -> None:
    """Say what became of each pack as it gets done; exit status 1 if one failed."""
    failed = False
    with progress(quiet, "building") as tick:
        for number, one in enumerate(outcomes, 1):
            tick(number, count)
            if one.error:
                failed = True
                say(f"vampbook: {one.error}", err=True)
            else:
                if one.note:
                    say(f"vampbook: {one.path.name}: {one.note}", err=True)
                _say(quiet, f"{one.folder}/  " + ("unchanged" if one.unchanged else "  ".join(one.files)))
    if failed:
        sys.exit(1)


def _chart(title: str, changes: str | None, chart_file: Path | None, headers: dict[str, str | None]) -> Chart:
    from theorylib.changes.charts import Chart

    if (changes is None) == (chart_file is None):
        raise click.UsageError("give the changes with --changes or a file with --chart (one of the two)")
    if chart_file is not None:
        from .files import read_text

        text = read_text(chart_file)
    else:
        text = changes or ""
    given = {word: value for word, value in headers.items() if value}
    chart = Chart.parse(text, **given)
    return chart if chart.title else replace(chart, title=title)


def _say(quiet: bool, words: str) -> None:
    if not quiet:
        say(words)


