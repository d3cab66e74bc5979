"""Running a lesson in a fresh kernel, and recording its outputs so that they can be compared later."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from theorylib.errors import VampError

CELL_SECONDS = 120
_WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"


class RunError(VampError):
    """A lesson that raises, hangs or cannot be started."""


def run_lesson(notebook: Mapping[str, Any], folder: Path, *, on_cell: Callable[[int, int], None] | None = None,
               seconds: int = CELL_SECONDS) -> dict[str, Any]:
    """The notebook with fresh outputs, run in `folder`; the given one is not touched.

    Raises RunError with the number of the cell that failed. `on_cell(done, all)` is called after each code cell.
    """
    import nbformat  # slow to import: only a run needs it
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    node = nbformat.reads(json.dumps(notebook), as_version=4)
    count = sum(cell.cell_type == "code" for cell in node.cells)
    done = 0

    def count_cell(cell: Any, cell_index: int, **_: Any) -> None:
        nonlocal done
        done += cell.cell_type == "code"
        if on_cell is not None:
            on_cell(done, count)

    client = NotebookClient(node, timeout=seconds, kernel_name="python3", record_timing=False,
                            store_widget_state=False, resources={"metadata": {"path": str(folder)}},
                            on_cell_executed=count_cell, extra_arguments=["--Application.log_level=40"])
    try:
        client.execute()
    except CellExecutionError as error:
        where, line = _failed_cell(node)
        raise RunError(f"{error.ename}: {error.evalue}", value=error.ename, where=f"{where}{line}") from error
    except OSError as error:
        raise RunError(f"the kernel cannot be started: {error.strerror or error}", value=str(folder)) from error
    except CellTimeoutError as error:
        raise RunError(f"a cell ran longer than {seconds} s", where=_running_cell(node)) from error
    except DeadKernelError as error:
        raise RunError("the kernel died", where=_running_cell(node), expected="a lesson that fits in memory") from error
    return frozen(json.loads(nbformat.writes(node)))


def frozen(notebook: dict[str, Any]) -> dict[str, Any]:
    """The notebook without what must not be stored: widget state and views that have a static twin."""
    notebook["metadata"].pop("widgets", None)
    notebook["metadata"]["language_info"] = {"name": "python"}  # versions of the machine make no diff
    for cell in notebook["cells"]:
        cell.get("metadata", {}).pop("execution", None)
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if _WIDGET_VIEW in data and {"image/svg+xml", "text/html", "text/markdown"} & data.keys():
                del data[_WIDGET_VIEW]
    return notebook


def _failed_cell(node: Any) -> tuple[str, str]:
    for number, cell in enumerate(node.cells, 1):
        for output in cell.get("outputs", ()):
            if output.output_type == "error":
                return f"cell {number} “{cell.get('id', '')}”", _line_in(output.traceback)
    return "the lesson", ""


def _line_in(traceback: list[str]) -> str:
    """The line of the cell that raised, read from IPython's traceback; empty when it is not there."""
    plain = re.sub(r"\x1b\[[0-9;]*m", "", "\n".join(traceback))
    match = re.search(r"Cell In\[\d+\], line (\d+)", plain)
    return f", line {match[1]}" if match else ""


def _running_cell(node: Any) -> str:
    code = [(number, cell) for number, cell in enumerate(node.cells, 1) if cell.cell_type == "code"]
    waiting = [number for number, cell in code if cell.execution_count is None]
    return f"cell {waiting[0] if waiting else code[-1][0]}"
