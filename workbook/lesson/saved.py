"""The parts of a saved lesson as frozen values: a cell, what it shows, and what the lesson says of itself.

Each keeps the JSON that it was read from as `raw`, which nobody changes: what we do not know comes out as it went in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any, TypeVar

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.limits import TEMPO, number_in
from theorylib.names.scales import Scale
from theorylib.playing.lines import Line
from theorylib.practice.ear_text import EarTask, read_ear_text

from ..mimes import CHART_MIME, EAR_MIME, LINE_MIME, PHOTO_MIMES, SVG_MIME, stored_svg, stored_text
from .door import LessonError

T = TypeVar("T")
TEXT, CODE, RAW = "text", "code", "raw"
_KINDS = {"markdown": TEXT, "code": CODE, "raw": RAW}


@dataclass(frozen=True)
class Output:
    """One thing that a cell showed: `kind` is Jupyter's ("display_data", "execute_result", "stream", "error")."""

    cell: int  # the number of its cell
    kind: str
    raw: Mapping[str, Any] = field(repr=False, hash=False)

    @property
    def data(self) -> Mapping[str, Any]:
        """What it shows, by media type."""
        return self.raw.get("data", {})

    def text(self, mime: str) -> str:
        """What it shows under a media type as one text, however Jupyter stores it; empty without that type."""
        return stored_text(self.data, mime) or ""

    @cached_property
    def svg(self) -> str:
        """Its drawing, wherever it is stored; empty without one."""
        return stored_svg(self.raw)

    @property
    def figures(self) -> tuple[str, ...]:
        """The media types under which it shows a picture."""
        has_drawing = SVG_MIME in self.data or bool(self.svg)
        return (*([SVG_MIME] if has_drawing else []), *(mime for mime in PHOTO_MIMES if mime in self.data))

    def said_of(self, mime: str) -> Mapping[str, Any]:
        """What it says of its picture (alt, caption, width_mm, cuts), for all its forms or for one."""
        about = self.raw.get("metadata", {})
        return {**about, **about.get(mime, {})}

    @property
    def error(self) -> str:
        """What was raised, as "NameError: name 'x' is not defined"; empty where nothing was."""
        return f"{self.raw.get('ename')}: {self.raw.get('evalue')}" if self.kind == "error" else ""

    @property
    def carries_line(self) -> bool:
        return self.data.get(LINE_MIME) not in (None, "", [])

    @cached_property
    def line(self) -> Line | VampError | None:
        """The line that it carries, read once; the error where it cannot be read."""
        return self._read(LINE_MIME, Line.from_json)

    @cached_property
    def chart(self) -> Chart | VampError | None:
        """The chart that it carries, read once; the error where it cannot be read."""
        return self._read(CHART_MIME, Chart.parse)

    @cached_property
    def ear(self) -> tuple[EarTask, ...] | VampError | None:
        """The tasks for the ear that it carries, read once; the error where they cannot be read."""
        return self._read(EAR_MIME, read_ear_text)

    def _read(self, mime: str, read: Callable[[str], T]) -> T | VampError | None:
        if self.data.get(mime) is None:
            return None
        try:
            return read(self.text(mime))
        except VampError as error:
            return error


@dataclass(frozen=True)
class Cell:
    """A cell: its number from 1, whether it is text, code or raw, what was typed into it, and what it showed."""

    number: int
    kind: str
    source: str
    id: str = ""
    tags: tuple[str, ...] = ()
    outputs: tuple[Output, ...] = ()
    execution_count: int | None = None
    raw: Mapping[str, Any] = field(default_factory=dict, repr=False, hash=False)

    @classmethod
    def of(cls, number: int, raw: Mapping[str, Any]) -> Cell:
        outputs = (Output(number, str(one.get("output_type", "")), one) for one in raw.get("outputs", ()))
        return cls(number, _KINDS.get(str(raw.get("cell_type")), RAW), joined(raw.get("source", "")),
                   raw.get("id") or "", tuple(raw.get("metadata", {}).get("tags", ())), tuple(outputs),
                   raw.get("execution_count"), raw)

    @property
    def is_text(self) -> bool:
        return self.kind == TEXT

    @property
    def is_code(self) -> bool:
        return self.kind == CODE

    @property
    def is_empty(self) -> bool:
        return not self.source.strip()

    def with_source(self, source: str) -> Cell:
        """The cell with other words or code; what it showed stays."""
        return self if source == self.source else self._with(source=source.splitlines(keepends=True))

    def with_tags(self, *tags: str) -> Cell:
        """The cell with these tags in the place of its own."""
        return self._with(metadata={**self.raw.get("metadata", {}), "tags": list(tags)})

    def _with(self, **changed: Any) -> Cell:
        return Cell.of(self.number, {**self.raw, **changed})


@dataclass(frozen=True)
class About:
    """What a lesson says of itself, as it says it: a text for each, empty where it says nothing.

    What the texts mean is asked of `tempo_bpm`, `key_scale` and `home_scale`, which raise where they mean nothing.
    """

    title: str = ""
    level: str = ""
    minutes: str = ""
    tempo: str = ""
    feel: str = ""
    key: str = ""
    home: str = ""
    language: str = ""
    student: str = ""
    aims: tuple[str, ...] = ()
    techniques: tuple[str, ...] = ()
    raw: Mapping[str, Any] = field(default_factory=dict, repr=False, hash=False)

    @classmethod
    def of(cls, raw: Mapping[str, Any]) -> About:
        def text(name: str) -> str:
            return "" if raw.get(name) is None else str(raw[name])

        return cls(text("title"), text("level"), text("minutes"), text("tempo"), text("feel"), text("key"),
                   text("home"), text("language"), text("student"), tuple(raw.get("aims", ())),
                   tuple(raw.get("techniques", ())), raw)

    @property
    def tempo_bpm(self) -> Fraction | None:
        """Quarter notes a minute, None where it says none; raises LessonError for what is no tempo."""
        if not self.tempo:
            return None
        try:
            return number_in(self.tempo, TEMPO, "tempo")
        except VampError as error:
            raise LessonError(f"“{self.tempo:.40}” is no tempo", value=self.raw.get("tempo"),
                              where="the notebook's metadata, vampbook, tempo",
                              expected=f"quarter notes a minute, {TEMPO[0]} to {TEMPO[1]}, such as 92") from error

    @property
    def key_scale(self) -> Scale | None:
        """The key, None where it says none; raises the scale's own error."""
        return Scale.parse(self.key) if self.key else None

    @property
    def home_scale(self) -> Scale | None:
        """The home scale, the key where it says none, None where it says neither; raises the scale's own error."""
        return Scale.parse(self.home) if self.home else self.key_scale


def joined(text: Any) -> str:
    """A text of a notebook, which Jupyter stores in one piece or line by line."""
    return text if isinstance(text, str) else "".join(text)
