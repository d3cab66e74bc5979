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
from theorylib.errors import FingeringError, LineError, VampError, closest, one_of
from theorylib.levels import LEVELS
from theorylib.playing.fingering import finger, without_places
from theorylib.playing.lines import Line
from theorylib.playing.note_uses import OUTSIDE, landings, note_uses
from theorylib.playing.phrase_text import own_words
from theorylib.practice.variations import moved_by

from ..files import read_text
from .facts import TECHNIQUES, techniques_of

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


def read_filed(path: Path) -> Filed:
    """The phrase of a file; raises LineError with the file and the place."""
    try:
        text = read_text(path)
        said = own_words(text)
        level, named = said.get("level", ""), [one.strip() for one in said.get("techniques", "").split(",")]
        if level:
            one_of(level, LEVELS, "level", LineError)
        for one in filter(None, named):
            if one not in TECHNIQUES:
                raise LineError(f"“{one[:40]}” is no technique that an index knows", value=one, where="techniques",
                                expected=", ".join(TECHNIQUES), nearest=closest(one, TECHNIQUES))
        line = Line.parse(text)
    except VampError as error:
        raise error.at(f"{path}: {error.where}".removesuffix(": ")) from error
    techniques = tuple(sorted({*techniques_of([line]), *filter(None, named)}))
    return Filed(path, line.title or path.stem.replace("-", " ").capitalize(), level, techniques, line)


def files_in(folder: Path) -> list[Path]:
    """The files of phrases in a folder of lessons, or in the folder of phrases itself, by name."""
    inner = folder / FOLDER
    place = inner if inner.is_dir() else folder
    return sorted(path for path in place.glob(f"*{SUFFIX}") if not path.name.startswith("."))


def search(filed: Iterable[Filed], words: str = "", *, over: Chart | str | None = None, position: int | None = None,
           level: str = "", technique: str = "") -> tuple[Found, ...]:
    """The phrases that bear all words, a level and a technique, and fit some changes and a position; by name."""
    chart = None if over is None else as_chart(over)
    if level != "":
        one_of(level, LEVELS, "level", LineError)
    if technique != "":
        one_of(technique, TECHNIQUES, "technique", LineError)
    found = []
    for one in sorted(filed, key=lambda each: (each.title.lower(), str(each.path))):
        told = " ".join((one.title, one.over, one.level, *one.techniques)).lower()
        if not all(word in told for word in words.lower().split()):
            continue
        if (level and one.level != level) or (technique and technique not in one.techniques):
            continue
        up = _fit(one.line, chart, position)
        if up is not None:
            found.append(Found(one, up))
    return tuple(found)


def _fit(line: Line, chart: Chart | None, position: int | None) -> int | None:
    """By how many half steps a phrase must move to fit: none if it fits as it is, else to the chords' own root."""
    if chart is None:
        return 0 if position is None or _can_be_played(line, position) else None
    return next((up for up in _moves(line, chart)
                 if _says_nothing_false(moved := moved_by(line, up, chart))
                 and (position is None or _can_be_played(moved, position))), None)


def _moves(line: Line, chart: Chart) -> list[int]:
    roots = [next((event.chord.root for event in one.events if event.chord.root is not None), None)
             for one in (line.chart, chart)]
    if roots[0] is None or roots[1] is None:
        return [0]
    away = (roots[1].pitch_class - roots[0].pitch_class + 5) % 12 - 5
    return list(dict.fromkeys((0, away, away - 12 if away > 0 else away + 12)))


def _says_nothing_false(line: Line) -> bool:
    """No note outside the chord and its scale that leads nowhere, and a chord tone wherever the phrase lands."""
    if any(one.use == OUTSIDE for one in note_uses(line)):
        return False
    return all(one.note is None or one.degree in one.chord.degrees for one in landings(line))


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
