"""Teachers' prose: what contradicts its lesson is found, what speaks of other things is left in peace."""

from __future__ import annotations

import tomllib
from functools import cache

from support.tables import TABLES

from theorylib.changes.charts import Chart
from theorylib.names.scales import Scale
from theorylib.necks.tunings import Tuning
from workbook.checking.prose import Facts, contradictions, facts_about

BEFORE, ASIDE = "written before the rules", "written after the rules, read once"


@cache
def lessons() -> dict[str, Facts]:
    rows = tomllib.loads((TABLES / "prose_lessons.toml").read_text(encoding="utf-8"))
    return {name: facts_about([Chart.parse(row["chart"])], tuning=Tuning.parse(row.get("tuning", "standard")),
                              positions=row["positions"], tempos=row["plan"],
                              shown=map(Scale.parse, row.get("scales", ())))
            for name, row in rows.items()}


def sentences(name: str, columns: int) -> dict[str, list[list[str]]]:
    """The rows of a table by the part that they stand in; only the last cell may hold "|"."""
    parts: dict[str, list[list[str]]] = {}
    for line in (TABLES / name).read_text(encoding="utf-8").splitlines():
        if line.startswith("= "):
            parts[line[2:]] = []
        elif line and not line.startswith("#"):
            cells = [cell.strip() for cell in line.split("|", columns - 1)]
            parts[list(parts)[-1]].append([*cells[:-1], cells[-1].replace("\\n", "\n")])
    return parts


def alarms(part: str) -> list[tuple[str, str, str]]:
    return [(lesson, text, one.words) for lesson, text in sentences("prose_elsewhere.txt", 2).get(part, [])
            for one in contradictions(text, lessons()[lesson]).contradictions]


def missed(part: str) -> list[tuple[str, str]]:
    """The contradictions of which no finding names the words at fault."""
    return [(words, text) for lesson, _, words, text in sentences("prose_contradicts.txt", 4).get(part, [])
            if not any(words in one.words or one.words in words
                       for one in contradictions(text, lessons()[lesson]).contradictions)]
