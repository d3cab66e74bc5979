"""What a check finds: a value, and the line that tells it."""

from __future__ import annotations

import re
from dataclasses import dataclass
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


def refused(path: Path, error: VampError) -> Finding:
    """What could not be read as a finding, at the cell that the error names."""
    place = error.where.removeprefix(f"{path}: ")
    cell = re.match(r"cell (\d{1,9})(?:, )?", place)
    rest = place[cell.end():] if cell else place
    return Finding(path, int(cell[1]) if cell else 0, str(error.at(rest)), TRUE)
