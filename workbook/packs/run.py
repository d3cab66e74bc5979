"""Running a lesson apart from everything else, within bounds, and recording its outputs so that they can be compared.

Where a process can be forked, each lesson runs in a fork of this one, which has imported everything already; elsewhere
(Windows, or a process with threads of its own) in a kernel that waits for it. Both give the same outputs.
"""

from __future__ import annotations

import json
import os
import re
import select
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

from ..notebook_door import checked

_WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
_TICK_SECONDS = 0.25
_Ran = tuple[dict[str, Any], list[str]]  # the notebook with its outputs, and the files that it read
_WITHIN = "a lesson that keeps within its bounds"


class RunError(VampError):
    """A lesson that raises, hangs, takes too much or cannot be started."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a lesson may take when it runs: seconds in all, MB of memory beyond what it starts with, MB of outputs."""

    seconds: float = 120
    memory_mb: int = 2048
    output_mb: int = 16


USUAL = Bounds()


def can_fork() -> bool:
    """Whether a fork of this process can run Python safely: the system has it, and no other thread holds a lock."""
    return hasattr(os, "fork") and threading.active_count() == 1


def run_lesson(notebook: Mapping[str, Any], folder: Path, *, on_cell: Callable[[int, int], None] | None = None,
               bounds: Bounds = USUAL, fork: bool | None = None, reads: set[str] | None = None) -> dict[str, Any]:
    """The notebook with fresh outputs, run in `folder`; the given one is not touched.

    Raises RunError with the number of the cell that failed or overran, LessonError for an output of no known shape.
    `on_cell(done, all)` is called before each code cell; `fork` chooses the way (None: forked where it can be); `reads`
    is given the files that it read (reads.read).
    """
    copy = json.loads(json.dumps(notebook))
    code = [index for index, cell in enumerate(copy["cells"]) if cell.get("cell_type") == "code"]

    def begins(index: int) -> None:
        if on_cell is not None:
            on_cell(code.index(index), len(code))

    if not folder.is_dir():
        raise RunError(f"there is no folder {folder} to run in", value=str(folder))
    ran, read = (_forked if (can_fork() if fork is None else fork) else _in_kernel)(copy, folder, begins, bounds)
    if reads is not None:
        reads.update(read)
    return checked(frozen(ran))


def frozen(notebook: dict[str, Any]) -> dict[str, Any]:
    """The notebook without what must not be stored or depends on chance: widget state, views that have a static twin,
    and where a kernel's streams were cut."""
    notebook["metadata"].pop("widgets", None)
    notebook["metadata"]["language_info"] = {"name": "python"}  # versions of the machine make no diff
    for cell in notebook["cells"]:
        cell.get("metadata", {}).pop("execution", None)
        if cell.get("outputs"):
            cell["outputs"] = _streams_joined(cell["outputs"])
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if _WIDGET_VIEW in data and {"image/svg+xml", "text/html", "text/markdown"} & data.keys():
                del data[_WIDGET_VIEW]
    return notebook


