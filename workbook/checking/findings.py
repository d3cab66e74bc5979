"""What a check finds: a value, and the line that tells it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from theorylib.errors import VampError

RUNS, TRUE, USABLE = "runs", "true", "usable"
LAYERS = {RUNS: "it runs", TRUE: "it is true", USABLE: "it can be used"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a lesson: file, cell and line within it (0: the whole), what it is and what would be right.

    An `offer` is no fault: something that could be checked if it were marked; nor is a `note`, a word to the teacher.
    """

    path: Path
    cell: int
    message: str
    layer: str = RUNS
    line: int = 0
    right: str = ""
    offer: bool = False
    note: bool = False

    @property
    def is_fault(self) -> bool:
        return not (self.offer or self.note)

    def __str__(self) -> str:
        place = f": cell {self.cell}" * bool(self.cell) + f", line {self.line}" * bool(self.line)
        return f"{self.path}{place}: {self.message}" + (f"; {self.right}" if self.right else "")


def grouped(findings: Iterable[Finding], few: int = 2) -> list[str]:
    """The lines that tell findings: where one thing is said of more than a `few` cells of a lesson, one names them all.

    >>> grouped([Finding(Path("a.ipynb"), cell, "this cell was never run") for cell in (3, 4, 9)])
    ['a.ipynb: cells 3, 4, 9: this cell was never run']
    """
    same: dict[Finding, list[Finding]] = {}
    for one in findings:
        same.setdefault(replace(one, cell=0, line=0), []).append(one)
    lines = []
    for shared, each in same.items():
        numbers = list(dict.fromkeys(one.cell for one in each if one.cell))
        if len(numbers) <= few:
            lines += ["note: " * one.note + str(one) for one in each]
            continue
        alone = str(shared).removeprefix(f"{shared.path}: ")
        lines.append("note: " * shared.note + f"{shared.path}: cells {', '.join(map(str, numbers))}: {alone}")
    return lines


def refused(path: Path, error: VampError) -> Finding:
    """What could not be read as a finding, at the cell that the error names."""
    place = error.where.removeprefix(f"{path}: ")
    cell = re.match(r"cell (\d{1,9})(?:, )?", place)
    rest = place[cell.end():] if cell else place
    return Finding(path, int(cell[1]) if cell else 0, str(error.at(rest)), TRUE)
