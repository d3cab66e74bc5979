"""A part of a worker's task at the same time as the rest: in a fork, where a core is idle.

The fork gives its value or nothing: where it raises, dies or takes too much, the worker does that part itself, so that
what goes wrong is told, and bounded, as it ever was. Begin it before Typst has run, after which a fork hangs.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

from .bounds import bound_memory
from .keeper import end_with_parent
from .run import can_fork
from .workers import bounds_now, has_idle_core, let_go

T = TypeVar("T")


def beside(make: Callable[[], T]) -> Callable[[], T]:
    """Begin `make` in a fork; what comes back waits for its value. Where no fork can be, it makes it when it is called.
    """
    if not (has_idle_core() and can_fork()):
        return make
    sys.stdout.flush()
    sys.stderr.flush()
    reader, writer = os.pipe()
    fork = os.fork()
    if fork == 0:
        try:
            os.close(reader)
            _in_fork(make, writer)
        finally:
            os._exit(1)
    os.close(writer)

    def value() -> T:
        with open(reader, "rb") as pipe:
            told = pipe.read()
        with suppress(ChildProcessError):
            os.waitpid(fork, 0)
        try:
            made: T = pickle.loads(told)
        except (EOFError, pickle.UnpicklingError):  # nothing, or not all of it
            return make()
        return made

    return value


def _in_fork(make: Callable[[], T], writer: int) -> None:
    end_with_parent()
    seconds, memory_mb = bounds_now()
    let_go()
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in range(3):
        os.dup2(nothing, number)
    if memory_mb:
        bound_memory(memory_mb)
    if seconds:
        signal.signal(signal.SIGXCPU, signal.SIG_DFL)
        _bound_seconds(seconds)
    told = pickle.dumps(make())
    with open(writer, "wb") as pipe:
        pipe.write(told)
    os._exit(0)


def _bound_seconds(seconds: float) -> None:
    """Of the processor; a fork begins with none of them taken."""
    from resource import RLIMIT_CPU, getrlimit, setrlimit

    setrlimit(RLIMIT_CPU, (max(1, int(seconds)), getrlimit(RLIMIT_CPU)[1]))
