"""Reading of the cited tables in tests/tables, shared by the tests."""

from __future__ import annotations

import json
from pathlib import Path

TABLES = Path(__file__).parent.parent / "tables"
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def rows(name: str, columns: int) -> list[list[str]]:
    """The rows of a table of cells parted by "|", short rows filled with empty cells; "#" starts a comment line."""
    found = []
    for line in (TABLES / name).read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            cells = [cell.strip() for cell in line.split("|")]
            assert len(cells) <= columns, f"{name}: too many cells in {line}"
            found.append(cells + [""] * (columns - len(cells)))
    return found


def tonal(name: str) -> dict[str, dict[str, list[str]]]:
    """tonal's word for a chord or scale: root: spelled notes."""
    data = json.loads((TABLES / name).read_text(encoding="utf-8"))
    return {word: {root: notes.split() for root, notes in zip(data["roots"], spelled, strict=True)}
            for name, aliases, _, spelled in data["rows"] for word in (name, *aliases) if word}
