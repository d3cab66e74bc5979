"""What a lesson may take while it runs, and how a process of it is held to that."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a lesson may take: seconds in all, MB of memory beyond what it starts with, with all processes that it
    starts, MB of outputs. The making of its pack may take as much again."""

    seconds: float = 120
    memory_mb: int = 2048
    output_mb: int = 16


USUAL = Bounds()


def bound_memory(megabytes: int) -> Callable[[], None]:
    """Bound the data of this process, so that a greedy cell raises MemoryError; gives what lifts the bound again.

    Elsewhere than on Linux the system counts too little: there the watch over resident memory does the work alone.
    """
    if sys.platform != "linux":
        return lambda: None
    from resource import RLIMIT_DATA, getrlimit, setrlimit

    import psutil

    before = getrlimit(RLIMIT_DATA)
    setrlimit(RLIMIT_DATA, (psutil.Process().memory_info().data + megabytes * 1_000_000, before[1]))
    return lambda: setrlimit(RLIMIT_DATA, before)
