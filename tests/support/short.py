"""A shipped lesson cut to one section, as a teacher might: for tests that make many packs and ask little of each."""

from __future__ import annotations

import json
from pathlib import Path

from support.lab import ROOT

from workbook.handouts.tracks import Sound

KEPT = ("title", "aims", "kit", "choices", "changes-words", "changes", "home-words", "harmony", "neck-words", "neck",
        "guides-words", "guides")
BRIEF = Sound(minutes=0.2)  # a pass or two of the backing, not five minutes of it: half the work of a short pack


def short_lesson(name: str = "slack-water", *more: str) -> str:
    """A notebook's text, with the outputs that were saved; `more` are other cells to keep, by their ids."""
    lesson = json.loads((ROOT / "lessons" / f"{name}.ipynb").read_text(encoding="utf-8"))
    lesson["cells"] = [cell for cell in lesson["cells"] if cell["id"] in KEPT + more]
    ids = {cell["id"] for cell in lesson["cells"]}
    assert {"title", "kit", "choices", "changes", "harmony", "guides", *more} <= ids
    code = [cell for cell in lesson["cells"] if cell["cell_type"] == "code"]
    for count, cell in enumerate(code, 1):  # as if it had been run as it stands
        for one in (cell, *cell["outputs"]):
            if "execution_count" in one:
                one["execution_count"] = count
    return json.dumps(lesson, ensure_ascii=False, indent=1) + "\n"


def write_short(folder: Path, name: str = "slack-water", *more: str) -> Path:
    """The short lesson as a file of the lesson's name."""
    path = folder / f"{name}.ipynb"
    path.write_text(short_lesson(name, *more), encoding="utf-8")
    return path
