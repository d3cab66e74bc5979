"""A lesson beside its plain text: a Python file in Jupytext's percent format, to read and to merge line by line.

Jupytext (an extra of this kit) keeps the two together, in JupyterLab as well; outputs live in the notebook alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import keep_beside, read_text, write_new, write_whole
from ..lesson.stored import notebook_text, read_lesson
from .findings import USABLE, Finding

_FORMAT = "py:percent"
_PAIRED = "vampbook_paired"  # in the lesson's metadata, so that it travels with it
# No version, no kernel and no metadata but tags in the text: they would differ from machine to machine.
PAIR = {"cell_metadata_filter": "tags,-all", "formats": "ipynb,py:percent", "notebook_metadata_filter": "-all"}


class PairError(VampError):
    """A pair that cannot be made."""


def pair(path: Path, take: str = "") -> Path:
    """Pair a lesson with a text of its name, or bring the two together again; gives the text's path.

    What was changed since they were last together goes into the other; a cell changed in the text loses its outputs
    until it is run. Where both were changed, or nobody knows, `take` ("lesson" or "text") says which to go by, and the
    other is kept beside it under a number. Raises PairError without that, or without Jupytext: both stay as they are.
    """
    try:
        import jupytext
    except ImportError as error:
        raise PairError("jupytext is not installed", expected="pip install 'vampbook[pair]'") from error
    notebook, text = read_lesson(path), path.with_suffix(".py")
    paired = notebook["metadata"].get("jupytext") == PAIR
    if text.exists() and not paired:
        raise PairError(f"{text} exists and is no pair of {path.name}", value=str(text), expected="another name")
    notebook["metadata"]["jupytext"] = PAIR
    if not text.exists():
        _lesson_leads(path, notebook, text)
        return text
    theirs = jupytext.reads(read_text(text), fmt=_FORMAT)
    ours_now, theirs_now = _sources(notebook), _sources(theirs)
    then = notebook["metadata"].get(_PAIRED, {})
    ours_changed, theirs_changed = then.get("lesson") != ours_now, then.get("text") != theirs_now
    if ours_now == theirs_now:
        _remember(path, notebook, ours_now, theirs_now)
    elif not ours_changed and not theirs_changed:
        return text
    elif ours_changed and theirs_changed and not take:
        raise PairError(f"{path.name} and {text.name} were both changed since they were last together", value=str(path),
                        expected="--take lesson or --take text; the other is kept under a number")
    elif (take or ("lesson" if ours_changed else "text")) == "lesson":
        if theirs_changed:
            keep_beside(text)
        _lesson_leads(path, notebook, text)
    else:
        if ours_changed:
            keep_beside(path)
        _text_leads(path, notebook, theirs)
    os.utime(text)  # an editor that syncs the two takes the later one for the one to go by
    return text


def _lesson_leads(path: Path, notebook: dict[str, Any], text: Path) -> None:
    import jupytext
    import nbformat

    words = jupytext.writes(nbformat.reads(json.dumps(notebook), as_version=4), fmt=_FORMAT)
    # The text first: after a crash in between the two are equal, and nothing is taken for changed.
    (write_whole if text.exists() else write_new)(text, words)
    _remember(path, notebook, _sources(notebook), _sources(jupytext.reads(words, fmt=_FORMAT)))


def _text_leads(path: Path, notebook: dict[str, Any], theirs: Any) -> None:
    import nbformat
    from jupytext.combine import combine_inputs_with_outputs

    said = _sources(theirs)
    both = combine_inputs_with_outputs(theirs, nbformat.reads(json.dumps(notebook), as_version=4), fmt=_FORMAT)
    new = json.loads(nbformat.writes(both))
    _remember(path, new, _sources(new), said)


def _remember(path: Path, notebook: dict[str, Any], lesson: str, text: str) -> None:
    """Write a lesson with what it and its text held when they were together; an equal file is left alone."""
    notebook["metadata"][_PAIRED] = {"lesson": lesson, "text": text}
    if notebook != read_lesson(path):
        write_whole(path, notebook_text(notebook))


def _sources(notebook: Mapping[str, Any]) -> str:
    """A digest of the cells, outputs left out."""
    return hashlib.sha256(json.dumps([_plain(cell) for cell in notebook["cells"]]).encode()).hexdigest()[:16]


def check_pair(path: Path) -> list[Finding]:
    """Cells that differ between a lesson and its paired text; nothing where it has none, or Jupytext is missing."""
    try:
        notebook = read_lesson(path)
    except VampError:
        return []  # said as a fault of truth already
    text = path.with_suffix(".py")
    paired = notebook["metadata"].get("jupytext")
    if not isinstance(paired, dict) or "py:percent" not in str(paired.get("formats")) or not text.is_file():
        return []
    try:
        import jupytext
    except ImportError:
        return []
    theirs = [_plain(cell) for cell in jupytext.reads(read_text(text), fmt=_FORMAT)["cells"]]
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
