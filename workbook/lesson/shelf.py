"""A teacher's phrases: a folder of text files, each with a heading, read, searched and fitted to changes.

A file holds TAB or words under lines such as `title: Harbour lights`, `over: | Am7 | D9 |`, `level: beginner`,
`techniques: bends, vibrato`.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import FingeringError, LineError, VampError, one_of
from theorylib.levels import LEVELS
from theorylib.playing.fingering import finger, without_places
from theorylib.playing.lines import Line
from theorylib.playing.note_uses import LEADING, OUTSIDE, NoteUse, landings, note_uses
from theorylib.playing.phrase_text import own_words
from theorylib.practice.variations import moved_by

from ..files import read_text
from .facts import technique_named, techniques_of
from .phrase_lines import same_chords

FOLDER, SUFFIX = "phrases", ".txt"


@dataclass(frozen=True, slots=True)
class Filed:
    """A phrase of the folder: its file, name, level ("" where it says none), techniques, and the line."""

    path: Path
    title: str
    level: str
    techniques: tuple[str, ...]
    line: Line

    @property
    def over(self) -> str:
        """The chords that it is written over, "" without any."""
        return " ".join(dict.fromkeys(event.chord.pretty for event in self.line.chords() if event.chord.root))


@dataclass(frozen=True, slots=True)
class Found:
    """A phrase that was looked for; `up` is by how many half steps it has to move to fit the changes asked for."""

    filed: Filed
    up: int = 0


@dataclass(frozen=True, slots=True)
class Wish:
    """What a phrase must be to be found: all of some words, a level, a technique, and fit some changes and a position.

    What is empty or None asks for nothing. Raises LineError or ChartError.
    """

    words: str = ""
    over: Chart | str | None = None
    position: int | None = None
    level: str = ""
    technique: str = ""

    def __post_init__(self) -> None:
        if self.over is not None:
            object.__setattr__(self, "over", as_chart(self.over))
        if self.level != "":
            one_of(self.level, LEVELS, "level", LineError)
        if self.technique != "":
            object.__setattr__(self, "technique", technique_named(self.technique))

    def names(self, one: Filed) -> bool:
        """Does a phrase bear the words, the level and the technique?"""
        told = " ".join((one.title, one.over, one.level, *one.techniques)).lower()
        bears_words = all(word in told for word in self.words.lower().split())
        is_of_level = self.level in ("", one.level)
        return bears_words and is_of_level and (self.technique == "" or self.technique in one.techniques)

    def fit(self, line: Line) -> int | None:
        """By how many half steps a line must move to fit: none if it fits as it is, else to the chords' own root."""
        if not isinstance(self.over, Chart):
            return 0 if self.position is None or _can_be_played(line, self.position) else None
        chart = self.over
        ways = [(up, moved_by(line, up, chart)) for up in _moves(line, chart)]
        return next((up for up, moved in ways
                     if (_is_at_home(line, chart, up) or _says_nothing_false(moved))
                     and (self.position is None or _can_be_played(moved, self.position))), None)


def read_filed(path: Path) -> Filed:
    """The phrase of a file; raises LineError with the file and the place."""
    try:
        text = read_text(path)
        said = own_words(text)
        level, named = said.get("level", ""), [one.strip() for one in said.get("techniques", "").split(",")]
        if level:
            one_of(level, LEVELS, "level", LineError)
        named = [technique_named(one) for one in named if one]
        line = Line.parse(text)
    except VampError as error:
        raise error.at(f"{path}: {error.where}".removesuffix(": ")) from error
    techniques = tuple(sorted({*techniques_of([line]), *named}))
    return Filed(path, line.title or path.stem.replace("-", " ").capitalize(), level, techniques, line)


def phrase_folder(lessons: Path) -> Path | None:
    """The folder phrases/ of a folder of lessons: in it, or beside it in a teacher's folder; None where there is none.

    Asked for the folder of phrases itself, it gives that.
    """
    above = lessons.absolute().parent
    if lessons.name == FOLDER:  # as a notebook asks, from among the lessons
        places = [lessons, above.parent / FOLDER]
    else:
        places = [lessons / FOLDER, *([above / FOLDER] if lessons.is_dir() else [])]
    return next((place for place in places if place.is_dir()), None)


def files_in(folder: Path) -> list[Path]:
    """The files of phrases of a folder of lessons, or in the folder of phrases itself, by name."""
    place = phrase_folder(folder) or folder
    return sorted(path for path in place.glob(f"*{SUFFIX}") if not path.name.startswith("."))


def search(filed: Iterable[Filed], wish: Wish) -> tuple[Found, ...]:
    """The phrases that are as wished, by name."""
    by_name = sorted(filed, key=lambda each: (each.title.lower(), str(each.path)))
    named = [(one, wish.fit(one.line)) for one in by_name if wish.names(one)]
    return tuple(Found(one, up) for one, up in named if up is not None)


def _is_at_home(line: Line, chart: Chart, up: int) -> bool:
    """Are these the changes that the phrase was typed over, or the same so many half steps higher?"""
    has_chords = any(event.chord.root is not None for event in line.chords())
    return has_chords and same_chords(line, chart, up)


def _moves(line: Line, chart: Chart) -> list[int]:
    roots = [next((event.chord.root for event in one.events if event.chord.root is not None), None)
             for one in (line.chart, chart)]
    if roots[0] is None or roots[1] is None:
        return [0]
    away = (roots[1].pitch_class - roots[0].pitch_class + 5) % 12 - 5
    return list(dict.fromkeys((0, away, away - 12 if away > 0 else away + 12)))


def _says_nothing_false(line: Line) -> bool:
    """No note outside the chord and its scale that leads nowhere, and a chord tone wherever the phrase lands.

    A note that is struck on the change and goes on to a chord tone by step within the beat lands there (common
    practice, no source).
    """
    uses = note_uses(line)
    if any(one.use == OUTSIDE for one in uses):
        return False
    leading = {one.note for one in uses if _leads_at_once(one, line.chart)}
    return all(one.note is None or one.degree in one.chord.degrees or (one.late_beats >= 0 and one.note in leading)
               for one in landings(line))


def _leads_at_once(one: NoteUse, chart: Chart) -> bool:
    """Does a note lead by step to a tone of its chord before its beat is over?"""
    if one.use not in LEADING or one.chord is None or one.to is None:
        return False
    left = chart.meter.pulse_beats - one.note.onset_beats % chart.meter.pulse_beats
    in_chord = any(tone.name.pitch_class == one.to.midi % 12 for tone in one.chord.tones)
    return in_chord and one.note.duration_beats < left


def _can_be_played(line: Line, position: int) -> bool:
    with suppress(FingeringError):
        finger(without_places(line), line.tuning, position, "never")
        return True
    return False


def table(found: Iterable[Found]) -> str:
    """A Markdown table of phrases."""
    rows = ["| Phrase | Over | Level | Techniques | Moved | File |", "|---|---|---|---|---|---|"]
    for one in found:
        filed = one.filed
        moved = f"{one.up:+d} half steps" if one.up else "as it is"
        rows.append(f"| {filed.title} | {filed.over or '–'} | {filed.level or '–'} | "
                    f"{', '.join(filed.techniques) or '–'} | {moved} | {filed.path.name} |")
    return "\n".join(rows) if len(rows) > 2 else "No phrase fits."
