"""TAB as people type it → a line: which strings the rows are, which notes stand together, what the rows beside say.

The rows beside the strings: note values (see tab_rhythm); `PM----` and `let ring----` over the notes they last for;
`d` and `u` for pick strokes, and any other mark by the sign that the table of marks gives it, under its note; rows
that begin with “fingers” or “degrees”. Any other line is prose and is passed over.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..changes.charts import Chart
from ..errors import VampError
from ..names.spelling import Pitch
from ..necks.tunings import STANDARD, Tuning
from .context import Context, context_of
from .lines import NODES, Line, Mark, Note
from .marks import JOINING, MARKS
from .tab_beside import beside
from .tab_heads import Head, StringReader
from .tab_rhythm import (
    Moment,
    Value,
    by_spacing,
    by_values,
    counts_in,
    evenly,
    side_of,
    stands_in_its_bar,
    value_row,
)
from .tab_rows import Row, System, find_systems
from .typed import Typed
from .values import EVEN, SPACING, value_text

_BASS = "GDAE"  # four rows of these names may be a bass or a guitar's middle strings


def read_tab(typed: Typed, tuning: Tuning, chart: Chart, rhythm: Fraction | str = EVEN) -> Line:
    """The line of a TAB; `rhythm` says what holds where it has no row of values: a word, or each note's beats.

    Raises PhraseError with the place of what cannot be read.
    """
    text, systems = find_systems(typed, len(tuning.open_strings))
    neck, numbers = _strings(text, systems[0], tuning)
    for system in systems[1:]:
        _same_strings(text, systems[0], system)
    heads, widths = _heads(text, systems, neck, numbers)
    grouped = [list(_moments(text, inside)) for inside in heads]
    moments, end = _timed(text, Written(systems, grouped, widths), chart, rhythm)
    for system, inside in zip(systems, grouped, strict=True):
        beside(text, system, [head for moment in inside for head in moment.heads], _is_values(text, system))
    return _line(text, moments, neck, chart, end)


# -- strings ---------------------------------------------------------------------------------------------------------
def _strings(text: Typed, system: System, tuning: Tuning) -> tuple[Tuning, tuple[int, ...]]:
    """The tuning that the rows are of, and the string of each row."""
    names = [row.name for row in system.rows]
    here = system.rows[0]
    if all(name.isdecimal() for name in names):
        return tuning, tuple(int(name) for name in names)
    if not any(names):
        if len(names) != len(tuning.open_strings):
            raise text.wrong(f"{len(names)} rows and a tuning of {len(tuning.open_strings)} strings ({tuning})",
                             here.line, 0, value=len(names), expected="a row for each string, or a tuning to fit")
        return tuning, tuple(tuning.strings)
    if not all(names):
        row = next(row for row in system.rows if not row.name)
        raise text.wrong("this row has no string's name, others of its system have", row.line, 0,
                         expected="a name before each row, or before none")
    written = [name[0].upper() + name[1:] for name in names]
    own = [str(pitch.name) for pitch in tuning.open_strings]
    if written == own:
        return tuning, tuple(tuning.strings)
    if written == own[::-1]:
        return tuning, tuple(tuning.strings)[::-1]
    return _other_strings(text, here, written, own, tuning)


def _other_strings(text: Typed, here: Row, written: Sequence[str], own: Sequence[str],
                   tuning: Tuning) -> tuple[Tuning, tuple[int, ...]]:
    """Rows that are not just the tuning's: some of its strings, or another tuning where none was asked for."""
    starts = [start for start in range(len(own) - len(written) + 1) if own[start:start + len(written)] == list(written)]
    if len(starts) == 1 and "".join(written) != _BASS:
        return tuning, tuple(range(starts[0] + 1, starts[0] + 1 + len(written)))
    names = " ".join(reversed(written))
    if tuning != STANDARD or len(written) < 4:
        raise text.wrong(f"the rows are named {' '.join(written)}, the strings are {' '.join(own)}", here.line, 0,
                         value=" ".join(written), expected=f"rows of the tuning {tuning}")
    if "".join(written) == _BASS:
        raise text.wrong("four rows G D A E: a bass, or four strings of a guitar?", here.line, 0, value="G D A E",
                         expected="tuning=\"bass\", or a row for each of the six strings")
    try:
        return Tuning.parse(names), tuple(range(1, len(written) + 1))
    except VampError as error:
        raise text.wrong(f"the rows are named {' '.join(written)}: {error.message}", here.line, 0, value=names,
                         expected="tuning= with its pitches from low to high") from error


def _same_strings(text: Typed, first: System, system: System) -> None:
    if [row.name.upper() for row in system.rows] != [row.name.upper() for row in first.rows]:
        raise text.wrong("the rows of this system are not those of the first", system.rows[0].line, 0,
                         value=" ".join(row.name for row in system.rows),
                         expected=" ".join(row.name for row in first.rows) or f"{len(first.rows)} rows")


