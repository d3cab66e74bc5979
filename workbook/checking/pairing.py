"""A lesson beside its plain text: a Python file in Jupytext's percent format, to read and to merge line by line.

Jupytext (an extra of this kit) keeps the two together, in JupyterLab as well; outputs live in the notebook alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..files import keep_beside, read_text, write_new, write_whole
from ..lesson.lesson import Lesson
from ..running.nbformat_quickly import nbformat_quickly
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
    nbformat_quickly()
    try:
        import jupytext
    except ImportError as error:
        raise PairError("jupytext is not installed", expected="pip install 'vampbook[pair]'") from error
    lesson, text = Lesson.read(path), path.with_suffix(".py")
    if text.exists() and lesson.metadata.get("jupytext") != PAIR:
        raise PairError(f"{text} exists and is no pair of {path.name}", value=str(text), expected="another name")
    together = _Pair(lesson, text)
    if not text.exists():
        together.lesson_leads()
        return text
    theirs = jupytext.reads(read_text(text), fmt=_FORMAT)
    ours_now, theirs_now = _sources(lesson), _sources(Lesson.of(theirs))
    then = lesson.metadata.get(_PAIRED, {})
    ours_changed, theirs_changed = then.get("lesson") != ours_now, then.get("text") != theirs_now
    if ours_now == theirs_now:
        together.remember(lesson, theirs_now)
    elif not ours_changed and not theirs_changed:
        return text
    elif ours_changed and theirs_changed and not take:
        raise PairError(f"{path.name} and {text.name} were both changed since they were last together", value=str(path),
                        expected="--take lesson or --take text; the other is kept under a number")
    elif (take or ("lesson" if ours_changed else "text")) == "lesson":
        if theirs_changed:
            keep_beside(text)
        together.lesson_leads()
    else:
        if ours_changed:
            keep_beside(path)
        together.text_leads(theirs)
    os.utime(text)  # an editor that syncs the two takes the later one for the one to go by
    return text


@dataclass(frozen=True, slots=True)
class _Pair:
    """A lesson as its file has it, and the file of its text."""

    lesson: Lesson
    text: Path

    def lesson_leads(self) -> None:
        nbformat = nbformat_quickly()
        import jupytext

        paired = self.lesson.with_metadata(jupytext=PAIR)
        words = jupytext.writes(nbformat.reads(paired.text, as_version=4), fmt=_FORMAT)
        # The text first: after a crash in between the two are equal, and nothing is taken for changed.
        (write_whole if self.text.exists() else write_new)(self.text, words)
        self.remember(paired, _sources(Lesson.of(jupytext.reads(words, fmt=_FORMAT))))

    def text_leads(self, theirs: Any) -> None:
        nbformat = nbformat_quickly()
        from jupytext.combine import combine_inputs_with_outputs

        said = _sources(Lesson.of(theirs))
        paired = self.lesson.with_metadata(jupytext=PAIR)
        both = combine_inputs_with_outputs(theirs, nbformat.reads(paired.text, as_version=4), fmt=_FORMAT)
        self.remember(self.lesson.with_notebook(json.loads(nbformat.writes(both))), said)

    def remember(self, new: Lesson, text: str) -> None:
        """Write the lesson with what it and its text held when they were together; an equal file is left alone."""
        said = {"jupytext": PAIR, _PAIRED: {"lesson": _sources(new), "text": text}}
        remembering = new.with_metadata(**said)
        if remembering != self.lesson:
            remembering.write(new=False)


def _sources(lesson: Lesson) -> str:
    """A digest of the cells, outputs left out."""
    return hashlib.sha256(json.dumps(_plain(lesson)).encode()).hexdigest()[:16]


def check_pair(lesson: Lesson) -> list[Finding]:
    """Cells that differ between a lesson and its paired text; nothing where it has none, or Jupytext is missing."""
    path, text = lesson.path, lesson.path.with_suffix(".py")
    paired = lesson.metadata.get("jupytext")
    if not isinstance(paired, dict) or "py:percent" not in str(paired.get("formats")) or not text.is_file():
        return []
    nbformat_quickly()
    try:
        import jupytext
    except ImportError:
        return []
    theirs = _plain(Lesson.of(jupytext.reads(read_text(text), fmt=_FORMAT)))
    ours = _plain(lesson)
    right = "bring them together with vampbook pair, then run the lesson"
    found = [Finding(path, number, f"its text in {text.name} differs", USABLE, right=right)
             for number, (one, two) in enumerate(zip(ours, theirs, strict=False), 1) if one != two]
    if len(ours) != len(theirs) and not found:
        words = f"{text.name} has {len(theirs)} cells, the lesson {len(ours)}"
        found.append(Finding(path, 0, words, USABLE, right=right))
    return found


def _plain(lesson: Lesson) -> list[tuple[str, str, list[str]]]:
    """Kind (in Jupyter's word, which the digests of pairs were made with), source and tags of each cell."""
    return [(str(cell.raw["cell_type"]), cell.source.strip(), list(cell.tags)) for cell in lesson.cells]
