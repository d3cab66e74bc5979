"""A line as TAB in plain signs that reads back to the same: a row of note values, a row for each string, rows of marks.

What the signs of TAB write exactly is written with them; a note with any other mark has all its marks in the row under
the strings, by the signs of the table of marks. Fingers have a row of their own, and so have names of notes where the
changes alone would spell them otherwise. The notes of a chord are read back from the lowest string to the highest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ..errors import LineError
from ..names.spelling import Pitch
from .context import Context, context_of
from .lines import NODES, Line, Mark, Note
from .marks import AFTER, AROUND, BEFORE, FALLS, INSTEAD, MARKS, OVER, RISES, SHIFTS
from .values import value_text
from .words import mark_text

WIDTH = 76  # signs a line
_VALUES, _MARKS, _FINGERS, _NAMES = "values", "marks", "fingers", "names"
_SPANS = [kind for kind, row in MARKS.items() if row.where == OVER]
_BELOW = (_MARKS, _FINGERS, _NAMES)
_SIZES = {Fraction(1, 2): "¼", Fraction(3, 2): "¾"}  # semitones of a bend that ends between two frets


@dataclass(slots=True)
class _Column:
    """One moment: by row (a string's number, or a name) what stands there; `lead` is what stands before the fret."""

    cells: dict[int | str, str] = field(default_factory=dict)
    lead: dict[int, str] = field(default_factory=dict)


def print_tab(line: Line, width: int = WIDTH) -> str:
    """The line as TAB; raises LineError for a note without a place."""
    bars = _bars(line)
    names = _string_names(line)
    used = {row for bar in bars for column in bar for row in column.cells}
    margin = max([len(name) for name in names] + [len(row) for row in _BELOW if row in used])
    blocks = [_block(bar, len(names)) for bar in bars]
    systems: list[str] = []
    start = 0
    while start < len(blocks):
        end, taken = start, margin + 1
        while end < len(blocks) and (end == start or taken + len(blocks[end][1]) + 1 <= width):
            taken += len(blocks[end][1]) + 1
            end += 1
        systems.append("\n".join(_rows(blocks[start:end], names, margin)))
        start = end
    return "\n\n".join(systems)


def _string_names(line: Line) -> list[str]:
    """The strings' names, the thinnest in small letters where another has the same name."""
    names = [str(pitch.name) for pitch in line.tuning.open_strings]
    return [name.lower() if index == 0 and name in names[1:] else name for index, name in enumerate(names)]


def _rows(blocks: Sequence[dict[int | str, str]], names: Sequence[str], margin: int) -> Iterator[str]:
    for row in (*_SPANS, _VALUES):
        said = " ".join(block[row] for block in blocks).rstrip()
        if said:
            yield " " * (margin + 1) + said
    for string, name in enumerate(names, 1):
        yield f"{name:>{margin}}|" + "|".join(block[string] for block in blocks) + "|"
    for row in _BELOW:
        said = " ".join(block[row] for block in blocks).rstrip()
        if said:
            yield f"{row:<{margin}} {said}"


def _block(columns: Sequence[_Column], strings: int) -> dict[int | str, str]:
    """A bar's rows, all of one width: a dash first, then each moment with a dash after it."""
    rows: dict[int | str, list[str]] = {row: ["-"] for row in range(1, strings + 1)}
    rows |= {row: [" "] for row in (*_SPANS, _VALUES, *_BELOW)}
    for column in columns:
        lead = max(map(len, column.lead.values()), default=0)
        width = max(map(len, column.cells.values()), default=1)
        for row, parts in rows.items():
            fill = " " if isinstance(row, str) else "-"
            before = column.lead.get(row, "") if isinstance(row, int) else ""
            cell = column.cells.get(row, "")
            if row in _SPANS and cell:
                parts.append(" " * lead + cell.ljust(width, "-") + " ")
            else:
                parts.append(before.rjust(lead, fill) + cell.ljust(width, fill) + fill)
    return {row: "".join(parts) for row, parts in rows.items()}


# -- the columns -----------------------------------------------------------------------------------------------------
def _bars(line: Line) -> list[list[_Column]]:
    """The columns of each bar, rests among them."""
    context, bar = context_of(line.chart), line.chart.bar_beats
    bars: list[list[_Column]] = [[] for _ in range(line.bar_count)]
    before: dict[int, Note] = {}  # by string, the note before
    now = Fraction(0)
    for together in _together(line):
        first = together[0]
        _rest(bars, now, first.onset_beats, bar)
        column = _Column({_VALUES: value_text(first.duration_beats)})
        for note in together:
            _put(column, line, note, before)
        _beside(column, together, context)
        bars[int(first.onset_beats // bar)].append(column)
        before.update({note.string or 0: note for note in together})
        now = first.end_beats
    _rest(bars, now, line.length_beats, bar)
    return bars


def _rest(bars: list[list[_Column]], now: Fraction, until: Fraction, bar: Fraction) -> None:
    """Rests from one beat to another, none across a bar line."""
    while now < until:
        end = min(until, (now // bar + 1) * bar)
        bars[int(now // bar)].append(_Column({_VALUES: f"r{value_text(end - now)}"}))
        now = end


def _together(line: Line) -> Iterator[list[Note]]:
    found: list[Note] = []
    for note in line.notes:
        if found and note.onset_beats != found[0].onset_beats:
            yield found
            found = []
        found.append(note)
    if found:
        yield found


def _put(column: _Column, line: Line, note: Note, before: dict[int, Note]) -> None:
    """A note's fret and marks."""
    if note.string is None or note.fret is None:
        raise LineError(f"{note.pitch} at beat {note.onset_beats} has no place", value=str(note.pitch),
                        expected="a line with string and fret on each note: finger(line)")
    signs = _in_signs(note, before.get(note.string))
    if signs is None:
        said = ",".join(f"{note.string}:{mark_text(mark)}" for mark in note.marks)
        column.cells[_MARKS] = ",".join(filter(None, (column.cells.get(_MARKS, ""), said)))
        column.cells[note.string] = str(note.fret)
        return
    column.lead[note.string], column.cells[note.string] = signs
    for mark in note.marks:
        if MARKS[mark.kind].where == OVER:
            column.cells[mark.kind] = min(MARKS[mark.kind].tab, key=len)


def _in_signs(note: Note, before: Note | None) -> tuple[str, str] | None:
    """(what stands before the fret, the fret with what follows), or None where signs do not say it all in order."""
    lead, fret, after, around = "", str(note.fret), "", ""
    moves = [mark for mark in note.marks if MARKS[mark.kind].moves]
    plain = [mark for mark in note.marks if not MARKS[mark.kind].moves]
    moves_are_last = list(note.marks) == [*plain, *moves]
    if not moves_are_last or not _are_in_order([mark.kind for mark in plain]):
        return None
    for mark in plain:
        row = MARKS[mark.kind]
        if mark.value != (row.usual or 0) or mark.at_beats:
            return None
        if row.where == BEFORE:
            sign = _before(mark.kind, note, before)
            if not sign or lead:
                return None
            lead = sign
        elif row.where == AROUND:
            if around or (mark.kind == "harmonic" and note.fret not in NODES):
                return None
            around = row.tab[0]
        elif row.where == INSTEAD and note.fret == 0:
            fret = row.tab[0]
        elif row.where == AFTER:
            after += row.tab[0]
        elif row.where != OVER:
            return None
    if around:
        fret = around[0] + fret + around[1]
    bends = _moves(note, moves)
    is_dead = any(mark.kind == "dead" for mark in plain)
    if bends is None or (moves and is_dead):  # a note without a pitch has none to bend
        return None
    return lead, fret + after + bends


def _are_in_order(kinds: list[str]) -> bool:
    """Are marks as the reader gives them back: each once, what holds over many notes first, then as in MARKS?"""
    order = [*_SPANS, *(kind for kind in MARKS if kind not in _SPANS)]
    return kinds == sorted(set(kinds), key=order.index)


def _before(kind: str, note: Note, before: Note | None) -> str:
    """The sign before a fret; empty where it would not be read back as this mark."""
    row = MARKS[kind]
    if not row.joins:
        return row.tab[0]
    if before is None or before.end_beats != note.onset_beats or before.fret is None or note.fret is None:
        return ""
    way = note.fret - before.fret
    if row.joins == SHIFTS:
        return "" if not way else row.tab[0] if len(row.tab) == 1 or way > 0 else row.tab[1]
    true = way > 0 if row.joins == RISES else way < 0 if row.joins == FALLS else way == 0
    return row.tab[0] if true else ""


def _moves(note: Note, moves: Sequence[Mark]) -> str | None:
    """Bends and releases after their fret, where they share the note's time evenly; None where they do not."""
    said, level = "", Fraction(note.fret or 0)
    for number, mark in enumerate(moves):
        row = MARKS[mark.kind]
        if mark.at_beats != note.duration_beats * number / len(moves):
            return None
        level += mark.value * row.moves
        said += row.tab[0]
        if level.denominator == 1 and 0 <= level <= 99:
            said += str(level)
        elif row.moves > 0 and mark.value in _SIZES:
            said += _SIZES[mark.value]
        else:
            return None
    return said


def _beside(column: _Column, together: Sequence[Note], context: Context) -> None:
    """Fingers, and names where the changes alone would not give them."""
    order = sorted(together, key=lambda note: -(note.string or 0))
    if any(note.finger is not None for note in order):
        column.cells[_FINGERS] = ",".join("." if note.finger is None else str(note.finger) for note in order)
    names = [_name(note, context) for note in order]
    if any(names):
        column.cells[_NAMES] = "+".join(name or "_" for name in names)


def _name(note: Note, context: Context) -> str:
    own = context.pitch(note.pitch.midi, note.onset_beats)
    name = "" if own == note.pitch else str(note.pitch)
    degree = context.degree(Pitch.of_midi(note.pitch.midi, note.pitch.name), note.onset_beats)
    return name + ("" if degree == note.degree else f"({note.degree})")
