"""A lesson beside its plain text: a Python file in Jupytext's percent format, to read and to merge line by line.

Jupytext (an extra of this kit) keeps the two together, in JupyterLab as well; outputs live in the notebook alone.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import read_text, write_whole
from ..lessons import notebook_text, read_lesson
from .findings import USABLE, Finding

# No version, no kernel and no metadata but tags in the text: they would differ from machine to machine.
PAIR = {"cell_metadata_filter": "tags,-all", "formats": "ipynb,py:percent", "notebook_metadata_filter": "-all"}

_PROGRAM = ".jupytext.py"


class PairError(VampError):
    """A pair that cannot be made."""


def pair(path: Path) -> Path:
    """Pair a lesson with a text of its name, or bring the two together again: the one changed last wins.

    Gives the text's path; a cell changed in the text loses its outputs until it is run. Raises PairError without
    Jupytext.
    """
    try:
        from jupytext.cli import jupytext
    except ImportError as error:
        raise PairError("jupytext is not installed", expected="pip install 'vampbook[pair]'") from error
    _nothing_runs(path)
    notebook = read_lesson(path)
    text = path.with_suffix(".py")
    if notebook["metadata"].get("jupytext") != PAIR:
        if text.exists():
            raise PairError(f"{text} exists and is no pair of {path.name}", value=str(text), expected="another name")
        notebook["metadata"]["jupytext"] = PAIR
        write_whole(path, notebook_text(notebook))
    jupytext(["--sync", "--quiet", str(path)])
    return text


def _nothing_runs(path: Path) -> None:
    """Refuse settings of Jupytext that are a program: it would run them, from any folder above the lesson."""
    for folder in Path(os.path.abspath(path)).parents:  # as Jupytext looks for them
        if (folder / _PROGRAM).is_file():
            raise PairError(f"{folder / _PROGRAM} would be run", value=str(folder / _PROGRAM),
                            expected="settings that are no program, such as jupytext.toml")


def check_pair(path: Path) -> list[Finding]:
    """Cells that differ between a lesson and its paired text; nothing where it has none, or Jupytext is missing."""
    try:
        notebook = read_lesson(path)
    except VampError:
        return []  # said as a fault of truth already
    text = path.with_suffix(".py")
    if "py:percent" not in notebook["metadata"].get("jupytext", {}).get("formats", "") or not text.exists():
        return []
    try:
        import jupytext
    except ImportError:
        return []
    theirs = [_plain(cell) for cell in jupytext.reads(read_text(text), fmt="py:percent")["cells"]]
    ours = [_plain(cell) for cell in notebook["cells"]]
    right = "bring them together with vampbook pair, then run the lesson"
    found = [Finding(path, number, f"its text in {text.name} differs", USABLE, right=right)
             for number, (one, two) in enumerate(zip(ours, theirs, strict=False), 1) if one != two]
    if len(ours) != len(theirs) and not found:
        words = f"{text.name} has {len(theirs)} cells, the lesson {len(ours)}"
        found.append(Finding(path, 0, words, USABLE, right=right))
    return found


def _plain(cell: Mapping[str, Any]) -> tuple[str, str, list[str]]:
    return cell["cell_type"], "".join(cell["source"]).strip(), list(cell["metadata"].get("tags", ()))
