"""How the run of a lesson ends before its time, in either way of running it."""

from __future__ import annotations

from typing import Any


class CellFailed(Exception):
    """A cell raised: `node` holds the outputs so far."""

    def __init__(self, node: Any) -> None:
        super().__init__("a cell raised")
        self.node = node


class CellStopped(Exception):
    """The run was stopped: why, and at which cell (an index of the notebook's cells)."""

    def __init__(self, why: str, index: int) -> None:
        super().__init__(why)
        self.index = index


def too_long(seconds: float) -> str:
    return f"it ran longer than {seconds:g} s"


def not_begun(seconds: float) -> str:
    return f"its first cell did not begin within {seconds:g} s"


def too_much(memory_mb: int) -> str:
    return f"it took more than {memory_mb} MB of memory"
