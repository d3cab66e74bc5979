"""Files written whole or not at all: a temporary file in the same folder, flushed to disk, then renamed.

The name of what is temporary tells which process of which machine made it, so that the next run can remove what a
killed one left, and nothing else.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import stat
import sys
import tempfile
import time
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from itertools import count
from pathlib import Path

from theorylib.errors import VampError

CACHE = "VAMPBOOK_CACHE"  # environment variable: another place for what is remembered
_LONGEST_SIGNS, _LONGEST_BYTES = 80, 200                    # of a name, so that what is written beside it fits too
_OF_WINDOWS = re.compile(r"con|prn|aux|nul|(com|lpt)\d")    # devices there, whatever their ending
_CHOOSES_FORM = re.compile("[\u034f\u180b-\u180f\ufe00-\ufe0f\U000e0100-\U000e01ef]")  # variation selectors
_SUFFIX = ".vampbook-tmp"
_TEMPORARY = re.compile(r"\..*\.(?P<machine>[0-9a-f]{8})-(?P<process>\d+)-(?P<began>\d+)-\w{8}" + re.escape(_SUFFIX),
                        re.DOTALL)
_NAME_BYTES = 60             # of a target's name in that of its temporary file: systems allow 255 in all
_ELSEWHERE_SECONDS = 86_400  # after which what another machine left on a shared disk is taken for left over
_ON_WINDOWS = sys.platform == "win32"
_WINDOWS_SIGNS = 259         # of a path there, unless its long paths are switched on
_HELD_SECONDS = 2.0          # that a file may be held by who only looks at it, such as a scanner for viruses
_SAME_SECONDS = 2            # by which two looks at when a process began may differ


class FileError(VampError):
    """A file or folder that cannot be read or written."""


def cache_folder() -> Path:
    """The user's folder for what can be made again; VAMPBOOK_CACHE names another."""
    from platformdirs import user_cache_path

    return Path(os.environ.get(CACHE) or user_cache_path("vampbook", appauthor=False))


def write_whole(path: Path, content: bytes | str) -> None:
    """Write `content` to `path` so that a reader sees the old file or the new one, never a part.

    A link stays one, and what it leads to is written; who may read a file stays as it was.
    """
    target = Path(os.path.realpath(path)) if path.is_symlink() and path.exists() else path
    with _written_beside(target, content) as fresh:
        if target.is_file():
            shutil.copymode(target, fresh)
        put_in_place(fresh, target)


def put_in_place(fresh: Path, target: Path) -> None:
    """Give what was written its name, in the place of what bears it.

    On Windows no file is replaced while another program has it open: we wait a moment, then the error says so.
    """
    until = time.monotonic() + (_HELD_SECONDS if _ON_WINDOWS else 0)
    while True:
        try:
            os.replace(fresh, target)
            return
        except PermissionError as error:
            if not _ON_WINDOWS:
                raise
            if time.monotonic() > until:
                raise FileError(f"cannot replace {target}: another program has it open, or it may not be written",
                                value=str(target), expected="it closed there") from error
            time.sleep(0.05)


def why(error: OSError, path: Path) -> str:
    """What the system says, and what it does not say of a path too long for Windows."""
    signs = len(os.path.abspath(path))
    long = f" ({signs} signs; Windows takes {_WINDOWS_SIGNS} unless its long paths are switched on)"
    return f"{error.strerror or error}" + long * (_ON_WINDOWS and signs > _WINDOWS_SIGNS)


def write_new(path: Path, content: bytes | str) -> None:
    """Write `content` to `path`, whole; raises FileError where something lies there, even if it came just now."""
    with _written_beside(path, content) as fresh:
        _rename_to_nothing(fresh, path)


def keep_beside(path: Path) -> Path:
    """A copy of a file under its name with a number after it (x.ipynb.1, x.ipynb.2 …): the one that holds the same
    already, else a new one."""
    content = read_bytes(path)
    try:
        for number in count(1):
            copy = path.with_name(f"{path.name}.{number}")
            if not os.path.lexists(copy):
                try:
                    write_new(copy, content)
                except FileError:
                    if os.path.lexists(copy):
                        continue  # another process was faster
                    raise
                return copy
            if copy.is_file() and copy.read_bytes() == content:
                return copy
    except OSError as error:
        raise FileError(f"cannot keep {path}: {why(error, path)}", value=str(path)) from error
    raise AssertionError("numbers have no end")


@contextmanager
def _written_beside(path: Path, content: bytes | str) -> Iterator[Path]:
    """A temporary file with the content, safe on the disk; gone afterwards."""
    data = content.encode() if isinstance(content, str) else content
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _sweep_once(os.path.abspath(path.parent))
        prefix, suffix = _temporary_name(path.name)
        handle, name = tempfile.mkstemp(prefix=prefix, suffix=suffix, dir=path.parent)
        fresh = Path(name)
        try:
            write_safe(handle, data)
            os.chmod(fresh, 0o644)
            yield fresh
        finally:
            fresh.unlink(missing_ok=True)
    except OSError as error:
        raise FileError(f"cannot write {path}: {why(error, path)}", value=str(path)) from error


