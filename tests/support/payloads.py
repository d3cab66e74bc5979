"""Texts that try to run, to load or to lead away, by class and place (tests/attack/payloads.toml), put into lessons."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from support.lab import ROOT
from support.music import arpeggio

from workbook.draw.score import score
from workbook.mimes import LINE_MIME

SVG_MIME, PNG_MIME = "image/svg+xml", "image/png"
OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 10 10">'
PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="


@dataclass(frozen=True, slots=True)
class Payload:
    """A hostile text: its class, the place of a lesson that it stands in, and what becomes of it."""

    kind: str
    place: str
    becomes: str
    text: str


def payloads() -> list[Payload]:
    found = tomllib.loads((ROOT / "tests" / "attack" / "payloads.toml").read_text(encoding="utf-8"))["payload"]
    return [Payload(group["class"], group["place"], group["becomes"], text) for group in found
            for text in group["texts"]]


ALL = payloads()
KEPT = [one for one in ALL if one.becomes == "kept"]
FIELDS = ("title", "language", "student")  # of the whole lesson


# -- lessons ---------------------------------------------------------------------------------------------------------
def cell(kind: str, source: str, *outputs: dict[str, Any], tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"cell_type": kind, "metadata": {"tags": list(tags)}, "source": source} | (
        {"outputs": list(outputs)} if kind == "code" else {})


def figure(mime: str, data: str, **about: Any) -> dict[str, Any]:
    return cell("code", "1", {"output_type": "display_data", "data": {mime: data},
                              "metadata": {mime: {"alt": "a figure", "width_mm": 100} | about}})


def shown(mime: str, text: str) -> dict[str, Any]:
    return cell("code", "1", {"output_type": "execute_result", "data": {mime: text}, "metadata": {}})


@lru_cache(maxsize=1)
def drill() -> dict[str, Any]:
    """A bundle of data and metadata of a short quick drill."""
    data, about = score(arpeggio("tempo: 280\n| Gm7 | C9 |", 3))._repr_mimebundle_()
    return {"data": data, "metadata": about}


def drill_cell(**changes: Any) -> dict[str, Any]:
    bundle = drill()
    stored = bundle["data"][LINE_MIME]
    line = json.loads(stored) if isinstance(stored, str) else dict(stored)
    degree = changes.pop("degree", None)
    if degree is not None:
        line["notes"][0][6] = degree
    data = bundle["data"] | {LINE_MIME: json.dumps(line | changes)}
    return cell("code", "1", {"output_type": "execute_result", "data": data, "metadata": bundle["metadata"]})


MAKERS = {
    "svg": lambda text: figure(SVG_MIME, f"{OPEN}{text}<path id='a' d='M0 0h9v9z'/></svg>"),
    "drawing": lambda text: figure(SVG_MIME, text),
    "markdown": lambda text: cell("markdown", text),
    "alt": lambda text: figure(SVG_MIME, f"{OPEN}</svg>", alt=text),
    "caption": lambda text: figure(SVG_MIME, f"{OPEN}</svg>", caption=text),
    "png": lambda text: figure(PNG_MIME, text),
    "code": lambda text: cell("code", text, tags=("show-input",)),
    "plain output": lambda text: shown("text/plain", text),
    "html output": lambda text: cell("code", "1", {"output_type": "display_data", "data": {
        "text/html": text, "text/plain": "words", PNG_MIME: PIXEL}, "metadata": {PNG_MIME: {"alt": "a dot"}}}),
    "line title": lambda text: drill_cell(title=text),
    "degree": lambda text: drill_cell(degree=text),
}


def lesson(*found: Payload) -> dict[str, Any]:
    """The payloads, and after them the drill that has to stay playable."""
    about = {one.place: one.text for one in found if one.place in FIELDS}
    cells = [MAKERS[one.place](one.text) for one in found if one.place not in FIELDS]
    return {"cells": [cell("markdown", "# Attacked"), *cells, drill_cell()], "metadata": {"vampbook": about},
            "nbformat": 4, "nbformat_minor": 5}
