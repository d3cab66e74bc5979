"""Reading the bars of a chart's text, token by token. The syntax is described in charts."""

from __future__ import annotations

import re
from dataclasses import replace

from ..errors import ChartError, VampError
from ..limits import MOST_CHORDS_A_BAR
from ..names.chords import Chord
from ..names.scales import Scale
from .bars import Bar, repeat_endings
from .chart_meant import NO_SIGNS, SIGNS, meant
from .meters import COMMON_TIME

_TOKEN = re.compile(
    r"(?P<label>\[[^\]|]*\])|(?P<key>key\s*+:(?!\|)[^|\[\]]*+)"
    r"|(?P<line>:\|:|:\|\|?|\|\|:|\|:|\|\||\||[‖𝄁𝄂𝄆𝄇])|(?P<ending>\d(?:,\d)*\.(?=\s|$))"
    r"|(?P<times>(?P<open>\()?(?:[xX×]\d+|\d+[xX×])(?(open)\))(?=[\s|]|$))"
    r"|(?P<between>[,;](?=[\s|A-GN%/]|$)|->(?=\s)|→)"
    r"|(?P<chord>(?:\([^()|]*+\)|(?![,;](?=[\s|A-GN%/]|$))[^\s|\[\]:‖𝄁𝄂𝄆𝄇→])+)|(?P<odd>\S)"
)
BAR_LINES = frozenset("|‖𝄁𝄂𝄆𝄇")
_DOUBLE_SIGNS = {"‖": "||", "𝄁": "||", "𝄂": "||", "𝄆": "|:", "𝄇": ":|"}
_BAR_AGAIN = frozenset(("%", "./."))


