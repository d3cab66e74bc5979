"""Broken notebooks: one place of a real one deleted, doubled, put elsewhere or given a value of another kind."""

from __future__ import annotations

import copy
import json
from random import Random
from typing import Any

from workbook.mimes import CHART_MIME, LINE_MIME

Place = tuple[Any, ...]
VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 2, 10**9, 10**30, 0.5, -0.0, 1e308, "", "x", "0", "1e99999999", "\x00", "é" * 50, [], {},
    [[]], [None], ["x", 1], {"": None}, {"a": {"b": []}}, "cell 99", "N.C.", "| C |", "<svg/>", "<svg", "A dorian",
    "image/png",
)
_STOPS = 0.12  # the chance that a walk ends at a list or an object instead of going into it


def place_in(value: Any, chance: Random) -> Place:
    """The keys to a random place, each level as likely as the next: texts are many, what holds them is few."""
    keys: list[Any] = []
    while isinstance(value, dict | list) and value and (not keys or chance.random() > _STOPS):
        key = chance.choice(list(value)) if isinstance(value, dict) else chance.randrange(len(value))
        keys.append(key)
        value = value[key]
    return tuple(keys)


def changed(data: Any, chance: Random) -> tuple[Any, Place]:
    """A copy with one place changed, and the place."""
    new = copy.deepcopy(data)
    place = place_in(new, chance)
    holder = new
    for key in place[:-1]:
        holder = holder[key]
    key, what = place[-1], chance.randrange(6)
    old = holder[key]
    if what == 0:
        del holder[key]
    elif what == 1 and isinstance(holder, list):
        holder.insert(key, copy.deepcopy(old))
    elif what == 2 and isinstance(old, str) and old:
        at = chance.randrange(len(old))
        holder[key] = old[:at] + chance.choice(("", "\\", '"', "é", "\n", "9", "-", old)) + old[at + 1:]
    elif what == 3:
        holder[key] = [old] if chance.random() < 0.5 else {"x": old}
    elif what == 4 and isinstance(holder, dict):
        holder[f"{key}x"] = holder.pop(key)
    else:
        holder[key] = copy.deepcopy(chance.choice(VALUES))
    return new, place


def broken(notebook: dict[str, Any], chance: Random) -> tuple[dict[str, Any], Place]:
    """A notebook with one place changed: in a third of them inside a stored line or chart, if it has one."""
    lines = [(number, at, mime) for number, cell in enumerate(notebook["cells"])
             for at, output in enumerate(cell.get("outputs", ())) for mime in (LINE_MIME, CHART_MIME)
             if mime in output.get("data", {})]
    if not lines or chance.random() > 0.33:
        return changed(notebook, chance)
    number, at, mime = chance.choice(lines)
    new = copy.deepcopy(notebook)
    data = new["cells"][number]["outputs"][at]["data"]
    stored = data[mime] if isinstance(data[mime], dict | str) else "".join(data[mime])
    if mime == LINE_MIME:
        line, inner = changed(json.loads(stored) if isinstance(stored, str) else stored, chance)
        data[mime] = line if chance.random() < 0.5 else json.dumps(line)
    else:
        spot = chance.randrange(len(stored))
        data[mime], inner = stored[:spot] + chance.choice("|:%/#9Hx \n") + stored[spot + 1:], (spot,)
    return new, ("cells", number, "outputs", at, "data", mime, *inner)
