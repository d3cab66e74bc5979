"""Which files a lesson read while it ran, as Python itself reports each opening (its audit events, PEP 578).

Files of Python, of installed packages, of this kit and of the system do not count; nor does what a library opens
without Python's knowledge, such as a sound file read in C.
"""

from __future__ import annotations

import os
import site
import sys
import sysconfig
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

_opened: set[str] = set()
_before: set[str] = set()


def watch() -> None:
    """From now on note what this process opens to read: for once, as no hook of this kind can be taken out again."""
    _before.update(sys.modules)
    sys.addaudithook(_note)


def read(folder: Path) -> list[str]:
    """What was read since `watch`, imported modules too: relative to `folder` where it lies there, else absolute.

    A file that was asked for and is not there counts, for it may come.
    """
    here = os.path.realpath(folder) + os.sep
    opened = {os.path.realpath(path) for path in _opened if "__pycache__" not in path}
    found = {path for path in opened if not path.startswith(_others()) and not os.path.isdir(path)}
    found |= {source for source in map(_source, sys.modules.keys() - _before) if source}
    return sorted(path.removeprefix(here) for path in found)


def _note(event: str, given: tuple[object, ...]) -> None:
    if event == "open":
        path, mode, flags = given
        if isinstance(path, str | bytes) and not _anew(mode, flags):
            name = os.fsdecode(path)
            with suppress(OSError):  # in a folder that is gone
                if "\0" not in name:  # no file can be called so
                    _opened.add(os.path.abspath(name))


def _anew(mode: object, flags: object) -> bool:
    """Whether a file is opened so that what it held does not matter."""
    if isinstance(mode, str):
        return mode[:1] in ("w", "x") or (mode[:1] == "a" and "+" not in mode)
    return isinstance(flags, int) and bool(flags & (os.O_TRUNC | os.O_WRONLY))


def _source(name: str) -> str:
    """The file of a module that is the lesson's own; empty for others."""
    path = getattr(sys.modules[name], "__dict__", {}).get("__file__")  # asking a lazy module itself could import it
    path = os.path.realpath(path) if isinstance(path, str) else ""
    return "" if path.startswith(_others()) else path


@lru_cache(maxsize=1)
def _others() -> tuple[str, ...]:
    """Folders whose files do not count."""
    root = Path(__file__).resolve().parents[2]
    found = {sys.prefix, sys.base_prefix, sys.exec_prefix, *site.getsitepackages(), site.getusersitepackages(),
             *sysconfig.get_paths().values(), f"{root / 'workbook'}", f"{root / 'theorylib'}",
             "/proc", "/sys", "/dev", "/etc"}
    return tuple(os.path.realpath(one) + os.sep for one in found)
