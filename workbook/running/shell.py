"""Running a notebook's cells in this process, by IPython's own shell, with the outputs that a kernel would have stored.

Meant for a process forked for one notebook (run.py): what the cells change stays in it.
"""

from __future__ import annotations

import asyncio
import builtins
import importlib
import io
import os
import sys
from collections.abc import Callable, Mapping
from importlib.machinery import all_suffixes
from pathlib import Path
from typing import Any

from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import DisplayPublisher
from IPython.core.interactiveshell import InteractiveShell

from .apart import folder_on_path
from .reads import watch

OUTPUT_MB = 16
_RAISES, _SKIPS = "raises-exception", "skip-execution"  # nbclient's tags
_SPLIT = ("application/javascript", "image/svg+xml")
# What teaches the running shell, or asks it, when first imported: the shell is new.
_ACT_ON_SHELL = ("workbook.kit", "matplotlib.pyplot", "matplotlib_inline.backend_inline")
# What a lesson's cells import later, loaded before its folder is on the path.
NEEDED = ("mido", "stack_data", "verovio", "workbook.kit", "workbook.play.bank")
LARGE = ("numpy", "soundfile", "matplotlib.figure", "matplotlib_inline")  # half the time of all; few lessons use them
_BACKEND = "module://matplotlib_inline.backend_inline"  # where a kernel draws


class TooMuchOutput(Exception):
    """A lesson that shows more than a pack should hold."""


def run_cells(notebook: dict[str, Any], on_cell: Callable[[int], None], output_mb: int = OUTPUT_MB,
              unbounded: Callable[[], None] = lambda: None, large: bool = True) -> bool:
    """Run the code cells in order and store their outputs and counts in `notebook`; whether none raised.

    `on_cell(index)` is told each code cell's index before it runs; `unbounded()` lifts the bound of memory, if there is
    one, when a cell raised; `large` is load's. As with nbclient the cells after one that raised stay without outputs,
    unless it is tagged `raises-exception`, and a cell tagged `skip-execution` keeps what it has.
    """
    outputs = _Outputs(output_mb * 1_000_000)
    vars(builtins).pop("_", None)  # another prompt's, or a translator's: with it IPython would not set its own
    shell = _shell(outputs, unbounded)
    load(large)
    watch()
    folder_on_path()
    code = [(index, cell) for index, cell in enumerate(notebook["cells"]) if cell["cell_type"] == "code"
            and _SKIPS not in cell.get("metadata", {}).get("tags", ())]
    for _, cell in code:
        cell["outputs"], cell["execution_count"] = [], None
    for index, cell in code:
        source = "".join(cell["source"])
        if not source.strip():
            continue
        on_cell(index)
        outputs.begin(cell["outputs"])
        count = shell.execution_count
        shell.run_cell(source, store_history=True, cell_id=cell.get("id"))
        cell["execution_count"] = count
        failed = any(output["output_type"] == "error" for output in cell["outputs"])
        if failed and _RAISES not in cell.get("metadata", {}).get("tags", ()):
            return False
    return True


def load(large: bool = True) -> None:
    """Import what lessons need (NEEDED), with `large` what some need (LARGE)."""
    for name in (*NEEDED, *(LARGE if large else ())):
        importlib.import_module(name)


def holds_modules(folder: Path) -> bool:
    """Whether something in a folder could be imported from there, and be taken for a library of the same name."""
    return any(path.suffix in all_suffixes() or any(path.glob("__init__.*")) for path in folder.iterdir())


def split_lines(notebook: Mapping[str, Any]) -> None:
    """Store long texts line by line, as nbformat writes them."""
    for cell in notebook["cells"]:
        if isinstance(cell["source"], str):
            cell["source"] = cell["source"].splitlines(True)
        for output in cell.get("outputs", ()):
            if "text" in output:
                output["text"] = "".join(output["text"]).splitlines(True)
            data = output.get("data", {})
            for mime, value in data.items():
                if isinstance(value, str) and (mime.startswith("text/") or mime in _SPLIT):
                    data[mime] = value.splitlines(True)


