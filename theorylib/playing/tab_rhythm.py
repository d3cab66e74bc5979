"""When the notes of a TAB sound: by a row of note values, evenly, or by their spacing.

A moment is a column in which frets stand, on one string or several. With a row of values over (or under) the strings,
its letters are taken in order, one for each moment; `r` before a letter is a rest, `~` after it ties the next letter to
it. Bends and releases that stand apart take letters of their own where there are letters enough. Without a row, the
moments of a bar share it evenly where that gives a plain value; without closed bars each is an eighth.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ..errors import LineError
from .tab_heads import Head, Move
from .tab_rows import System
from .typed import Typed
from .values import VALUE, read_value, value_text

_LABEL = re.compile(r"\s*(?:values?|rhythm)\b:?", re.IGNORECASE)
_TOKEN = re.compile(rf"(?P<rest>r)?(?P<value>{VALUE})(?P<tied>~)?|(?P<tie>~)|(?P<skip>[\s|:,-]+)")
_COUNTS = re.compile(r"[\s|]*(?:[1-9&+ea][\s|]*){4,}")
_EIGHTH = Fraction(1, 2)
_MOST_PARTS = 64


@dataclass(slots=True)
class Moment:
    """Heads struck together, or moves of notes that still sound; `offset` is the column within bar `bar`."""

    bar: int
    offset: int
    end: int
    heads: list[Head] = field(default_factory=list)
    moves: list[tuple[Head, Move]] = field(default_factory=list)
    onset_beats: Fraction = Fraction(0)
    duration_beats: Fraction = Fraction(0)

    @property
    def place(self) -> tuple[int, int]:
        """Line and column, for an error."""
        if self.heads:
            return self.heads[0].line, self.heads[0].column
        head, move = self.moves[0]
        return head.line, move.column or head.column


@dataclass(frozen=True, slots=True)
class Value:
    """A letter of a row of values: its length, whether it rests or is tied to the one before."""

    beats: Fraction
    rest: bool
    tied: bool
    line: int
    column: int


def value_row(typed: Typed, lines: Sequence[int]) -> list[list[Value]]:
    """The rows of values among some lines; raises PhraseError for a sign among letters that is none."""
    return [values for line in lines if (values := _values(typed, line))]


def counts_in(typed: Typed, lines: Sequence[int]) -> tuple[int, int] | None:
    """Line and column of a row that counts beats (1 & 2 &), which is no rhythm of the notes."""
    return next(((line, len(typed.lines[line]) - len(typed.lines[line].lstrip())) for line in lines
                 if "&" in typed.lines[line] and _COUNTS.fullmatch(typed.lines[line])), None)


def _values(typed: Typed, line: int) -> list[Value]:
    text = typed.lines[line]
    label = _LABEL.match(text)
    column = label.end() if label else 0
    words = text[column:].split()
    letters = [word for word in words if _is_values(word)]
    if not letters or (not label and len(letters) * 2 <= len(words)):
        return []
    found: list[Value] = []
    tied = False
    while column < len(text):
        match = _TOKEN.match(text, column)
        if match is None:
            raise typed.wrong(f"“{text[column:].split()[0]:.20}” is no note value", line, column,
                              value=text[column:column + 20], expected="w h q e s or t, such as q. or e3; r for a rest")
        if match["value"]:
            try:
                beats = read_value(match["value"])
            except LineError as error:
                raise typed.wrong(error.message, line, column, expected=error.expected) from error
            if tied and match["rest"]:
                raise typed.wrong("a rest is tied", line, column, value=match[0])
            found.append(Value(beats, bool(match["rest"]), tied, line, column))
            tied = bool(match["tied"])
        elif match["tie"]:
            tied = True
        column = match.end()
    return found


def _is_values(word: str) -> bool:
    return re.fullmatch(rf"(?:~|\||r?{VALUE}~?)+", word) is not None and any(sign.isalpha() for sign in word)


def by_values(typed: Typed, moments: Sequence[Moment], values: Sequence[Value], start: Fraction) -> tuple[list[Moment],
                                                                                                       Fraction]:
    """The moments that take time of their own, timed by a system's values, and the beat at which it ends."""
    struck = [moment for moment in moments if moment.heads]
    wanted = sum(not value.rest and not value.tied for value in values)
    timed = list(moments) if wanted == len(moments) else struck
    if wanted != len(timed):
        # The first letter without a note, or the first note without a letter.
        line, column = (_letter(values, len(timed)) if wanted > len(timed) else timed[wanted].place)
        raise typed.wrong(f"{wanted} note values for {len(timed)} notes of this system", line, column, value=wanted,
                          expected="a letter for each note or chord, r before the letter of a rest")
    now = start
    waiting = iter(timed)
    current: Moment | None = None
    for value in values:
        if value.tied:
            if current is None:
                raise typed.wrong("a tie from nothing", value.line, value.column, value="~")
            current.duration_beats += value.beats
        elif not value.rest:
            current = next(waiting)
            current.onset_beats, current.duration_beats = now, value.beats
        else:
            current = None
        now += value.beats
    return timed, now


