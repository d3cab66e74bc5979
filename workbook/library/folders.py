"""Writing a pack into its folder, where other things may lie too: only what we wrote ourselves is ever replaced.

A folder that is not there appears whole. In one that is there, files of ours are replaced one by one, each in one step,
so that a reader finds the pack at any moment; files of others stay. Where one of them bears a name that the pack needs,
nothing is touched at all.
"""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from ..files import FileError, put_in_place, sweep, temporary_folder, why, write_safe
from .mark import LESSON, MARK, Mark, PackError, digest_of, is_name, read_mark

_LONGEST_NAME = "lesson.musicxml"  # of the files that every pack has
_NOT_A_FILE = "no file"  # in place of the digest of a folder, a link, a device


def write_pack(folder: Path, files: Mapping[str, bytes | str], kind: str = LESSON, *, known: Collection[str] = (),
               packs: Collection[str] = ()) -> None:
    """Make `files` the pack of a folder, and mark it as ours; the folder must be locked (cache.locked).

    `known` are names of files there that are ours although no mark says so (records.as_left). Raises PackError where
    a file that is not ours, or that was changed since we wrote it, stands in the place of one of the pack, FileError
    where the disk refuses: what was there is there still.
    """
    data = {name: content.encode() if isinstance(content, str) else content for name, content in files.items()}
    mark = Mark(kind, {name: digest_of(content) for name, content in data.items()}, packs=tuple(sorted(packs)))
    for place in (folder, folder.parent):
        sweep(place)
    try:
        if os.path.lexists(folder) or not _appears(folder, data, mark):
            _replaced(folder, data, mark, known)
    except OSError as error:
        said = why(error, folder / _LONGEST_NAME)
        raise FileError(f"cannot write {folder}: {said}", value=str(folder)) from error


def take_away(folder: Path, known: Collection[str] = ()) -> None:
    """Remove a pack: what we wrote and nobody changed since, and the folder if nothing else is in it."""
    try:
        ours = _ours(folder, read_mark(folder), known)
        for name in ours:
            (folder / name).unlink()
        (folder / MARK).unlink(missing_ok=True)
        sweep(folder)
        with suppress(OSError):  # something else lies there
            folder.rmdir()
    except OSError as error:
        raise FileError(f"cannot remove {folder}: {why(error, folder)}", value=str(folder)) from error


def is_whole(folder: Path) -> bool:
    """Whether a folder is marked as a pack that is not being replaced."""
    try:
        mark = read_mark(folder)
    except PackError:
        return False
    return mark is not None and mark.before is None


def _appears(folder: Path, data: Mapping[str, bytes], mark: Mark) -> bool:
    """Let a folder that is not there appear with all in it; whether it did: another process may have been faster."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with _staged(folder.name, folder.parent, {**data, MARK: mark.text().encode()}) as fresh:
        fresh.chmod(0o755)
        try:
            os.rename(fresh, folder)
        except OSError:
            if os.path.lexists(folder):
                return False
            raise
    _settle(folder.parent)
    return True


def _replaced(folder: Path, data: Mapping[str, bytes], mark: Mark, known: Collection[str]) -> None:
    if not folder.is_dir():
        raise PackError(f"{folder} is no folder", value=str(folder), expected="another folder with --out")
    before = read_mark(folder)
    if before is not None and before.kind != mark.kind:
        raise PackError(f"{folder} holds the pack of a {before.kind}", value=str(folder),
                        expected=f"another folder for that of a {mark.kind}, with --out")
    ours = _ours(folder, before, known)
    _refuse_others(folder, mark, ours)
    fresh = [name for name in data if ours.get(name) != mark.files[name] and _digest(folder / name) != mark.files[name]]
    gone = [name for name in ours if name not in data]
    if not fresh and not gone and before == mark:
        return
    # Both marks are staged with the files: once the first rename is done no byte more has to find room on the disk.
    meanwhile, last = f"{MARK}.meanwhile", f"{MARK}.last"
    staged = {name: data[name] for name in fresh} | {
        meanwhile: Mark(mark.kind, mark.files, ours, mark.packs).text().encode(), last: mark.text().encode()}
    with _staged("pack", folder, staged) as place:
        put_in_place(place / meanwhile, folder / MARK)
        _settle(folder)
        for name in fresh:
            put_in_place(place / name, folder / name)
        for name in gone:
            (folder / name).unlink()
        _settle(folder)
        put_in_place(place / last, folder / MARK)
    _settle(folder)


def _ours(folder: Path, mark: Mark | None, known: Collection[str]) -> dict[str, str]:
    """Digest by name of the files in a folder that are as we wrote them."""
    names = set(filter(is_name, known)) | (mark.names if mark else set())
    found = {name: digest for name in sorted(names) if (digest := _digest(folder / name))}
    return {name: digest for name, digest in found.items() if digest != _NOT_A_FILE
            and (name in known or (mark is not None and mark.is_ours(name, digest)))}


def _refuse_others(folder: Path, mark: Mark, ours: Mapping[str, str]) -> None:
    others = [name for name in mark.files
              if name not in ours and _digest(folder / name) not in ("", mark.files[name])]
    if others:
        raise PackError(f"not written by this kit, or changed since: {', '.join(others)} in {folder}; "
                        "nothing there was touched", value=str(folder),
                        expected="another name for it, or another folder with --out")


def _digest(path: Path) -> str:
    """The digest of a file; empty where nothing is."""
    try:
        return digest_of(path.read_bytes()) if stat.S_ISREG(os.lstat(path).st_mode) else _NOT_A_FILE
    except FileNotFoundError:
        return ""


@contextmanager
def _staged(name: str, place: Path, files: Mapping[str, bytes]) -> Iterator[Path]:
    """A temporary folder in `place` with files that are safe on the disk; gone afterwards."""
    fresh = temporary_folder(name, place)
    try:
        for one, content in files.items():
            write_safe(os.open(fresh / one, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o644),
                       content)
            os.chmod(fresh / one, 0o644)
        yield fresh
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def _settle(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system lets one ask for it."""
    with suppress(OSError):  # the files themselves are safe already
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