def _streams_joined(outputs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Texts of one stream between two displays as one."""
    found: list[dict[str, Any]] = []
    here: dict[str, dict[str, Any]] = {}
    for output in outputs:
        if output["output_type"] != "stream":
            here = {}
        elif output["name"] in here:
            one = here[output["name"]]
            one["text"] = "".join([*one["text"], *output["text"]]).splitlines(True)
            continue
        else:
            here[output["name"]] = output
        found.append(output)
    return found


# -- a fork ----------------------------------------------------------------------------------------------------------
def _forked(notebook: dict[str, Any], folder: Path, begins: Callable[[int], None], bounds: Bounds) -> _Ran:
    from .shell import load

    load()  # before the fork, so that no lesson waits for it
    sys.stdout.flush()
    sys.stderr.flush()
    reader, writer = os.pipe()
    watched, held = os.pipe()  # the child ends when nobody holds its other end any more
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            os.close(held)
            _in_child(notebook, folder, bounds, writer, watched)
        finally:
            os._exit(1)
    os.close(writer)
    os.close(watched)
    running = next((index for index, cell in enumerate(notebook["cells"]) if cell.get("cell_type") == "code"), 0)
    try:
        for message in _messages(reader, child, bounds):
            if isinstance(message, int):
                running = message
                begins(running)
            elif isinstance(message, str):
                raise RunError(message, where=_place(notebook, running), expected=_WITHIN)
            elif message["good"]:
                return message["notebook"], message["read"]
            else:
                raise _raised(message["notebook"])
        raise RunError("its process died", where=_place(notebook, running), expected="a lesson that ends by itself")
    finally:
        os.close(reader)
        os.close(held)
        _kill(child)


def _messages(reader: int, child: int, bounds: Bounds) -> Iterator[Any]:
    """What the child tells: the index of each cell that begins, its result; or, as text, why it was stopped."""
    import psutil

    deadline = time.monotonic() + bounds.seconds
    waiting = b""
    process = psutil.Process(child)
    most = None
    while True:
        if select.select([reader], [], [], _TICK_SECONDS)[0]:
            part = os.read(reader, 1 << 20)
            if not part:
                return
            *lines, waiting = (waiting + part).split(b"\n") if b"\n" in part else (waiting + part,)
            yield from map(json.loads, lines)
            if lines or len(waiting) > 100:
                continue
        if time.monotonic() > deadline:
            yield f"it ran longer than {bounds.seconds:g} s"
        try:
            used = process.memory_info().rss / 1e6
        except psutil.Error:
            continue
        most = most or used + bounds.memory_mb
        if used > most:
            yield f"it took more than {bounds.memory_mb} MB of memory"


def _in_child(notebook: dict[str, Any], folder: Path, bounds: Bounds, writer: int, watched: int) -> None:
    os.setpgid(0, 0)  # what it starts ends with it
    threading.Thread(target=_end_with, args=(watched,), daemon=True).start()
    nothing = os.open(os.devnull, os.O_RDWR)
    for number in range(3):
        os.dup2(nothing, number)
    unbounded = _bound_memory(bounds.memory_mb)
    home = folder.resolve()  # a lesson may go elsewhere
    os.chdir(home)
    from .reads import read
    from .shell import run_cells, split_lines

    def tell(message: Any) -> None:
        data = json.dumps(message).encode() + b"\n"
        while data:
            data = data[os.write(writer, data):]

    good = run_cells(notebook, tell, bounds.output_mb, unbounded)
    split_lines(notebook)
    tell({"good": good, "notebook": notebook, "read": read(home)})
    os._exit(0)


def _end_with(watched: int) -> None:
    os.read(watched, 1)
    os.killpg(0, signal.SIGKILL)


def _bound_memory(megabytes: int) -> Callable[[], None]:
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


def _kill(child: int) -> None:
    for kill in (os.killpg, os.kill):
        try:
            kill(child, signal.SIGKILL)
        except (ProcessLookupError, PermissionError):
            continue
    os.waitpid(child, 0)


# -- a kernel --------------------------------------------------------------------------------------------------------
def _in_kernel(notebook: dict[str, Any], folder: Path, begins: Callable[[int], None], bounds: Bounds) -> _Ran:
    from .kernel import CellFailed, CellStopped, run_in_kernel

    try:
        return run_in_kernel(notebook, folder, begins, bounds)
    except CellFailed as error:
        raise _raised(error.node) from error
    except CellStopped as error:
        raise RunError(str(error), where=_place(notebook, error.index),
                       expected=_WITHIN) from error
    except OSError as error:
        raise RunError(f"the kernel cannot be started: {error.strerror or error}", value=str(folder)) from error


# -- what went wrong -------------------------------------------------------------------------------------------------
def _raised(notebook: Mapping[str, Any]) -> RunError:
    for index, cell in enumerate(notebook["cells"]):
        for output in cell.get("outputs", ()):
            if output["output_type"] == "error":
                line = _line_in(output["traceback"])
                return RunError(f"{output['ename']}: {output['evalue']}", value=output["ename"],
                                where=_place(notebook, index) + line)
    return RunError("a cell failed", where="the lesson")


def _place(notebook: Mapping[str, Any], index: int) -> str:
    return f"cell {index + 1} “{notebook['cells'][index].get('id', '')}”" if notebook["cells"] else "the lesson"


def _line_in(traceback: list[str]) -> str:
    """The line of the cell that raised, read from IPython's traceback; empty when it is not there."""
    plain = re.sub(r"\x1b\[[0-9;]*m", "", "\n".join(traceback))
    match = re.search(r"Cell In\[\d+\], line (\d+)", plain)
    return f", line {match[1]}" if match else ""
