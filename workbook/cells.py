"""Cells of a notebook as plain values, with stable ids."""

from __future__ import annotations

from typing import Any


def text_cell(name: str, text: str, *tags: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "id": name, "metadata": _tagged(tags), "source": _lines(text)}


def code_cell(name: str, code: str, *tags: str) -> dict[str, Any]:
    return {"cell_type": "code", "execution_count": None, "id": name, "metadata": _tagged(tags), "outputs": [],
            "source": _lines(code)}


def _tagged(tags: tuple[str, ...]) -> dict[str, Any]:
    return {"tags": list(tags)} if tags else {}


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)
