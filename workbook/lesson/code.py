"""Code of cells read and rewritten in place: what is not changed stays as it was typed."""

from __future__ import annotations

import ast
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from .cells import block, literal
from .choices import settings


def with_values(source: str, values: Mapping[str, Any]) -> str:
    r"""The code with other values for the names that it sets on its outermost level; comments stay.

    >>> print(with_values('tempo = 92  # a walk\nfeel = "swing"', {"tempo": 104}))
    tempo = 104  # a walk
    feel = "swing"
    """
    return replaced(source, [(node, _as_code(values[name], ast.get_source_segment(source, node) or ""))
                             for name, node in settings(source) if name in values])


def without(source: str, names: Collection[str]) -> str:
    r"""The lines of code that set none of the names, as they were typed.

    >>> print(without('tuning = "drop D"\nnear = 4', ["tuning"]))
    near = 4
    """
    gone = {line for name, node in settings(source) if name in names
            for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)}
    return "\n".join(text for number, text in enumerate(source.splitlines(), 1) if number not in gone)


def _as_code(value: object, old: str) -> str:
    if not isinstance(value, str):
        return repr(value)
    return block(value) if "\n" in value else quoted(value, old if old[-1:] in ("'", '"') else '"')


def quoted(new: str, old: str) -> str:
    """The text as a literal, in as many lines as the literal `old` had and in its quotes where they serve."""
    if old.endswith(('"""', "'''")):
        return block(new)
    return literal(new) if old.endswith('"') else repr(new)


def replaced(source: str, changes: Iterable[tuple[ast.expr, str]]) -> str:
    """The source with nodes replaced by texts, the rest as it was typed."""
    found = sorted(changes, key=lambda one: (one[0].lineno, one[0].col_offset), reverse=True)
    if not found:
        return source
    data = source.encode()  # ast counts columns in bytes
    starts = [0]
    for line in data.split(b"\n"):
        starts.append(starts[-1] + len(line) + 1)
    for node, text in found:
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        data = data[:start] + text.encode() + data[end:]
    return data.decode()
