"""Files that a lesson's text names: only such as lie in its folder or below it.

A lesson is sent and moved with its folder, so what lies elsewhere would be missing; and a lesson that someone sends
must not be able to take a picture from elsewhere on this disk into a handout. So paths that lead out are refused, by
links of the file system too, and nothing is fetched from the web.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from urllib.parse import unquote

from theorylib.errors import closest

from ..files import read_bytes
from .kinds import MOST_PICTURE_MB, MOST_RECORDING_MB, MediaError

_SCHEME = re.compile(r"[A-Za-z][\w+.-]*:")
_MOST_NAMES = 2000  # of a folder, among which the nearest name is sought
RECORDINGS = (".wav", ".mp3", ".ogg", ".oga", ".m4a", ".mp4", ".webm")
HEARD = (".wav", ".flac", ".ogg", ".oga", ".mp3", ".aif", ".aiff")  # endings of what may be played over
SHOWN = (".png", ".jpg", ".jpeg", ".webp", ".svg", *RECORDINGS)  # endings of what a text may show


def is_beside(address: str) -> bool:
    """Whether an address names a file beside the lesson, and not a place on the web or in the page."""
    return bool(address) and not _SCHEME.match(address) and not address.startswith(("#", "//", "?"))


def is_recording(address: str) -> bool:
    """Whether an address names, by its ending, a sound or a film beside the lesson."""
    return is_beside(address) and address.split("#")[0].split("?")[0].lower().endswith(RECORDINGS)


def path_of(address: str) -> str:
    """The path that an address in Markdown names, with / between folders."""
    return unquote(address.split("#")[0].split("?")[0]).replace("\\", "/")


def read_beside(folder: Path, address: str) -> tuple[str, bytes]:
    """(path from the folder, content) of a file that a lesson's text names; raises MediaError or FileError."""
    name = path_of(address)
    outside = name.startswith(("/", "~")) or ".." in name.split("/") or "\0" in name or bool(_SCHEME.match(name))
    path = folder / name
    if outside or not is_within(path, folder):
        raise MediaError(f"{name} lies outside the lesson's folder", value=name,
                         expected="a file in that folder, which goes where the lesson goes")
    if not path.is_file():
        raise MediaError(f"{name} is not beside the lesson", value=name,
                         expected=f"a picture or a recording in its folder, {folder}{os.sep}",
                         nearest=nearest_beside(folder, name))
    most = max(MOST_PICTURE_MB, MOST_RECORDING_MB)
    if path.stat().st_size > most * 1_000_000:
        raise MediaError(f"{name} has {path.stat().st_size / 1_000_000:.1f} MB", value=name,
                         expected=f"at most {most} MB of a picture, {MOST_RECORDING_MB} MB of a recording")
    return os.path.normpath(name).replace(os.sep, "/"), read_bytes(path)


def is_within(path: Path, folder: Path) -> bool:
    """Whether a path leads into a folder, by links of the file system too."""
    return Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder))


def nearest_beside(folder: Path, name: str, endings: tuple[str, ...] = SHOWN) -> tuple[str, ...]:
    """Files in the folder with one of some endings whose names are most like one that is not there."""
    place = (folder / name).parent
    try:
        there = [one.name for one in os.scandir(place)][:_MOST_NAMES]
    except OSError:
        return ()
    here = name.rpartition("/")
    brought = [one for one in there if one.lower().endswith(endings)]
    return tuple(here[0] + here[1] + one for one in closest(here[2], brought))
