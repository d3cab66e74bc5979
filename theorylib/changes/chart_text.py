"""The text of charts: reading it into headers and bars, and printing bars so that they read back the same.

The syntax is described in charts. Every error names line and column.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from ..errors import ChartError, VampError, shown
from ..limits import MOST_CHORDS_A_BAR, TEMPO, exact
from ..names.chords import Chord
from ..names.scales import Scale
from .bars import Bar, repeat_endings
from .chart_meant import NO_SIGNS, SIGNS, meant, meant_header
from .meters import COMMON_TIME, Meter, read_feel

_HEADER = re.compile(r"\s*+([A-Za-z]++)\s*+:(?!\|)")  # what follows is the value
_SECTION = re.compile(r"\s*+([^|:\[\]]{1,40}):(?!\|)")  # “Verse 1: | Am7 | D7 |”
_TEMPO = re.compile(r"(?:♩\s{0,9}=\s{0,9})?(\d{1,3}(?:\.\d{1,6})?)(?:\s{0,9}bpm)?", re.ASCII | re.IGNORECASE)
_COMMENT = re.compile(r"(?:^|(?<=\s))#(?=\s|$).*$")
_TOKEN = re.compile(
    r"(?P<label>\[[^\]|]*\])|(?P<key>key\s*+:(?!\|)[^|\[\]]*+)"
    r"|(?P<line>:\|:|:\|\|?|\|\|:|\|:|\|\||\||[‖𝄁𝄂𝄆𝄇])|(?P<ending>\d(?:,\d)*\.(?=\s|$))"
    r"|(?P<times>(?P<open>\()?(?:[xX×]\d+|\d+[xX×])(?(open)\))(?=[\s|]|$))"
    r"|(?P<between>[,;](?=[\s|A-GN%/]|$)|->(?=\s)|→)"
    r"|(?P<chord>(?:\([^()|]*+\)|(?![,;](?=[\s|A-GN%/]|$))[^\s|\[\]:‖𝄁𝄂𝄆𝄇→])+)|(?P<odd>\S)"
)
_BAR_LINES = frozenset("|‖𝄁𝄂𝄆𝄇")
_DOUBLE_SIGNS = {"‖": "||", "𝄁": "||", "𝄂": "||", "𝄆": "|:", "𝄇": ":|"}
# Signs that other keyboards and programs write for ours, one for one, so that columns stay.
_SAME_SIGN = str.maketrans("｜│┃¦𝄀𝄎％／，；、：", "|||||%%/,;,:")
_BAR_AGAIN = frozenset(("%", "./."))


Headers = dict[str, Any]  # word of HEADERS: its value as a Chart takes it


def read_chart(text: str, given: Mapping[str, object]) -> tuple[Headers, list[Bar]]:
    """(headers read, bars) of a chart's text; what `given` says of a header counts instead of the text."""
    headers: Headers = {}
    reader = _BarReader()
    for word, value in given.items():
        _read_header(headers, word, _header_text(word, value), word, reader)
    rows = list(_rows(text))
    reader.has_bar_lines = any(not row.header and _BAR_LINES & set(row.text) for row in rows)
    for row in rows:
        place = f"line {row.number}"
        if row.header in HEADERS and not (row.header == "key" and "|" in row.value and reader.begun):
            _read_header({} if row.header in given else headers, row.header, row.value, place, reader)
        elif row.header and row.header != "key":
            raise ChartError(f"“{row.header}” is not a header", value=row.header, where=place,
                             expected=f"one of {', '.join(HEADERS)}, or [{row.header}] for a section",
                             nearest=meant_header(row.header, HEADERS))
        elif row.text.strip():
            if row.section:
                reader.begin_section(row.section, place)
            reader.meter = headers.get("meter", COMMON_TIME)
            reader.line(row.text, row.number)
    return headers, reader.done()


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of the text: a header's word and its value, or bars, perhaps after the name of a section and a colon."""

    number: int
    text: str
    header: str = ""
    value: str = ""
    section: str = ""


def _rows(text: str) -> Iterator[_Row]:
    for number, written in enumerate(text.splitlines(), 1):
        title = _HEADER.match(written)
        if title and title[1].lower() == "title":
            yield _Row(number, "", "title", written[title.end():].strip())  # it is taken whole
            continue
        line = _COMMENT.sub("", written.translate(_SAME_SIGN))
        header, section = _HEADER.match(line), _SECTION.match(line)
        word = header[1].lower() if header else ""
        named = section is not None and word not in HEADERS and _BAR_LINES & set(line[section.end():])
        if section and named and not (header and meant_header(word, HEADERS)):
            yield _Row(number, " " * section.end() + line[section.end():], section=section[1].strip())
        else:
            yield _Row(number, line, word, line[header.end():].strip() if header else "")


def _header_text(word: str, value: object) -> str:
    """A header as a chart's text would say it: its text, its value or a number; None is as good as not given."""
    if value is None:
        return ""
    if word == "tempo" and isinstance(value, Fraction | int | float):
        return print_tempo(exact(value, "tempo"))
    if isinstance(value, str | int | Scale | Meter):
        return str(value)
    raise ChartError(f"“{shown(value)}” is no {shown(word)}", value=value, where=word, expected="a text, or its value")


