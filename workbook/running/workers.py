"""One task after another in processes of their own: side by side, one that dies or hangs never stops the rest.

Where a server of forks exists each task gets a fresh process, forked from one that has imported everything and runs no
thread (a plain fork hangs once typst has run); elsewhere (Windows) started processes take task after task.
"""

from __future__ import annotations

import importlib
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import Any

from .apart import apart, without_main
from .keeper import adopt

PRELOADED = "workbook.running.warm"  # what takes a second, for many tasks; a few load what they come to need
MANY = 3
TRIES = 2
_TICK_SECONDS = 0.25
_SLACK_SECONDS = 300.0


@dataclass(frozen=True, slots=True)
class Lost:
    """A task without a result: its process died or overran, more than once or for sure."""

    why: str


@dataclass(frozen=True, slots=True)
class _Bound:
    """What a task may take for a part of its work: so many seconds and MB beyond what it has; 0 MB: no bound."""

    what: str
    seconds: float
    memory_mb: int = 0


@dataclass(slots=True)
class _Worker:
    process: Any
    pipe: Any
    task: int = -1
    deadline: float = 0.0
    bound: _Bound = _Bound("it", 0)
    cpu_seconds: float = 0.0
    most_mb: float = 0.0


_channel: Any = None  # in a worker: to who waits for it
_idle_core = False    # in a worker: is there a processor that no other task takes?
_bound = _Bound("it", 0)  # in a worker: what it said last


def bounded(what: str, seconds: float, memory_mb: int = 0) -> None:
    """Said by a task: from now on it does `what` ("making its pack"), and may take so much for that.

    It has no effect elsewhere than in a worker. Time counts on the clock and on the processor, so that a busy machine
    ends nothing; what waits for ever ends `_SLACK_SECONDS` later.
    """
    global _bound
    if _channel is not None:
        _bound = _Bound(what, seconds, memory_mb)
        _channel.send(_bound)


def has_idle_core() -> bool:
    """Whether this is a worker beside which a core is idle, so that a part of its task can be done by a fork."""
    return _channel is not None and _idle_core


def bounds_now() -> tuple[float, int]:
    """In a worker: the seconds and MB that it may take for what it does now."""
    return _bound.seconds, _bound.memory_mb


def let_go() -> None:
    """In a fork of a worker that runs a lesson: what is written to the worker's pipe would be taken for a result, and
    anything in the one that tells the server of forks that it is wanted would end it."""
    global _channel
    from multiprocessing import forkserver  # where there is a fork, there is this

    if _channel is not None:
        _channel.close()
        _channel = None
        alive = getattr(getattr(forkserver, "_forkserver", None), "_forkserver_alive_fd", None)
        if alive is not None:
            os.close(alive)


def each(function: Callable[..., Any] | str, tasks: Sequence[tuple[Any, ...]], workers: int | None = None,
         seconds: float = 600) -> Iterator[tuple[int, Any]]:
    """(index of the task, function(*task) or Lost) as they get done, in `workers` processes (None: one a core).

    `function` must be importable by name, or is named itself ("module:function"): then we need not load it. A task
    whose process dies is tried once more; one that takes longer than `seconds` is not. An exception that `function`
    raises comes back as Lost.
    """
    most = workers or os.cpu_count() or 1
    crew = _Crew(function, tasks, seconds, len(tasks) < most)
    try:
        while crew.waiting or crew.busy:
            while crew.waiting and len(crew.busy) < most:
                crew.send_next()
            yield from crew.received()
            yield from crew.overran()
    finally:
        crew.end()


