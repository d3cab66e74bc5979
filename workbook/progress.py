"""A bar on the terminal while something takes long."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from .legible import legible


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
        yield lambda done, count: bar.update(task, completed=done, total=count)
