"""Running a notebook in a fork of this process, which has imported everything already, under a keeper (keeper.py)."""

from __future__ import annotations

import gc
import json
import os
import select
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from .bounds import Bounds, bound_memory
from .ended import CellFailed, CellStopped, not_begun, too_long, too_much
from .keeper import end_keeper, fork_kept, lives, taken_mb
from .workers import let_go

_TICK_SECONDS = 0.25
_START_SECONDS = 30  # until a fork's first cell begins: a matter of the machine, not of the lesson
_LIBRARIES_MB = 100  # of code and tables that a fork comes to touch: in its memory, and not its own


def run_forked(notebook: dict[str, Any], folder: Path, on_cell: Callable[[int], None], bounds: Bounds, *,
               noting: bool = True) -> tuple[dict[str, Any], list[str]]:
    """The notebook with fresh outputs, and the files that it read, within what `bounds` allow.

    Without `noting` nobody asks for these files, so that large libraries may be left to the lesson that imports them.
    Raises CellFailed or CellStopped. Nothing that the notebook started outlives the call.
    """
    from .shell import holds_modules, load

    large = noting or holds_modules(folder)
    load(large)  # before the fork, so that no lesson waits for it
    sys.stdout.flush()
    sys.stderr.flush()
    reader, writer = os.pipe()
    watched, held = os.pipe()  # the keeper ends all when nobody holds its other end any more

    def run() -> None:
        os.close(reader)
        os.close(held)
        _in_child(notebook, folder, bounds, writer, large)

    def tell(process: int) -> None:
        os.close(reader)
        os.close(held)
        os.write(writer, json.dumps({"process": process}).encode() + b"\n")
        os.close(writer)

    keeper = fork_kept(run, tell, watched)
    os.close(writer)
    os.close(watched)
    first = next(iter(code_cells(notebook)), 0)
    try:
        return _result(_messages(reader, keeper, bounds), first, on_cell)
    finally:
        os.close(reader)
        os.close(held)
        end_keeper(keeper)


def _result(messages: Iterator[Any], first: int, on_cell: Callable[[int], None]) -> tuple[dict[str, Any], list[str]]:
    """What a run comes to by its messages; `first` is the index of the first code cell. Raises as run_forked."""
    running = first
    for message in messages:
        if isinstance(message, int):
            running = message
            on_cell(running)
        elif isinstance(message, str):
            raise CellStopped(message, running)
        elif message["good"]:
            return message["notebook"], message["read"]
        else:
            raise CellFailed(message["notebook"])
    raise CellStopped("its process died", running)


def code_cells(notebook: Mapping[str, Any]) -> list[int]:
    """The indexes of a notebook's code cells."""
    return [index for index, cell in enumerate(notebook["cells"]) if cell.get("cell_type") == "code"]


def _messages(reader: int, keeper: int, bounds: Bounds) -> Iterator[Any]:
    """What the lesson's process tells: the index of each cell that begins, its result; as text, why it is stopped."""
    clock, memory = _Clock(bounds), _Memory(keeper, bounds)
    received = bytearray()
    while True:
        if select.select([reader], [], [], _TICK_SECONDS)[0]:
            part = os.read(reader, 1 << 20)
            if not part:
                return
            received += part
            if b"\n" in part:
                *lines, received = received.split(b"\n")
                for message in map(_read, lines):
                    if isinstance(message, dict) and "process" in message and not memory.process:
                        memory.process = message["process"]
                        continue
                    if type(message) is int:
                        clock.begin()
                    yield message
        elif not lives(keeper):
            return  # killed, while something that it kept still holds the pipe
        if why := clock.passed() or memory.passed():
            yield why


class _Clock:
    """Until when a fork may take to begin, and from then on to end."""

    def __init__(self, bounds: Bounds) -> None:
        self.bounds = bounds
        self.begun = False
        self.deadline = time.monotonic() + _START_SECONDS

    def begin(self) -> None:
        if not self.begun:
            self.begun, self.deadline = True, time.monotonic() + self.bounds.seconds

    def passed(self) -> str:
        """Why the run is stopped, or nothing."""
        if time.monotonic() <= self.deadline:
            return ""
        return too_long(self.bounds.seconds) if self.begun else not_begun(_START_SECONDS)


class _Memory:
    """How much a fork may take, beside what it shares with the process that it was forked from."""

    def __init__(self, keeper: int, bounds: Bounds) -> None:
        self.keeper, self.bounds = keeper, bounds
        self.process = 0  # unknown, until it is told
        self.most_mb = 0.0
        self.next_look = time.monotonic() + _TICK_SECONDS

    def passed(self) -> str:
        """Why the run is stopped, or nothing; looked at now and then, and not where the process is gone."""
        import psutil

        if not self.process or time.monotonic() <= self.next_look:
            return ""
        self.next_look = time.monotonic() + _TICK_SECONDS
        with suppress(psutil.Error):
            if not self.most_mb:
                shared_mb = psutil.Process(self.process).memory_info().rss / 1e6
                self.most_mb = shared_mb + _LIBRARIES_MB + self.bounds.memory_mb
            if taken_mb(self.process, self.keeper) > self.most_mb:
                return too_much(self.bounds.memory_mb)
        return ""


def _read(line: bytes | bytearray) -> Any:
    """A message, or a reason to stop: the lesson may have found the pipe."""
    try:
        message = json.loads(line)
    except ValueError:
        message = None
    known = isinstance(message, dict) and message.keys() in ({"process"}, {"good", "notebook", "read"})
    return message if known or type(message) is int else "its process said what makes no sense"


def _in_child(notebook: dict[str, Any], folder: Path, bounds: Bounds, writer: int, large: bool) -> None:
    # What this process left behind is not for its fork to end: a connection would wait for a thread that is not here.
    gc.freeze()
    let_go()
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in range(3):
        os.dup2(nothing, number)
    unbounded = bound_memory(bounds.memory_mb + (0 if large else _LIBRARIES_MB))
    home = folder.resolve()  # a lesson may go elsewhere
    os.chdir(home)
    from .reads import read
    from .shell import run_cells, split_lines

    def tell(message: Any) -> None:
        data = json.dumps(message).encode() + b"\n"
        while data:
            data = data[os.write(writer, data):]

    good = run_cells(notebook, tell, bounds.output_mb, unbounded, large)
    split_lines(notebook)
    tell({"good": good, "notebook": notebook, "read": read(home)})
    os._exit(0)
