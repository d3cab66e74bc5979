"""The pieces of TAB in tests/tables: what is typed, and what each says, typed by hand."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from theorylib import Line, Mark
from theorylib.changes.charts import Chart
from theorylib.errors import LineError

TABLES = Path(__file__).resolve().parents[1] / "tables"
_NOTE = re.compile(r"(\S+?):(\S+?):(\d)/(\d+)(?:\{([^}]*)\})?")
Heard = tuple[Fraction, Fraction, int, int, tuple[Mark, ...]]


@dataclass(frozen=True)
class Piece:
    """A text with what its reader is given, and what it says or why it is refused."""

    name: str
    text: str
    given: dict[str, str]
    says: str

    def read(self) -> Line:
        given = dict(self.given)
        meter = {"meter": given.pop("meter")} if "meter" in given else {}
        if "changes" in given:
            given["chart"] = given.pop("changes")
        elif meter:
            given["chart"] = str(Chart.parse("| N.C. |", **meter))
        return Line.parse(self.text, **given)

    def problem(self) -> str:
        """What is wrong with how the piece is read; empty where it is read right, or refused where it should be."""
        try:
            line = self.read()
        except LineError as error:
            refused = re.fullmatch(r"refused at (\d+): (.*)", self.says)
            if refused is None:
                return f"refused: {error}"
            at = f"line {refused[1]},"
            return "" if error.where.startswith(at) and refused[2] in str(error) else f"not {self.says}: {error}"
        if self.says.startswith("refused"):
            return f"read, but should be {self.says}"
        found = [(note.onset_beats, note.duration_beats, note.string, note.fret, tuple(sorted(note.marks, key=_order)))
                 for note in line.notes]
        return "" if found == list(self.notes()) and not line.problems() else f"{found} {line.problems()}"

    def notes(self) -> list[Heard]:
        found = []
        for onset, length, string, fret, marks in _NOTE.findall(self.says):
            found.append((Fraction(onset), Fraction(length), int(string), int(fret), tuple(sorted(
                map(_mark, filter(None, marks.split(", "))), key=_order))))
        return found


def _order(mark: Mark) -> tuple[str, Fraction]:
    return mark.kind, mark.at_beats


def _mark(text: str) -> Mark:
    match = re.fullmatch(r"([a-z -]+?)(?: (\d\S*))?(?: @(\S+))?", text)
    assert match is not None, text
    return Mark(match[1], Fraction(match[2] or 0), Fraction(match[3] or 0))


def pieces(file: str) -> list[Piece]:
    """The pieces of a table."""
    body = (TABLES / file).read_text(encoding="utf-8").replace("⍽", "\u00a0").replace("⇥", "\t")
    found = []
    for part in re.split(r"^## ", body, flags=re.MULTILINE)[1:]:
        name, _, rest = part.partition("\n")
        text, _, says = rest.partition("\n== ")
        given = {}
        while option := re.match(r"\| (tuning|meter|changes|rhythm): (.*)\n", text):
            given[option[1]] = option[2]
            text = text[option.end():]
        found.append(Piece(name.strip(), text, given, says.strip()))
    return found
