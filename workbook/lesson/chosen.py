"""What a teacher chooses for a lesson: a value, and the one cell of a notebook that holds it.

The cell is tagged `parameters`, as papermill reads it: a plain literal a line. A cell tagged `injected-parameters`,
which papermill puts after it, counts before it. Everything else that the kit writes follows from these lines.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from theorylib.changes.chart_text import print_bars, print_tempo
from theorylib.changes.charts import Chart
from theorylib.errors import VampError, closest, shown
from theorylib.levels import LEVELS, Level
from theorylib.limits import is_whole
from theorylib.necks.tunings import STANDARD, Tuning

from .cells import block, code_cell, literal
from .choices import INJECTED, PARAMETERS
from .code import with_values
from .door import LessonError
from .lesson import Lesson

OfChanges = Literal["groove", "blues", "rock", "modern"]
KINDS: tuple[OfChanges, ...] = get_args(OfChanges)
LessonKind = Literal["groove", "blues", "rock", "modern", "phrase"]
PHRASE: LessonKind = "phrase"  # the kind of a lesson about a phrase, which it then holds
HEADERS = ("key", "meter", "tempo", "feel")  # of a chart, each a line of the cell


@dataclass(frozen=True, slots=True)
class Choices:
    """What a teacher decides about a lesson beside its chart; `position` None lets the kit choose."""

    title: str
    level: Level = "intermediate"
    minutes: int = 30
    position: int | None = None
    per_chord: int = 8
    passes: int = 2
    tuning: Tuning = STANDARD
    substitutes: bool = False
    kind: LessonKind = "groove"
    phrase: str = ""  # typed, in its own tuning ...
    up: int = 0       # ... and by how many half steps it has been moved since
    track: str = ""   # a recording beside the lesson, over which it is played

    def __post_init__(self) -> None:
        kinds = (*KINDS, PHRASE) if self.phrase else KINDS
        for word, known, what in ((self.level, LEVELS, "level"), (self.kind, kinds, "kind of lesson")):
            if word not in known:
                raise LessonError(f"“{shown(word)}” is not a {what}", value=word, expected=", ".join(known),
                                  nearest=closest(str(word), known))


def parameters_code(chart: Chart, choices: Choices) -> str:
    """The lines of the cell of choices; what the chart does not state (its key) is left to the kit."""
    bars = list(print_bars(chart.bars))
    if chart.title and chart.title != choices.title:  # changes with a name of their own
        bars.insert(0, f"title: {chart.title}")
    changes = literal(bars[0]) if len(bars) == 1 else block("\n".join(["", *bars, ""]))
    key = literal(chart.key) if chart.key else "None"
    neck = choices.tuning.with_capo(0).name
    lines = {
        "title": literal(choices.title), "kind": literal(choices.kind), "level": literal(choices.level),
        "minutes": choices.minutes, "changes": changes, "key": f"{key}  # None: as the changes say it",
        "meter": literal(chart.meter), "tempo": print_tempo(chart.tempo), "feel": literal(chart.feel),
        "tuning": literal(neck), "capo": choices.tuning.capo,
        "position": f"{choices.position}  # None: the easiest near the root", "per_chord": choices.per_chord,
        "passes": choices.passes, "substitutes": choices.substitutes,
    }
    if choices.phrase:
        lines |= {"phrase_text": block(f"\n{choices.phrase.strip(chr(10))}\n"),
                  "up": f"{choices.up}  # half steps from the key that it is typed in"}
    if choices.track:
        lines["track"] = f"{literal(choices.track)}  # a recording beside this lesson; its bars: the .grid.txt there"
    return "\n".join(f"{name} = {value}" for name, value in lines.items())


def has_choices(lesson: Lesson) -> bool:
    """Does one cell hold all choices, the changes too? Lessons of an earlier kit state these in their chart."""
    ours = "written" in lesson.about.raw or set(NAMES) <= set(lesson.parameters)
    return ours and "changes" in lesson.parameters


def read_choices(lesson: Lesson) -> tuple[Chart, Choices]:
    """The chart and the choices that a lesson's cells state; raises LessonError with the cell and the line.

    The chart's key is None where the cell leaves it to the kit, and so is the position.
    """
    number = next((cell.number for cell in lesson.cells if cell.is_code and PARAMETERS in cell.tags), 0)
    values = lesson.choices
    missing = next((name for name in _READERS if name not in values), "")
    if missing:
        raise LessonError(f"the cell of choices sets no “{missing}”", value=missing, where=f"cell {number}",
                          expected=f"a line that begins with {missing} = and a plain value",
                          nearest=closest(missing, set(values) - set(_READERS)))
    read: dict[str, Any] = {}
    for name, reader in _READERS.items():
        try:
            read[name] = reader(values[name])
        except VampError as error:
            raise _placed(error, number, name) from error
    for name, reader in _OPTIONAL.items():
        try:
            read[name] = reader(values[name]) if name in values else None
        except VampError as error:
            raise _placed(error, number, name) from error
    return _chart(read, number), _choices(read, number)


def _chart(read: Mapping[str, Any], number: int) -> Chart:
    try:
        return Chart.parse(read["changes"], **{word: read[word] for word in HEADERS})
    except VampError as error:
        raise _placed(error, number, "" if error.where in HEADERS else "changes") from error


def _choices(read: Mapping[str, Any], number: int) -> Choices:
    own = ("title", "level", "minutes", "position", "per_chord", "passes", "substitutes", "kind")
    try:
        return Choices(**{name: read[name] for name in own}, tuning=Tuning.parse(read["tuning"], read["capo"]),
                       phrase=read["phrase_text"] or "", up=read["up"] or 0, track=read["track"] or "")
    except VampError as error:
        raise _placed(error, number) from error


def _placed(error: VampError, number: int, name: str = "") -> LessonError:
    where = ", ".join(filter(None, (f"cell {number}", name, error.where)))
    return LessonError(error.message, value=error.value, where=where, expected=error.expected, nearest=error.nearest)


# -- the value of each line --------------------------------------------------------------------------------------------
def _text(value: object) -> str:
    if isinstance(value, str):
        return value
    raise LessonError(f"“{shown(value)}” is no text", value=value, expected="a text in quotes")


def _header(value: object) -> object:
    if value is None or (isinstance(value, str | int | float) and not isinstance(value, bool)):
        return value
    raise LessonError(f"“{shown(value)}” stands here", value=value, expected="a text or a number")


def _whole(low: int, high: int) -> Any:
    def read(value: object) -> int:
        if is_whole(value, low, high):
            return value  # type: ignore[return-value]
        raise LessonError(f"“{shown(value)}” stands here", value=value, expected=f"a whole number, {low} to {high}")

    return read


def _position(value: object) -> int | None:
    return None if value is None else _whole(1, 35)(value)


def _yes(value: object) -> bool:
    if isinstance(value, bool):
        return value
    raise LessonError(f"“{shown(value)}” stands here", value=value, expected="True or False")


# A line of the cell: what reads its value. The limits of a drill's numbers are the drill's to say.
_READERS: dict[str, Any] = {
    "title": _text, "kind": _text, "level": _text, "minutes": _whole(1, 600), "changes": _text, "key": _header,
    "meter": _header, "tempo": _header, "feel": _header, "tuning": _text, "capo": _whole(0, 35),
    "position": _position, "per_chord": _whole(1, 64), "passes": _whole(1, 99), "substitutes": _yes,
}


# Lines that stand there too where the lesson holds a phrase, or is played over a recording.
_OPTIONAL: dict[str, Any] = {"phrase_text": _text, "up": _whole(-36, 36), "track": _text}
NAMES = tuple(_READERS)  # of the lines
ALL_NAMES = (*NAMES, *_OPTIONAL)


# -- the cells that hold them ------------------------------------------------------------------------------------------
def with_choices(lesson: Lesson, values: Mapping[str, Any]) -> Lesson:
    """The lesson with other values where its cells set them; raises LessonError for one that they do not set."""
    _known(lesson, values)
    return lesson.with_sources({
        cell.number: with_values(cell.source, values) for cell in lesson.cells
        if cell.is_code and {PARAMETERS, INJECTED} & set(cell.tags)})


def with_injected(lesson: Lesson, values: Mapping[str, Any], *more: str) -> Lesson:
    """The lesson with a papermill-style cell of values, and `more` lines of code, after the cell tagged `parameters`.

    Raises LessonError where a value is no parameter of the lesson.
    """
    _known(lesson, values)
    at = next((cell.number for cell in lesson.cells if cell.is_code and PARAMETERS in cell.tags), None)
    if at is None:
        at = next((cell.number for cell in lesson.cells if "import *" in cell.source), 0)
    lines = ["# Parameters", *(f"{name} = {value!r}" for name, value in values.items()), *more]
    return lesson.with_cell_after(at, code_cell("injected", "\n".join(lines), INJECTED))


def _known(lesson: Lesson, values: Mapping[str, Any]) -> None:
    for name in values:
        if name not in lesson.parameters:
            raise LessonError(f"the lesson has no parameter “{name}”", value=name,
                              expected=f"a cell tagged “{PARAMETERS}” that sets it")