class _Outputs:
    """Collects what the cell at work shows, and stops one that shows too much."""

    def __init__(self, most: int) -> None:
        self.found: list[dict[str, Any]] = []
        self.left = most
        self.most = most
        self.clear_next = False
        self.named: dict[str, list[dict[str, Any]]] = {}

    def begin(self, found: list[dict[str, Any]]) -> None:
        self.found, self.clear_next = found, False

    def add(self, output: dict[str, Any], size: int) -> None:
        self.left -= size
        if self.left < 0:
            raise TooMuchOutput(f"the lesson shows more than {self.most // 1_000_000} MB")
        if self.clear_next:
            self.clear()
        self.found.append(output)

    def write(self, name: str, text: str) -> None:
        last = self.found[-1] if self.found and not self.clear_next else {}
        if last.get("output_type") == "stream" and last["name"] == name:
            self.left -= len(text)
            if self.left >= 0:
                last["text"].append(text)
                return
        self.add({"output_type": "stream", "name": name, "text": [text]}, len(text))

    def show(self, output: dict[str, Any], name: str | None, update: bool) -> None:
        size = sum(len(value if isinstance(value, str | bytes) else str(value)) for value in output["data"].values())
        if update:
            for one in self.named.get(name or "", ()):
                one["data"], one["metadata"] = output["data"], output["metadata"]
            return
        self.add(output, size)
        if name:
            self.named.setdefault(name, []).append(output)

    def clear(self, wait: bool = False) -> None:
        self.clear_next = wait
        if not wait:
            self.found.clear()


class _Stream(io.TextIOBase):
    """Standard output or error of the cells."""

    encoding = "utf-8"

    def __init__(self, name: str, outputs: _Outputs) -> None:
        self.name, self.outputs = name, outputs

    def writable(self) -> bool:
        return True

    def write(self, text: str) -> int:
        if text:
            self.outputs.write("std" + self.name, text)
        return len(text)


def _shell(outputs: _Outputs, unbounded: Callable[[], None]) -> Any:
    """A new shell of IPython, and the only one of this process, that shows in `outputs`."""
    os.environ["MPLBACKEND"] = _BACKEND
    if "matplotlib" in sys.modules:  # it read that variable when it was imported
        sys.modules["matplotlib"].rcParams["backend"] = _BACKEND
    for name in _ACT_ON_SHELL:
        sys.modules.pop(name, None)
    asyncio.set_event_loop(asyncio.new_event_loop())
    InteractiveShell.clear_instance()
    shell: Any = _shell_class(outputs, unbounded).instance()
    InteractiveShell._instance = shell
    shell.display_formatter.ipython_display_formatter.enabled = True
    sys.stdout, sys.stderr, sys.stdin = _Stream("out", outputs), _Stream("err", outputs), io.StringIO()
    return shell


def _shell_class(outputs: _Outputs, unbounded: Callable[[], None]) -> type[InteractiveShell]:
    """The kind of shell: IPython makes its parts itself, so that each takes `outputs` from here."""
    class Publisher(DisplayPublisher):
        def publish(self, data: Any, metadata: Any = None, source: Any = None, *, transient: Any = None,
                    update: bool = False, **_: Any) -> None:
            outputs.show({"output_type": "display_data", "data": dict(data), "metadata": dict(metadata or {})},
                         (transient or {}).get("display_id"), update)

        def clear_output(self, wait: bool = False) -> None:
            outputs.clear(wait)

    class Hook(DisplayHook):
        def write_output_prompt(self) -> None:
            pass

        def write_format_data(self, format_dict: Any, md_dict: Any = None) -> None:
            outputs.show({"output_type": "execute_result", "data": dict(format_dict), "metadata": dict(md_dict or {}),
                          "execution_count": self.prompt_count}, None, False)

    class Shell(InteractiveShell):
        display_pub_class = Publisher
        displayhook_class = Hook

        def showtraceback(self, *given: Any, **more: Any) -> None:
            unbounded()  # to say that memory ran out takes memory
            super().showtraceback(*given, **more)

        def _showtraceback(self, etype: Any, evalue: Any, stb: list[str]) -> None:
            outputs.found.append({"output_type": "error", "ename": str(etype.__name__), "evalue": str(evalue),
                                  "traceback": list(stb)})

        def init_io(self) -> None:
            pass

        def init_history(self) -> None:
            self.config.HistoryManager.enabled = False
            super().init_history()

    return Shell
