"""A line of words: pitches, places or degrees, note values and marks, for those who think in notes; read and printed.

    e A3 C4 E4 G4 | q. A4[~] e G4[p] h E4
    s 3/5 3/7[h] 2/5 2/8[b2 r2@1/8] q r 4/7:3
    e 3 5 b7 9 over Dm7

A letter (w h q e s t, see `values`) holds until the next. A note is a pitch (A3), a place (string/fret), both
(A3@4/7), or a degree over the chord of the moment (b3; ' and , an octave up or down); then, if need be, a finger (:3)
and marks in brackets by their signs in the table of marks, with a size and the beats after the onset at which they
begin (r2@1/2). Notes joined by + are struck together, r is a rest, a bar line is checked. `over Dm7` after degrees
names their chord. A degree that is not where the printer would put it stands in brackets: A3(b7).

A plain 3 or 5 is the chord's own third or fifth (3 over Dm7 is F; write n3 for F#); a plain 7 over a chord with another
seventh means either in players' mouths and is refused. The first degree lies nearest to the middle of the neck, each
other nearest to the note before it. Our own syntax, of common practice; no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ..changes.bars import Bar
from ..changes.charts import Chart
from ..changes.meters import Meter
from ..errors import VampError, shown
from ..limits import exact
from ..names.chords import Chord
from ..names.spelling import Interval, NoteName, Pitch
from ..necks.tunings import Tuning
from .context import Context, context_of
from .lines import NODES, Line, Mark, Note
from .marks import MARKS
from .typed import Typed
from .values import EXPECTED, VALUE, read_value, value_text

START_BEATS = Fraction(1)  # what a note lasts before the first letter
BARS_A_LINE = 4
_SIGNS = {row.sign: kind for kind, row in MARKS.items()}
_MARK = re.compile("(" + "|".join(map(re.escape, sorted(_SIGNS, key=len, reverse=True)))
                   + r")(-?\d{1,10}(?:/\d{1,10})?)?(?:@(\d{1,10}(?:/\d{1,10})?))?")
_PLACE = r"(?:[1-9](?:/\d{1,2})?)"
_NOTE = re.compile(
    rf"(?:(?P<pitch>[A-G](?:[#]{{1,3}}|b{{1,3}})?-?\d)(?:@(?P<at>{_PLACE}))?"
    rf"|(?P<place>[1-9]/\d{{1,2}})"
    rf"|(?P<natural>n)?(?P<degree>[#b]{{0,2}}\d{{1,2}})(?P<octaves>[',]{{0,4}}))"
    r"(?:\((?P<said>[#b]{0,2}\d{0,2})\))?(?::(?P<finger>[0-4]))?(?:\[(?P<marks>[^\]\[]*)\])?")
_TOKEN = re.compile(rf"(?P<space>\s+)|(?P<bar>\|+)|(?P<over>over\s+(?P<chord>[^\s|]+))|(?P<rest>r)(?![^\s|])"
                    rf"|(?P<value>{VALUE})(?![^\s|])|(?P<note>[A-Gn#b\d](?:\[[^\]]*\]|[^\s|\[])*)")
_OWN = ("3", "5")      # degrees that name the chord's own tone when they are plain
_UNCLEAR = ("7",)
_NUMBERS = {"8": "1", "10": "3", "12": "5", "14": "7", "2": "9", "4": "11", "6": "13"}


@dataclass(slots=True)
class _Item:
    """A note as typed: what it is called and where it stands in the text."""

    match: re.Match[str]
    onset: Fraction
    beats: Fraction
    row: int
    column: int
    over: Chord | None = None


class _Reader:
    """Reads the tokens in order; short-lived."""

    def __init__(self, typed: Typed, meter: Meter) -> None:
        self.typed = typed
        self.meter = meter
        self.items: list[_Item] = []
        self.chords: list[tuple[Fraction, Chord, int, int]] = []
        self.now = Fraction(0)
        self.value = START_BEATS

    def read(self, row: int, line: str) -> None:
        """One line of the text."""
        column, first, since = 0, len(self.items), self.now
        while column < len(line):
            match = _TOKEN.match(line, column)
            if match is None:
                word = line[column:].split()[0]
                raise self.typed.wrong(f"“{shown(word, 20)}” is no note, value or mark", row, column, value=word[:20],
                                       expected="a pitch (A3), a place (3/7), a degree (b3), r for a rest, or a value: "
                                                + EXPECTED)
            if match["bar"]:
                self._bar(row, column)
            elif match["over"]:
                chord = self._chord(match["chord"], row, match.start("chord"))
                for item in self.items[first:]:
                    item.over = chord
                self.chords.append((since, chord, row, column))
                first, since = len(self.items), self.now
            elif match["rest"]:
                self.now += self.value
            elif match["value"]:
                self.value = self._length(match["value"], row, column)
            elif match["note"]:
                self._notes(match["note"], row, column)
            column = match.end()

    def _notes(self, text: str, row: int, column: int) -> None:
        at = 0
        while True:
            match = _NOTE.match(text, at)
            if match is None or (match.end() < len(text) and text[match.end()] != "+"):
                wrong = column + (at if match is None else match.end())
                raise self.typed.wrong(f"“{shown(text, 20)}” cannot be read", row, wrong, value=text[:20],
                                       expected="a pitch, place or degree, then a finger (:3) and marks ([b2]) if any")
            self.items.append(_Item(match, self.now, self.value, row, column + at))
            at = match.end() + 1
            if at > len(text):
                break
        self.now += self.value

    def _bar(self, row: int, column: int) -> None:
        late = self.now % self.meter.bar_beats
        if late:
            short = self.meter.bar_beats - late
            raise self.typed.wrong(f"a bar line {value_text(late)} into a bar of {self.meter}", row, column,
                                   value=str(self.now), expected=f"{value_text(short)} more before it")

    def _chord(self, text: str, row: int, column: int) -> Chord:
        try:
            return Chord.parse(text)
        except VampError as error:
            raise self.typed.wrong(error.message, row, column, value=text, expected=error.expected,
                                   nearest=error.nearest) from error

    def _length(self, text: str, row: int, column: int) -> Fraction:
        try:
            return read_value(text)
        except VampError as error:
            raise self.typed.wrong(error.message, row, column, value=text, expected=error.expected) from error


def read_words(typed: Typed, tuning: Tuning, chart: Chart | None, meter: Meter, skip: frozenset[int]) -> Line:
    """The line that words say; without a chart over the chords that they name. `skip`: lines that are no notes."""
    reader = _Reader(typed, meter)
    for row, line in enumerate(typed.lines):
        if row not in skip:
            reader.read(row, line)
    over = chart if chart is not None else _chart(reader)
    context = context_of(over)
    notes: list[Note] = []
    near = (tuning.lowest_midi + tuning.highest_midi) // 2
    for item in reader.items:
        note = _note(typed, item, tuning, context, near)
        near = note.pitch.midi
        notes.append(note)
    return Line(tuple(notes), over, tuning, length_beats=reader.now)


def _note(typed: Typed, item: _Item, tuning: Tuning, context: Context, near: int) -> Note:
    match = item.match
    marks = tuple(_marks(typed, item))
    string, fret = _place(match)
    try:
        if match["pitch"]:
            pitch = Pitch.parse(match["pitch"])
        elif match["place"]:
            pitch = context.pitch(_sounding(tuning, string or 1, fret or 0, marks), item.onset)
        else:
            pitch = _of_degree(typed, item, context, near)
        degree = match["said"]
        if degree:
            Interval.of_degree(degree)
    except VampError as error:
        if error.where:
            raise
        raise typed.wrong(error.message, item.row, item.column, value=error.value, expected=error.expected,
                          nearest=error.nearest) from error
    finger = None if match["finger"] is None else int(match["finger"])
    return Note(pitch, item.onset, item.beats, string, fret, finger,
                context.degree(pitch, item.onset) if degree is None else degree, marks)


def _place(match: re.Match[str]) -> tuple[int | None, int | None]:
    string, _, fret = (match["at"] or match["place"] or "").partition("/")
    return int(string) if string else None, int(fret) if fret else None


def _sounding(tuning: Tuning, string: int, fret: int, marks: tuple[Mark, ...]) -> int:
    kinds = {mark.kind for mark in marks}
    midi = tuning.midi(string, fret)
    if "harmonic" in kinds and fret in NODES:
        return midi + NODES[fret] - fret
    return midi + (12 if "tapped harmonic" in kinds else 0)


def _marks(typed: Typed, item: _Item) -> Iterator[Mark]:
    start = item.match.start("marks")
    for word in re.finditer(r"[^\s,]+", item.match["marks"] or ""):
        column = item.column + start - item.match.start() + word.start()
        found = _MARK.fullmatch(word[0])
        if found is None:
            raise typed.wrong(f"“{shown(word[0], 20)}” is no mark", item.row, column, value=word[0][:20],
                              expected=" ".join(_SIGNS) + ", with its size and the beats after the onset (r2@1/2)")
        kind = _SIGNS[found[1]]
        try:
            yield Mark(kind, exact(found[2] or MARKS[kind].usual or 0), exact(found[3] or 0))
        except VampError as error:
            raise typed.wrong(error.message, item.row, column, value=word[0], expected=error.expected) from error


def _of_degree(typed: Typed, item: _Item, context: Context, near: int) -> Pitch:
    """A degree over its chord as the pitch nearest to the one before."""
    chord = item.over or context.chord_at(item.onset)
    said = item.match["degree"]
    if chord is None or chord.root is None:
        raise typed.wrong(f"the degree {said} has no chord to stand over", item.row, item.column, value=said,
                          expected="a chart, or “over Dm7” after the degrees")
    name = chord.root.up(Interval.of_degree(_exactly(typed, item, chord)))
    return _nearest(name, near, item.match["octaves"])


def _exactly(typed: Typed, item: _Item, chord: Chord) -> str:
    """The degree against the major scale that a typed one means over a chord."""
    said = item.match["degree"]
    if item.match["natural"] or said not in (*_OWN, *_UNCLEAR) or said in chord.degrees:
        return said
    others = [degree for degree in chord.degrees if degree.lstrip("b#") == said]
    if len(others) != 1:
        return said
    if said in _UNCLEAR:
        raise typed.wrong(f"{said} over {chord}: its own {others[0]}, or the {said} of the major scale?", item.row,
                          item.column, value=said, expected=f"{others[0]} or n{said}")
    return others[0]


def _nearest(name: NoteName, near: int, octaves: str) -> Pitch:
    """The pitch of that name nearest to a MIDI number (of two as near the higher), moved by octave signs."""
    below = near - (near - name.pitch_class) % 12
    midi = below if near - below < 6 else below + 12
    midi += 12 * (octaves.count("'") - octaves.count(","))
    return Pitch.of_midi(midi, name)


def _chart(reader: _Reader) -> Chart:
    """Changes of the chords that stand after `over`, each from where its notes begin."""
    meter = reader.meter
    count = max(1, -(-reader.now // meter.bar_beats))
    starts = {onset: chord for onset, chord, _, _ in reader.chords}
    silent = Chord.parse("N.C.")
    bars: list[Bar] = []
    current: Chord = silent
    by_bar: dict[int, list[tuple[Fraction, Chord, int, int]]] = {}
    for one in reader.chords:
        by_bar.setdefault(int(one[0] // meter.bar_beats), []).append(one)
    for number in range(int(count)):
        cells: list[Chord | str] = [current] + ["/"] * (meter.pulses - 1)
        for onset, chord, row, column in by_bar.get(number, ()):
            pulse = (onset - number * meter.bar_beats) / meter.pulse_beats
            if pulse.denominator != 1:
                raise reader.typed.wrong(f"{chord} begins between two beats", row, column, value=str(chord),
                                         expected="changes on the beat, or a chart")
            cells[int(pulse)] = starts[onset]
            current = chord
        bars.append(Bar((cells[0],)) if all(cell == "/" for cell in cells[1:]) else Bar(tuple(cells)))
    return Chart(tuple(bars), meter=meter)


# -- printing --------------------------------------------------------------------------------------------------------
def print_words(line: Line) -> str:
    """The line's notes as words that `read_words` reads back to the same, over its chart and tuning."""
    context = context_of(line.chart)
    bar = line.chart.bar_beats
    parts: list[str] = []
    rows: list[str] = []
    now, value = Fraction(0), None
    for onset, beats, said in _moments(line, context):
        while now < onset:  # a rest does not cross a bar line
            until = min(onset, (now // bar + 1) * bar)
            value = _said_value(parts, until - now, value)
            parts.append("r")
            now = until
            _end_bar(parts, rows, now, bar)
        value = _said_value(parts, beats, value)
        parts.append(said)
        now += beats
        _end_bar(parts, rows, now, bar)
    while now < line.length_beats:
        until = min(line.length_beats, (now // bar + 1) * bar)
        value = _said_value(parts, until - now, value)
        parts.append("r")
        now = until
        _end_bar(parts, rows, now, bar)
    if parts:
        rows.append(" ".join(parts))
    return "\n".join(rows)


def _moments(line: Line, context: Context) -> Iterator[tuple[Fraction, Fraction, str]]:
    """(onset, length, words) of what is struck together."""
    together: list[Note] = []
    for note in line.notes:
        if together and note.onset_beats != together[0].onset_beats:
            yield together[0].onset_beats, together[0].duration_beats, "+".join(_said(one, context) for one in together)
            together = []
        together.append(note)
    if together:
        yield together[0].onset_beats, together[0].duration_beats, "+".join(_said(one, context) for one in together)


def _said_value(parts: list[str], beats: Fraction, before: Fraction | None) -> Fraction:
    if beats != before:
        parts.append(value_text(beats))
    return beats


def _end_bar(parts: list[str], rows: list[str], now: Fraction, bar: Fraction) -> None:
    if now % bar == 0:
        parts.append("|")
        if parts.count("|") == BARS_A_LINE:
            rows.append(" ".join(parts))
            parts.clear()


def _said(note: Note, context: Context) -> str:
    """One note: always by its pitch, so that nothing is left to be worked out."""
    words = str(note.pitch)
    if note.string is not None:
        words += f"@{note.string}" + (f"/{note.fret}" if note.fret is not None else "")
    if note.degree != context.degree(note.pitch, note.onset_beats):
        words += f"({note.degree})"
    if note.finger is not None:
        words += f":{note.finger}"
    if note.marks:
        words += f"[{' '.join(map(mark_text, note.marks))}]"
    return words


def mark_text(mark: Mark) -> str:
    """A mark by its sign, with its size and its beginning where they are not the usual ones."""
    row = MARKS[mark.kind]
    size = "" if mark.value == (row.usual or 0) else str(mark.value)
    return row.sign + size + (f"@{mark.at_beats}" if mark.at_beats else "")