def write_safe(handle: int, data: bytes) -> None:
    """Write to an open file and have it on the disk; the file is closed."""
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _rename_to_nothing(fresh: Path, path: Path) -> None:
    """Give a file its name if nothing bears it, in one step where the disk can."""
    try:
        if _ON_WINDOWS:
            os.rename(fresh, path)  # refuses a name in use
        else:
            os.link(fresh, path)    # so does this
        return
    except FileExistsError:
        pass
    except OSError:  # a disk without hard links
        if not os.path.lexists(path):
            put_in_place(fresh, path)
            return
    raise FileError(f"{path} exists", value=str(path), expected="a name that nothing bears")


def temporary_folder(name: str, place: Path) -> Path:
    """A new folder in `place` for what will become `name`."""
    prefix, suffix = _temporary_name(name)
    return Path(tempfile.mkdtemp(prefix=prefix, suffix=suffix, dir=place))


def is_temporary(name: str) -> bool:
    """Whether a file or folder bears a name that only this kit gives, to what it is about to write."""
    return _TEMPORARY.fullmatch(name) is not None


def sweep(folder: Path) -> None:
    """Remove what runs of this kit that ended early left in a folder; what a living one uses stays."""
    with suppress(OSError):
        for one in list(os.scandir(folder)):
            match = _TEMPORARY.fullmatch(one.name)
            if match is None or _in_use(match["machine"], int(match["process"]), int(match["began"]), one):
                continue
            if one.is_dir(follow_symlinks=False):
                shutil.rmtree(one.path, ignore_errors=True)
            else:
                Path(one.path).unlink(missing_ok=True)


@lru_cache(maxsize=1000)
def _sweep_once(folder: str) -> None:
    sweep(Path(folder))


def _in_use(machine: str, process: int, began: int, one: os.DirEntry[str]) -> bool:
    import psutil

    try:
        if machine != _machine():
            return time.time() - one.stat(follow_symlinks=False).st_mtime < _ELSEWHERE_SECONDS
        maker = psutil.Process(process)
        # A process that began at another time only bears its maker's number.
        return maker.status() != psutil.STATUS_ZOMBIE and abs(maker.create_time() - began) <= _SAME_SECONDS
    except psutil.NoSuchProcess:
        return False
    except (OSError, psutil.Error):
        return True


def _temporary_name(name: str) -> tuple[str, str]:
    """What stands before and after the part drawn by chance."""
    short = name.encode(errors="surrogateescape")[:_NAME_BYTES].decode(errors="ignore")
    return f".{short}.{_machine()}-{os.getpid()}-{_began(os.getpid())}-", _SUFFIX


@lru_cache(maxsize=1)
def _began(process: int) -> int:
    """When a process began, in seconds."""
    import psutil

    return round(psutil.Process(process).create_time())


@lru_cache(maxsize=1)
def _machine() -> str:
    import platform

    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def read_text(path: Path) -> str:
    """The text of a UTF-8 file, the mark that some editors begin it with left out; raises FileError saying what is
    wrong with it."""
    try:
        return read_bytes(path).decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as error:
        raise FileError(f"{path} is not a text file in UTF-8 (byte {error.start})", value=str(path)) from error


def read_bytes(path: Path) -> bytes:
    """What a plain file holds; raises FileError at once for anything else, since a pipe or a device may never end."""
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            kind = next((words for is_one, words in _KINDS if is_one(mode)), "no plain file")
            raise FileError(f"cannot read {path}: it is {kind}", value=str(path), expected="a plain file")
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        if isinstance(error, FileError):
            raise
        raise FileError(f"cannot read {path}: {getattr(error, 'strerror', None) or error}", value=str(path)) from error


_KINDS = ((stat.S_ISDIR, "a folder"), (stat.S_ISFIFO, "a pipe"), (stat.S_ISSOCK, "a socket"),
          (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))


def slug(title: str) -> str:
    """A file name for a title: small letters and digits of any script, single hyphens ("Low tide" is low-tide).

    Normalised, and safe on every system: no more than 80 signs or 200 bytes, and no name that Windows keeps for itself.
    """
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", title).lower())
    whole = "-".join(_words(plain))
    name = fits = whole[:_LONGEST_SIGNS].encode()[:_LONGEST_BYTES].decode(errors="ignore")
    while name and name != whole and unicodedata.category(whole[len(name)])[0] == "M":
        name = name[:-1]  # a letter is not cut from its signs
    name = (name or fits).strip("-")
    if not name:
        raise FileError(f"“{title}” gives no file name", value=title,
                        expected="a title with letters or digits, of any script")
    return f"{name}-" if _OF_WINDOWS.fullmatch(name) else name


def folded(name: str) -> str:
    """What a file system that ignores case may take a name for: equal for two that cannot lie side by side."""
    return unicodedata.normalize("NFC", name.casefold())


def _words(text: str) -> Iterator[str]:
    """The runs of letters and digits in a text, each letter with its signs; what only joins them is gone."""
    word = ""
    for sign in text:
        kind = unicodedata.category(sign)
        if kind == "Cf" or _CHOOSES_FORM.match(sign):
            continue
        if kind[0] in "LN" or (kind[0] == "M" and word):
            word += sign
        elif word:
            yield word
            word = ""
    if word:
        yield word
