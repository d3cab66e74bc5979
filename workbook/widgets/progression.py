"""The progression panel: type changes, choose key, tuning and position; chart, scales, neck and drill follow."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from theorylib.charts import Chart
from theorylib.errors import VampError
from theorylib.harmony import Harmony, harmony
from theorylib.neck import NAMED_TUNINGS, Tuning

from .. import kit, prose
from ..draw.chart import chart_picture
from ..draw.neck import plot_neck
from ..lessons import with_key

KEYS = ["from the changes", *(f"{tonic} {side}" for side in ("major", "minor")
                              for tonic in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"))]
POSITIONS = (1, 14)


class ProgressionPanel(anywidget.AnyWidget):
    """A panel over one chart. Its traits are the choices; `parts` is what it shows, a piece of HTML for each heading.

    The pictures are made in the kernel and shown as images, so that a saved notebook, a static page and a live panel
    show the same. An error keeps the last good parts in view and says in one line what to mend.
    """

    _esm = Path(__file__).parent / "progression.js"
    _css = Path(__file__).parent / "progression.css"

    changes = traitlets.Unicode("| Gm7 | C9 |").tag(sync=True)
    key = traitlets.Unicode(KEYS[0]).tag(sync=True)
    tuning = traitlets.Unicode("standard").tag(sync=True)
    position = traitlets.Int(3).tag(sync=True)
    key_choices = traitlets.List(KEYS).tag(sync=True)
    tuning_choices = traitlets.List(list(NAMED_TUNINGS)).tag(sync=True)
    position_range = traitlets.List(list(POSITIONS)).tag(sync=True)
    parts = traitlets.Dict().tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(self, **choices: Any) -> None:
        super().__init__(**choices)
        self.observe(self._follow, ["changes", "key", "tuning", "position"])
        self._follow(None)

    def _follow(self, _: object) -> None:
        problems: list[str] = []
        parts = dict(self.parts)
        for name, make in self._makers().items():
            try:
                parts[name] = make()
            except VampError as error:
                problems.append(str(error))
        self.parts, self.problem = parts, " · ".join(dict.fromkeys(problems))

    def _chart(self) -> Chart:
        return Chart.parse(self.changes)

    def _harmony(self) -> Harmony:
        return harmony(self._chart(), None if self.key == KEYS[0] else self.key)

    def _makers(self) -> dict[str, Callable[[], str]]:
        return {"chart": lambda: _image(chart_picture(self._chart())), "harmony": self._table, "necks": self._necks,
                "drill": self._drill}

    def _table(self) -> str:
        read = self._harmony()
        head = "".join(f'<th scope="col">{escape(word)}</th>' for word in prose.COLUMNS)
        rows = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
                       for row in prose.harmony_rows(read))
        words = escape(prose.homes(read).replace("**", ""))
        return f"<p>{words}</p><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"

    def _necks(self) -> str:
        tuning = Tuning.parse(self.tuning)
        pictures = [plot_neck(reading.scale, over=reading.chord, position=self.position, tuning=tuning)
                    for reading in prose.readings(self._harmony())[:4]]
        return "".join(map(_image, pictures))

    def _drill(self) -> str:
        chart = with_key(self._chart()) if self.key == KEYS[0] else Chart.parse(self.changes, key=self.key)
        return _image(kit.arpeggio_drill(chart, self.position, tuning=self.tuning).score())

    def _repr_mimebundle_(self, **options: Any) -> Any:
        """Beside the live view, the same parts as plain HTML: what a static page or a closed notebook shows."""
        bundle = super()._repr_mimebundle_(**options)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle or {}, {})
        static = "".join(self.parts.values())
        return {**data, "text/html": static, "text/plain": f"Progression panel: {self.changes}"}, metadata


def _image(picture: Any) -> str:
    """A picture as an image with its alt text: shown alike in trusted and untrusted notebooks."""
    data, _ = picture._repr_mimebundle_()
    return str(data["text/html"])
