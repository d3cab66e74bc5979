"""The signs in a row of TAB: frets with what is typed before, after and around them, by the table of marks.

5h7 hammers, 7p5 pulls, 5/7 and 7\\5 slide (s: not struck again), t12 taps, 5=5 ties, x is dead, (7) a ghost note, <12>
a natural harmonic, 7~ vibrato, 7b9 bends to the sound of fret 9, 7b½ by half a tone, 7pb9 is bent before it is struck,
r7 (or r alone) lets it down. Common practice, no source; what several hands type for different things is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from ..errors import VampError
from ..necks.tunings import Tuning
from .lines import NODES, Mark
from .marks import AFTER, AROUND, BEFORE, FALLS, INSTEAD, MARKS, RISES, SHIFTS, STAYS
from .tab_rows import Row
from .typed import Typed

_SIGN = {sign: kind for kind, row in MARKS.items() if row.where == BEFORE for sign in row.tab}
_DEAD = frozenset(sign for kind, row in MARKS.items() if row.where == INSTEAD for sign in row.tab)
_AROUND = {pair[0]: (pair[1], kind) for kind, row in MARKS.items() if row.where == AROUND for pair in row.tab}
_AFTER = {sign: kind for kind, row in MARKS.items() if row.where == AFTER for sign in row.tab}
_AFTER_SIGN = re.compile("|".join(map(re.escape, sorted(_AFTER, key=len, reverse=True))))
_DIGITS = re.compile(r"\d+")
_TARGET = re.compile(r"\((\d{1,2})\)|(\d{1,2})(?![\d/])")
_SIZE = re.compile(r"\(?(1½|½|¼|¾|full)\)?")
_SEMITONES = {"¼": Fraction(1, 2), "½": Fraction(1), "¾": Fraction(3, 2), "full": Fraction(2), "1½": Fraction(3)}
_PAIRS = [f"{one}{two}" for one, (two, _) in _AROUND.items()]
_EXPECTED = "frets, “-” and " + " ".join([*_SIGN, *sorted(_DEAD), *_PAIRS, *_AFTER])
_REPEATS = (":", "*")
_HIGHER = {"/": 1, "\\": -1}  # of the slides, those that say which way


@dataclass(slots=True)
class Move:
    """A bend or a release: its size, and its column where it stands apart from the fret."""

    kind: str
    semitones: Fraction
    column: int | None = None


@dataclass(slots=True)
class Head:
    """A struck fret: where it stands (columns of its line), and its marks so far."""

    line: int
    column: int
    width: int
    string: int
    fret: int
    bar: int
    offset: int = 0  # column within the bar, the same for rows that stand together
    kinds: list[str] = field(default_factory=list)
    moves: list[Move] = field(default_factory=list)
    spans: list[Mark] = field(default_factory=list)  # from the words over the strings
    more: list[Mark] = field(default_factory=list)   # from the row of signs under them
    names: str = ""                                  # pitch and degree, where a row says them
    finger: int | None = None

    @property
    def bent_fret(self) -> Fraction:
        """Where the pitch stands after its moves so far, in frets."""
        return self.fret + sum((move.semitones * MARKS[move.kind].moves for move in self.moves), Fraction(0))


@dataclass(slots=True)
class StringReader:
    """Reads one string's rows, system after system; what joins may reach across a bar line."""

    typed: Typed
    string: int
    tuning: Tuning
    last: Head | None = None
    waiting: list[tuple[str, str, int, int]] = field(default_factory=list)  # kind, sign, line, column

    def read(self, row: Row, first_bar: int) -> list[Head]:
        """The heads of a row; bars count from `first_bar`."""
        found: list[Head] = []
        for number, (start, end) in enumerate(row.bars):
            column = start
            while column < end:
                column = self._one(row, column, end, first_bar + number, found)
        return found

    def close(self) -> None:
        """Raise PhraseError for a sign that still waits for the note it leads to."""
        if self.waiting:
            kind, sign, line, column = self.waiting[0]
            raise self.typed.wrong(f"the {kind} leads nowhere", line, column, value=sign,
                                   expected="a fret after it on the same string")

    def _one(self, row: Row, column: int, end: int, bar: int, found: list[Head]) -> int:
        """Read what stands at a column; gives the next."""
        text, sign = row.text, row.text[column]
        if sign in "- ":
            return column + 1
        if sign.isdecimal() or sign in _DEAD or sign in _AROUND:
            head, column = self._head(row, column, end, bar)
            found.append(head)
            return column
        after = _AFTER_SIGN.match(text, column, end)
        if after and (after[0] not in _SIGN or after[0] == "pb") and self.last is not None:
            return self._after(row, column, end, self.last, apart=True)
        if sign in _SIGN:
            self.waiting.append((_SIGN[sign], sign, row.line, column))
            return column + 1
        if sign in _REPEATS:
            raise self.typed.wrong("a repeat cannot be read", row.line, column, value=sign,
                                   expected="the bars written out")
        raise self.typed.wrong(f"“{sign}” is no sign of TAB", row.line, column, value=sign, expected=_EXPECTED)

    def _head(self, row: Row, column: int, end: int, bar: int) -> tuple[Head, int]:
        text, start = row.text, column
        around = _AROUND.get(text[column])
        if around:
            column += 1
        fret, column, dead = self._fret(row, column, end)
        head = Head(row.line, start, column - start, self.string, fret, bar, kinds=["dead"] if dead else [])
        self._reached(head)
        self.last = head
        while column < end and (following := self._attached(row, column, end, head)) != column:
            column = following
        if around:
            if column >= end or text[column] != around[0]:
                raise self.typed.wrong(f"“{text[start]}” is not closed", row.line, start, value=text[start:column],
                                       expected=f"“{around[0]}” after one fret")
            head.kinds.append(around[1])
            column += 1
            head.width = column - start
            self._is_node(head)
            while column < end and (following := self._attached(row, column, end, head)) != column:
                column = following
        return head, column

    def _fret(self, row: Row, column: int, end: int) -> tuple[int, int, bool]:
        """(fret, the column after it, whether it is a dead note, which is written as the open string)."""
        if column < end and row.text[column] in _DEAD:
            return 0, column + 1, True
        digits = _DIGITS.match(row.text, column, end)
        if digits is None:
            raise self.typed.wrong("a fret must stand here", row.line, min(column, end - 1),
                                   expected="a fret, such as (7)")
        fret = int(digits[0][:4])
        if fret > self.tuning.last_fret or len(digits[0]) > 2:
            raise self.typed.wrong(f"there is no fret {digits[0]:.12} on this neck", row.line, column,
                                   value=digits[0][:12],
                                   expected=f"0 to {self.tuning.last_fret}; two frets with a “-” between them")
        return fret, digits.end(), False

    def _attached(self, row: Row, column: int, end: int, head: Head) -> int:
        after = _AFTER_SIGN.match(row.text, column, end)
        return self._after(row, column, end, head, apart=False) if after else column

    def _after(self, row: Row, column: int, end: int, head: Head, *, apart: bool) -> int:
        """Read a mark that follows its fret; gives the column after it."""
        sign = _AFTER_SIGN.match(row.text, column, end)
        assert sign is not None
        kind, after = _AFTER[sign[0]], sign.end()
        if not MARKS[kind].moves:
            while after < end and row.text[after] == sign[0]:
                after += 1
            if kind not in head.kinds:
                head.kinds.append(kind)
            return after
        if "dead" in head.kinds:
            raise self.typed.wrong("a dead note does not bend", row.line, column, value=sign[0])
        semitones, after = self._size(row, column, after, end, head, kind)
        head.moves.append(Move(kind, semitones, column if apart else None))
        self._checked(lambda: Mark(kind, semitones), row.line, column)
        return after

    def _size(self, row: Row, column: int, after: int, end: int, head: Head, kind: str) -> tuple[Fraction, int]:
        """How far a bend goes, from the fret that it sounds like or its size; and the column after that."""
        way, now = MARKS[kind].moves, head.bent_fret
        size, target = _SIZE.match(row.text, after, end), _TARGET.match(row.text, after, end)
        if size and way > 0:
            return _SEMITONES[size[1]], size.end()
        if target:
            semitones = (int(target[1] or target[2]) - now) * way
            if semitones <= 0:
                raise self.typed.wrong(f"a {kind} from fret {now} cannot sound like fret {target[1] or target[2]}",
                                       row.line, column, value=row.text[column:target.end()],
                                       expected="a higher fret" if way > 0 else "a lower fret")
            return semitones, target.end()
        if way < 0:
            if now <= head.fret:
                raise self.typed.wrong("a release of what is not bent", row.line, column, value=row.text[column:after])
            return now - head.fret, after
        raise self.typed.wrong(f"the {kind} does not say how far", row.line, column, value=row.text[column:after],
                               expected=f"the fret that it sounds like, such as {head.fret}{row.text[column:after]}"
                                        f"{head.fret + 2}, or a size such as ½ or full")

    def _reached(self, head: Head) -> None:
        """Give a head the marks that waited for it, and hold them to what they say."""
        before = self.last
        for kind, sign, line, column in self.waiting:
            needs = MARKS[kind].joins
            if needs and before is None:
                if needs != RISES:
                    raise self.typed.wrong(f"the {kind} comes from nowhere", line, column, value=sign,
                                           expected="a fret before it on the same string")
                kind = "hammer from nowhere"
            elif needs and before is not None:
                self._goes(kind, sign, (before.fret, head.fret), line, column)
            if kind in head.kinds:
                raise self.typed.wrong(f"“{sign}” stands here twice", line, column, value=sign)
            head.kinds.append(kind)
        self.waiting.clear()

    def _goes(self, kind: str, sign: str, frets: tuple[int, int], line: int, column: int) -> None:
        """Raise PhraseError where a join does not lead the way that its kind asks for."""
        (one, two), needs = frets, MARKS[kind].joins
        way = {RISES: 1, FALLS: -1, SHIFTS: _HIGHER.get(sign, 0), STAYS: 0}[needs]
        true = one == two if needs == STAYS else one != two if not way else (two - one) * way > 0
        if not true:
            either_way = "the same fret" if needs == STAYS else "another fret"
            raise self.typed.wrong(f"“{sign}” ({kind}) from fret {one} to fret {two}", line, column,
                                   value=f"{one}{sign}{two}",
                                   expected={1: "a higher fret", -1: "a lower fret"}.get(way, either_way))

    def _is_node(self, head: Head) -> None:
        if "harmonic" in head.kinds and head.fret not in NODES:
            raise self.typed.wrong(f"there is no natural harmonic at fret {head.fret}", head.line, head.column,
                                   value=head.fret, expected=f"one of {', '.join(map(str, sorted(NODES)))}")

    def _checked(self, make: Callable[[], Mark], line: int, column: int) -> None:
        try:
            make()
        except VampError as error:
            raise self.typed.wrong(error.message, line, column, value=error.value, expected=error.expected) from error
