"""A shipped lesson cut to one section, as a teacher might: for tests that make many packs and ask little of each."""

from __future__ import annotations

import json

from support.lab import ROOT

KEPT = ("title", "aims", "kit", "choices", "changes-words", "changes", "home-words", "harmony", "neck-words", "neck",
        "guides-words", "guides")


def short_lesson() -> str:
    """A notebook's text, with the outputs that were saved."""
    lesson = json.loads((ROOT / "lessons" / "slack-water.ipynb").read_text(encoding="utf-8"))
    lesson["cells"] = [cell for cell in lesson["cells"] if cell["id"] in KEPT]
    assert len(lesson["cells"]) == len(KEPT)
    return json.dumps(lesson, ensure_ascii=False, indent=1) + "\n"
