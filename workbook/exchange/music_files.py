"""The door for files of music: MusicXML (plain or packed) and MIDI, told apart by what they hold, read into a line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from theorylib.changes.charts import Chart, as_chart
from theorylib.changes.excerpts import excerpt
from theorylib.errors import MusicFileError, closest, shown
from theorylib.limits import is_whole
from theorylib.names.scales import Scale, as_scale
from theorylib.necks.tunings import Tuning, as_tuning

from .fitted import fitted, in_key, spelled
from .midi_in import is_midi, score_of_midi
from .musicxml_in import score_of_musicxml
from .safe_xml import MOST_BYTES
from .score_lines import ANYTHING, Imported, Wanted, line_of_score

FURTHEST_OCTAVES = 4
_WHAT = "a MusicXML file (.musicxml, .xml, .mxl) or a MIDI file (.mid)"


def read_music(path: str | Path, *, over: Chart | str | None = None, from_bar: int | None = None,
               position: int | str | None = None, tuning: Tuning | str | None = None, key: Scale | str | None = None,
               octaves: int = 0, top: bool = False, grid: str | None = None, bars: str | int | None = None,
               part: str | int | None = None, staff: int | None = None, voice: str | int | None = None) -> Imported:
    """A line from a file, fingered, with what could not be kept.

    `over` is a chart in place of the file's own, from bar `from_bar` on; `position` and `tuning` as in `finger`. `part`
    is a number from 1 or a name; `staff`, `voice` and `bars` ("5-8") go by the file's own numbers. `key` moves notes
    and changes from the file's key to another; `octaves` moves all notes; `top` keeps the highest of those struck
    together.
    `grid` is that of a MIDI file ("8ths", "8th triplets", "16ths", "16th triplets"; None: the one that fits). Raises
    MusicFileError where the file cannot be read or has no such part, FingeringError for notes that are not on the neck.
    """
    chart = None if over is None else as_chart(over)
    if chart is not None and from_bar is not None:
        chart = excerpt(chart, from_bar, len(chart.order))
    wanted = Wanted(part, staff, None if voice is None else str(voice), bars, chart,
                    None if tuning is None else as_tuning(tuning), _octaves(octaves), bool(top))
    read = line_of_bytes(_content(path), wanted, grid)
    if key is not None:
        read = in_key(read, as_scale(key), over is not None)
    return fitted(read, position)


def line_of_bytes(content: bytes, wanted: Wanted = ANYTHING, grid: str | None = None) -> Imported:
    """The same from the content of a file, not yet fingered."""
    if not is_midi(content):
        return line_of_score(score_of_musicxml(content), wanted)
    read = line_of_score(score_of_midi(content, grid), wanted)
    return replace(read, line=spelled(read.line))


def line_of_text(text: str) -> Imported:
    """The same from the text of a MusicXML document."""
    return line_of_score(score_of_musicxml(text))


def _octaves(value: object) -> int:
    if is_whole(value, -FURTHEST_OCTAVES, FURTHEST_OCTAVES):
        return value  # type: ignore[return-value]
    raise MusicFileError(f"“{shown(value)}” is no number of octaves", value=value,
                         expected=f"a whole number from -{FURTHEST_OCTAVES} to {FURTHEST_OCTAVES}")


def _content(path: str | Path) -> bytes:
    if not isinstance(path, str | Path) or "\0" in str(path):
        raise MusicFileError(f"“{shown(path)}” is no path of a file", value=path, expected=_WHAT)
    file = Path(path)
    try:
        if file.stat().st_size > MOST_BYTES:
            raise MusicFileError(f"{file.name} is too long", value=str(path), expected=f"{MOST_BYTES:,} bytes at most")
        return file.read_bytes()
    except OSError as error:
        near = closest(file.name, [one.name for one in file.parent.iterdir()]) if file.parent.is_dir() else ()
        raise MusicFileError(f"{shown(file, 120)} cannot be opened: {error.strerror or error}", value=str(path),
                             expected=_WHAT, nearest=near) from error