def _read_header(headers: Headers, word: str, value: str, where: str, reader: _BarReader) -> None:
    if word == "key" and reader.begun:
        reader.new_key(value, where)
        return
    if reader.begun:
        raise ChartError(f"the header “{word}” stands after the first bar", value=word, where=where,
                         expected="all headers but a change of key before the bars")
    if not value:
        return
    try:
        headers[word] = _HEADER_READERS[word](value)
    except VampError as error:
        raise ChartError(error.message, value=value, where=where, expected=error.expected,
                         nearest=error.nearest) from error


def read_tempo(text: str) -> Fraction:
    """Quarter notes a minute, 20 to 400; raises ChartError otherwise."""
    low, high = TEMPO
    match = _TEMPO.fullmatch(text.strip())
    tempo = Fraction(match[1]) if match else Fraction(0)
    if not low <= tempo <= high:
        raise ChartError(f"“{text}” is not a tempo", value=text, expected=f"quarter notes a minute, {low} to {high}")
    return tempo


_HEADER_READERS: dict[str, Callable[[str], object]] = {
    "title": str, "key": Scale.parse, "meter": Meter.parse, "tempo": read_tempo, "feel": read_feel,
}
HEADERS = tuple(_HEADER_READERS)


class _BarReader:
    """Collects bars token by token, knowing where it stands so that it can say so."""

    def __init__(self) -> None:
        self.bars: list[Bar] = []
        self.section: str | None = None  # that begins with the bar being read
        self.meter = COMMON_TIME
        self.has_bar_lines = self.line_has_bar_lines = True
        self.open_at: str | None = None  # place of a `|:` not yet closed
        self.key: Scale | None = None
        self.ending_places: dict[int, str] = {}  # written bar with an ending's number: where the number stands
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
            raise ChartError(error.message, value=text, where=where, expected=error.expected,
                             nearest=error.nearest) from error

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
        self.line_has_bar_lines = bool(_BAR_LINES & set(text))
        touched = False  # a bar line was read on this text line and nothing since
        for match in _TOKEN.finditer(text):
            kind, word = str(match.lastgroup), match[0]
            where = f"line {number}, column {match.start() + 1}"
            if kind == "line":
                word = _DOUBLE_SIGNS.get(word, word)
                if touched and not self.cells and not self.opens and word != "|:":
                    raise ChartError("a bar is empty", value=word, where=where, expected="a chord, N.C. or %")
                self._bar_line(word, where)
            elif kind == "label":
                self.begin_section(word[1:-1].strip(), where)
            elif kind == "key":
                if self.cells:
                    raise ChartError("a key begins inside a bar", value=word.strip(), where=where,
                                     expected="it after a bar line")
                self.new_key(word.partition(":")[2].strip(), where)
            elif kind == "ending":
                if self.cells or not self.bars:
                    raise ChartError(f"the ending “{word}” does not follow a bar line", value=word, where=where)
                self.endings = tuple(int(one) for one in word[:-1].split(","))
                self.ending_places[len(self.bars)] = where
            elif kind == "times":
                if self.cells or not self.bars or self.bars[-1].plays == 1:
                    raise ChartError(f"“{word}” does not follow a repeat", value=word, where=where,
                                     expected="it after :|, as in |: Am7 | D7 :| x4")
                count = word.strip("(xX×)")
                if len(count) > 2 or not 2 <= int(count) <= 99:
                    raise ChartError(f"a repeat of {count[:5]} times", value=word, where=where, expected="x2 to x99")
                self.bars[-1] = replace(self.bars[-1], plays=int(count))
            elif kind == "between":
                self._between(word, where)
            elif kind == "odd":
                raise ChartError(f"“{word}” means nothing here", value=word, where=where)
            else:
                self._cell(word, where)
            touched = kind == "line" or (touched and kind in ("ending", "label"))
        self._end_bar(f"line {number}")

    def _between(self, word: str, where: str) -> None:
        """A comma, a semicolon or an arrow: it parts bars in a chart without bar lines, else the chords of a bar."""
        if not self.cells:
            raise ChartError(f"“{word}” has no chord before it", value=word, where=where, expected="a chord")
        if not self.has_bar_lines:
            self._end_bar(where)
        elif not self.line_has_bar_lines:
            raise ChartError(f"“{word}” may part bars or the chords of one here", value=word, where=where,
                             expected="a bar line | or a space, since this chart has bar lines elsewhere")

    def _cell(self, word: str, where: str) -> None:
        if word in NO_SIGNS:
            raise ChartError(f"“{word}” means nothing here", value=word, where=where,
                             expected=SIGNS)
        if word in _BAR_AGAIN:
            if not self.bars:
                raise ChartError(f"“{word}” has no bar before it", value=word, where=where, expected="a chord")
            self.cells.append("%")
            return
        if word == "/":
            if not self.cells:
                raise ChartError("“/” has no chord before it in this bar", value=word, where=where, expected="a chord")
            self.cells.append(word)
            return
        try:
            self.cells.append(Chord.parse(word))
        except VampError as error:
            before = str(self.cells[-1]) if self.cells else ""
            raise ChartError(error.message, value=word, where=where, expected=error.expected,
                             nearest=meant(word, before) or error.nearest) from error

    def _bar_line(self, word: str, where: str) -> None:
        had_bar = bool(self.cells)
        self._end_bar(where)
        if word.startswith(":"):
            if not self.bars or self.bars[-1].plays > 1:
                raise ChartError("“:|” closes nothing", value=word, where=where, expected="bars before it")
            if self.open_at is None:
                self._open_implied(where)
            self.bars[-1] = replace(self.bars[-1], plays=2)
            self.open_at = None
        elif word.startswith("||") and had_bar:
            self.bars[-1] = replace(self.bars[-1], double=True)
        if word.endswith("|:") or word == ":|:":
            if self.open_at is not None:
                raise ChartError(f"“|:” opens inside the repeat of {self.open_at}", value=word, where=where,
                                 expected="“:|” first")
            self.opens, self.open_at = True, where

    def _open_implied(self, where: str) -> None:
        """A `:|` with no `|:` goes back to the last repeat's end, or to the start: say so in the value."""
        start = next((index + 1 for index in range(len(self.bars) - 1, -1, -1) if self.bars[index].plays > 1), 0)
        if start and self.bars[start].endings:  # a later ending: it reaches to here, or to a double bar or section
            past = [index for index in range(start + 1, len(self.bars))
                    if self.bars[index - 1].double or self.bars[index].section is not None]
            if not past:
                return
            start = past[0]
        self.bars[start] = replace(self.bars[start], opens=True)

    def _end_bar(self, where: str) -> None:
        if not self.cells:
            return
        if len(self.cells) > MOST_CHORDS_A_BAR:
            raise ChartError(f"a bar of {len(self.cells)} chords", value=len(self.cells), where=where,
                             expected=f"1 to {MOST_CHORDS_A_BAR}")
        if "%" in self.cells and len(self.cells) > 1:
            raise ChartError("“%” shares its bar", value="%", where=where, expected="% alone in a bar")
        if "/" in self.cells and len(self.cells) != self.meter.pulses:
            raise ChartError(f"the bar has {len(self.cells)} pulses", value=len(self.cells), where=where,
                             expected=f"{self.meter.pulses} chords and slashes in {self.meter}")
        self.bars.append(Bar(tuple(self.cells), self.section, self.opens, 1, self.endings, key=self.key))
        self._start_bar()

    def done(self) -> list[Bar]:
        if self.open_at is not None:
            raise ChartError("the repeat is never closed", value="|:", where=self.open_at, expected="“:|” after it")
        if self.opens or self.section is not None or self.endings or self.key is not None:
            raise ChartError("the chart ends where a bar should follow", expected="a bar at the end")
        self._check_endings()
        return self.bars

    def _check_endings(self) -> None:
        """Endings belong to a repeat and count its turns 1, 2, 3 without a gap, so that every turn has its own."""
        unplaced = dict(self.ending_places)
        for first in (index for index, bar in enumerate(self.bars) if bar.opens):
            block = self.bars[first:first + len(repeat_endings(self.bars, first))]
            numbers = [number for bar in block for number in bar.endings]
            places = [unplaced.pop(index) for index in range(first, first + len(block)) if index in unplaced]
            if numbers and (numbers != list(range(1, len(numbers) + 1)) or len(numbers) == 1):
                raise ChartError(f"the repeat has the endings {', '.join(map(str, numbers))}", value=numbers,
                                 where=places[-1], expected="1, 2 and so on, each turn once")
            if numbers and any(bar.plays > 2 for bar in block):
                raise ChartError("a repeat with endings is counted twice", value=max(bar.plays for bar in block),
                                 where=places[0], expected="endings such as 1,2. and 3., without x3")
        if unplaced:
            raise ChartError("the ending belongs to no repeat", where=next(iter(unplaced.values())),
                             expected="“:|” after the first ending")


def print_bars(bars: tuple[Bar, ...], a_line: int = 4) -> Iterator[str]:
    """Lines of text that read back as the same bars: a new line at each section or key and after `a_line` bars."""
    line, count = "", 0
    for bar in bars:
        if line and (bar.section is not None or bar.key is not None or count == a_line):
            yield line
            line, count = "", 0
        if bar.key is not None:
            yield f"key: {bar.key}"
        if not line:
            line = f"[{bar.section}] " if bar.section is not None else ""
            line += "|:" if bar.opens else "|"
        elif bar.opens:
            line = line[:-2] + ":|:" if line.endswith(":|") else line[:-1] + "|:"
        if bar.endings:
            line += ",".join(map(str, bar.endings)) + "."
        line += " " + " ".join(map(str, bar.cells)) + " "
        line += ":|" if bar.plays > 1 else "||" if bar.double else "|"
        if bar.plays > 2:
            line += f" x{bar.plays}"
            yield line
            line, count = "", 0
            continue
        count += 1
    if line:
        yield line


def print_tempo(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else str(float(value))
