"""The cheat sheet: what one types, on one page in our own print, each line from the table or the reader that rules it.

Nothing here says what a text means: the texts of charts are given to the reader of charts, and what it read is printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from textwrap import wrap
from typing import Any

from theorylib.changes.chart_text import HEADERS
from theorylib.changes.charts import Chart
from theorylib.changes.meters import FEELS
from theorylib.levels import LEVELS
from theorylib.names.qualities import QUALITIES
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.playing.marks import MARKS
from theorylib.playing.values import LETTERS, TUPLETS

from ..handouts.pdf import handout_pdf
from ..lesson.cells import text_cell
from ..lesson.lesson import Lesson

TITLE = "Vampbook on a page"
_CHARTS = ("| Am7 | D9 |", "| Am7 D9 |", "| Am7 / / D9 |", "| Am7 | % |", "|: C | F :| x2",
           "|: C | 1. F :| 2. G7 |", "| C/E | N.C. |")
_ROOMS = {"theorylib.practice": "Drills", "theorylib": "Theory", "workbook": "Shown, heard, written"}
_COLUMN = "column"
_MARKS_A_ROW, _SIGNS_A_LINE = 2, 104


def sheet_pdf(kit: Mapping[str, Any], commands: Mapping[str, str], paper: str = "a4") -> bytes:
    """The cheat sheet as a PDF: the names of the `kit`, and of each of the `commands` its first example."""
    return handout_pdf(Lesson.of(_notebook(kit, commands), Path("cheat-sheet.ipynb")), paper=paper)


def _notebook(kit: Mapping[str, Any], commands: Mapping[str, str]) -> dict[str, Any]:
    parts = {"charts": _charts(), "marks": _marks(), "words": _words(), "kit": _kit(kit),
             "commands": _commands(commands)}
    cells = [text_cell("title", f"# {TITLE}")]
    cells += [text_cell(name, "\n".join(lines), *([_COLUMN] if name in ("charts", "marks") else []))
              for name, lines in parts.items()]
    kernel = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
    return {"cells": cells, "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}


def _charts() -> Iterator[str]:
    """Examples of changes, each with what the reader of charts makes of it: chords and beats."""
    yield from ("## Changes, and the beats they mean", "", "```")
    for text in _CHARTS:
        read = "  ".join(f"{event.chord} {event.duration_beats}" for event in Chart.parse(text).events)
        yield f"{text:{max(map(len, _CHARTS))}}  {read}"
    yield from ("```", "")
    yield (f"Before the bars, a line each: {_row(f'{word}:' for word in HEADERS)}. Between bars `key: Eb major`; "
           "`[A]` begins a section; `#` and a space begin a comment.")


def _words() -> Iterator[str]:
    values = " ".join(f"{letter} {length}" for letter, length in LETTERS.items())
    told = {"Chords": ", ".join(f"C{one}" for one in QUALITIES) + "; altered: C7b9, C13#11", "Feels": ", ".join(FEELS),
            "Levels": ", ".join(LEVELS), "Tunings": ", ".join(NAMED_TUNINGS) + ", or pitches from low to high",
            "Note values in quarters": f"{values}; q. dotted; {' '.join(f'e{one}' for one in TUPLETS)} tuplets; r rest"}
    yield from ("## Words", "", "```")
    for kind, words in told.items():
        yield from wrap(f"{kind}: {words}", _SIGNS_A_LINE, subsequent_indent="  ", break_on_hyphens=False)
    yield "```"


def _marks() -> Iterator[str]:
    """Every mark after its shortest sign in TAB and, where it is another, the one in a line of words."""
    signs = {kind: (min(row.tab, key=len), row.sign) for kind, row in MARKS.items()}
    cells = [f"{tab:3}{'' if words == tab else words:4}{kind:20}" for kind, (tab, words) in signs.items()]
    rows = -(-len(cells) // _MARKS_A_ROW)
    yield from ("## Marks: in TAB, in words if other", "", "```")
    yield from ("".join(cells[row::rows]).rstrip() for row in range(rows))
    yield "```"


def _kit(kit: Mapping[str, Any]) -> Iterator[str]:
    """The names, by the room that makes them."""
    yield from ("## In a cell, after `from workbook.kit import *`", "", "```")
    rooms = {name: next(room for start, room in _ROOMS.items() if _module(what).startswith(start))
             for name, what in kit.items()}
    for room in dict.fromkeys(_ROOMS.values()):
        names = f"{room}: {' '.join(name for name in kit if rooms[name] == room)}"
        yield from wrap(names, _SIGNS_A_LINE, subsequent_indent="  ", break_on_hyphens=False)
    yield "```"


def _commands(commands: Mapping[str, str]) -> Iterator[str]:
    """The examples, two to a line where both are short."""
    half = _SIGNS_A_LINE // 2
    short = [one for one in commands.values() if len(one) < half]
    yield from ("## In a terminal, or in a cell after %", "", "```")
    yield from (one for one in commands.values() if len(one) >= half)
    yield from ("".join(f"{one:{half}}" for one in short[row : row + 2]).rstrip() for row in range(0, len(short), 2))
    yield "```"


def _module(what: Any) -> str:
    found = getattr(what, "__module__", None) or type(what).__module__
    return found if found.split(".")[0] in ("theorylib", "workbook") else "theorylib"  # Fraction


def _row(words: Iterable[str]) -> str:
    return " ".join(f"`{word}`" for word in words)