class BarReader:
    """Collects bars token by token, knowing where it stands so that it can say so."""

    def __init__(self) -> None:
        self.bars: list[Bar] = []
        self.section: str | None = None  # that begins with the bar being read
        self.meter = COMMON_TIME
        self.has_bar_lines = self.line_has_bar_lines = True
        self.open_at: str | None = None  # place of a `|:` not yet closed
        self.key: Scale | None = None
        self.after_bar_line = False  # a bar line was read on this text line and nothing since
        # Written bar with an ending's number: where the number stands.
        self.ending_places: dict[int, str] = {}
        self._start_bar()

    @property
    def begun(self) -> bool:
        """Has a bar, or the name of its section, been read?"""
        return bool(self.bars) or self.section is not None

    def new_key(self, text: str, where: str) -> None:
        """The key that begins with the next bar."""
        try:
            self.key = Scale.parse(text)
        except VampError as error:
            raise ChartError(
                error.message,
                value=text,
                where=where,
                expected=error.expected,
                nearest=error.nearest,
            ) from error

    def begin_section(self, name: str, where: str) -> None:
        """The section that begins with the next bar."""
        self._end_bar(where)
        self.section = name

    def _start_bar(self) -> None:
        self.cells: list[Chord | str] = []
        self.section = None
        self.key = None
        self.opens = False
        self.endings: tuple[int, ...] = ()

    def line(self, text: str, number: int) -> None:
        """Read one line of text, which ends a bar."""
        self.line_has_bar_lines = bool(BAR_LINES & set(text))
        read = {
            "line": self._bar_line,
            "label": self._label,
            "key": self._key,
            "ending": self._ending,
            "times": self._times,
            "between": self._between,
            "odd": self._odd,
            "chord": self._cell,
        }
        self.after_bar_line = False
        for match in _TOKEN.finditer(text):
            kind = str(match.lastgroup)
            read[kind](match[0], f"line {number}, column {match.start() + 1}")
            if kind not in ("ending", "label"):  # they belong to the bar line before them
                self.after_bar_line = kind == "line"
        self._end_bar(f"line {number}")

    def _label(self, word: str, where: str) -> None:
        self.begin_section(word[1:-1].strip(), where)

    def _key(self, word: str, where: str) -> None:
        if self.cells:
            raise ChartError(
                "a key begins inside a bar",
                value=word.strip(),
                where=where,
                expected="it after a bar line",
            )
        self.new_key(word.partition(":")[2].strip(), where)

    def _ending(self, word: str, where: str) -> None:
        if self.cells or not self.bars:
            raise ChartError(
                f"the ending “{word}” does not follow a bar line", value=word, where=where
            )
        self.endings = tuple(int(one) for one in word[:-1].split(","))
        self.ending_places[len(self.bars)] = where

    def _times(self, word: str, where: str) -> None:
        after_repeat = bool(self.bars) and self.bars[-1].plays > 1 and not self.cells
        if not after_repeat:
            raise ChartError(
                f"“{word}” does not follow a repeat",
                value=word,
                where=where,
                expected="it after :|, as in |: Am7 | D7 :| x4",
            )
        count = word.strip("(xX×)")
        if len(count) > 2 or not 2 <= int(count) <= 99:
            raise ChartError(
                f"a repeat of {count[:5]} times", value=word, where=where, expected="x2 to x99"
            )
        self.bars[-1] = replace(self.bars[-1], plays=int(count))

    def _odd(self, word: str, where: str) -> None:
        raise ChartError(f"“{word}” means nothing here", value=word, where=where)

    def _between(self, word: str, where: str) -> None:
        """A comma, a semicolon or an arrow: it parts bars in a chart without bar lines, else the chords of a bar."""
        if not self.cells:
            raise ChartError(
                f"“{word}” has no chord before it", value=word, where=where, expected="a chord"
            )
        if not self.has_bar_lines:
            self._end_bar(where)
        elif not self.line_has_bar_lines:
            raise ChartError(
                f"“{word}” may part bars or the chords of one here",
                value=word,
                where=where,
                expected="a bar line | or a space, since this chart has bar lines elsewhere",
            )

    def _cell(self, word: str, where: str) -> None:
        if word in NO_SIGNS:
            raise ChartError(
                f"“{word}” means nothing here", value=word, where=where, expected=SIGNS
            )
        if word in _BAR_AGAIN:
            if not self.bars:
                raise ChartError(
                    f"“{word}” has no bar before it", value=word, where=where, expected="a chord"
                )
            self.cells.append("%")
            return
        if word == "/":
            if not self.cells:
                raise ChartError(
                    "“/” has no chord before it in this bar",
                    value=word,
                    where=where,
                    expected="a chord",
                )
            self.cells.append(word)
            return
        try:
            self.cells.append(Chord.parse(word))
        except VampError as error:
            before = str(self.cells[-1]) if self.cells else ""
            raise ChartError(
                error.message,
                value=word,
                where=where,
                expected=error.expected,
                nearest=meant(word, before) or error.nearest,
            ) from error

    def _bar_line(self, sign: str, where: str) -> None:
        word = _DOUBLE_SIGNS.get(sign, sign)
        had_bar = bool(self.cells)
        is_empty = self.after_bar_line and not had_bar and not self.opens
        if is_empty and word != "|:":
            raise ChartError(
                "a bar is empty", value=word, where=where, expected="a chord, N.C. or %"
            )
        self._end_bar(where)
        if word.startswith(":"):
            if not self.bars or self.bars[-1].plays > 1:
                raise ChartError(
                    "“:|” closes nothing", value=word, where=where, expected="bars before it"
                )
            if self.open_at is None:
                self._open_implied(where)
            self.bars[-1] = replace(self.bars[-1], plays=2)
            self.open_at = None
        elif word.startswith("||") and had_bar:
            self.bars[-1] = replace(self.bars[-1], double=True)
        if word.endswith("|:") or word == ":|:":
            if self.open_at is not None:
                raise ChartError(
                    f"“|:” opens inside the repeat of {self.open_at}",
                    value=word,
                    where=where,
                    expected="“:|” first",
                )
            self.opens, self.open_at = True, where

    def _open_implied(self, where: str) -> None:
        """A `:|` with no `|:` goes back to the last repeat's end, or to the start: say so in the value."""
        after_repeats = [index + 1 for index, bar in enumerate(self.bars) if bar.plays > 1]
        start = after_repeats[-1] if after_repeats else 0
        # A later ending: it reaches to here, or to a double bar or section.
        if start and self.bars[start].endings:
            past = [
                index
                for index in range(start + 1, len(self.bars))
                if self.bars[index - 1].double or self.bars[index].section is not None
            ]
            if not past:
                return
            start = past[0]
        self.bars[start] = replace(self.bars[start], opens=True)

    def _end_bar(self, where: str) -> None:
        if not self.cells:
            return
        if len(self.cells) > MOST_CHORDS_A_BAR:
            raise ChartError(
                f"a bar of {len(self.cells)} chords",
                value=len(self.cells),
                where=where,
                expected=f"1 to {MOST_CHORDS_A_BAR}",
            )
        if "%" in self.cells and len(self.cells) > 1:
            raise ChartError(
                "“%” shares its bar", value="%", where=where, expected="% alone in a bar"
            )
        if "/" in self.cells and len(self.cells) != self.meter.pulses:
            raise ChartError(
                f"the bar has {len(self.cells)} pulses",
                value=len(self.cells),
                where=where,
                expected=f"{self.meter.pulses} chords and slashes in {self.meter}",
            )
        self.bars.append(
            Bar(tuple(self.cells), self.section, self.opens, 1, self.endings, key=self.key)
        )
        self._start_bar()

    def done(self) -> list[Bar]:
        if self.open_at is not None:
            raise ChartError(
                "the repeat is never closed",
                value="|:",
                where=self.open_at,
                expected="“:|” after it",
            )
        if self.opens or self.section is not None or self.endings or self.key is not None:
            raise ChartError(
                "the chart ends where a bar should follow", expected="a bar at the end"
            )
        self._check_endings()
        return self.bars

    def _check_endings(self) -> None:
        """Endings belong to a repeat and count its turns 1, 2, 3 without a gap, so that every turn has its own."""
        unplaced = dict(self.ending_places)
        for first in (index for index, bar in enumerate(self.bars) if bar.opens):
            block = self.bars[first : first + len(repeat_endings(self.bars, first))]
            numbers = [number for bar in block for number in bar.endings]
            here = range(first, first + len(block))
            places = [unplaced.pop(index) for index in here if index in unplaced]
            in_order = numbers == list(range(1, len(numbers) + 1))
            if numbers and (not in_order or len(numbers) == 1):
                raise ChartError(
                    f"the repeat has the endings {', '.join(map(str, numbers))}",
                    value=numbers,
                    where=places[-1],
                    expected="1, 2 and so on, each turn once",
                )
            if numbers and any(bar.plays > 2 for bar in block):
                raise ChartError(
                    "a repeat with endings is counted twice",
                    value=max(bar.plays for bar in block),
                    where=places[0],
                    expected="endings such as 1,2. and 3., without x3",
                )
        if unplaced:
            raise ChartError(
                "the ending belongs to no repeat",
                where=next(iter(unplaced.values())),
                expected="“:|” after the first ending",
            )
