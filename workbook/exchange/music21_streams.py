"""Lines as music21's streams, and any stream of music21 as a line: by way of MusicXML, which both sides know.

music21 is an extra (`pip install vampbook[music21]`), imported where it is needed. It keeps pitches, rhythm, strings,
frets, fingers, chord symbols, key, meter, tempo and feel. It drops the kinds of mark in LOST, the tuning and capo (give
them again as a `passage`), and what only our own files hold: position, promise, degrees (worked out anew).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from theorylib.errors import MusicFileError, shown
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Line, as_line

from .fitted import fitted
from .music_files import line_of_bytes
from .musicxml import musicxml_text
from .passages import WHOLE, Passage
from .score_lines import Imported

if TYPE_CHECKING:
    from music21.stream import Score, Stream


LOST = ("dynamic", "let ring", "palm mute", "tie")  # as the tests find it, music21 10


def to_music21(lines: Line | str | Sequence[Line | str], *, title: str = "") -> Score:
    """One line, or several with a bar of rest between, as a score of music21's.

    >>> from theorylib import continuous_arpeggio
    >>> [str(note.nameWithOctave) for note in to_music21(continuous_arpeggio("| Am7 |", 4)).recurse().notes][1:]
    ['A2', 'C3', 'E3', 'G3']
    """
    from music21 import converter

    given = [lines] if isinstance(lines, Line | str) else lines
    text = musicxml_text([as_line(line) for line in given], title=title)
    return converter.parse(text, format="musicxml")


def from_music21(stream: Stream, passage: Passage = WHOLE, tuning: Tuning | None = None,
                 position: int | str | None = None) -> Imported:
    """A stream as a line, fingered, with what could not be kept; raises MusicFileError as files do."""
    exported = _exported(stream)
    return fitted(line_of_bytes(exported, passage, tuning=tuning), position)


def _exported(stream: Any) -> bytes:
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    try:
        return GeneralObjectExporter(stream).parse()
    except Exception as error:  # music21 raises whatever it stumbles over
        raise MusicFileError(f"music21 cannot write {shown(type(stream).__name__)} as MusicXML: {shown(error, 80)}",
                             value=shown(stream), expected="a stream of notes") from error
