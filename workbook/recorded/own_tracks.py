"""A recording of the teacher's brought to a lesson: heard, and put beside it with the text that says where bars lie."""

from __future__ import annotations

import filecmp
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from theorylib.changes.charts import Chart

from ..files import FileError, keep_beside, read_bytes, read_text, write_new, write_whole
from ..listen.heard_text import chart_text
from ..listen.hearing import Heard, hear_recording
from ..listen.recording import read_recording
from ..listen.wishes import wishes
from ..media.grid_text import grid_path, tells_of_another

RIGHTS = ("Send a recording only where you have the right to: your own playing, or with leave of those whose work and "
          "sound it is.")


@dataclass(frozen=True, slots=True)
class Brought:
    """A recording that is to lie beside a lesson: the lesson's chart, the recording's `name` from the lesson's folder,
    and what was heard of it; `stated` is the text of its bars where it has one already."""

    chart: Chart
    name: str
    source: Path
    place: Path
    heard: Heard
    stated: str | None

    def passes(self, wanted: int) -> int:
        """How often a line may go through the changes: no further than the recording lasts."""
        return max(1, min(wanted, self.heard.grid.bar_count // self.chart.form_bars))

    def write(self, force: bool) -> list[str]:
        """Put the recording and the text of its bars beside the lesson; gives what is to be said of them."""
        grid = grid_path(self.place)
        if not self.place.exists():
            write_new(self.place, read_bytes(self.source))
        told = [str(self.place)]
        if self.stated is None:
            kept = keep_beside(grid) if grid.exists() and force else None
            (write_whole if kept else write_new)(grid, chart_text(self.heard, bars=True))
            told.append(f"{grid}" + (f"  (the one before: {kept})" if kept else ""))
        unsure = len(self.heard.unsure_bars)
        if unsure:
            told.append(f"{unsure} bar{'' if unsure == 1 else 's'} to be confirmed: see {grid}")
        return [*told, *(f"note: {note}" for note in self.heard.notes), RIGHTS]


def bring(source: Path, folder: Path, text: str, headers: Mapping[str, str | None]) -> Brought:
    """Hear a recording for a lesson in a folder; nothing is written yet.

    `text` is the chart's, or empty: then what lies beside the recording counts (x.grid.txt), else all is heard. The
    headers that are given count before it. Raises ListenError, or FileError where another file has the name.
    """
    place = source if _is_within(source, folder) else folder / source.name
    if place != source and place.exists() and not filecmp.cmp(place, source, shallow=False):
        raise FileError(f"{place} is another recording", value=str(place), expected="a recording of another name")
    beside = grid_path(place) if grid_path(place).is_file() else grid_path(source)
    stated = read_text(beside) if not text and beside.is_file() else None
    wished = wishes(chart=text or stated, **{word: headers[word] for word in ("tempo", "meter", "key")})
    recording = read_recording(source)
    if stated is not None and tells_of_another(stated, recording.seconds):
        lasts = f"{source.name}, which lasts {recording.seconds:.1f} s"
        raise FileError(f"{beside} tells of another recording than {lasts}", value=str(beside),
                        expected="a recording of another name; or delete its text, to hear it anew")
    heard = hear_recording(recording, wished)
    given = {"tempo": str(round(heard.chart.tempo)), "feel": headers["feel"], "key": headers["key"]}
    chart = Chart.parse(str(heard.chart), **{word: value for word, value in given.items() if value})
    return Brought(chart, place.relative_to(folder).as_posix(), source, place, heard,
                   stated if beside == grid_path(place) else None)


def _is_within(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())
