"""The commands in a cell: `%vampbook build lessons/x.ipynb` runs what a terminal would, in the teacher's folder.

A notebook may lie deep in that folder; the command runs at its top, so that every page and the README say the same.
"""

from __future__ import annotations

import atexit
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from theorylib.errors import closest, shown

from ..files import FileError
from ..teacher_folder import folder_of
from .telling import Words

_PROGRAM = (sys.executable, "-m", "workbook")


def made(folder: str | Path) -> Words:
    """To open what a command made: the files of a folder, as links.

    `made("build/slack-water")` shows a pack. Raises FileError where there is no such folder, with the nearest there is.

    >>> import pathlib, tempfile
    >>> place = pathlib.Path(tempfile.mkdtemp())
    >>> _ = (place / "handout.pdf").write_bytes(b"%PDF")
    >>> str(made(place)).partition("]")[0]
    '- [handout.pdf'
    """
    place = work_folder() / str(folder)
    if not place.is_dir():
        beside = [one.name for one in place.parent.iterdir() if one.is_dir()] if place.parent.is_dir() else []
        near = [str(Path(str(folder)).parent / name) for name in closest(place.name, beside)]
        raise FileError(f"there is no folder {folder}", value=str(folder), nearest=near,
                        expected="a folder that a command has made")
    files = sorted(path for path in place.rglob("*")
                   if path.is_file() and not any(part.startswith(".") for part in path.relative_to(place).parts))
    return Words("\n".join(f"- [{path.relative_to(place).as_posix()}]({link_to(path)})" for path in files)
                 or f"{folder} is empty.")


def in_folder(name: str | Path) -> Path:
    """To name a file of one's folder, wherever in it the notebook lies.

    `in_folder("build/x/backing.wav")` is its place.

    >>> in_folder("phrases/harbour-lights.txt").name
    'harbour-lights.txt'
    """
    if not isinstance(name, str | Path):
        raise FileError(f"“{shown(name)}” names no file", value=name, expected="a path within the teacher's folder")
    return work_folder() / str(name)


def link_to(path: Path) -> str:
    """From the notebook to a file: what JupyterLab opens at a click."""
    from urllib.parse import quote

    try:
        return quote(Path(os.path.relpath(path)).as_posix())
    except ValueError:  # another drive
        return path.as_uri()


def work_folder() -> Path:
    """The top of the teacher's folder in which the notebook lies, else the notebook's own folder.

    The kit's own folder is no place to work in: a page that is run there gets a teacher's folder that ends with it.
    """
    found = folder_of(Path())
    if found is None and Path(__file__).resolve().parents[1] in Path.cwd().resolve().parents:
        return _for_a_while()
    return found or Path()


@lru_cache(maxsize=1)
def _for_a_while() -> Path:
    place = Path(tempfile.mkdtemp(prefix="vampbook-guide-"))
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    subprocess.run([*_PROGRAM, "start", str(place), "--no-lab", "--quiet"], check=True)
    return place


def run_command(line: str) -> None:
    """Run `vampbook` with the words of a line, and print what it says as it comes."""
    from IPython.core.error import UsageError

    with _running(_words(line)) as running:
        try:
            for said in running.stdout or ():
                print(said, end="", flush=True)
        except KeyboardInterrupt:
            running.terminate()
            raise
    if running.returncode:
        raise UsageError("that was not done: the line above says why")  # IPython shows it as one line


def output_of(words: Sequence[str]) -> tuple[int, str]:
    """Run `vampbook` with some words; its status, and all that it said."""
    with _running(words) as running:
        said = running.communicate()[0]
    return running.returncode, said


def _running(words: Sequence[str]) -> subprocess.Popen[str]:
    return subprocess.Popen([*_PROGRAM, *words], cwd=work_folder(), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                            stderr=subprocess.STDOUT, text=True, encoding="utf-8", errors="replace",
                            env={**os.environ, "PYTHONIOENCODING": "utf-8"})


def _words(line: str) -> list[str]:
    """The words of a line as a shell takes them, but for the backslash, which stands in paths."""
    reader = shlex.shlex(line, posix=True, punctuation_chars=False)
    reader.whitespace_split, reader.escape, reader.commenters = True, "", ""
    return list(reader)


def register_magic() -> None:
    """Make `%vampbook` known to the running notebook."""
    from IPython.core.getipython import get_ipython

    shell = get_ipython()
    if shell is not None and hasattr(shell, "magics_manager"):
        shell.magics_manager.register_function(run_command, "line", "vampbook")
