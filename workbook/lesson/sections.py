"""A section of a lesson: who makes its words, who makes its code, when it is there; and the plan they are made from.

A lesson is a row of sections (kinds.py). Each maker is a function of the plan alone and gives the whole text of a cell,
so that the text can be made anew whenever the choices change.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from theorylib.changes.charts import Chart
from theorylib.levels import LEVELS
from theorylib.playing.fingering import finger
from theorylib.practice.drills import continuous_arpeggio
from theorylib.reading.harmony import Harmony, harmony

from .chosen import PHRASE, Choices
from .derived import best_position, hold, with_key
from .door import LessonError
from .fitting import check_rhythm
from .phrase_lines import placed_phrase
from .saved import CODE, TEXT

_NOBODYS = "\ufffe\uffff"  # no signs, by Unicode, and not allowed in XML


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What a lesson is written from: its chart with a key, the reading of it, the hand's position and the choices.

    It equals itself alone, so that what follows from it is found once for each plan without a look at all of its notes.
    """

    chart: Chart
    read: Harmony
    position: int
    choices: Choices


def plan_of(chart: Chart, choices: Choices, *, held: bool = False) -> Plan:
    """The plan of a lesson; with `held` refused where a drill cannot be played as chosen.

    Raises LessonError for a name that cannot be printed, and the drill's or the fingering's own error.
    """
    choices = replace(choices, title=one_line(choices.title, "the title"))
    chart = with_key(_named(replace(chart, title=chart.title or choices.title)))
    read, tuning, count = harmony(chart), choices.tuning, choices.per_chord
    if held and choices.kind != PHRASE:
        check_rhythm(chart, count, tuning)
    position = choices.position or best_position(chart, choices.kind, tuning=tuning, per_chord=count,
                                                 level=choices.level)
    if held and choices.kind == PHRASE:
        line = placed_phrase(choices.phrase, chart, tuning, up=choices.up)
        finger(line, line.tuning, line.position)
    elif held:
        if choices.level != LEVELS[0]:
            finger(continuous_arpeggio(chart, count, position, tuning=tuning, passes=choices.passes), tuning, position)
        hold(choices.kind, read, position, tuning, choices.level)
    return Plan(chart, read, position, choices)


def _named(chart: Chart) -> Chart:
    """The chart with a title of one line; raises LessonError where a name in it cannot be printed or read back."""
    named = replace(chart, title=one_line(chart.title, "the title"))
    for bar in named.bars:
        one_line(bar.section or "", "a section")
    if Chart.parse(str(named)) != named:
        raise LessonError("the chart does not read back from its text as it is", value=str(named),
                          expected="titles and sections of one line, without | or ] in a section")
    return named


def one_line(text: str, what: str) -> str:
    """The text with line breaks and runs of space as single spaces; LessonError for signs that nothing can print."""
    line = " ".join(text.split())
    strange = next((sign for sign in line if unicodedata.category(sign) in ("Cc", "Cs") or sign in _NOBODYS), None)
    if strange is not None:
        raise LessonError(f"{what} holds the sign {strange!r}, which nothing can print", value=text,
                          expected="a line of plain text")
    return line


Maker = Callable[[Plan], str]


def says(text: str) -> Maker:
    """A maker of a text that no choice changes."""
    return lambda plan: text


def _always(plan: Plan) -> bool:
    return True


def _nowhere(plan: Plan) -> int | None:
    return None


@dataclass(frozen=True, slots=True)
class Section:
    """One place in a lesson: its id, a maker of words, a maker of code, or both, and when it is there.

    With both, the words stand in a cell `<id>-words` before the code in `<id>`; alone, either has the id itself.
    `tags` are those of its first cell, the tag `answer` of both. It is there at its `levels`, in a lesson of at least
    `least` minutes; `part` is the part of the routine that it belongs to (routine.py), `does` what the routine calls
    it, `aim` what can be heard of it at the end; `at` is the position in which it is played (None: in none that the
    student must be told). Where the hand changes it, the words say so.
    """

    id: str
    words: Maker | None = None
    code: Maker | None = None
    when: Callable[[Plan], bool] = _always
    tags: tuple[str, ...] = ()
    levels: tuple[str, ...] = LEVELS
    least: int = 0
    part: str = ""
    does: str = ""
    aim: Maker | None = None
    at: Callable[[Plan], int | None] = _nowhere

    def stands(self, plan: Plan) -> bool:
        """Is it there in the lesson of a plan?"""
        choices = plan.choices
        return choices.level in self.levels and choices.minutes >= self.least and self.when(plan)

    def makers(self) -> Iterator[tuple[str, str, Maker]]:
        """(id, kind of cell, maker) of each of its cells."""
        if self.words is not None:
            yield (self.id if self.code is None else f"{self.id}-words"), TEXT, self.words
        if self.code is not None:
            yield self.id, CODE, self.code


@dataclass(frozen=True, slots=True)
class Part:
    """A cell as its maker writes it: `by` names the maker and is the cell's id."""

    by: str
    kind: str
    text: str
    tags: tuple[str, ...] = ()


def parts_of(sections: Iterable[Section], plan: Plan) -> Iterator[Part]:
    """The cells of the sections that stand in the lesson of a plan, in order."""
    hands: list[int] = []  # where it has stood
    for section in sections:
        tags, hand = section.tags, section.at(plan)
        moved = _moved(hand, hands)
        for name, kind, make in section.makers():
            text = make(plan)
            says = kind == TEXT and not (f"position {hand}:" in text or f"from fret {hand} on" in text)
            yield Part(name, kind, text + moved * says, tags)
            tags = tuple(tag for tag in tags if tag == "answer")  # what goes to the end goes whole
        if hand is not None:
            hands.append(hand)


def _moved(hand: int | None, before: list[int]) -> str:
    """A sentence on the position of the hand where it changes."""
    if hand is None or hand in before[-1:]:
        return ""
    if not before:
        return f" The hand stands in position {hand}: the first finger belongs to fret {hand}."
    return f" The hand goes {'back ' * (hand in before)}to position {hand} for this."
