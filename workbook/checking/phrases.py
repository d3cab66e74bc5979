"""Checking a folder's phrases: each can be read, is true, and can be played."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from theorylib.errors import VampError
from theorylib.playing.fingering import finger

from ..lesson.shelf import FOLDER, files_in, read_filed
from .findings import TRUE, USABLE, Finding


def phrase_files(folder: Path) -> list[Path]:
    """The files of phrases that lie in a folder of lessons."""
    return files_in(folder) if (folder / FOLDER).is_dir() else []


def check_phrases(folder: Path) -> list[Finding]:
    """What is wrong with the phrases of a folder of lessons."""
    return [finding for path in phrase_files(folder) for finding in _check(path)]


def _check(path: Path) -> Iterator[Finding]:
    try:
        filed = read_filed(path)
    except VampError as error:
        yield Finding(path, 0, str(error.at(error.where.removeprefix(str(path)).removeprefix(": "))), TRUE)
        return
    for problem in filed.line.problems():
        yield Finding(path, 0, problem, TRUE)
    try:
        finger(filed.line, filed.line.tuning, filed.line.position)
    except VampError as error:
        yield Finding(path, 0, f"it cannot be played: {error}", USABLE)
