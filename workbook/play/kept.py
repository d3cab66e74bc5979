"""A backing as a lesson's output keeps it: the changes and what is said of the band, as JSON text."""

from __future__ import annotations

import json

from theorylib.changes.charts import Chart
from theorylib.errors import as_text, shown
from theorylib.plain_json import read_json

from .band import Band
from .parts import BackingError

_EXPECTED = "a JSON object with “changes” and “band”"


def kept_text(chart: Chart, band: Band) -> str:
    """What `read_kept` reads back to the same."""
    return json.dumps({"changes": str(chart), "band": band.said()}, ensure_ascii=False, sort_keys=True)


def read_kept(text: str) -> tuple[Chart, Band]:
    """The changes and the band that an output keeps, whoever wrote it; raises a VampError for what is none."""
    kept = read_json(as_text(text, "backing", _EXPECTED, BackingError))
    if not isinstance(kept, dict) or set(kept) != {"changes", "band"}:
        raise BackingError(f"“{shown(text)}” is no backing", value=text, expected=_EXPECTED)
    changes = as_text(kept["changes"], "row of changes", "a chart's text", BackingError)
    return Chart.parse(changes), Band.of_said(kept["band"])
