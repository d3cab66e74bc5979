"""A bar on the terminal while something takes long."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from ..legible import legible

if TYPE_CHECKING:
    from rich.progress import Progress

_shown: list[Progress] = []  # the bar on the terminal now, if there is one


@contextmanager
def progress(quiet: bool, words: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on the terminal, gone when done; nothing when quiet or when the output is not a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda done, count: None
        return
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import Progress

    words = escape(legible(words))
    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(words, total=None)
        _shown.append(bar)
        try:
            yield lambda done, count: bar.update(task, completed=done, total=count)
        finally:
            _shown.remove(bar)


@contextmanager
def without_bar() -> Iterator[None]:
    """The bar is taken away while a line is printed, so that neither overwrites the other."""
    for bar in _shown:
        bar.stop()
    try:
        yield
    finally:
        for bar in _shown:
            bar.start()
