"""The recording that a lesson is played over: found beside it with its bars, and made fit for the page.

The lesson's choices name it (`track = "groove.wav"`); where its bars lie is told by the text beside it (grid_text.py).
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, floor
from pathlib import Path
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import VampError, shown

from ..files import read_text
from ..lesson.choices import PARAMETERS
from ..lesson.lesson import Lesson
from ..media.beside import HEARD, is_within, nearest_beside
from ..media.grid_text import BARS, grid_path, read_bars
from ..play.own_recording import packed, seconds_of
from ..play.plucked import RATE
from ..reader import reader
from .brought import Told
from .errors import HandoutError
from .own_track_fits import refuse_other_music, refuse_other_recording, refuse_other_tempo, stands_on
from .tracks import chart_of

SLOWEST, FASTEST = 0.5, 1.3  # shares of its tempo between which the page plays it, as own_track.js has them


@dataclass(frozen=True, slots=True)
class OwnTrack:
    """A recording of the teacher's: its file, what the text beside it says, the edges of its bars in seconds, and the
    cell that names it."""

    path: Path
    name: str
    text: str
    edges: tuple[float, ...]
    cell: int

    def limits(self, bar_beats: float) -> tuple[int, int]:
        """The slowest and the fastest tempo at which the page plays it."""
        own = self.tempo(bar_beats)
        return ceil(SLOWEST * own), floor(FASTEST * own)

    def tempo(self, bar_beats: float) -> float:
        """Quarter notes a minute over its whole length, for bars of so many quarter notes."""
        return 60 * bar_beats * (len(self.edges) - 1) / (self.edges[-1] - self.edges[0])

    @property
    def files(self) -> tuple[str, str]:
        """What lies beside the lesson, by path from its folder."""
        text = Path(self.name)
        return self.name, grid_path(text).as_posix()


def own_track(lesson: Lesson) -> OwnTrack | None:
    """The recording that a lesson names; raises HandoutError, at its cell, where it or its bars are missing."""
    name = lesson.choices.get("track")
    if not name:
        return None
    cell = next((one.number for one in lesson.cells if one.is_code and PARAMETERS in one.tags), 0)
    try:
        return _found(lesson.folder, name, cell)
    except VampError as error:
        raise HandoutError(error.message, value=error.value, where=f"cell {cell}", expected=error.expected,
                           nearest=error.nearest) from error


def _found(folder: Path | None, name: object, cell: int) -> OwnTrack:
    if not isinstance(name, str) or folder is None:
        raise HandoutError(f"the track “{shown(name)}” cannot be looked for", value=name,
                           expected="the name of a recording beside a lesson that is saved")
    path = folder / name
    is_inside = not Path(name).is_absolute() and is_within(path, folder)
    if not is_inside or not path.is_file():
        raise HandoutError(f"the track {shown(name)} is not beside the lesson", value=name,
                           expected="a recording in the lesson's folder, which goes where the lesson goes",
                           nearest=nearest_beside(folder, Path(name).as_posix(), HEARD) if is_inside else ())
    place = grid_path(path)
    text = read_text(place)
    edges = read_bars(text)
    if not edges:
        raise HandoutError(f"{place.name} says nothing of the bars of {path.name}", value=str(place),
                           expected=f"lines such as {BARS} 0.350 2.959 5.568")
    return OwnTrack(path, Path(name).as_posix(), text, edges, cell)


def _refuse_what_does_not_fit(track: OwnTrack, chart: Chart) -> None:
    """Raise, at the cell that names it, where the recording is another than its text's, or the lesson other music."""
    name, text_name = track.path.name, grid_path(track.path).name
    try:
        refuse_other_recording(name, text_name, track.text, track.edges, seconds_of(track.path))
        refuse_other_music(chart, name, text_name, track.text)
        refuse_other_tempo(float(chart.tempo), track.limits(float(chart.bar_beats)), name)
    except VampError as error:
        raise HandoutError(error.message, value=error.value, where=f"cell {track.cell}",
                           expected=error.expected) from error


def page_track(lesson: Lesson, *, sounds: bool) -> dict[str, Any] | None:
    """What the page needs of a lesson's recording; None for a lesson without one.

    `others` are the lines, from 1, that stand on other changes: under them it does not sound. Without `sounds` all but
    the recording itself. Raises HandoutError.
    """
    track, chart = own_track(lesson), chart_of(lesson)
    if track is None or chart is None:
        return None
    _refuse_what_does_not_fit(track, chart)
    beats = float(chart.bar_beats)
    data: dict[str, Any] = {
        "name": track.name, "bars": [round(edge, 4) for edge in track.edges], "beats": beats,
        "tempo": round(track.tempo(beats), 4), "limits": list(track.limits(beats)), "rate": RATE,
        "others": [order for order, (_, line) in enumerate(lesson.lines, 1) if not stands_on(chart, line.chart)]}
    if not sounds:
        return data | {"file": "", "seconds": track.edges[-1], "gain": 1}
    try:
        made = packed(track.path)
    except VampError as error:
        raise error.at(f"cell {track.cell}") from error
    return data | {"file": base64.b64encode(made.mp3).decode(), "seconds": round(made.seconds, 6), "gain": made.gain}


def told_of(track: OwnTrack, data: Mapping[str, Any], lesson: Lesson) -> Iterator[Told]:
    """For who builds it: how much the page holds of it, which lines go without it, and which tempos it cannot go at."""
    if data["file"]:
        size = len(data["file"]) * 3 / 4 / 1_000_000
        yield Told(track.cell, f"the page carries {track.name}, {size:.1f} MB as MP3")
    for order in data["others"]:
        cell, line = lesson.lines[order - 1]
        named = shown(line.title or "this line")
        yield Told(cell, f"{named} stands on other changes: the page plays it without {track.name}")
    low, high = data["limits"]
    asked = reader().tempos
    if asked is not None and asked[0] < low:
        words = f"the page plays {track.name} at ♩ = {low} to {high}: the steps from {asked[0]} on begin at {low}"
        yield Told(track.cell, words)