# -- notes -----------------------------------------------------------------------------------------------------------
def _heads(text: Typed, systems: Sequence[System], tuning: Tuning,
           numbers: Sequence[int]) -> tuple[list[list[Head]], list[int]]:
    """The heads of each system, and the width of each bar."""
    for string in numbers:
        if string not in tuning.strings:
            raise text.wrong(f"there is no string {string}", systems[0].rows[0].line, 0, value=string)
    readers = {string: StringReader(text, string, tuning) for string in numbers}
    heads: list[list[Head]] = []
    widths: list[int] = []
    for system in systems:
        inside: list[Head] = []
        for row, string in zip(system.rows, numbers, strict=True):
            inside += readers[string].read(row, len(widths))
        _aligned(text, system, inside, len(widths))
        for edges in zip(*(row.bars for row in system.rows), strict=True):
            widths.append(max(end - start for start, end in edges))
        heads.append(inside)
    for reader in readers.values():
        reader.close()
    return heads, widths


def _aligned(text: Typed, system: System, heads: Sequence[Head], first_bar: int) -> None:
    """Give each head its column within the bar, counted so that rows agree; raises PhraseError where they do not."""
    rows = {row.line: row for row in system.rows}
    by_bar: dict[int, list[Head]] = {}
    for head in heads:
        by_bar.setdefault(head.bar - first_bar, []).append(head)
    for bar, inside in by_bar.items():
        used = {head.line for head in inside}
        edges = [rows[line].bars[bar] for line in used]
        own_start = len({end - start for start, end in edges}) <= 1
        # Names of different lengths shift rows against each other; then the columns of the page may agree instead.
        if not own_start and len({end for _, end in edges}) > 1 and system.rows[0].closed:
            widths = sorted(edges, key=lambda edge: edge[1] - edge[0])
            line = next(line for line in used if rows[line].bars[bar] == widths[-1])
            wide, narrow = (edge[1] - edge[0] for edge in (widths[-1], widths[0]))
            where = f"bar {first_bar + bar + 1} is {wide} columns wide on this string and {narrow} on another"
            raise text.wrong(f"{where}: which notes stand together?", line, max(0, widths[-1][1] - 1),
                             expected="rows of one width between bar lines")
        for head in inside:
            head.offset = head.column - (rows[head.line].bars[bar][0] if own_start else
                                         min(start for start, _ in edges))


def _moments(text: Typed, heads: Sequence[Head]) -> Iterator[Moment]:
    """Heads that overlap in their columns, in order, and the moves that stand apart between them."""
    spots: list[tuple[int, int, int, Head, bool, int]] = []
    for index, head in enumerate(heads):
        spots.append((head.bar, head.offset, head.offset + head.width, head, True, index))
        for number, move in enumerate(head.moves):
            if move.column is not None:
                offset = head.offset + move.column - head.column
                spots.append((head.bar, offset, offset + 1, head, False, number))
    current: Moment | None = None
    for bar, start, end, head, struck, number in sorted(spots, key=lambda spot: (spot[0], spot[1], spot[5])):
        if current is None or bar != current.bar or start >= current.end:
            if current is not None:
                yield current
            current = Moment(bar, start, end)
        current.end = max(current.end, end)
        if struck:
            other = next((one for one in current.heads if one.string == head.string), None)
            if other is not None:
                raise text.wrong("two frets of one string stand under one note of another", head.line, head.column,
                                 value=head.fret, expected="a column for each moment")
            current.heads.append(head)
        else:
            current.moves.append((head, head.moves[number]))
    if current is not None:
        yield current


# -- time ------------------------------------------------------------------------------------------------------------
def _is_values(text: Typed, system: System) -> set[int]:
    return {line for line in (*system.above, *system.below) if value_row(text, [line])}


@dataclass(frozen=True, slots=True)
class Written:
    """The systems of a TAB, the moments in each, and the columns of each bar."""

    systems: Sequence[System]
    moments: Sequence[list[Moment]]
    widths: Sequence[int]


def _timed(text: Typed, written: Written, chart: Chart, rhythm: Fraction | str) -> tuple[list[Moment], Fraction]:
    """All moments with their onsets and lengths, and where the line ends."""
    barred = all(row.closed for system in written.systems for row in system.rows)
    bars = len(written.widths)
    if rows := _rows_of_values(text, written.systems):
        moments, end = _by_rows(text, written, rows)
        if barred:
            stands_in_its_bar(text, moments, chart.bar_beats)
            _fills(text, moments, end - bars * chart.bar_beats)
        return moments, end
    for system in written.systems:
        if counts := counts_in(text, (*system.above, *system.below)):
            raise text.wrong("a row that counts the beats is not read", *counts,
                             expected="a row of note values: w h q e s t, r before the letter of a rest")
    moments = [moment for inside in written.moments for moment in inside if moment.heads]
    if rhythm == SPACING:
        by_spacing(text, moments, written.widths, chart.bar_beats)
    else:
        evenly(text, moments, chart.bar_beats, rhythm if isinstance(rhythm, Fraction) else None, barred)
    return moments, bars * chart.bar_beats if barred else Fraction(0)


