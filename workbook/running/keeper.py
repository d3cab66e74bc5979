"""Ending all that a lesson started, also what it detached: a new session, a double fork, a deaf process.

On Linux a process that adopts becomes the parent of each one below it whose own parent ended (prctl(2),
PR_SET_CHILD_SUBREAPER), so that nothing leaves the tree. Where that is not to be had, and where a kernel that adopts
was killed, a variable of the environment marks what a lesson started; what dropped the mark as well gets away.
"""

from __future__ import annotations

import os
import secrets
import select
import signal
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any

MARK = "VAMPBOOK_LESSON"
_SUBREAPER, _DEATH_SIGNAL = 36, 1  # of <linux/prctl.h>
_PATIENCE_SECONDS = 5.0            # with processes that were killed and do not end
_TICK_SECONDS = 0.05
_adopter = 0  # the number of the process that adopts, for a fork of it does not


def adopt() -> bool:
    """From now on orphans below this process become its children; whether the system has that."""
    global _adopter
    if _prctl(_SUBREAPER, 1):
        _adopter = os.getpid()
    return adopts()


def end_with_parent() -> None:
    """From now on this process ends when the one that forked it does, where the system has that."""
    _prctl(_DEATH_SIGNAL, signal.SIGKILL)


def adopts() -> bool:
    return _adopter == os.getpid()


def new_mark() -> str:
    return secrets.token_hex(8)


def fork_kept(run: Callable[[], None], tell: Callable[[int], None], watched: int) -> int:
    """Fork a keeper, which forks a process that does `run`, and `tell`s its number; the keeper's own comes back.

    When that process ends, or nobody holds the other end of `watched` any more, the keeper ends it with all that it
    started, then itself. `run` and `tell` happen in processes of their own; `tell` must let go of what it writes to.
    """
    keeper = os.fork()
    if keeper == 0:
        try:
            _keep(run, tell, watched)
        finally:
            os._exit(1)
    return keeper


def _keep(run: Callable[[], None], tell: Callable[[int], None], watched: int) -> None:
    os.setpgid(0, 0)  # what is sent to the group of a lesson, or of who waits for it, is not for the keeper
    spared = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    usual = {number: signal.signal(number, signal.SIG_IGN) for number in spared}
    mark = "" if adopt() else new_mark()
    lesson = os.fork()
    if lesson == 0:
        try:
            os.close(watched)
            os.setpgid(0, 0)
            end_with_parent()
            for number, handler in usual.items():
                signal.signal(number, handler)
            if mark:
                os.environ[MARK] = mark
            run()
        finally:
            os._exit(1)
    tell(lesson)
    while not select.select([watched], [], [], _TICK_SECONDS)[0]:
        if _reaped(lesson):
            break
    with suppress(OSError):
        os.killpg(lesson, signal.SIGKILL)
    end_below(os.getpid())
    if mark:
        end_marked(mark)
    os._exit(0)


def end_keeper(keeper: int) -> None:
    """Wait for a keeper whose `watched` nobody holds any more; where it was killed, do its work as far as it goes."""
    until = time.monotonic() + 2 * _PATIENCE_SECONDS
    os.kill(keeper, signal.SIGCONT)  # where a lesson made it stand still
    done, status = os.waitpid(keeper, os.WNOHANG)
    while not done and time.monotonic() < until:
        time.sleep(_TICK_SECONDS / 10)
        done, status = os.waitpid(keeper, os.WNOHANG)
    if not done:
        os.kill(keeper, signal.SIGKILL)
        os.waitpid(keeper, 0)
    if (not done or status) and adopts():
        end_below(os.getpid())


def below(process: int) -> list[Any]:
    """The processes below one, as psutil has them; none where it is gone."""
    import psutil

    with suppress(psutil.Error):
        return list(psutil.Process(process).children(recursive=True))
    return []


def end_below(process: int) -> None:
    """Kill what is below a process until nothing is left, however fast it starts more."""
    import psutil

    until = time.monotonic() + _PATIENCE_SECONDS
    while time.monotonic() < until:
        left = [one for one in below(process) if lives(one.pid)]
        for one in left:
            with suppress(psutil.Error):
                one.kill()
        if process == os.getpid():
            _reaped(0)
        if not left:
            return


def end_marked(mark: str) -> None:
    """Kill each process whose environment holds the mark, where the system lets us read it."""
    import psutil

    for one in psutil.process_iter():
        with suppress(psutil.Error, OSError):
            if one.pid != os.getpid() and one.environ().get(MARK) == mark:
                one.kill()


def taken_mb(process: int, root: int) -> float:
    """Memory of a process, with what belongs to no other of each further one below `root`; raises psutil.Error."""
    import psutil

    found = float(psutil.Process(process).memory_info().rss)
    for one in below(root):
        if one.pid != process:
            with suppress(psutil.Error):
                try:
                    found += one.memory_full_info().uss
                except psutil.AccessDenied:
                    found += one.memory_info().rss
    return found / 1e6


def lives(process: int) -> bool:
    """Whether a process still does anything (one that only waits for its parent to take note of its end does not)."""
    import psutil

    with suppress(psutil.Error):
        return bool(psutil.Process(process).status() != psutil.STATUS_ZOMBIE)
    return False


def _reaped(wanted: int) -> bool:
    """Take note of all children that ended; whether the one wanted is among them, or there is none at all."""
    while True:
        try:
            done = os.waitpid(-1, os.WNOHANG)[0]
        except ChildProcessError:
            return True
        if done in (0, wanted):
            return done == wanted != 0


def _prctl(option: int, value: int) -> bool:
    """prctl(2) where this is Linux; whether it was done."""
    if sys.platform != "linux":
        return False
    import ctypes

    try:
        return bool(ctypes.CDLL(None).prctl(option, value, 0, 0, 0) == 0)
    except (OSError, AttributeError):
        return False
