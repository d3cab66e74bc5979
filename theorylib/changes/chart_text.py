"""The text of charts: reading it into headers and bars, and printing bars so that they read back the same.

The syntax is described in charts. Every error names line and column.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ..errors import ChartError, VampError, shown
from ..limits import TEMPO, exact
from ..names.scales import Scale
from .bar_text import BAR_LINES, BarReader
from .bars import Bar
from .chart_meant import meant_header
from .meters import COMMON_TIME, Meter, read_feel

_HEADER = re.compile(r"\s*+([A-Za-z]++)\s*+:(?!\|)")  # what follows is the value
_SECTION = re.compile(r"\s*+([^|:\[\]]{1,40}):(?!\|)")  # “Verse 1: | Am7 | D7 |”
_TEMPO = re.compile(
    r"(?:(♩\.?)\s{0,9}=\s{0,9})?(\d{1,3}(?:\.\d{1,6})?)(?:\s{0,9}bpm)?", re.ASCII | re.IGNORECASE
)
_DOTTED = Fraction(3, 2)  # quarters of a dotted one
_COMMENT = re.compile(r"(?:^|(?<=\s))#(?=\s|$).*$")
# Signs that other keyboards and programs write for ours, one for one, so that columns stay.
_SAME_SIGN = str.maketrans("｜│┃¦𝄀𝄎％／，；、：", "|||||%%/,;,:")


Headers = dict[str, Any]  # word of HEADERS: its value as a Chart takes it


def read_chart(text: str, given: Mapping[str, object]) -> tuple[Headers, list[Bar]]:
    """(headers read, bars) of a chart's text; what `given` says of a header counts instead, None says nothing."""
    headers: Headers = {}
    reader = BarReader()
    given = {word: value for word, value in given.items() if value is not None}
    for word, value in given.items():
        _read_header(headers, word, _header_text(word, value), word, reader)
    rows = list(_rows(text))
    reader.has_bar_lines = any(not row.header and BAR_LINES & set(row.text) for row in rows)
    for row in rows:
        place = f"line {row.number}"
        if row.header in HEADERS and not (
            row.header == "key" and "|" in row.value and reader.begun
        ):
            _read_header(
                {} if row.header in given else headers, row.header, row.value, place, reader
            )
        elif row.header and row.header != "key":
            raise ChartError(
                f"“{row.header}” is not a header",
                value=row.header,
                where=place,
                expected=f"one of {', '.join(HEADERS)}, or [{row.header}] for a section",
                nearest=meant_header(row.header, HEADERS),
            )
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
            yield _Row(number, "", "title", written[title.end() :].strip())  # it is taken whole
            continue
        line = _COMMENT.sub("", written.translate(_SAME_SIGN))
        header, section = _HEADER.match(line), _SECTION.match(line)
        word = header[1].lower() if header else ""
        named = (
            section is not None and word not in HEADERS and BAR_LINES & set(line[section.end() :])
        )
        if section and named and not (header and meant_header(word, HEADERS)):
            yield _Row(
                number, " " * section.end() + line[section.end() :], section=section[1].strip()
            )
        else:
            yield _Row(number, line, word, line[header.end() :].strip() if header else "")


def _header_text(word: str, value: object) -> str:
    """A header as a chart's text would say it: its text, its value or a number."""
    if word == "tempo" and isinstance(value, Fraction | int | float):
        return print_tempo(exact(value, "tempo"))
    if isinstance(value, str | int | Scale | Meter):
        return str(value)
    raise ChartError(
        f"“{shown(value)}” is no {shown(word)}",
        value=value,
        where=word,
        expected="a text, or its value",
    )


def _read_header(headers: Headers, word: str, value: str, where: str, reader: BarReader) -> None:
    if word == "key" and reader.begun:
        reader.new_key(value, where)
        return
    if reader.begun:
        raise ChartError(
            f"the header “{word}” stands after the first bar",
            value=word,
            where=where,
            expected="all headers but a change of key before the bars",
        )
    if not value:
        return
    try:
        headers[word] = _HEADER_READERS[word](value)
    except VampError as error:
        raise ChartError(
            error.message, value=value, where=where, expected=error.expected, nearest=error.nearest
        ) from error


def read_tempo(text: str) -> Fraction:
    """Quarter notes a minute, 20 to 400, from a number or a mark such as “♩. = 60”; raises ChartError otherwise."""
    low, high = TEMPO
    match = _TEMPO.fullmatch(text.strip())
    tempo = Fraction(match[2]) if match else Fraction(0)
    if match and match[1] == "♩.":
        tempo *= _DOTTED
    if not low <= tempo <= high:
        raise ChartError(
            f"“{text}” is not a tempo",
            value=text,
            expected=f"quarter notes a minute, {low} to {high}",
        )
    return tempo


_HEADER_READERS: dict[str, Callable[[str], object]] = {
    "title": str,
    "key": Scale.parse,
    "meter": Meter.parse,
    "tempo": read_tempo,
    "feel": read_feel,
}
HEADERS = tuple(_HEADER_READERS)


def print_bars(bars: tuple[Bar, ...], a_line: int = 4) -> Iterator[str]:
    """Lines of text that read back as the same bars: a new line at each section or key and after `a_line` bars."""
    for line in _lines_of(bars, a_line):
        if line[0].key is not None:
            yield f"key: {line[0].key}"
        section = f"[{line[0].section}] " if line[0].section is not None else ""
        yield section + "|" + "".join(map(_from_barline_to_barline, line))


def _lines_of(bars: Sequence[Bar], a_line: int) -> Iterator[list[Bar]]:
    """The bars of each line: what is played more than twice ends one, since "x3" stands there alone."""
    line: list[Bar] = []
    for bar in bars:
        begins = bar.section is not None or bar.key is not None
        is_full = len(line) == a_line or (line and line[-1].plays > 2)
        if line and (begins or is_full):
            yield line
            line = []
        line.append(bar)
    if line:
        yield line


def _from_barline_to_barline(bar: Bar) -> str:
    """What follows the barline before a bar, which the bar before has printed, with the one after it."""
    opening = ":" if bar.opens else ""
    endings = ",".join(map(str, bar.endings)) + "." if bar.endings else ""
    cells = " ".join(map(str, bar.cells))
    closing = ":|" if bar.plays > 1 else "||" if bar.double else "|"
    times = f" x{bar.plays}" if bar.plays > 2 else ""
    return f"{opening}{endings} {cells} {closing}{times}"


def print_tempo(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else str(float(value))


def tempo_words(tempo: Fraction, meter: Meter) -> str:
    """A tempo in quarter notes as it is shown; where a foot taps dotted quarters, how many of those it is.

    >>> tempo_words(Fraction(92), Meter(4, 4)), tempo_words(Fraction(90), Meter(12, 8))
    ('♩ = 92', '♩ = 90 (♩. = 60)')
    """
    said = f"♩ = {print_tempo(tempo)}"
    if not meter.compound or meter.pulse_beats != _DOTTED:
        return said
    dotted = tempo / _DOTTED
    sign = "=" if dotted.denominator == 1 else "≈"
    return f"{said} (♩. {sign} {round(dotted)})"
