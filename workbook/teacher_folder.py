"""A teacher's folder: what the kit lays into it, and which of that the teacher has changed or removed since.

A small file in the folder lists what was laid there, each with its digest: by that alone a file is known to be still
the kit's, and may be brought up to date. Whatever else lies there is the teacher's and is never written to.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from theorylib.errors import VampError

from .files import FileError, read_bytes, why, write_new, write_whole

RECORD = ".vampbook-folder.json"
LESSONS, PHRASES, WORKBOOK, WELCOME = "lessons", "phrases", "workbook", "welcome.ipynb"
SHEET = "cheat-sheet.pdf"
SIMPLE = f"{WORKBOOK}/without-code.ipynb"
GUIDE = ("your-own-lesson", "exploring", "backing-and-page", "course", "listening")
_FORMAT, _VERSION = "vampbook-folder", 1
_NOTEBOOKS = Path(__file__).parent / "notebooks"
PAGE_LOOK = _NOTEBOOKS / "page"  # where Voilà finds the template of the page without code


class FolderError(VampError):
    """A folder that cannot be made a teacher's folder without touching what is not ours."""


@dataclass(slots=True)
class Laid:
    """What became of the files, by name: `added`, `renewed`, `kept` (the teacher's own by now, of which the kit has
    another version), `left_out` (the teacher removed it)."""

    added: list[str] = field(default_factory=list)
    renewed: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)


def places() -> dict[str, Path]:
    """What comes with the kit: its place in a teacher's folder, and its file; the pages of the guide in their order."""
    guide = [f"{name}.ipynb" for name in GUIDE]
    found = {WELCOME: _NOTEBOOKS / "guide" / WELCOME}
    found |= {f"{WORKBOOK}/guide/{name}": _NOTEBOOKS / "guide" / name for name in guide}
    found |= {f"{WORKBOOK}/{path.name}": path for path in sorted(_NOTEBOOKS.glob("*.ipynb"))}
    return found | {f"{PHRASES}/{path.name}": path for path in sorted((_NOTEBOOKS / PHRASES).glob("*.txt"))}


def shipped() -> dict[str, bytes]:
    """The files that come with the kit, by their place in a teacher's folder."""
    return {name: read_bytes(path) for name, path in places().items()}


def lay(folder: Path, files: Mapping[str, bytes], *, restore: bool = False) -> Laid:
    """Lay `files` (by their place below `folder`) into it; what the teacher changed stays, what was removed stays away.

    `restore` brings back what was removed. Raises FolderError for a record that cannot be understood, FileError where
    the disk refuses: what was laid until then is recorded.
    """
    record = _read_record(folder)
    laid = Laid()
    try:
        for name, content in files.items():
            _lay_one(folder, name, content, record, laid, restore)
    finally:
        text = json.dumps({"format": _FORMAT, "version": _VERSION, "files": record}, indent=1, sort_keys=True) + "\n"
        if record and text != _text_of(folder / RECORD):
            write_whole(folder / RECORD, text)
    return laid


def was_laid(folder: Path, name: str) -> bool:
    """Whether a file was laid into the folder once, wherever it is now."""
    return name in _read_record(folder)


def folder_of(place: Path) -> Path | None:
    """The teacher's folder in which a place lies."""
    place = place.absolute()
    return next((one for one in (place, *place.parents) if (one / RECORD).is_file()), None)


def _lay_one(folder: Path, name: str, content: bytes, record: dict[str, str], laid: Laid, restore: bool) -> None:
    path, digest = folder / name, _digest(content)
    if not path.exists() and not path.is_symlink():
        if name in record and not restore:
            laid.left_out.append(name)
            return
        write_new(path, content)
        laid.added.append(name)
    else:
        stands = _digest(read_bytes(path))
        if stands not in (digest, record.get(name)):
            if record.get(name) != digest:  # there is something else to be had
                laid.kept.append(name)
            return
        if stands != digest:
            write_whole(path, content)
            laid.renewed.append(name)
    record[name] = digest


def _read_record(folder: Path) -> dict[str, str]:
    path = folder / RECORD
    text = _text_of(path)
    if text is None:
        return {}
    try:
        data = json.loads(text)
        files = data["files"] if data["format"] == _FORMAT and data["version"] == _VERSION else None
    except (ValueError, KeyError, TypeError, RecursionError):
        files = None
    if not isinstance(files, dict) or not all(map(_is_inside, files)):
        raise FolderError(f"{path} is no list of what was laid into this folder", value=str(path),
                          expected="that file moved away, or another folder")
    return {name: str(one) for name, one in files.items()}


def _text_of(path: Path) -> str | None:
    if not path.exists():
        return None
    return read_bytes(path).decode(errors="replace")


def _is_inside(name: str) -> bool:
    return not PurePosixPath(name).is_absolute() and ".." not in PurePosixPath(name).parts


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def make_folder(folder: Path) -> None:
    """The folder and those in it, where they are not there; raises FileError where something else bears the name."""
    for one in (folder, *(folder / name for name in (LESSONS, PHRASES, WORKBOOK))):
        try:
            one.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileError(f"cannot make the folder {one}: {why(error, one)}", value=str(one),
                            expected="another FOLDER") from error
