"""One task after another in processes of their own: side by side, one that dies or hangs never stops the rest.

Where a server of forks exists each task gets a fresh process, forked from one that has imported everything and runs no
thread (a plain fork hangs once typst has run); elsewhere (Windows) started processes take task after task.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any

from .apart import apart

PRELOADED = ["workbook.packs.warm"]
TRIES = 2
_TICK_SECONDS = 0.5


@dataclass(frozen=True, slots=True)
class Lost:
    """A task without a result: its process died or overran, more than once or for sure."""

    why: str


@dataclass(slots=True)
class _Worker:
    process: Any
    pipe: Any
    task: int = -1
    deadline: float = 0.0


def each(function: Callable[..., Any], tasks: Sequence[tuple[Any, ...]], workers: int | None = None,
         seconds: float = 600) -> Iterator[tuple[int, Any]]:
    """(index of the task, function(*task) or Lost) as they get done, in `workers` processes (None: one a core).

    `function` must be importable by name. A task whose process dies is tried once more; one that takes longer than
    `seconds` is not. An exception that `function` raises comes back as Lost.
    """
    context, forks = _context()
    waiting = list(range(len(tasks)))[::-1]
    tries = [0] * len(tasks)
    busy: list[_Worker] = []
    idle: list[_Worker] = []
    try:
        while waiting or busy:
            while waiting and len(busy) < (workers or os.cpu_count() or 1):
                worker = idle.pop() if idle else _start(context)
                worker.task = waiting.pop()
                tries[worker.task] += 1
                worker.deadline = time.monotonic() + seconds
                with suppress(OSError):  # it died already: its pipe says so below
                    worker.pipe.send((function, tasks[worker.task]))
                busy.append(worker)
            for pipe in wait([worker.pipe for worker in busy], _TICK_SECONDS):
                worker = next(one for one in busy if one.pipe is pipe)
                busy.remove(worker)
                try:
                    result = worker.pipe.recv()
                except (EOFError, OSError):
                    why = _ended(worker)
                    if tries[worker.task] < TRIES:
                        waiting.append(worker.task)
                        continue
                    result = Lost(why)
                else:
                    if forks:
                        _end(worker)
                    else:
                        idle.append(worker)
                yield worker.task, result
            for worker in [one for one in busy if time.monotonic() > one.deadline]:
                busy.remove(worker)
                _end(worker, kill=True)
                yield worker.task, Lost(f"it took longer than {seconds:g} s")
    finally:
        for worker in busy + idle:
            _end(worker, kill=True)


def _context() -> tuple[Any, bool]:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn"), False
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    return context, True


def _start(context: Any) -> _Worker:
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, os.getcwd(), dict(os.environ)), daemon=False)
    with apart():  # the server too, where this is the first
        process.start()
    theirs.close()
    return _Worker(process, ours)


def _work(pipe: Any, folder: str, environment: dict[str, str]) -> None:
    """A worker begins where its server began; it must work where its caller is now."""
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    with suppress(EOFError, OSError, KeyboardInterrupt):
        while True:
            function, task = pipe.recv()
            try:
                result = function(*task)
            except Exception as error:
                result = Lost(f"{type(error).__name__}: {error}")
            pipe.send(result)


def _end(worker: _Worker, kill: bool = False) -> None:
    worker.pipe.close()
    if kill:
        worker.process.kill()
    worker.process.join()


def _ended(worker: _Worker) -> str:
    _end(worker)
    code = worker.process.exitcode
    return f"its process was killed ({signal.Signals(-code).name})" if code and code < 0 else "its process died"