def _rows_of_values(text: Typed, systems: Sequence[System]) -> list[list[Value]]:
    """Each system's row of note values, or nothing where no system has one."""
    side = side_of(text, systems)
    found = [value_row(text, getattr(system, side)) for system in systems]
    for rows in found:
        if len(rows) > 1:
            raise text.wrong("two rows of note values for one system", rows[1][0].line, rows[1][0].column,
                             expected="one row of values")
    if not any(found):
        return []
    for system, rows in zip(systems, found, strict=True):
        if not rows:
            raise text.wrong("this system has no row of note values, another has", system.rows[0].line, 0,
                             expected="a row of values for each system, or for none")
    return [rows[0] for rows in found]


def _by_rows(text: Typed, written: Written, rows: Sequence[list[Value]]) -> tuple[list[Moment], Fraction]:
    """The moments timed by the note values beside each system, one system after the other."""
    moments: list[Moment] = []
    now = Fraction(0)
    for inside, row in zip(written.moments, rows, strict=True):
        timed, now = by_values(text, inside, row, now)
        moments += timed
    return moments, now


def _fills(text: Typed, moments: Sequence[Moment], more: Fraction) -> None:
    """Raise PhraseError where the note values go on beyond the last bar."""
    if more > 0 and moments:
        raise text.wrong(f"the note values go on for {value_text(more)} after the last bar", *moments[-1].place,
                         value=str(more), expected="values that fill the bars")


# -- the line --------------------------------------------------------------------------------------------------------
def _line(text: Typed, moments: Sequence[Moment], tuning: Tuning, chart: Chart, end: Fraction) -> Line:
    context = context_of(chart)
    later = _later_moves(moments)
    notes: list[Note] = []
    heads: list[Head] = []
    for moment in moments:
        for head in sorted(moment.heads, key=lambda one: -one.string):
            length = moment.duration_beats + later.get(id(head), (Fraction(0), {}))[0]
            notes.append(_note(head, moment.onset_beats, length, tuning, context, later))
            heads.append(head)
    try:
        line = Line(tuple(notes), chart, tuning, length_beats=end)
    except VampError as error:
        raise text.wrong(error.message, heads[0].line if heads else 0, 0, expected=error.expected) from error
    _joins_hold(text, line, heads)
    return line


def _later_moves(moments: Sequence[Moment]) -> dict[int, tuple[Fraction, dict[int, Fraction]]]:
    """By head: how much longer it lasts for moves with time of their own, and the beat at which each begins."""
    found: dict[int, tuple[Fraction, dict[int, Fraction]]] = {}
    for moment in moments:
        for head, move in moment.moves:
            if moment.heads:
                continue  # it falls together with another string's note, and changes no lengths
            more, begins = found.setdefault(id(head), (Fraction(0), {}))
            begins[id(move)] = moment.onset_beats
            found[id(head)] = (more + moment.duration_beats, begins)
    return found


def _note(head: Head, onset: Fraction, length: Fraction, tuning: Tuning, context: Context,
          later: dict[int, tuple[Fraction, dict[int, Fraction]]]) -> Note:
    kinds = [kind for kind in MARKS if kind in head.kinds]
    begins = later.get(id(head), (Fraction(0), {}))[1]
    marks = list(head.spans)
    marks += [Mark(kind, MARKS[kind].usual or Fraction(0)) for kind in kinds]
    share = length / max(1, len(head.moves))
    for number, move in enumerate(head.moves):
        begin = begins[id(move)] - onset if id(move) in begins else number * share
        marks.append(Mark(move.kind, move.semitones, begin))
    marks += head.more
    sounding = tuning.midi(head.string, head.fret)
    if "harmonic" in kinds:
        sounding += NODES[head.fret] - head.fret
    if any(mark.kind == "tapped harmonic" for mark in marks):
        sounding += 12
    pitch = context.pitch(sounding, onset)
    name, _, said = head.names.rstrip(")").partition("(")
    if name:
        pitch = Pitch.of_midi(sounding, Pitch.parse(name).name)
    degree = said if "(" in head.names else context.degree(pitch, onset)
    return Note(pitch, onset, length, head.string, head.fret, head.finger, degree, tuple(marks))


def _joins_hold(text: Typed, line: Line, heads: Sequence[Head]) -> None:
    """Raise PhraseError at a join whose two notes do not touch."""
    for index, head in enumerate(heads):
        kind = next((kind for kind in head.kinds if kind in JOINING), None)
        if kind is not None and line.joined_from(index) is None:
            raise text.wrong(f"this {kind} joins no note: the one before on its string has ended", head.line,
                             head.column, value=head.fret, expected="two notes of one string with nothing between")


