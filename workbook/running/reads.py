"""What a lesson's outputs may hang on beside the lesson: files that it opened, folders that it listed, paths that it
asked about, variables of the environment, other programs and the network.

Python reports openings, listings and starts itself (its audit events, PEP 578); asking whether a file is there, and the
environment, are noted by what stands in for os.stat and os.environ while a lesson runs. Files of Python, of installed
packages, of this kit and of the system do not count.

What cannot be noted: what a library opens in C without Python's knowledge, such as a sound file; sizes and times seen
while a folder is listed; the clock and chance. What another program reads cannot either, but that one runs can.
"""

from __future__ import annotations

import functools
import json
import os
import site
import sys
import sysconfig
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import Any

FILE, FOLDER, ASKED, VARIABLE, UNKNOWN = "file", "folder", "asked", "variable", "unknown"
EVERY = "*"            # in place of a variable's name: all were looked through
MOST = 20_000          # notes of one kind; a lesson that gives more is taken for one of which too little is known
PROGRAM, NETWORK, TOO_MUCH = "another program", "the network", "very many files"

_noted: dict[str, set[str]] = {kind: set() for kind in (FILE, FOLDER, ASKED, VARIABLE, UNKNOWN)}
_own: set[str] = set()     # what the lesson wrote itself: it does so each time
_before: set[str] = set()  # modules
_STARTS = ("subprocess.Popen", "os.system", "os.posix_spawn", "os.spawn", "os.exec", "os.fork", "os.forkpty",
           "os.startfile")
_LISTS = ("os.listdir", "os.scandir")
_LOOKING_FOR_MODULES = ("importlib", "pkgutil", "zipimport")
# Of a process or a terminal, read by Python or IPython whatever the lesson is.
_NO_MATTER = frozenset({"COLUMNS", "LINES", "TERM", "MPLBACKEND", "IPYKERNEL_CELL_NAME"})


def watch() -> None:
    """From now on note what this process takes from outside: for once, as no such hook can be taken out again."""
    _before.update(sys.modules)
    for name in ("stat", "lstat", "access"):
        _stand_in(os, name)
    for name in ("exists", "lexists", "isfile", "isdir", "islink"):
        if not hasattr(getattr(os.path, name), "__code__"):  # where it is not written in Python, over os.stat
            _stand_in(os.path, name)
    os.environ.__class__ = _Variables
    if os.supports_bytes_environ:
        os.environb.__class__ = _Variables
    sys.addaudithook(_hear)


def read(folder: Path) -> list[str]:
    """What was noted since `watch`, one text each: its kind, then its name as JSON.

    Paths are relative to `folder` where they lie there, else absolute. What was asked for and is not there counts, for
    it may come.
    """
    noted = {kind: set(names) for kind, names in _noted.items()}  # what follows asks about files itself
    here = os.path.join(os.path.realpath(folder), "")
    found = {FILE: {source for source in map(_source, sys.modules.keys() - _before) if source}}
    for kind in (FILE, FOLDER, ASKED):
        for path in noted[kind]:
            if not _is_others(path):
                found.setdefault(FOLDER if kind == FILE and os.path.isdir(path) else kind, set()).add(path)
    told = {entry(kind, _from(here, path)) for kind, paths in found.items() for path in paths}
    told |= {entry(kind, name) for kind in (VARIABLE, UNKNOWN) for name in noted[kind]}
    return sorted(told)


def entry(kind: str, name: str) -> str:
    """One thing noted, as it travels and is kept: a line of ASCII."""
    return f"{kind} {json.dumps(name)}"


def parts(told: str) -> tuple[str, str]:
    """Kind and name of one thing noted."""
    kind, name = told.split(" ", 1)
    return kind, json.loads(name)


def _from(here: str, path: str) -> str:
    return "." if os.path.join(path, "") == here else path.removeprefix(here)


# -- noting ----------------------------------------------------------------------------------------------------------
def _note(kind: str, name: str) -> None:
    names = _noted[kind]
    if len(names) < MOST:
        names.add(name)
    else:
        _noted[UNKNOWN].add(TOO_MUCH)


