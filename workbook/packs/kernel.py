"""Running a notebook in a Jupyter kernel that is kept warm, where no process can be forked for it."""

from __future__ import annotations

import atexit
import json
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

# Its last folder may be gone, so a new one comes first.
_RESET = "import os as _os\n_os.chdir({folder!r})\n%reset -f\nget_ipython().reset(new_session=True)"
_WATCH = "__import__('workbook.packs.reads').packs.reads.watch()"
_TELL = "print(*__import__('workbook.packs.reads').packs.reads.read({folder!r}), sep='\\n')"


class CellFailed(Exception):
    """A cell raised: `node` holds the outputs so far."""

    def __init__(self, node: Any) -> None:
        super().__init__("a cell raised")
        self.node = node


class CellStopped(Exception):
    """The kernel was stopped: why, and at which cell (an index of the notebook's cells)."""

    def __init__(self, why: str, index: int) -> None:
        super().__init__(why)
        self.index = index


class _Warm(threading.local):
    """The one kernel of this thread, started when first needed."""

    client: Any = None


_warm = _Warm()


def run_in_kernel(notebook: Any, folder: Path, on_cell: Callable[[int], None], bounds: Any,
                  ) -> tuple[dict[str, Any], list[str]]:
    """The notebook with fresh outputs, and the files that it read, within what `bounds` (run.Bounds) allows.

    Raises CellFailed, CellStopped, or OSError where no kernel starts.
    """
    import nbformat  # slow to import: only this route needs it
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    node = nbformat.reads(json.dumps(notebook), as_version=4)
    running = 0
    deadline = time.monotonic() + bounds.seconds

    def begins(cell: Any, cell_index: int, **_: Any) -> None:
        nonlocal running
        if cell.cell_type == "code":
            running = cell_index
            on_cell(cell_index)

    folder = folder.resolve()  # the warm kernel stands elsewhere
    client = _client(node, folder)
    client.on_cell_start = begins
    client.timeout_func = lambda cell: max(1, round(deadline - time.monotonic()))
    try:
        client.execute(cleanup_kc=False, cwd=str(folder))
        _warm.client = client
        text = nbformat.writes(node)
        if len(text) > bounds.output_mb * 1_000_000:
            raise CellStopped(f"the lesson shows more than {bounds.output_mb} MB", running)
        read = _silently(client, _TELL.format(folder=str(folder)))
        return json.loads(text), read.splitlines()
    except CellExecutionError as error:
        raise CellFailed(node) from error
    except CellTimeoutError as error:
        raise CellStopped(f"it ran longer than {bounds.seconds:g} s", running) from error
    except DeadKernelError as error:
        raise CellStopped("its kernel died", running) from error
    finally:
        if _warm.client is not client:
            stop(client)


def _client(node: Any, folder: Path) -> Any:
    """A client on the warm kernel, its memory wiped, or on a new one; what it reads from now on is noted."""
    from nbclient import NotebookClient

    options: dict[str, Any] = {"kernel_name": "python3", "record_timing": False, "store_widget_state": False,
               "resources": {"metadata": {"path": str(folder)}}, "extra_arguments": ["--Application.log_level=40"]}
    warm, _warm.client = _warm.client, None
    if warm is None:
        atexit.register(stop)
        client = NotebookClient(node, **options)
        client.create_kernel_manager()
        client.start_new_kernel(cwd=str(folder))
        client.start_new_kernel_client()
    else:
        client = NotebookClient(node, km=warm.km, **options)
        client.kc = warm.kc
        _silently(client, _RESET.format(folder=str(folder)))
    _silently(client, _WATCH)
    return client


def _silently(client: Any, source: str) -> str:
    """What a cell that is none of the notebook's prints."""
    import nbformat

    cell = nbformat.v4.new_code_cell(source)
    client.nb.cells.append(cell)
    try:
        client.execute_cell(cell, len(client.nb.cells) - 1, store_history=False)
    finally:
        client.nb.cells.pop()
    return "".join(output["text"] for output in cell.outputs if output["output_type"] == "stream")


def stop(client: Any = None) -> None:
    """Shut the kernel down."""
    gone = client or _warm.client
    if gone is not None:
        if gone is _warm.client:
            _warm.client = None
        if gone.km is not None:
            gone._cleanup_kernel()
