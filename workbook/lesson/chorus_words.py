"""What each call and answer of a chorus of phrases does, in words read from its notes."""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.names.spelling import pretty_accidentals
from theorylib.playing.context import context_of
from theorylib.playing.lines import Line, Note
from theorylib.practice.devices import devices
from theorylib.practice.idioms import CALL
from theorylib.practice.phrasing import Statement


def statements_list(line: Line, statements: Sequence[Statement]) -> str:
    """A bullet for each call and answer of a chorus: what its notes do, and the note on which it ends."""
    rows: list[str] = []
    said: dict[str, str] = {}
    for one in statements:
        bars = _bars_words(one.first, one.last)
        notes = [note for note in line.notes if one.first <= _bar_of(line, note) <= one.last]
        if not notes:
            continue
        before = said.setdefault(one.idiom.name, bars)
        asks = one.idiom.role == CALL
        does = "; ".join(devices(line, one.first, one.last))
        if before != bars:
            does = f"{'the question' if asks else 'the answer'} of {before} again, fitted to its chords"
        verb = ("ask" if asks else "answer") + "s" * (one.first == one.last)
        rows.append(f"- **{bars.capitalize()}** {verb}{': ' * bool(does)}{does}. {_end_words(line, notes)}")
    ending = line.notes[-1] if line.notes else None
    if ending is not None and _bar_of(line, ending) > statements[-1].last:
        rows.append(f"- **{_bars_words(_bar_of(line, ending), _bar_of(line, ending)).capitalize()}** comes home. "
                    f"{_end_words(line, [ending])}")
    return "\n".join(rows)


def _bars_words(first: int, last: int) -> str:
    return f"bar {first}" if first == last else f"bars {first}–{last}"


def _bar_of(line: Line, note: Note) -> int:
    return int(note.onset_beats // line.chart.bar_beats) + 1


def _end_words(line: Line, notes: Sequence[Note]) -> str:
    """“The last note is the ♭3 of Cm7.”; of a bend, the note that it reaches."""
    note, chord = notes[-1], line.chart.chord_at(notes[-1].onset_beats)
    bend = note.marked("bend")
    if chord is None or chord.root is None or (bend is not None and bend.value < 1):
        return f"The last note is {note.pitch.name.pretty}."
    if bend is None:
        return f"The last note is the {pretty_accidentals(note.degree)} of {chord.pretty}."
    reached = context_of(line.chart).pitch(note.pitch.midi + int(bend.value), note.onset_beats)
    degree = context_of(line.chart).degree(reached, note.onset_beats)
    return f"The last note is bent up to the {pretty_accidentals(degree)} of {chord.pretty}."
