"""A phrase as text, either way of writing it, with lines before it that say what it is called and what it is over.

    title: Low tide
    over: | Am7 | D7 |
    tempo: 96
    e A3 C4 E4 G4 | q. A4[~] e G4[p] h E4

Below the heading stand TAB (see `tab_text`) or words (see `words`). What the caller gives (a chart, a tuning) counts
instead of what the text says.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..changes.meters import COMMON_TIME, Meter
from ..errors import LineError, VampError, one_of
from ..limits import METER_BEATS, exact, number_in
from ..necks.tunings import STANDARD, Tuning, as_tuning
from .lines import Line
from .tab_print import print_tab
from .tab_rows import has_tab
from .tab_text import read_tab
from .typed import Shown, Typed
from .values import EVEN, ONE_VALUE, RHYTHMS, Rhythm, read_value
from .words import print_words, read_words

_CHART_WORDS = ("key", "meter", "tempo", "feel")
_FILED = ("level", "techniques")  # what a file of a phrase says of it besides
_WORDS = ("title", "position", "promise", "tuning", "neck", "changes", "over", *_CHART_WORDS, *_FILED)
_HEADING = re.compile(rf"\s*({'|'.join(_WORDS)})\s*:\s*(.*)", re.IGNORECASE)
_NECK = re.compile(r"(\d{1,2}) frets(?:, (\d{1,4}(?:\.\d{1,17})?) mm)?")
_NO_CHORD = "N.C."
Heading = dict[str, tuple[str, int, int]]  # word: what it says, line and column


def read_phrase(text: str, tuning: Tuning | str = STANDARD, chart: Chart | str | None = None, *,
                rhythm: Rhythm | Fraction | str = EVEN) -> Line:
    """Read TAB or a line of words; see `Line.parse`."""
    typed = Typed.of(text)
    neck = as_tuning(tuning)
    timed = _rhythm(rhythm)
    over = None if chart is None else as_chart(chart)
    said, changes, used = _heading(typed)
    body = Typed(tuple("" if row in used else line for row, line in enumerate(typed.lines)))
    if neck == STANDARD:
        neck = _neck(typed, said)
    if over is None:
        over = _chart(typed, said, changes)
    if not any(line.strip() for line in body.lines) and not used:
        raise LineError("the phrase is empty", value="", expected="TAB, or a line of words such as “e A3 C4 E4”")
    if has_tab(body):
        line = read_tab(body, neck, over or Chart.parse(f"| {_NO_CHORD} |", meter=_meter(typed, said)), timed)
    else:
        line = read_words(body, neck, over, _meter(typed, said) if over is None else over.meter, used)
    return _called(typed, line, said)


def own_tuning(text: str) -> Tuning | None:
    """The tuning that a phrase says in its heading; None where it says none."""
    typed = Typed.of(text)
    said = _heading(typed)[0]
    return _neck(typed, said) if {"tuning", "neck"} & said.keys() else None


def own_words(text: str) -> dict[str, str]:
    """What a phrase says in its heading, by word: title, level, techniques, over and the like."""
    return {word: said for word, (said, _, _) in _heading(Typed.of(text))[0].items()}


def own_changes(text: str) -> Chart | None:
    """The changes that a phrase says in its heading; None where it says none."""
    typed = Typed.of(text)
    said, changes, _ = _heading(typed)
    return _chart(typed, said, changes)


def write_phrase(line: Line, *, tab: bool) -> Shown:
    """The line as text with its heading: as TAB, or in words."""
    head = list(_said(line))
    body = ["", print_tab(line)] if tab else [print_words(line)]
    return Shown("\n".join([*head, *body]))


# -- the heading -----------------------------------------------------------------------------------------------------
def _heading(typed: Typed) -> tuple[Heading, list[str], frozenset[int]]:
    """What the heading says by word, the lines of changes, and the lines that it takes."""
    said: Heading = {}
    changes: list[str] = []
    used = set()
    for row, line in enumerate(typed.lines):
        match = _HEADING.match(line)
        if match is None:
            if line.strip():
                break
            continue
        word = match[1].lower()
        used.add(row)
        if word == "over":
            changes.append(match[2])
        elif word in said:
            raise typed.wrong(f"“{word}” stands twice in the heading", row, match.start(1), value=word)
        said.setdefault(word, (match[2].strip(), row, match.start(2)))
    return said, changes, frozenset(used)


def _chart(typed: Typed, said: Heading, changes: list[str]) -> Chart | None:
    """The chart of the heading; None where it names no changes."""
    if not changes:
        return None
    text = "\n".join(changes)
    row, column = said["over"][1:]
    try:
        chart = Chart.parse(text if "|" in text else f"| {text} |",
                            **{word: said[word][0] for word in _CHART_WORDS if word in said})
    except VampError as error:
        raise typed.wrong(error.message, row, column, value=error.value, expected=error.expected,
                          nearest=error.nearest) from error
    return replace(chart, title=_unquoted(said["changes"][0])) if "changes" in said else chart


def _meter(typed: Typed, said: Heading) -> Meter:
    if "meter" not in said:
        return COMMON_TIME
    text, row, column = said["meter"]
    try:
        return Meter.parse(text)
    except VampError as error:
        raise typed.wrong(error.message, row, column, value=text, expected=error.expected) from error


def _neck(typed: Typed, said: Heading) -> Tuning:
    neck = STANDARD
    for word, use in (("tuning", lambda neck, text: Tuning.parse(text)), ("neck", _of_neck)):
        if word in said:
            text, row, column = said[word]
            try:
                neck = use(neck, text)
            except VampError as error:
                raise typed.wrong(error.message, row, column, value=text, expected=error.expected,
                                  nearest=error.nearest) from error
    return neck


def _of_neck(neck: Tuning, text: str) -> Tuning:
    match = _NECK.fullmatch(text)
    if match is None:
        raise LineError(f"“{text[:40]}” is no neck", value=text, expected="such as “24 frets, 648 mm”")
    return replace(neck, frets=int(match[1]), scale_length_mm=float(match[2]) if match[2] else neck.scale_length_mm)


def _called(typed: Typed, line: Line, said: Heading) -> Line:
    """The line with the title, position and promise that the heading gives it."""
    if "title" in said:
        line = replace(line, title=_unquoted(said["title"][0]))
    if "position" in said:
        text, row, column = said["position"]
        if not re.fullmatch(r"\d{1,2}", text, re.ASCII):
            raise typed.wrong(f"“{text[:20]}” is no position", row, column, value=text, expected="a fret, such as 5")
        line = replace(line, position=int(text))
    if "promise" in said:
        text, row, column = said["promise"]
        try:
            line = replace(line, promise=text)
        except VampError as error:
            raise typed.wrong(error.message, row, column, value=text, expected=error.expected) from error
    return line


def _rhythm(said: Fraction | str) -> Fraction | str:
    """How notes without values are timed: by a word, or each so many beats long."""
    if isinstance(said, str) and re.fullmatch(ONE_VALUE, said):
        return read_value(said)
    if isinstance(said, str) and not said[:1].isdigit():
        return one_of(said, RHYTHMS, "rhythm", LineError)
    limits = (Fraction(1, 16), METER_BEATS[1])
    return number_in(exact(said, "length of each note"), limits, "length of each note in beats")


def _said(line: Line) -> list[str]:
    """The heading that gives back all that the notes do not say."""
    chart, neck = line.chart, line.tuning
    found = [f"title: {_quoted(line.title)}"] if line.title else []
    found += [f"position: {line.position}"] if line.position is not None else []
    found += [f"promise: {line.promise}"] if line.promise else []
    if neck != STANDARD:
        found.append(f"tuning: {neck}")
    if (neck.frets, neck.scale_length_mm) != (STANDARD.frets, STANDARD.scale_length_mm):
        found.append(f"neck: {neck.frets} frets, {neck.scale_length_mm} mm")
    found += [f"changes: {_quoted(chart.title)}"] if chart.title else []
    for row in str(replace(chart, title="")).splitlines():
        word = row.partition(":")[0]
        before_bars = not any(one.startswith("over:") for one in found)
        found.append(row if before_bars and word in _CHART_WORDS else f"over: {row}")
    return found


def _quoted(text: str) -> str:
    """A title as it stands in a heading: in quotation marks where it would not come back otherwise."""
    plain = text == text.strip() and text.isprintable() and text.isascii() and not text.startswith('"')
    return text if plain else json.dumps(text)


def _unquoted(text: str) -> str:
    if text.startswith('"'):
        try:
            found = json.loads(text)
        except ValueError:
            return text
        return found if isinstance(found, str) else text
    return text
