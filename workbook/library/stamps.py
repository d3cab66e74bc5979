"""What something read was like: a short value that differs when it does, kept with a pack and compared later."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from ..files import is_temporary
from ..running.reads import ASKED, EVERY, FILE, FOLDER, UNKNOWN, VARIABLE, entry, parts

SMALL_BYTES = 1_000_000        # of a file whose content counts; of a larger one size, times and both ends
END_BYTES = 65_536
BESIDE_BYTES = 64_000_000      # of small files in one folder; those beyond count like large ones
_CHANGING = ["changing"]       # no stamp is ever equal to it


def absolute(told: str, folder: Path) -> str:
    """What was noted, with its path made absolute from the lesson's folder."""
    kind, name = parts(told)
    return entry(kind, os.path.abspath(folder / name)) if kind in (FILE, FOLDER, ASKED) else told


def stamps(told: Iterable[str], since_ns: int = 0) -> dict[str, Any]:
    """The stamp of each thing noted; of a file that was changed after `since_ns` (nanoseconds since 1970) one that
    never comes again, as nobody knows what the lesson saw of it."""
    found = {}
    for one in told:
        kind, name = parts(one)
        found[one] = _CHANGING if since_ns and kind == FILE and _changed_ns(name) >= since_ns else _STAMPS[kind](name)
    return found


def unknown(told: Iterable[str]) -> list[str]:
    """What a lesson did of which nothing can be known, in words."""
    return sorted(name for kind, name in map(parts, told) if kind == UNKNOWN)


def beside_of(folder: Path) -> str:
    """What else a lesson could read in its folder: each file that is no notebook."""
    if not folder.is_dir():
        return ""
    found, room = [], BESIDE_BYTES
    for one in sorted(os.scandir(folder), key=lambda one: one.name):
        if one.is_file() and not one.name.endswith(".ipynb") and not is_temporary(one.name):
            size = one.stat().st_size
            room -= size if size <= SMALL_BYTES else 0
            found.append((one.name, _of_file(one.path, SMALL_BYTES if room >= 0 else 0)))
    return repr(found)


def _of_file(path: str, small: int = SMALL_BYTES) -> Any:
    """Of a file its content, or what tells a large one from another; of what is none, what it is."""
    try:
        seen = os.stat(path)
        if not stat.S_ISREG(seen.st_mode):
            return stat.S_IFMT(seen.st_mode)
        with open(path, "rb") as file:
            if seen.st_size <= small:
                return hashlib.sha256(file.read()).hexdigest()
            ends = hashlib.sha256(file.read(END_BYTES))
            file.seek(max(0, seen.st_size - END_BYTES))
            ends.update(file.read(END_BYTES))
        # The time of a change of its entry moves even where size and time of writing were put back.
        return [seen.st_size, seen.st_mtime_ns, seen.st_ctime_ns, ends.hexdigest()]
    except (OSError, ValueError):
        return None


def _of_folder(path: str) -> Any:
    """The names in a folder, and which of them are folders."""
    try:
        names = sorted((one.name, one.is_dir()) for one in os.scandir(path) if not is_temporary(one.name))
    except (OSError, ValueError):
        return None
    return hashlib.sha256(repr(names).encode(errors="surrogateescape")).hexdigest()


def _of_place(path: str) -> Any:
    """Whether something is there, and what; of a file also what its size and time say."""
    try:
        seen = os.stat(path)
    except (OSError, ValueError):
        return os.path.islink(path)
    kind = stat.S_IFMT(seen.st_mode)
    return [kind, seen.st_size, seen.st_mtime_ns] if stat.S_ISREG(seen.st_mode) else [kind]


def _of_variable(name: str) -> Any:
    """A digest: what a variable holds may be a secret."""
    values = sorted(os.environ.items()) if name == EVERY else os.environ.get(name)
    return None if values is None else hashlib.sha256(repr((name, values)).encode(errors="surrogateescape")).hexdigest()


def _changed_ns(path: str) -> int:
    try:
        return os.stat(path).st_mtime_ns
    except (OSError, ValueError):
        return 0


_STAMPS: dict[str, Callable[[str], Any]] = {
    FILE: _of_file, FOLDER: _of_folder, ASKED: _of_place, VARIABLE: _of_variable, UNKNOWN: lambda name: _CHANGING,
}
