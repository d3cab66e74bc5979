"""The cells that the kit wrote: each knows its maker and a digest of its text, so that a change of either shows.

In a cell's metadata: `vampbook: {"written": {"by": maker, "digest": digest}}`. In the notebook's: `vampbook:
{"written": {"parts": [makers], "aims": digest}}`, the cells that the kit wrote last, by which it knows one that the
teacher took out.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

from theorylib.changes.chart_text import print_tempo

from . import prose
from .cells import code_cell, text_cell
from .kinds import aims, standing
from .saved import TEXT, Cell
from .sections import Part, Plan, parts_of


def parts(plan: Plan) -> list[Part]:
    """Every cell that the kit writes for a plan, in order."""
    return list(parts_of(standing(plan), plan))


def cell_of(part: Part) -> Cell:
    """A new cell with the part's text, marked as written by its maker."""
    raw = (text_cell if part.kind == TEXT else code_cell)(part.by, part.text, *part.tags)
    return marked(Cell.of(0, raw), part)


def marked(cell: Cell, part: Part) -> Cell:
    """The cell with the part's text and mark, what else it holds as it was; outputs that other code gave are left
    out."""
    about = cell.raw["metadata"]
    ours = {**about.get("vampbook", {}), "written": {"by": part.by, "digest": digest(part.text)}}
    raw = {**cell.raw, "source": part.text.splitlines(keepends=True), "metadata": {**about, "vampbook": ours}}
    if cell.is_code and part.text != cell.source:
        raw |= {"outputs": [], "execution_count": None}
    return Cell.of(cell.number, raw)


def as_written(cell: Cell, by: str) -> Cell:
    """The cell called by its maker's id and marked as written by it, its text as it is."""
    about = cell.raw["metadata"]
    ours = {**about.get("vampbook", {}), "written": {"by": by, "digest": digest(cell.source)}}
    return Cell.of(cell.number, {**cell.raw, "id": by, "metadata": {**about, "vampbook": ours}})


def maker_of(cell: Cell) -> str:
    """Who wrote a cell, whatever became of its text since; empty where the kit did not."""
    return str(_mark(cell).get("by", ""))


def is_untouched(cell: Cell) -> bool:
    """Is a cell as the kit wrote it?"""
    return _mark(cell).get("digest") == digest(cell.source)


def _mark(cell: Cell) -> Mapping[str, Any]:
    return cell.raw.get("metadata", {}).get("vampbook", {}).get("written", {})


def digest(text: str) -> str:
    """16 hexadecimal digits of the text's SHA-256."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def digest_of(words: list[str]) -> str:
    return digest(json.dumps(words, ensure_ascii=False))


def about(plan: Plan) -> dict[str, Any]:
    """What a lesson says of itself in its metadata."""
    choices, chart, home = plan.choices, plan.chart, plan.read.homes[0]
    return {
        "title": choices.title, "level": choices.level, "minutes": choices.minutes, "tempo": print_tempo(chart.tempo),
        "feel": chart.feel, "home": str(home.scale), "key": str(prose.pair_key(plan.read, home) or home.key),
        "aims": aims(plan),
    }


def marks(plan: Plan, written: Iterable[str]) -> dict[str, Any]:
    """What the notebook's metadata keep of what was written by these makers."""
    return {"parts": list(written), "aims": digest_of(aims(plan))}
