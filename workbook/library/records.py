"""What packs were made from, remembered in the user's cache folder: by that a build knows which packs still stand."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from theorylib.errors import VampError

from ..files import FileError, cache_folder, read_bytes, write_whole
from .folders import is_whole
from .mark import MARK
from .orders import How, Order
from .stamps import stamps, unknown

NOTHING: Mapping[str, Any] = MappingProxyType({})
_ROOMS = ("theorylib", "workbook")
_PROGRAM = (".py", ".js", ".css", ".html", ".typ", ".json", ".ttf", ".flac", ".tables", ".txt")
_LIBRARIES = ("verovio", "typst", "mistune", "mido", "numpy", "scipy", "soundfile", "pyloudnorm", "midirenderer",
              "matplotlib", "pillow", "ipython", "manimgx-fonts", "noto-cjk-sans-otc")


def digest(order: Order, how: How, beside: str | None) -> str:
    """A digest of everything that a pack is made from; `beside` (None: the lesson is not run) is beside_of's."""
    found = hashlib.sha256(program().encode())
    options = sorted((key, repr(value)) for key, value in how.options.items())
    found.update(repr((options, beside, order.student)).encode())
    try:
        found.update(read_bytes(order.path))
    except VampError as error:
        found.update(str(error).encode())
    sound = how.options.get("sound")
    if sound is not None and sound.soundfont is not None and sound.soundfont.is_file():
        found.update(repr(sound.soundfont.stat()[6:9]).encode())
    return found.hexdigest()


@lru_cache(maxsize=1)
def program() -> str:
    """A digest of our own source, and the versions of what it builds with."""
    from importlib.metadata import PackageNotFoundError, version

    found = hashlib.sha256()
    root = Path(__file__).resolve().parents[2]
    for room in _ROOMS:
        for path in sorted((root / room).rglob("*")):
            if path.suffix in _PROGRAM and path.is_file():
                found.update(path.read_bytes())
    for name in _LIBRARIES:
        try:
            found.update(f"{name} {version(name)}".encode())
        except PackageNotFoundError:
            found.update(f"{name} none".encode())
    return found.hexdigest()


def standing(folder: Path, made: str, keep: bool = False) -> tuple[str, ...]:
    """The files of a pack that is still right; none when it must be built."""
    try:
        record = remembered(folder)
        if record["digest"] != made or unknown(record["reads"]) or record["reads"] != stamps(record["reads"]):
            return ()
        if keep and not ("facts" in record and _tree(folder).is_file()):
            return ()
        names = [name for name in record["files"] if name != MARK]
        return tuple(names) if is_whole(folder) and as_left(folder) else ()
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()


def as_left(folder: Path) -> tuple[str, ...]:
    """The names of a pack's files if all are there as they were remembered (size, time of change); else none.

    By this a pack of which no mark tells, for it was built before there were marks, is known to be ours.
    """
    try:
        files = remembered(folder)["files"]
        return tuple(files) if files == _files(folder, files) else ()
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def remember(folder: Path, made: str, names: Iterable[str], reads: Mapping[str, Any] = NOTHING, *, tree: Any = None,
             **more: Any) -> None:
    """Keep what a pack was made from, what its lesson read (stamps.stamps) among it, its own files and `more`.

    A tree goes into a file of its own: it is large, and read only when a course is set anew. Raises FileError where
    the cache cannot be written.
    """
    if tree is not None:
        write_whole(_tree(folder), json.dumps(tree, ensure_ascii=False) + "\n")
    record = {"digest": made, "reads": dict(reads), "files": _files(folder, [*names, MARK]),
              **more}
    write_whole(_record(folder), json.dumps(record, ensure_ascii=False) + "\n")


def remembered(folder: Path) -> dict[str, Any]:
    """The record of a pack; raises FileError where there is none, or none that can be understood."""
    path = _record(folder)
    found = _read(path)
    kinds = {"digest": str, "reads": dict, "files": dict}
    if not all(isinstance(found.get(name), kind) for name, kind in kinds.items()):
        raise FileError(f"cannot read {path}: it is no record of a pack", value=str(path))
    return found


def remembered_tree(folder: Path) -> dict[str, Any]:
    """The tree kept beside the record of a pack; raises FileError where there is none."""
    return _read(_tree(folder))


def _read(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(read_bytes(path))
    except FileError:
        raise
    except (ValueError, RecursionError) as error:  # cut short, or not ours
        raise FileError(f"cannot read {path}: it is no record of a pack", value=str(path)) from error
    if not isinstance(found, dict):
        raise FileError(f"cannot read {path}: it is no record of a pack", value=str(path))
    return found


def _tree(folder: Path) -> Path:
    return _record(folder).with_suffix(".tree")


def forget(folder: Path) -> None:
    """Drop the record of a pack."""
    _record(folder).unlink(missing_ok=True)
    _tree(folder).unlink(missing_ok=True)


def _record(folder: Path) -> Path:
    """Where the record of a pack lies: a name for the folder of packs, then the pack's own."""
    place = hashlib.sha256(os.fsencode(folder.parent.resolve())).hexdigest()[:24]
    return cache_folder() / place / f"{folder.name}.json"


def _files(folder: Path, names: Iterable[str]) -> dict[str, list[int]]:
    """[size, time of change] of each file of a pack; raises OSError where one is not there."""
    seen = {name: os.lstat(folder / name) for name in sorted(names)}
    return {name: [one.st_size, one.st_mtime_ns] for name, one in seen.items()}
