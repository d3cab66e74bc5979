"""The progression panel: type changes, choose key, tuning and position; chart, scales, neck and drill follow."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from html import escape
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.necks.tunings import Tuning
from theorylib.reading.harmony import Harmony, harmony

from .. import kit
from ..draw.chart import chart_picture
from ..draw.neck import plot_neck
from ..lesson import prose
from ..lesson.derived import with_key
from .panel import Field, Panel, image, table

FROM_CHANGES = "from the changes"
KEYS = (FROM_CHANGES, *(f"{tonic} {side}" for side in ("major", "minor")
                        for tonic in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")))


def chart_in_key(changes: str, key: str) -> Chart:
    """The chart that was typed, in the key chosen or the one that its changes say."""
    return with_key(Chart.parse(changes)) if key == FROM_CHANGES else Chart.parse(changes, key=key)


class ProgressionPanel(Panel):
    """Changes to chart, harmony, necks and drill."""

    headings = (("chart", "The changes"), ("harmony", "Home scale and chord scales"), ("necks", "On the neck"),
                ("drill", "The drill"))

    def fields_of(self) -> tuple[Field, ...]:
        return (Field("changes", "Changes", "text", "| Gm7 | C9 |"), Field("key", "Key", "choice", KEYS[0], KEYS),
                Field("tuning", "Tuning", "choice", "standard", tuple(NAMED_TUNINGS)),
                Field("position", "Position (fret)", "number", 3, low=1, high=14))

    def makers(self, values: Mapping[str, Any]) -> Mapping[str, Callable[[], str]]:
        def chart() -> Chart:
            return chart_in_key(values["changes"], values["key"])

        def read() -> Harmony:
            return harmony(chart())

        def necks() -> str:
            tuning = Tuning.parse(values["tuning"])
            place = values["position"]
            return "".join(image(plot_neck(reading.scale, over=reading.chord, position=place, tuning=tuning))
                           for reading in prose.readings(read())[:4])

        return {
            "chart": lambda: image(chart_picture(chart())),
            "harmony": lambda: (f"<p>{escape(prose.homes(read()).replace('**', ''))}</p>"
                                + table(prose.COLUMNS, prose.harmony_rows(read()))),
            "necks": necks,
            "drill": lambda: image(kit.arpeggio_drill(chart(), values["position"], tuning=values["tuning"]).score()),
        }
