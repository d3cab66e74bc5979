"""Who plays a backing track and how: one value for all that a teacher may choose about the band and its form.

A lesson's cell says it in words (`backing(style="funk", without="bass")`), a command in options, a lesson's output in
JSON; all of them make a Band here, so that one place knows the words and refuses the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from theorylib.changes.charts import Chart
from theorylib.errors import VampError, as_text, closest, listed, one_of, shown
from theorylib.limits import is_whole

from .arrangement import GROWS, chorus_words
from .parts import BASS, COMP, DRUMS, PARTS, BackingError
from .style import MAIN, Style
from .style_text import as_style, style_names, style_text

COMPOUND, WALTZ = "compound", "waltz"
MOST_EXTRA, MOST_CHORUSES = 16, 400
STYLED = ("style", "drums", "bass", "comp")           # the words that name a style
PART_OF = {"drums": DRUMS, "bass": BASS, "comp": COMP}  # of each part that may be left out its word


@dataclass(frozen=True, slots=True)
class Band:
    """What is played: a style for all (None: the chart's feel), and another for one part where it is named.

    A style is a name, the text of a style or its file. `density` is "grows", a density for all choruses, or one for
    each in a row ("light, main x2, full, stop"). `choruses` are how many there are (a short form is played until eight
    bars make one; None: what a length in minutes asks for). `groups` are those of the bar ("2+2+3"; "": the meter's
    own). `intro` and `tag` are bars; `loop` leaves out what comes before and after the choruses. Raises BackingError,
    ArrangementError.
    """

    style: Style | Path | str | None = None
    drums: Style | Path | str | None = None
    bass: Style | Path | str | None = None
    comp: Style | Path | str | None = None
    density: str = GROWS
    choruses: int | None = None
    groups: str = ""
    intro: int = 0
    tag: int = 0
    ending: bool = True
    loop: bool = False
    parts: Sequence[str] = (DRUMS, BASS, COMP)

    def __post_init__(self) -> None:
        chorus_words(as_text(self.density, "row of choruses", "words such as “light, main x2, full”"), 1)
        as_text(self.groups, "group of beats", "numbers such as 2+2+3")
        for name, most in (("intro", MOST_EXTRA), ("tag", MOST_EXTRA), ("choruses", MOST_CHORUSES)):
            value, least = getattr(self, name), int(name == "choruses")
            if not is_whole(value, least, most) and not (name == "choruses" and value is None):
                raise BackingError(f"{name} of {shown(value)}", value=value, expected=f"{least} to {most}")
        for name in ("ending", "loop"):
            if not isinstance(getattr(self, name), bool):
                raise BackingError(f"{name} of “{shown(getattr(self, name))}”", value=getattr(self, name),
                                   expected="True or False")
        for part in self.parts:
            one_of(part, PARTS, "part", BackingError)

    def style_for(self, chart: Chart) -> Style:
        """The style of the whole; raises StyleError."""
        return style_of(chart) if self.style is None else _named(self.style, "style")

    def style_of_part(self, chart: Chart, part: str) -> Style:
        """The style that a part plays ("drums", "bass", "comp"); raises StyleError."""
        own = {"drums": self.drums, "bass": self.bass, "comp": self.comp}[part]
        return self.style_for(chart) if own is None else _named(own, part)

    def over(self, under: Band) -> Band:
        """What this one says in the place of what the other says; what this one leaves as usual stays the other's."""
        said: dict[str, Any] = {name: getattr(self, name) for name in self._said()}
        return replace(under, **said)

    def settled(self) -> Band:
        """The same with no file in it: a style by its name or by its text. Raises StyleError."""
        found: dict[str, Any] = {word: _text_of(getattr(self, word), word) for word in STYLED
                                 if getattr(self, word) is not None}
        return replace(self, **found)

    @property
    def silent(self) -> tuple[str, ...]:
        """The words of the parts that are left out."""
        return tuple(word for word, part in PART_OF.items() if part not in self.parts)

    @property
    def for_practice(self) -> Band:
        """The same players going round and round: no chorus is the first or the last, nobody rests."""
        players: dict[str, Any] = {word: getattr(self, word) for word in STYLED}
        return replace(EVEN, groups=self.groups, **players)

    def said(self) -> dict[str, Any]:
        """What is not as usual, as a lesson's output keeps it (plain values, no file)."""
        settled = self.settled()
        return {name: getattr(settled, name) for name in settled._said()}

    @classmethod
    def of_said(cls, said: object) -> Band:
        """The band that an output keeps, whoever wrote it; raises BackingError, ArrangementError or StyleError."""
        if not isinstance(said, dict) or not set(said) <= set(_FIELDS):
            raise BackingError(f"“{shown(said)}” is no band", value=said, expected=f"some of {', '.join(_FIELDS)}")
        if "parts" in said:
            said = said | {"parts": tuple(listed(said["parts"], "row of parts", ", ".join(PARTS), BackingError))}
        for word in STYLED:
            kept = said.get(word)
            if kept is not None and (not isinstance(kept, str) or ("\n" not in kept and kept not in style_names())):
                raise BackingError(f"“{shown(kept)}” is no style", value=kept, where=f"{word}=",
                                   expected="a style's name, or its text")
        return cls(**said)

    def _said(self) -> tuple[str, ...]:
        return tuple(one.name for one in fields(self) if getattr(self, one.name) != one.default)


_FIELDS = tuple(one.name for one in fields(Band))
USUAL = Band()
WORDS = (*(name for name in _FIELDS if name != "parts"), "without")  # with which a teacher asks for a band
EVEN = Band(density=MAIN, loop=True)  # for what is played again and again: no chorus of it is the first or the last


def band_of(words: Mapping[str, Any]) -> Band:
    """The band that a teacher's words ask for (WORDS); `without` names one part, or several, that stay silent.

    Raises BackingError, ArrangementError.

    >>> band_of({"style": "funk", "without": "bass"}).parts
    ('Drums', 'Comping')
    """
    unknown = [word for word in words if word not in WORDS]
    if unknown:
        raise BackingError(f"“{shown(unknown[0])}” says nothing of a backing", value=unknown[0],
                           expected=", ".join(WORDS), nearest=closest(unknown[0], WORDS))
    fields_said = {word: value for word, value in words.items() if word != "without"}
    without = words.get("without") or ()
    silent = without.split(",") if isinstance(without, str) else listed(
        without, "row of parts", f"parts that stay silent: {', '.join(PART_OF)}", BackingError)
    return Band(**fields_said, parts=_others(silent))


def _others(without: Sequence[str]) -> tuple[str, ...]:
    """The parts that are left."""
    silent = {one_of(str(word).strip().lower(), PART_OF, "part that can be left out", BackingError) for word in without}
    left = tuple(part for word, part in PART_OF.items() if word not in silent)
    if not left:
        raise BackingError("a backing without any part", value=", ".join(without), expected="one part at least")
    return left


def _named(style: Style | Path | str, word: str) -> Style:
    """A style, its error with the word that asked for it."""
    try:
        return as_style(style)
    except VampError as error:
        raise error.at(", ".join(filter(None, (f"{word}=", error.where)))) from error


def _text_of(style: Style | Path | str, word: str) -> str:
    """A style by its name where it comes with us, else by its text."""
    found = _named(style, word)
    return str(style) if isinstance(style, str) and style == found.name else style_text(found)


def style_of(chart: Chart) -> Style:
    """The style of a chart's feel; meters of dotted pulses, and of three beats in straight feels, have their own."""
    if chart.meter.compound:
        return as_style(COMPOUND)
    return as_style(WALTZ if chart.meter.beats == 3 and chart.feel == "straight 8" else chart.feel)
