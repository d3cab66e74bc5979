"""Keeping what lies in the current folder out of our own processes: a module there is a lesson's, and nobody else's.

Python puts the current folder first on the path of a process started with -c or -m, so that a random.py beside the
lessons would be run by each of our workers. They start without it; a lesson gets its folder where IPython puts it
(before the installed packages, after the standard library), and only when its cells are about to run.
"""

from __future__ import annotations

import os
import sys
import threading
import types
from collections.abc import Iterator
from contextlib import contextmanager

SAFE = "PYTHONSAFEPATH"  # Python's own variable: leave the current folder off the path
_HERE = ("", ".")
_starting = threading.Lock()


@contextmanager
def apart() -> Iterator[None]:
    """What is started inside takes its modules from nowhere near the current folder, and so does what it starts."""
    with _starting:
        path, before = sys.path, os.environ.get(SAFE)
        sys.path = [one for one in path if one not in _HERE]  # multiprocessing hands it on
        os.environ[SAFE] = "1"
        try:
            yield
        finally:
            sys.path = path
            if before is None:
                del os.environ[SAFE]
            else:
                os.environ[SAFE] = before


@contextmanager
def without_main() -> Iterator[None]:
    """What multiprocessing starts inside does not load the program that starts it anew, as it otherwise does."""
    before = sys.modules["__main__"]
    sys.modules["__main__"] = types.ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = before


def leave_folder() -> None:
    """Take the current folder off this process's path where Python put it there, not the user (PYTHONPATH)."""
    asked = [os.path.abspath(one) for one in os.environ.get("PYTHONPATH", "").split(os.pathsep) if one]
    here = os.getcwd()
    first = sys.path[0] if sys.path else None
    if first in _HERE or (first == here and here not in asked and not sys.flags.safe_path):
        del sys.path[0]


def enter(folder: str, safe: bool) -> None:
    """Begin a lesson in a process started apart: in its folder, what it opens noted; `safe` as the caller's own."""
    from .keeper import adopt
    from .reads import watch

    adopt()
    os.chdir(folder)
    if not safe:
        os.environ.pop(SAFE, None)
    watch()
    folder_on_path()


def folder_on_path() -> None:
    """The current folder as a source of modules, before the first folder of installed packages, as IPython has it."""
    if "" not in sys.path:
        packages = (index for index, one in enumerate(sys.path)
                    if os.path.basename(one) in ("site-packages", "dist-packages"))
        sys.path.insert(next(packages, 0), "")
