"""The explorer: one chart, and what can be played over it, to see, hear and take along.

Its cell shows a plain page of what is set; where a kernel runs, the browser puts the live view in that page's place.
So a saved notebook needs no widget state, and no reader meets a panel that cannot be found. The browser draws, filters
and sounds; it asks here, by message, for what needs theory, and an answer tells which question it belongs to.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from threading import Thread
from typing import Any

import anywidget
import traitlets

from theorylib.changes.charts import Chart
from theorylib.changes.meters import FEELS
from theorylib.errors import VampError
from theorylib.levels import Level
from theorylib.names.arpeggios import KINDS
from theorylib.names.qualities import QUALITIES
from theorylib.names.spelling import NoteName
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.reading.hearing import readings
from theorylib.reading.uses import OPEN_KINDS

from ..browser.bundle import module
from ..draw.markers import MARKERS
from ..lesson.lesson import Lesson
from ..mimes import HTML_MIME
from .explored import Explored, kinds_data
from .explored_lines import INTO, WAYS, phrase_code, picked_line, shown
from .explored_neck import boards_data, grips_data, shapes_data
from .explored_sound import backing_data, bank_data
from .explored_still import still_html
from .explored_take import as_new_lesson, cells_of, into_file, lesson_of, line_of, pair_at, view_at
from .explored_uses import named_places, uses_data

_FOLDER = Path(__file__).parent / "explorer"
_KEYS = [f"{tonic} {side}" for side in ("major", "minor")
         for tonic in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")]

# Chords that are offered while one types: plain qualities, then what changes often have beside them.
_SUFFIXES = dict.fromkeys([*QUALITIES, *(kind for kind in KINDS if " " not in kind), *OPEN_KINDS])


class Explorer(anywidget.AnyWidget):
    """The explorer over some changes. `state` is all that is set, as plain data; `chart` the changes as read."""

    _esm = module(_FOLDER / "explorer.js")
    _css = _FOLDER / "explorer.css"

    state: Any = traitlets.Dict().tag(sync=True)
    chart: Any = traitlets.Dict().tag(sync=True)
    first: Any = traitlets.Dict().tag(sync=True)    # the view of the chord that is chosen at first
    boards: Any = traitlets.Dict().tag(sync=True)
    words: Any = traitlets.Dict().tag(sync=True)    # what is the same for all changes: kinds, drills, tunings, signs
    asked: Any = traitlets.Dict().tag(sync=True)    # what the cell asked for: what was kept with it holds for the same
    mount = traitlets.Unicode().tag(sync=True)      # the class of the place where the live view stands

    def __init__(self, changes: Chart | str, key: str = "", tuning: str = "standard", **state: Any) -> None:
        self._explored = Explored.of(changes, key, tuning)
        asked = {"changes": changes if isinstance(changes, str) else str(changes), "key": key, "tuning": tuning}
        chosen = next(place for place, view in enumerate(self._explored.view_of) if view is not None)
        super().__init__(
            state={**asked, "chord": chosen, "drill": INTO, "position": 5, "row": "", **state}, asked=asked,
            chart=self._explored.chart_data(), first=self._explored.view_data(self._explored.view_of[chosen] or 0),
            boards=boards_data(self._explored.tuning), words=_words(), mount=_place_of(asked))
        self.on_msg(self._asked)

    # -- questions of the browser ----------------------------------------------------------------------------------
    def _asked(self, _: object, content: Mapping[str, Any], buffers: object) -> None:
        """Answer a question; what is refused is told in words, whatever else goes wrong by its name."""
        ask, number = str(content.get("ask")), content.get("number")
        if ask == "bank":
            Thread(target=self._send_bank, args=(number,), daemon=True).start()
            return
        try:
            answer: dict[str, Any] = {"told": self._answers()[ask](content)}
        except VampError as error:
            answer = {"problem": {"says": str(error), "value": _text(error.value), "nearest": list(error.nearest)}}
        except (KeyError, TypeError, ValueError, OSError) as error:
            answer = {"problem": {"says": f"That cannot be done: {type(error).__name__} {error}", "value": "",
                                  "nearest": []}}
        self.send({"number": number, **answer})
        if ask == "read" and "told" in answer:
            self._tell_later_pages(answer["told"])

    def _answers(self) -> Mapping[str, Callable[[Mapping[str, Any]], Any]]:
        return {
            "read": self._read, "view": lambda asked: self._explored.view_data(int(asked["view"])),
            "why": lambda asked: self._explored.words_data(int(asked["view"]), set(asked["rows"])),
            "line": lambda asked: line_of(self._explored, self._state(asked)),
            "cells": lambda asked: cells_of(self._explored, self._state(asked)),
            "shapes": lambda asked: shapes_data(self._chord(asked), asked["degrees"], self._explored.tuning),
            "grips": lambda asked: grips_data(self._chord(asked), self._explored.tuning),
            "uses": lambda asked: uses_data(asked["what"], self._explored),
            "named": self._named, "homes": self._homes, "backing": self._backing,
            "file": lambda asked: into_file(asked["path"], cells_of(self._explored, self._state(asked))),
            "new": lambda asked: as_new_lesson(asked["title"], self._explored, self._state(asked)),
            "still": lambda asked: still_html(self._explored, self._state(asked)),
        }

    def _read(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """New changes, key or tuning: their chart, and the view of the chord that stands where one stood."""
        before = self._explored.tuning
        found = Explored.of(asked["changes"], asked.get("key", ""), asked.get("tuning", "standard"))
        self._explored = found
        wanted = min(int(asked.get("chord", 0)), len(found.view_of) - 1)
        near = sorted(range(len(found.view_of)), key=lambda place: (abs(place - wanted), place))
        chord = next(place for place in near if found.view_of[place] is not None)
        view = found.view_data(found.view_of[chord] or 0)
        boards = None if found.tuning == before else boards_data(found.tuning)  # None: as they stand
        return {"chart": found.chart_data(), "view": view, "chord": chord, "boards": boards}

    def _tell_later_pages(self, told: Mapping[str, Any]) -> None:
        """What a page that is opened later begins with; after the answer, for which somebody waits."""
        with self.hold_sync():
            self.chart, self.first, self.boards = told["chart"], {}, told["boards"] or self.boards

    def _state(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        return {**self.state, **asked.get("state", {})}

    def _chord(self, asked: Mapping[str, Any]) -> Any:
        return self._explored.view(int(asked["view"])).chord

    def _named(self, asked: Mapping[str, Any]) -> dict[str, Any]:
        """What clicked places are called, how they sound as a line, and the phrase that a cell says them by."""
        picked = [(int(string), int(fret)) for string, fret in asked["picks"]]
        names = self._names(int(asked["chord"]))
        found = named_places(picked, self._explored, names)
        changes = pair_at(self._explored, int(asked["chord"]))
        line = picked_line(picked, changes, self._explored.tuning, lambda pitch: NoteName(names[pitch]))
        return found | {"line": shown(line), "code": phrase_code(line)}

    def _names(self, event: int) -> list[str]:
        """How the twelve pitch classes are spelled over the chord of an event, as texts."""
        return view_at(self._explored, event).names()

    def _homes(self, asked: Mapping[str, Any]) -> list[list[str]]:
        """Other ways to hear the whole, each with what speaks for it."""
        return [[one.home.pretty, one.why, str(one.home)] for one in readings(self._explored.chart)]

    def _backing(self, asked: Mapping[str, Any]) -> list[list[Any]]:
        chart = Chart.parse(str(self._explored.chart), feel=asked.get("feel") or None,
                            tempo=str(asked.get("tempo") or self._explored.chart.tempo))
        return backing_data(chart)

    def _send_bank(self, number: object) -> None:
        about, flac = bank_data()
        self.send({"number": number, "told": about}, buffers=[flac])

    def lesson(self, title: str, folder: Path, level: Level) -> Lesson:
        """A lesson with all that is set, not written yet."""
        return lesson_of(title, self._explored, self.state, folder, level)

    # -- what a cell shows -----------------------------------------------------------------------------------------
    def _ipython_display_(self) -> None:
        from IPython.display import display

        words = f"Explorer over {self._explored.chart}"
        display({HTML_MIME: f'<div class="vbx-place {self.mount}"></div>', "text/plain": words}, raw=True)
        display({HTML_MIME: still_html(self._explored, self.state), "text/plain": words}, raw=True)


def _place_of(asked: Mapping[str, str]) -> str:
    """A class for the place of an explorer, its own in the notebook and the same whenever its cells run in order."""
    from IPython.core.getipython import get_ipython

    shell = get_ipython()
    digest = hashlib.sha256(json.dumps(asked).encode()).hexdigest()[:8]
    return f"vbx-{getattr(shell, 'execution_count', 0)}-{digest}"


def _words() -> dict[str, Any]:
    """What the browser needs whatever the changes are."""
    signs = {role: {"size": marker.size, "text": marker.text, "word": marker.word,
                    "corners": [list(one) for one in marker.corners]} for role, marker in MARKERS.items()}
    return {"kinds": kinds_data(), "drills": [[name, way.label] for name, way in WAYS.items()], "signs": signs,
            "tunings": list(NAMED_TUNINGS), "keys": _KEYS, "feels": list(FEELS), "suffixes": list(_SUFFIXES)}


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
