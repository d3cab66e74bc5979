"""What each call and answer of a chorus of phrases does, in words read from its notes."""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.names.spelling import pretty_accidentals
from theorylib.playing.context import context_of
from theorylib.playing.lines import Line, Note
from theorylib.practice.devices import devices
from theorylib.practice.idioms import CALL
from theorylib.practice.phrase_plan import Statement
from theorylib.reading.chordscales import counted_degree


def statements_list(line: Line, statements: Sequence[Statement]) -> str:
    """A bullet for each call and answer of a chorus: what its notes do, and the note on which it ends.

    What was said before is named by its bars.
    """
    rows: list[str] = []
    said: dict[str, Statement] = {}
    again: list[tuple[Statement, Statement]] = []  # a statement with the one that it says again
    cut = _cut_short(line, statements)
    for one in statements:
        notes = _notes_of(line, one)
        if not notes:
            continue
        if one.leads_back:
            rows += [*_again_words(again), _leading_words(line, one, notes)]
            again = []
            continue
        before = said.setdefault(one.idiom.name, one)
        if one is cut and before is not one:
            rows += [*_again_words(again), _homecoming_words(line, one, before)]
            again = []
            continue
        follows_on = not again or (before is not one and before.first == again[-1][1].last + 1)
        if not follows_on:
            rows += _again_words(again)
            again = []
        if before is one:
            rows.append(_statement_words(line, one, notes))
        else:
            again.append((one, before))
    rows += _again_words(again)
    ending = line.notes[-1] if line.notes else None
    if ending is not None and _bar_of(line, ending) > statements[-1].last:
        bar = _bar_of(line, ending)
        rows.append(f"- **{_bars_words(bar, bar).capitalize()}** comes home. {_end_words(line, [ending])}")
    return "\n".join(rows)


def _notes_of(line: Line, one: Statement) -> list[Note]:
    return [note for note in line.notes if one.first <= _bar_of(line, note) <= one.last]


def _cut_short(line: Line, statements: Sequence[Statement]) -> Statement | None:
    """The statement that comes home before the form is over, where others lead back from there."""
    back = [one for one in statements if one.leads_back and _notes_of(line, one)]
    before = [one for one in statements if not one.leads_back and _notes_of(line, one)]
    return before[-1] if back and before else None


def _leading_words(line: Line, one: Statement, notes: Sequence[Note]) -> str:
    """“Bars 7–8 lead back to the beginning: a bend reaches the 5th. The last note is the 5 of C7.”"""
    does = "; ".join(devices(line, one.first, one.last))
    bars, verb = _bars_words(one.first, one.last).capitalize(), "lead" + "s" * (one.first == one.last)
    return f"- **{bars}** {verb} back to the beginning{': ' * bool(does)}{does}. {_end_words(line, notes)}"


def _homecoming_words(line: Line, one: Statement, before: Statement) -> str:
    """“Bars 5–6 begin as bars 1–2 and come home. The last note is the 1 of C.”"""
    notes = _notes_of(line, one)
    begin = f"begin as {_bars_words(before.first, before.last)} and " * (len(notes) > 1)
    return f"- **{_bars_words(one.first, one.last).capitalize()}** {begin}come home. {_end_words(line, notes)}"


def _statement_words(line: Line, one: Statement, notes: Sequence[Note]) -> str:
    does = "; ".join(devices(line, one.first, one.last))
    verb = ("ask" if one.idiom.role == CALL else "answer") + "s" * (one.first == one.last)
    bars = _bars_words(one.first, one.last).capitalize()
    return f"- **{bars}** {verb}{': ' * bool(does)}{does}. {_end_words(line, notes)}"


def _again_words(again: Sequence[tuple[Statement, Statement]]) -> list[str]:
    """“Bars 5–8 say bars 1–4 again, fitted to their chords.”"""
    if not again:
        return []
    now, before = (_bars_words(again[0][which].first, again[-1][which].last) for which in (0, 1))
    return [f"- **{now.capitalize()}** say {before} again, fitted to their chords."]


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
        return f"The last note is the {pretty_accidentals(counted_degree(note.degree, chord))} of {chord.pretty}."
    reached = context_of(line.chart).pitch(note.pitch.midi + int(bend.value), note.onset_beats)
    degree = context_of(line.chart).degree(reached, note.onset_beats)
    return f"The last note is bent up to the {pretty_accidentals(counted_degree(degree, chord))} of {chord.pretty}."