def _letter(values: Sequence[Value], number: int) -> tuple[int, int]:
    struck = [value for value in values if not value.rest and not value.tied]
    return struck[number].line, struck[number].column


def evenly(typed: Typed, moments: Sequence[Moment], bar_beats: Fraction, each: Fraction | None,
           barred: bool) -> None:
    """Time the moments: each so many beats, or sharing its bar, or eighths where no bars are closed."""
    if not barred:
        for index, moment in enumerate(moments):
            moment.duration_beats = each or _EIGHTH
            moment.onset_beats = index * moment.duration_beats
        return
    for bar, inside in _by_bar(moments):
        share = each or bar_beats / len(inside)
        if each is None and not _is_plain(share):
            raise typed.wrong(f"{len(inside)} notes in a bar of {bar_beats} beats and no note values", *inside[0].place,
                              value=len(inside),
                              expected="a row of values over the strings (w h q e s t), or rhythm=\"e\"")
        if share * len(inside) > bar_beats:
            line, column = inside[int(bar_beats / share)].place
            raise typed.wrong(f"{len(inside)} notes of {share} beats in a bar of {bar_beats}", line, column,
                              value=len(inside), expected="fewer notes, or a row of values")
        for index, moment in enumerate(inside):
            moment.onset_beats, moment.duration_beats = bar * bar_beats + index * share, share


def by_spacing(typed: Typed, moments: Sequence[Moment], widths: Sequence[int], bar_beats: Fraction) -> None:
    """Time the moments by their columns: a bar's columns share it evenly, but for a first one that is always empty."""
    lead = 1 if moments and all(moment.offset > 0 for moment in moments) else 0
    for bar, inside in _by_bar(moments):
        parts = next((widths[bar] - less for less in dict.fromkeys((lead, 0))
                      if widths[bar] > less and _is_plain(bar_beats / (widths[bar] - less))), None)
        if parts is None:
            raise typed.wrong(f"a bar of {widths[bar]} columns cannot be counted in {bar_beats} beats",
                              *inside[0].place, value=widths[bar],
                              expected="as many columns as sixteenths (or eighths) in the bar")
        skip = widths[bar] - parts
        for index, moment in enumerate(inside):
            until = inside[index + 1].offset if index + 1 < len(inside) else widths[bar]
            moment.onset_beats = bar * bar_beats + (moment.offset - skip) * bar_beats / parts
            moment.duration_beats = (until - moment.offset) * bar_beats / parts


def stands_in_its_bar(typed: Typed, moments: Sequence[Moment], bar_beats: Fraction) -> None:
    """Raise PhraseError at the first moment that its values put into another bar than its bar lines do."""
    for moment in moments:
        start = moment.bar * bar_beats
        if moment.onset_beats >= start + bar_beats:
            raise typed.wrong(f"bar {moment.bar + 1} is full before this note", *moment.place,
                              value=str(moment.onset_beats), expected=f"note values for a bar of {bar_beats} beats")
        if moment.onset_beats < start:
            short = value_text(start - moment.onset_beats)
            raise typed.wrong(f"bar {moment.bar} is too short before this note: {short} more is missing", *moment.place,
                              value=str(moment.onset_beats), expected=f"note values for bars of {bar_beats} beats")


def _by_bar(moments: Sequence[Moment]) -> Iterator[tuple[int, list[Moment]]]:
    found: dict[int, list[Moment]] = {}
    for moment in moments:
        found.setdefault(moment.bar, []).append(moment)
    yield from found.items()


def _is_plain(beats: Fraction) -> bool:
    """Is it a value without a tuplet, a dot or a tie, no shorter than a sixty-fourth?"""
    top, bottom = beats.numerator, beats.denominator
    return top & (top - 1) == 0 and bottom & (bottom - 1) == 0 and bottom <= _MOST_PARTS // 4


def side_of(typed: Typed, systems: Sequence[System]) -> str:
    """Whether the rows of values stand "above" or "below": as at the first system that has one."""
    for system in systems:
        if value_row(typed, system.above):
            return "above"
        if value_row(typed, system.below):
            return "below"
    return "above"
