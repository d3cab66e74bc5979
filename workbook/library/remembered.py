"""What lies in the user's cache folder of ours: listed, and removed, and nothing else that lies there."""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from ..files import cache_folder, is_temporary
from .cache import LOCK_FILE

_PLACE = re.compile(r"[0-9a-f]{24}")  # of the packs of one folder (records.py)
_RECORD = (".json", ".tree")
_SOUND = re.compile(r"[0-9a-f]{32}\.sound|explorer-\w+\.bank")  # play.sound_cache's, and what the explorer once kept


def remembered_files() -> list[Path]:
    """The files that builds and the explorer keep there, sounds too; no locks, for others may wait for one."""
    folder = cache_folder()
    if not folder.is_dir():
        return []
    found = []
    for one in sorted(folder.iterdir()):
        if one.is_file() and (_SOUND.fullmatch(one.name) or is_temporary(one.name)):
            found.append(one)
        elif _PLACE.fullmatch(one.name) and one.is_dir() and not one.is_symlink():
            found += [file for file in sorted(one.iterdir())
                      if file.is_file() and (file.suffix in _RECORD or is_temporary(file.name))]
    return [one for one in found if one.name != LOCK_FILE]


def cleared(files: Iterable[Path]) -> list[Path]:
    """Remove the files, and the folders that are then empty; those that cannot be removed."""
    left = []
    for path in files:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            left.append(path)
            continue
        if path.parent != cache_folder():
            with suppress(OSError):  # something else lies there
                path.parent.rmdir()
    return left
