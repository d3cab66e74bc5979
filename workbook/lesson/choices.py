"""What code sets by name, read and never run: the choices of a lesson stand in its cell tagged `parameters`.

The two tags are those of Jupyter's papermill, which writes values of its own into a cell tagged `injected-parameters`
after the first; they hold from there on.
"""

from __future__ import annotations

import ast
import warnings
from collections.abc import Iterator
from typing import Any

PARAMETERS, INJECTED = "parameters", "injected-parameters"


def values_set(source: str) -> dict[str, Any]:
    r"""The names that code sets to a literal, with their values; what is worked out when it runs is left out.

    >>> values_set('tuning = "drop D"\nposition = 3\nnear = position + 2')
    {'tuning': 'drop D', 'position': 3}
    """
    found: dict[str, Any] = {}
    for name, value in settings(source):
        found.pop(name, None)  # the last one holds, a literal or not
        try:
            found[name] = ast.literal_eval(value)
        except (ValueError, TypeError, SyntaxError, MemoryError, RecursionError):
            continue
    return found


def names_set(source: str) -> tuple[str, ...]:
    """All names that code sets, to a literal or not, in order."""
    return tuple(dict.fromkeys(name for name, _ in settings(source)))


def parsed(source: str) -> ast.Module:
    """The code's tree; an empty one where it cannot be read: a magic, or a fault that the run will name."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what Python thinks of the teacher's code is for the run to say
            return ast.parse(source)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return ast.Module([], [])


def settings(source: str, tree: ast.Module | None = None) -> Iterator[tuple[str, ast.expr]]:
    """(name, value) of each assignment to a plain name that stands at the edge of the code (`tree`: parsed already)."""
    for node in (tree or parsed(source)).body:
        if isinstance(node, ast.Assign):
            targets = node.targets
        elif isinstance(node, ast.AnnAssign):
            targets = [node.target]
        else:
            continue
        if node.value is None:
            continue
        for target in targets:
            if isinstance(target, ast.Name):
                yield target.id, node.value
