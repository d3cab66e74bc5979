"""nbformat, imported without what takes most of the time of its import and serves no notebook."""

from __future__ import annotations

import sys
from typing import Any


def nbformat_quickly() -> Any:
    """The module; what is built on it (nbclient, jupytext, nbconvert, Jupyter's servers) is imported after it.

    For each process that imports it jsonschema would otherwise have rfc3987_syntax (PyPI) build the parser by which it
    checks addresses with letters of every script, the format "iri": 2.7 s of one processor, of 3.0 in all. No schema of
    Jupyter's has that format. Here jsonschema finds that package missing, as it is on many machines.
    """
    parsers: dict[str, Any] = sys.modules
    is_new = "jsonschema" not in parsers and "rfc3987_syntax" not in parsers
    if is_new:
        parsers["rfc3987_syntax"] = None
    try:
        import nbformat
    finally:
        if is_new:
            del parsers["rfc3987_syntax"]
    return nbformat
