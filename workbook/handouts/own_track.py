"""The recording that a lesson is played over: found beside it with its bars, and made fit for the page.

The lesson's choices name it (`track = "groove.wav"`); where its bars lie is told by the text beside it (grid_text.py).
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, floor
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, shown

from ..files import read_text
from ..lesson.choices import PARAMETERS
from ..lesson.lesson import Lesson
from ..media.beside import is_within
from ..media.grid_text import BARS, grid_path, read_bars
from ..play.own_recording import packed
from ..play.plucked import RATE
from .brought import Told
from .errors import HandoutError
from .tracks import chart_of

SLOWEST, FASTEST = 0.5, 1.3  # shares of its tempo between which the page plays it, as own_track.js has them


@dataclass(frozen=True, slots=True)
class OwnTrack:
    """A recording of the teacher's: its file, the edges of its bars in seconds, and the cell that names it."""

    path: Path
    name: str
    edges: tuple[float, ...]
    cell: int

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
    if Path(name).is_absolute() or not is_within(path, folder) or not path.is_file():
        raise HandoutError(f"the track {shown(name)} is not beside the lesson", value=name,
                           expected="a recording in the lesson's folder, which goes where the lesson goes")
    text = grid_path(path)
    edges = read_bars(read_text(text))
    if not edges:
        raise HandoutError(f"{text.name} says nothing of the bars of {path.name}", value=str(text),
                           expected=f"lines such as {BARS} 0.350 2.959 5.568")
    return OwnTrack(path, Path(name).as_posix(), edges, cell)


def page_track(lesson: Lesson, *, sounds: bool) -> dict[str, Any] | None:
    """What the page needs of a lesson's recording; None for a lesson without one.

    Without `sounds` all but the recording itself. Raises HandoutError.
    """
    track, chart = own_track(lesson), chart_of(lesson)
    if track is None or chart is None:
        return None
    beats = float(chart.bar_beats)
    tempo = track.tempo(beats)
    data: dict[str, Any] = {
        "name": track.name, "bars": [round(edge, 4) for edge in track.edges], "beats": beats, "tempo": round(tempo, 4),
        "limits": [ceil(SLOWEST * tempo), floor(FASTEST * tempo)], "rate": RATE}
    if not sounds:
        return data | {"file": "", "seconds": track.edges[-1], "gain": 1}
    try:
        made = packed(track.path)
    except VampError as error:
        raise error.at(f"cell {track.cell}") from error
    return data | {"file": base64.b64encode(made.mp3).decode(), "seconds": round(made.seconds, 6), "gain": made.gain}


def told_size(track: OwnTrack, data: Mapping[str, Any]) -> Told:
    """How much the page holds of it, for who builds it."""
    size = len(data["file"]) * 3 / 4 / 1_000_000
    return Told(track.cell, f"the page carries {track.name}, {size:.1f} MB as MP3")