def _note_path(kind: str, given: object) -> None:
    """Note a path as it was given: a link that leads elsewhere tomorrow is another file."""
    if isinstance(given, str | bytes | os.PathLike):
        name = os.fsdecode(given)
        if "\0" not in name and "__pycache__" not in name:  # no file can be called so; what stands for another file
            path = os.path.realpath(name) if ".." in name else os.path.abspath(name)
            if path not in _own:
                _note(kind, path)


def _hear(event: str, given: tuple[Any, ...]) -> None:
    with suppress(Exception):  # noting never stops a lesson
        if event == "open":
            _hear_open(*given)
        elif event in _LISTS:
            if not _looks_for_modules(sys._getframe(1)):
                _note_path(FOLDER, "." if given[0] is None else given[0])
        elif event == "sqlite3.connect":
            _note_path(FILE, given[0])
        elif event in _STARTS:
            _note(UNKNOWN, PROGRAM)
        elif event == "socket.connect" and sys._getframe(1).f_code.co_name != "_fallback_socketpair":
            _note(UNKNOWN, NETWORK)


def _looks_for_modules(frame: FrameType) -> bool:
    """Whether what runs there is Python's search for modules and packages: what it finds is kept from lesson to lesson,
    so that it would be noted of the first one alone."""
    return str(frame.f_globals.get("__name__")).startswith(_LOOKING_FOR_MODULES)


def _hear_open(path: object, mode: object, flags: object) -> None:
    if not _anew(mode, flags):
        _note_path(FILE, path)
    elif isinstance(path, str | bytes):
        name = os.path.abspath(os.fsdecode(path))
        if name not in _noted[FILE]:
            _own.add(name)


def _anew(mode: object, flags: object) -> bool:
    """Whether a file is opened so that what it held does not matter."""
    if isinstance(mode, str):
        return mode[:1] in ("w", "x") or (mode[:1] == "a" and "+" not in mode)
    return isinstance(flags, int) and bool(flags & (os.O_TRUNC | os.O_WRONLY))


def _stand_in(module: Any, name: str) -> None:
    """Let a function of `os` or `os.path` note what it is asked about."""
    real: Callable[..., Any] = getattr(module, name)

    @functools.wraps(real)
    def asked(path: Any, *given: Any, **more: Any) -> Any:
        with suppress(Exception):
            if more.get("dir_fd") is None and not _looks_for_modules(sys._getframe(1)):
                _note_path(ASKED, path)
        return real(path, *given, **more)

    for able in (os.supports_dir_fd, os.supports_effective_ids, os.supports_fd, os.supports_follow_symlinks):
        if real in able:
            able.add(asked)
    setattr(module, name, asked)


class _Variables(os._Environ):
    """The environment, which notes the names that are asked for."""

    def __getitem__(self, key: Any) -> Any:
        with suppress(Exception):
            name = os.fsdecode(key)
            if name not in _NO_MATTER:
                _note(VARIABLE, name)
        return super().__getitem__(key)

    def __iter__(self) -> Iterator[Any]:
        with suppress(Exception):
            _note(VARIABLE, EVERY)
        return super().__iter__()


# -- what does not count ---------------------------------------------------------------------------------------------
def _source(name: str) -> str:
    """The file of a module that is the lesson's own; empty for others."""
    path = getattr(sys.modules[name], "__dict__", {}).get("__file__")  # asking a lazy module itself could import it
    path = os.path.realpath(path) if isinstance(path, str) else ""
    return "" if _is_others(path) else path


def _is_others(path: str) -> bool:
    return os.path.join(os.path.realpath(path), "").startswith(_others())


@functools.lru_cache(maxsize=1)
def _others() -> tuple[str, ...]:
    """Folders whose files do not count."""
    root = Path(__file__).resolve().parents[2]
    found = {sys.prefix, sys.base_prefix, sys.exec_prefix, *site.getsitepackages(), site.getusersitepackages(),
             *sysconfig.get_paths().values(), f"{root / 'workbook'}", f"{root / 'theorylib'}",
             "/proc", "/sys", "/dev", "/etc"}
    return tuple(os.path.realpath(one) + os.sep for one in found)
