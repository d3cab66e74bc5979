"""The door for files of music: MusicXML (plain or packed) and MIDI, told apart by what they hold, read into a line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import MusicFileError, closest, shown
from theorylib.names.scales import Scale, as_scale
from theorylib.necks.tunings import Tuning, as_tuning

from .fitted import fitted, in_key, spelled
from .midi_in import is_midi, score_of_midi
from .musicxml_in import score_of_musicxml
from .passages import WHOLE, Passage, as_passage
from .safe_xml import MOST_BYTES
from .score_lines import Imported, line_of_score

_WHAT = "a MusicXML file (.musicxml, .xml, .mxl) or a MIDI file (.mid)"


def read_music(path: str | Path, passage: Passage | str = WHOLE, over: Chart | str | None = None, *,
               tuning: Tuning | str | None = None, key: Scale | str | None = None,
               position: int | str | None = None) -> Imported:
    """A passage of a file as a line, fingered, with what could not be kept.

    `over` changes and on a neck in place of the file's own; `key` moves notes and changes from the file's key to
    another; `position` as in `finger`. Raises MusicFileError where the file cannot be read or has no such part,
    FingeringError for notes that are not on the neck.
    """
    chart, neck = None if over is None else as_chart(over), None if tuning is None else as_tuning(tuning)
    read = line_of_bytes(_content(path), as_passage(passage), chart, neck)
    if key is not None:
        read = in_key(read, as_scale(key), chart is not None)
    return fitted(read, position)


def line_of_bytes(content: bytes, passage: Passage = WHOLE, over: Chart | None = None,
                  tuning: Tuning | None = None) -> Imported:
    """The same from the content of a file, not yet fingered."""
    if not is_midi(content):
        return line_of_score(score_of_musicxml(content), passage, over, tuning)
    read = line_of_score(score_of_midi(content, passage.grid), passage, over, tuning)
    return replace(read, line=spelled(read.line))


def line_of_text(text: str) -> Imported:
    """The same from the text of a MusicXML document."""
    return line_of_score(score_of_musicxml(text))


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
