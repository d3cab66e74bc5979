"""Sounds that an earlier process made, kept in the user's cache folder: the same is rendered and encoded once.

A file is named by a digest of all that its sound follows from: what is said of it, our own sources and samples, the
libraries that make it. Its first line tells its parts and their digest, so that one cut short or changed counts for
none. Where they take more than MOST_MB, those go that were asked for longest ago.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

from ..files import FileError, cache_folder, write_whole
from .sound import renderer_name

SUFFIX = ".sound"
MOST_MB = 500
_SOURCES = (".py", ".flac", ".tables")
_LIBRARIES = ("midirenderer", "numpy", "pyloudnorm", "scipy", "soundfile")


def kept(said: str, make: Callable[[], Mapping[str, bytes]]) -> Mapping[str, bytes]:
    """The parts that `make` makes, by name, or what an earlier process kept of them; `said` tells what they follow
    from. A SoundFont of the teacher's own is no part of that: its file may change."""
    file = cache_folder() / f"{_digest(said)}{SUFFIX}"
    with suppress(OSError, ValueError, KeyError, TypeError, AttributeError):  # not there, or not as it was written
        found = _read(file.read_bytes())
        os.utime(file)
        return found
    made = make()
    with suppress(OSError, FileError):  # a folder that cannot be written: the next process makes it again
        write_whole(file, _written(made))
        _make_room(file.parent)
    return made


def _written(parts: Mapping[str, bytes]) -> bytes:
    data = b"".join(parts.values())
    head = {"digest": hashlib.sha256(data).hexdigest(), "sizes": {name: len(part) for name, part in parts.items()}}
    return json.dumps(head).encode() + b"\n" + data


def _read(content: bytes) -> dict[str, bytes]:
    """The parts of a file; raises for one that is not whole, or that something else wrote."""
    line, _, data = content.partition(b"\n")
    head = json.loads(line)
    if head["digest"] != hashlib.sha256(data).hexdigest():
        raise ValueError("not as it was written")
    found, start = {}, 0
    for name, size in head["sizes"].items():
        found[name] = data[start:start + size]
        start += size
    return found


def _digest(said: str) -> str:
    return hashlib.sha256(f"{said} {renderer_name()} {_makers()}".encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def _makers() -> str:
    """A digest of what makes our sounds: the sources and samples beside this file, and the libraries' versions."""
    from importlib.metadata import PackageNotFoundError, version

    found = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*")):
        if path.suffix in _SOURCES:
            found.update(path.read_bytes())
    for name in _LIBRARIES:
        with suppress(PackageNotFoundError):
            found.update(f"{name} {version(name)}".encode())
    return found.hexdigest()


def _make_room(folder: Path) -> None:
    """Remove what was asked for longest ago, until the rest takes no more than MOST_MB."""
    files = sorted(folder.glob(f"*{SUFFIX}"), key=lambda one: one.stat().st_mtime, reverse=True)
    taken = 0
    for file in files:
        taken += file.stat().st_size
        if taken > MOST_MB * 1_000_000:
            file.unlink(missing_ok=True)
