"""A typed phrase as a line over a lesson's changes and on a lesson's neck, moved where the lesson was moved."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from theorylib.changes.charts import Chart, as_chart
from theorylib.changes.excerpts import excerpt
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.playing.lines import Line, Note
from theorylib.playing.phrase_text import own_changes, own_tuning
from theorylib.playing.values import Rhythm
from theorylib.practice.variations import moved_by

from ..files import read_text
from .derived import with_key


def placed_phrase(text: str, chart: Chart | None, neck: Tuning, *, up: int = 0,
                  rhythm: Rhythm | Fraction | str = "even") -> Line:
    """The line of a typed phrase over a chart, `up` half steps higher, on a neck; not fingered.

    The text is read in its own tuning, which it says or its rows say, else in the neck's. A place that sounds the same
    on the neck is kept, and so is a shape that only moves along it.
    """
    line = Line.parse(text, own_tuning(text) or neck, chart, rhythm=rhythm)
    if up:
        shape = line
        line = moved_by(line, up, None if chart is None else line.chart)
        line = _in_shape(line, shape, up)
    return line if neck in (STANDARD, line.tuning) else _on_neck(line, neck)


def from_bar(changes: Chart | str, bar: int) -> Chart:
    """The changes from one of their bars on and round to it again, for a phrase that begins in mid-form.

    The key stays the one in which the changes are heard from their beginning. Raises ChartError for no bar of theirs.

    >>> str(from_bar("| Am7 | D7 | Gmaj7 | % |", 3)).splitlines()[-1]
    '| Gmaj7 | Gmaj7 | Am7 | D7 |'
    """
    chart = with_key(as_chart(changes))
    return excerpt(chart, bar, chart.form_bars)


def same_chords(line: Line, other: Chart, up: int = 0) -> bool:
    """Do a line's own chords, `up` half steps higher, stand under its beats in other changes too?"""
    return _chords_under(line, up) == _chords_under(replace(line, chart=other), 0)


def _chords_under(line: Line, up: int) -> list[tuple[Fraction, int | None, str]]:
    """(onset, pitch class of the root, kind) of each chord under a line; one that is said again counts once."""
    found: list[tuple[Fraction, int | None, str]] = []
    for event in line.chords():
        root, kind = event.chord.root, event.chord.suffix
        pitch_class = None if root is None else (root.pitch_class + up) % 12
        if not found or found[-1][1:] != (pitch_class, kind):
            found.append((event.onset_beats, pitch_class, kind))
    return found


def typed_phrase(file: Path) -> tuple[str, str | None]:
    """A phrase's text from a file, and the changes that its heading names (None where it names none)."""
    text = read_text(file).strip("\n")
    own = own_changes(text)
    return text, None if own is None else str(own)


def in_its_tuning(text: str, tuning: Tuning | str, chart: Chart) -> str:
    """A phrase's text with the tuning that it is typed in, so that it is read alike on every neck; raises LineError."""
    if own_tuning(text) is not None:
        Line.parse(text, own_tuning(text) or STANDARD, chart)
        return text
    neck = Line.parse(text, as_tuning(tuning), chart).tuning
    return f"tuning: {neck if neck.capo else neck.name}\n{text}"


def _in_shape(line: Line, shape: Line, up: int) -> Line:
    """The moved line at the places of its shape, so many frets higher, where all of them lie on the neck."""
    frets = [note.fret for note in shape.notes if note.fret is not None]
    if not frets or min(frets) < 1 or not 1 <= min(frets) + up <= max(frets) + up <= line.tuning.last_fret:
        return line
    notes = [replace(note, string=one.string, fret=None if one.fret is None else one.fret + up, finger=one.finger)
             for note, one in zip(line.notes, shape.notes, strict=True)]
    return replace(line, notes=tuple(notes))


def _on_neck(line: Line, neck: Tuning) -> Line:
    """The line on another neck, with the places that sound the same there."""
    def placed(note: Note) -> Note:
        if note.place is not None and note.place in neck.places(note.fretted_midi):
            return note
        return replace(note, string=None, fret=None, finger=None)

    return replace(line.with_notes(placed), tuning=neck)
