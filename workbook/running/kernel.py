"""Running a notebook in a Jupyter kernel of its own, started beforehand, where no process can be forked for it.

No kernel serves two notebooks: what one leaves behind (whom it is read by, settings of a library, modules) would show
in the next. From the second notebook on, another kernel gets warm while one works.
"""

from __future__ import annotations

import atexit
import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from subprocess import DEVNULL
from typing import Any

from .apart import SAFE, apart
from .bounds import Bounds
from .ended import CellFailed, CellStopped, too_long, too_much
from .jobs import contained
from .keeper import MARK, end_below, end_marked, new_mark, taken_mb
from .nbformat_quickly import nbformat_quickly

_TICK_SECONDS = 0.25
_SHOWS = "the lesson shows more than {} MB"
_WARM = ["--Application.log_level=40", "--InteractiveShellApp.ignore_cwd=True",
         "--IPKernelApp.exec_lines=assert __import__('workbook.running.warm')"]
_BEGIN = "__import__('workbook.running.apart').running.apart.enter({folder!r}, {safe!r})"
_NEUTRAL = os.path.abspath(os.sep)  # where a kernel starts: no folder that holds settings or modules
_TELL = ("__import__('sys').stdout.write('\\n'.join("
         "__import__('workbook.running.reads').running.reads.read({folder!r})))")


class _Next(threading.local):
    """The kernel of this thread that gets warm (none before its first notebook), and how many notebooks it ran."""

    client: Any = None
    ran: int = 0


_next = _Next()


def run_in_kernel(notebook: Any, folder: Path, on_cell: Callable[[int], None], bounds: Bounds,
                  ) -> tuple[dict[str, Any], list[str]]:
    """The notebook with fresh outputs, and the files that it read, within what `bounds` allow.

    Raises CellFailed, CellStopped, or OSError where no kernel starts.
    """
    nbformat = nbformat_quickly()  # slow to import all the same: only this route needs it
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    node = nbformat.reads(json.dumps(notebook), as_version=4)
    running = 0

    def begins(cell: Any, cell_index: int, **_: Any) -> None:
        nonlocal running
        if cell.cell_type == "code":
            running = cell_index
            on_cell(cell_index)

    folder = folder.resolve()
    stopped: list[str] = []
    client = _taken()
    try:
        client.start_new_kernel_client()
        client.nb = node
        _silently(client, _BEGIN.format(folder=str(folder), safe=SAFE in os.environ))
        client.on_cell_start = begins
        _execute(client, bounds, stopped)
        if stopped:
            raise CellStopped(stopped[0], running)
        client.on_cell_start = None
        read = _silently(client, _TELL.format(folder=str(folder)))
        return json.loads(nbformat.writes(node)), read.splitlines()
    except CellExecutionError as error:
        raise CellFailed(node) from error
    except CellTimeoutError as error:
        raise CellStopped(too_long(bounds.seconds), running) from error
    except DeadKernelError as error:
        raise CellStopped(stopped[0] if stopped else "its kernel died", running) from error
    finally:
        _end(client)


def _execute(client: Any, bounds: Bounds, stopped: list[str]) -> None:
    """Run all cells within what `bounds` allow; why they were stopped is told in `stopped`."""
    deadline = time.monotonic() + bounds.seconds
    client.timeout_func = lambda cell: max(1, round(deadline - time.monotonic()))
    with _within(client, bounds, stopped):
        client.execute(cleanup_kc=False)
    if len(json.dumps(client.nb, ensure_ascii=False)) > bounds.output_mb * 1_000_000:
        stopped.append(_SHOWS.format(bounds.output_mb))


@contextmanager
def _within(client: Any, bounds: Bounds, stopped: list[str]) -> Iterator[None]:
    """Kill the kernel when it takes more memory or shows more than `bounds` allows, and say so in `stopped`."""
    import psutil

    process = psutil.Process(client.km.provisioner.pid)
    most = taken_mb(process.pid, process.pid) + bounds.memory_mb
    done = threading.Event()

    def watch() -> None:
        while not done.wait(_TICK_SECONDS):
            with suppress(psutil.Error):
                outputs = (output for cell in list(client.nb.cells) for output in list(cell.get("outputs", ())))
                if taken_mb(process.pid, process.pid) > most:
                    stopped.append(too_much(bounds.memory_mb))
                elif sum(len(output.get("text", "")) for output in outputs) > bounds.output_mb * 1_000_000:
                    stopped.append(_SHOWS.format(bounds.output_mb))
                if stopped:
                    process.kill()
                    return

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        done.set()
        watcher.join()


def _taken() -> Any:
    """A client of a kernel that nobody used; from the second time on, the next one begins to get warm."""
    client, _next.client = _next.client or _started(), None
    if _next.ran:
        _next.client = _started()
    else:
        atexit.register(stop)
    _next.ran += 1
    return client


def _started() -> Any:
    nbformat = nbformat_quickly()
    from nbclient import NotebookClient

    client: Any = NotebookClient(nbformat.v4.new_notebook(), kernel_name="python3", record_timing=False,
                            store_widget_state=False, shutdown_kernel="immediate", extra_arguments=_WARM)
    client.create_kernel_manager()
    client.mark = new_mark()
    with apart():
        client.start_new_kernel(cwd=_NEUTRAL, env={**os.environ, MARK: client.mark}, stdout=DEVNULL, stderr=DEVNULL)
    client.close_job = contained(client.km.provisioner.pid)
    return client


def _silently(client: Any, source: str) -> str:
    """What a cell that is none of the notebook's prints."""
    cell = nbformat_quickly().v4.new_code_cell(source)
    client.nb.cells.append(cell)
    try:
        client.execute_cell(cell, len(client.nb.cells) - 1, store_history=False)
    finally:
        client.nb.cells.pop()
    return "".join(output["text"] for output in cell.outputs if output["output_type"] == "stream")


def _end(client: Any) -> None:
    """End the kernel and all that it started. It stands still meanwhile, so that it starts no more."""
    import psutil

    if client.km is None:
        return
    kernel = client.km.provisioner.pid
    with suppress(psutil.Error):
        psutil.Process(kernel).suspend()
    end_below(kernel)
    client._cleanup_kernel()
    client.close_job()
    end_marked(client.mark)


def stop() -> None:
    """Shut down the kernel of this thread that waits, if there is one."""
    client, _next.client = _next.client, None
    if client is not None:
        _end(client)
