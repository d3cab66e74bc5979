"""The locks in the user's cache folder by which one process at a time writes a pack."""

from __future__ import annotations

import hashlib
import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ..files import FileError, cache_folder

LOCK_FILE = "locks"
WAIT_SECONDS = 60.0       # longer than any pack takes to be written
_POLL_SECONDS = 0.01
_PLACES = 2**31 - 1       # a lock is one byte of the file, at a place drawn from the pack's path
_threads = threading.Lock()  # the system's locks are held by a process, not by a thread


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the right to write a pack's folder; whoever else asks for it waits.

    The system takes the lock back from a process that dies, so none is ever stale. Where the cache cannot be written
    or its disk knows no locks the pack is written without. Raises FileError after WAIT_SECONDS.
    """
    with _threads:
        handle = _opened()
        try:
            if handle is not None:
                _wait_for(handle, folder)
            yield
        finally:
            if handle is not None:
                os.close(handle)  # gives the lock back


def _opened() -> int | None:
    with suppress(OSError):
        cache_folder().mkdir(parents=True, exist_ok=True)
        return os.open(cache_folder() / LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o600)
    return None


def _wait_for(handle: int, folder: Path) -> None:
    name = os.path.normcase(os.path.realpath(folder))
    place = int.from_bytes(hashlib.sha256(name.encode(errors="surrogateescape")).digest()[:8]) % _PLACES
    deadline = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            _take(handle, place)
            return
        except (PermissionError, BlockingIOError):  # another process has it
            if time.monotonic() > deadline:
                raise FileError(f"another process has been writing {folder} for {WAIT_SECONDS:g} s",
                                value=str(folder), expected="that one ended") from None
            time.sleep(_POLL_SECONDS)
        except OSError:
            return


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int, place: int) -> None:
        os.lseek(handle, place, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _take(handle: int, place: int) -> None:
        fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, place)