class _Crew:
    """The workers of some tasks: which task each has, and what becomes of it."""

    def __init__(self, function: Callable[..., Any] | str, tasks: Sequence[tuple[Any, ...]], seconds: float,
                 idle_core: bool) -> None:
        self.function, self.tasks, self.seconds, self.idle_core = function, tasks, seconds, idle_core
        self.context, self.forks = _context(len(tasks), function)
        self.waiting = list(range(len(tasks)))[::-1]
        self.tries = [0] * len(tasks)
        self.busy: list[_Worker] = []
        self.idle: list[_Worker] = []

    def send_next(self) -> None:
        """Give the next task to a worker."""
        worker = self.idle.pop() if self.idle else self._start()
        worker.task = self.waiting.pop()
        self.tries[worker.task] += 1
        worker.deadline, worker.bound = time.monotonic() + self.seconds, _Bound("it", self.seconds)
        worker.cpu_seconds = worker.most_mb = 0
        with suppress(OSError):  # it died already: its pipe says so when it is read
            worker.pipe.send((self.function, self.tasks[worker.task]))
        self.busy.append(worker)

    def _start(self) -> _Worker:
        ours, theirs = self.context.Pipe()
        told = theirs, os.getcwd(), dict(os.environ), self.idle_core
        process = self.context.Process(target=_work, args=told, daemon=False)
        named = isinstance(self.function, str)
        with apart(), without_main() if named else nullcontext():  # the server too, where this is the first
            process.start()
        theirs.close()
        return _Worker(process, ours)

    def received(self) -> Iterator[tuple[int, Any]]:
        """(task, result) of each worker that has one by now; waits a moment for the first."""
        for pipe in wait([worker.pipe for worker in self.busy], _TICK_SECONDS):
            worker = next(one for one in self.busy if one.pipe is pipe)
            try:
                result = worker.pipe.recv()
            except (EOFError, OSError):
                yield from self._died(worker)
                continue
            if isinstance(result, _Bound):
                _bind(worker, result)
                continue
            self.busy.remove(worker)
            if self.forks:
                _end(worker)
            else:
                self.idle.append(worker)
            yield worker.task, result

    def _died(self, worker: _Worker) -> Iterator[tuple[int, Lost]]:
        """A worker that is gone: its task is tried again, or lost."""
        self.busy.remove(worker)
        why = _ended(worker)
        if self.tries[worker.task] < TRIES:
            self.waiting.append(worker.task)
        else:
            yield worker.task, Lost(why)

    def overran(self) -> Iterator[tuple[int, Lost]]:
        """(task, why) of each worker that takes too much: it is ended."""
        for worker, why in [(one, why) for one in self.busy if (why := _overrun(one))]:
            self.busy.remove(worker)
            _end(worker, kill=True)
            yield worker.task, Lost(why)

    def end(self) -> None:
        for worker in self.busy + self.idle:
            _end(worker, kill=True)


def begin(tasks: int, function: Callable[..., Any] | str) -> None:
    """Start the server of forks for so many tasks, while the caller does something else."""
    if _context(tasks, function)[1]:
        from multiprocessing import forkserver

        with apart():
            forkserver.ensure_running()


def _context(tasks: int, function: Callable[..., Any] | str) -> tuple[Any, bool]:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn"), False
    context = multiprocessing.get_context("forkserver")
    module = function.partition(":")[0] if isinstance(function, str) else function.__module__
    ours = [module] if module.partition(".")[0] == __name__.partition(".")[0] else []
    context.set_forkserver_preload([PRELOADED] if tasks >= MANY else ours)
    return context, True


def _bind(worker: _Worker, bound: _Bound) -> None:
    import psutil

    worker.bound, worker.deadline = bound, time.monotonic() + bound.seconds
    with suppress(psutil.Error):
        process = psutil.Process(worker.process.pid)
        worker.cpu_seconds = sum(process.cpu_times()[:2]) + bound.seconds
        worker.most_mb = process.memory_info().rss / 1e6 + bound.memory_mb if bound.memory_mb else 0


def _overrun(worker: _Worker) -> str:
    """What a worker took too much of; empty while it keeps within its bounds."""
    import psutil

    late = time.monotonic() - worker.deadline
    if late <= 0 and not worker.most_mb:
        return ""
    with suppress(psutil.Error):
        process = psutil.Process(worker.process.pid)
        if worker.most_mb and process.memory_info().rss / 1e6 > worker.most_mb:
            return f"{worker.bound.what} took more than {worker.bound.memory_mb} MB of memory"
        if late > 0 and (late > _SLACK_SECONDS or sum(process.cpu_times()[:2]) >= worker.cpu_seconds):
            return f"{worker.bound.what} took longer than {worker.bound.seconds:g} s"
    return ""


def _work(pipe: Any, folder: str, environment: dict[str, str], idle_core: bool) -> None:
    """A worker begins where its server began; it must work where its caller is now."""
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    global _channel, _idle_core
    _channel, _idle_core = pipe, idle_core
    adopt()  # what a lesson started may come to us, where its keeper was killed
    with suppress(EOFError, OSError, KeyboardInterrupt):
        while True:
            function, task = pipe.recv()
            try:
                result = _found(function)(*task)
            except Exception as error:
                result = Lost(f"{type(error).__name__}: {error}")
            pipe.send(result)


def _found(function: Callable[..., Any] | str) -> Callable[..., Any]:
    if not isinstance(function, str):
        return function
    module, _, name = function.partition(":")
    found: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return found


def _end(worker: _Worker, kill: bool = False) -> None:
    worker.pipe.close()
    if kill:
        worker.process.kill()
    worker.process.join()


def _ended(worker: _Worker) -> str:
    _end(worker)
    code = worker.process.exitcode
    return f"its process was killed ({signal.Signals(-code).name})" if code and code < 0 else "its process died"
