"""Writing a new lesson from changes: its cells, its words, and what it says of itself.

A lesson is an ordinary notebook (nbformat 4.5). Its metadata carry a `vampbook` entry (title, level, minutes, tempo,
key, aims); its cells have stable ids, so that a lesson written twice from the same choices is the same bytes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Any

from theorylib.changes.bars import only_changes
from theorylib.changes.charts import Chart
from theorylib.changes.form import unrolled
from theorylib.errors import VampError, closest
from theorylib.levels import LEVELS
from theorylib.names.scales import Scale
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.fingering import finger
from theorylib.practice.drills import continuous_arpeggio
from theorylib.reading.harmony import Harmony, Reading, Span, harmony

from . import prose
from .cells import as_markdown, block, code_cell, literal, text_cell
from .door import LessonError
from .fitting import check_rhythm
from .kinds import AIMS, SECTIONS, Plan

_NOBODYS = "\ufffe\uffff"  # no signs, by Unicode, and not allowed in XML


@dataclass(frozen=True, slots=True)
class Choices:
    """What a teacher decides about a new lesson beside its chart; `position` None lets the kit choose."""

    title: str
    level: str = "intermediate"
    minutes: int = 30
    position: int | None = None
    per_chord: int = 8
    passes: int = 2
    tuning: Tuning = STANDARD
    substitutes: bool = False
    kind: str = "groove"


def new_lesson(chart: Chart, choices: Choices) -> dict[str, Any]:
    """A notebook that reads as a lesson on the chart: prose from the analysis, short code cells, nothing run yet.

    Raises the drill's or the fingering's own error where the drill cannot be played as chosen, and LessonError for a
    name that cannot be printed.
    """
    for word, known, what in ((choices.level, LEVELS, "level"), (choices.kind, SECTIONS, "kind of lesson")):
        if word not in known:
            raise LessonError(f"“{word}” is not a {what}", value=word, expected=", ".join(known),
                              nearest=closest(word, known))
    chart, choices = with_key(_named(chart)), replace(choices, title=_one_line(choices.title, "the title"))
    read = harmony(chart)
    check_rhythm(chart, choices.per_chord, choices.tuning)
    position = choices.position or best_position(chart, choices)
    finger(continuous_arpeggio(chart, choices.per_chord, position, tuning=choices.tuning, passes=choices.passes),
           choices.tuning, position)
    cells = list(_cells(chart, read, choices, position))
    home = read.homes[0]
    about = {
        "title": choices.title, "level": choices.level, "minutes": choices.minutes, "tempo": str(chart.tempo),
        "feel": chart.feel, "home": str(home.scale), "key": str(prose.pair_key(read, home) or home.key),
        "aims": _aims(chart, read, choices, position),
    }
    return {
        "cells": cells,
        "metadata": {
            "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
            "language_info": {"name": "python"}, "vampbook": about,
        },
        "nbformat": 4, "nbformat_minor": 5,
    }


def _named(chart: Chart) -> Chart:
    """The chart with a title of one line; raises LessonError where a name in it cannot be printed or read back."""
    named = replace(chart, title=_one_line(chart.title, "the title"))
    for bar in named.bars:
        _one_line(bar.section or "", "a section")
    if Chart.parse(str(named)) != named:
        raise LessonError("the chart does not read back from its text as it is", value=str(named),
                          expected="titles and sections of one line, without | or ] in a section")
    return named


def _one_line(text: str, what: str) -> str:
    """The text with line breaks and runs of space as single spaces; LessonError for signs that nothing can print."""
    line = " ".join(text.split())
    strange = next((sign for sign in line if unicodedata.category(sign) in ("Cc", "Cs") or sign in _NOBODYS), None)
    if strange is not None:
        raise LessonError(f"{what} holds the sign {strange!r}, which nothing can print", value=text,
                          expected="a line of plain text")
    return line


def with_key(chart: Chart) -> Chart:
    """The chart with the keys that its changes say, if it names none: the staff needs a signature."""
    if chart.key is not None or chart.changes_key:
        return chart
    homes = harmony(chart).homes
    found = replace(chart, key=_staff_key(homes[0]))
    if len({home.key for home in homes}) == 1:
        return found
    if not _each_bar_in_one_key(chart, homes):  # a repeat that passes through keys is written out
        chart = unrolled(chart)
    keys = dict(zip(chart.order, _keys_by_bar(chart, homes), strict=True))
    bars = only_changes((replace(bar, key=keys[number]) for number, bar in enumerate(chart.bars)), found.key)
    return replace(found, bars=tuple(bars))


def _keys_by_bar(chart: Chart, homes: Sequence[Span]) -> list[Scale]:
    """The key of each unrolled bar; one that a home enters half-way stays in the key before."""
    begins = {ceil(home.onset_beats / chart.bar_beats): _staff_key(home) for home in homes}
    found = [begins[0]]
    for number in range(1, len(chart.order)):
        found.append(begins.get(number, found[-1]))
    return found


def _each_bar_in_one_key(chart: Chart, homes: Sequence[Span]) -> bool:
    pairs = set(zip(chart.order, _keys_by_bar(chart, homes), strict=True))
    return len(pairs) == len({written for written, _ in pairs})


def _staff_key(home: Span) -> Scale:
    return home.scale if home.scale.family in ("major", "harmonic minor") else home.key


def best_position(chart: Chart, choices: Choices) -> int:
    """The position from 2 to 10 in which the drill costs the hand least; of equals, the one nearest the home's root."""
    from theorylib.playing.fingering import fingering_cost

    tuning = choices.tuning
    root = harmony(chart).homes[0].scale.tonic.pitch_class
    lowest = max(tuning.strings)
    near = next(fret for fret in range(1, 13) if tuning.midi(lowest, fret) % 12 == root)
    found: list[tuple[float, int, int]] = []
    refused: VampError | None = None
    for position in range(2, 11):
        try:
            line = continuous_arpeggio(chart, choices.per_chord, position, tuning=tuning)
            cost = fingering_cost(finger(line, tuning, position)).total
        except VampError as error:
            refused = error
            continue
        found.append((cost / 10, abs(position - near), position))
    if not found:
        raise refused or LessonError("no position from 2 to 10 holds the drill")
    # Roots under the hand matter more to a student than a small saving: see the order of the tuple.
    return min(found, key=lambda row: (row[1] > 1, row[0], row[1]))[2]


def _aims(chart: Chart, read: Harmony, choices: Choices, position: int) -> list[str]:
    chords = prose.listed(dict.fromkeys(reading.chord.pretty for reading in prose.readings(read)))
    homes = list(dict.fromkeys(home.scale.pretty for home in read.homes))
    said = f"home scale{'' if len(homes) == 1 else 's'} of these changes ({prose.listed(homes)})"
    return [
        f"Name the {said} and the scale of each chord.",
        f"Play the arpeggios of {chords} in position {position} and cross every change to the nearest chord tone.",
        f"Keep {_note_words(chart, choices.per_chord)} steady at ♩ = {chart.tempo}, feel {chart.feel}.",
        *AIMS[choices.kind],
    ]


def _cells(chart: Chart, read: Harmony, choices: Choices, position: int) -> Iterator[dict[str, Any]]:
    readings = prose.readings(read)
    yield text_cell("title", f"# {as_markdown(choices.title)}\n\n"
                    f"*Level: {choices.level} · about {choices.minutes} minutes · ♩ = {chart.tempo} · {chart.feel} · "
                    f"home scale {read.homes[0].scale.pretty}*")
    yield text_cell("aims", "## Aims\n\n" + "\n".join(f"- {aim}" for aim in _aims(chart, read, choices, position)))
    yield code_cell("kit", "from workbook.kit import *")
    yield code_cell("choices", f"tuning = {literal(choices.tuning)}\nposition = {position}", "parameters")
    yield text_cell("changes-words", "## The changes\n\n" + _changes_words(chart, read))
    yield code_cell("changes", "chart = Chart.parse(" + block(f"\n{chart}\n") + ")\nchart")
    yield text_cell("home-words", f"## The home scale\n\n{prose.homes(read)} {prose.numerals(read)}")
    yield code_cell("harmony", "read = harmony(chart)\nread")
    yield text_cell("chords-words", "## Each chord in turn\n\n" + "\n\n".join(
        prose.chord_paragraph(reading, prose.other_basses(read, reading)) for reading in readings))
    yield text_cell("moves-words", "### From chord to chord\n\n"
                    "Play these moves slowly, one voice at a time: they are what the ear follows through the changes.")
    yield code_cell("moves", "moves(read)")
    yield text_cell("neck-words", f"## On the neck\n\nStay in position {position}: the first finger belongs to fret "
                    f"{position}. Shapes show the function of each chord tone; small rings are the other scale notes.")
    for index, reading in enumerate(_to_draw(read), 1):
        yield code_cell(f"neck-{index}", f"plot_neck({literal(reading.scale)}, over={literal(reading.chord)}, "
                        "position=position, tuning=tuning)")
    yield from SECTIONS[choices.kind](Plan(chart, read, position, choices))


def _changes_words(chart: Chart, read: Harmony) -> str:
    count = len(chart.order)
    chords = list(dict.fromkeys(reading.chord.pretty for reading in read.chords))
    kinds = sorted({_sound(reading.chord.degrees) for reading in prose.readings(read)})
    return (f"{prose.number(count).capitalize()} bar{'' if count == 1 else 's'} of {chart.meter} with "
            f"{prose.number(len(chords))} chord{'' if len(chords) == 1 else 's'}: {prose.listed(chords)}. "
            f"Listen for {prose.listed(kinds)}. Play each chord once and sing its 3rd before you read on.")


def _note_words(chart: Chart, per_chord: int) -> str:
    """The drill's note value by name where all its chords give one ("eighth notes"), else in general words."""
    names = {Fraction(1): "quarter notes", Fraction(1, 2): "eighth notes", Fraction(1, 4): "sixteenth notes",
             Fraction(1, 3): "eighth-note triplets", Fraction(1, 6): "sixteenth-note triplets",
             Fraction(2, 3): "quarter-note triplets"}
    lengths = {event.duration_beats / per_chord for event in chart.events if event.chord.root}
    return names.get(lengths.pop(), "the notes") if len(lengths) == 1 else "the notes"


def _sound(degrees: tuple[str, ...]) -> str:
    """A chord's kind by ear (common practice, no source)."""
    has = set(degrees)
    if "b3" in has:
        if "b5" in has:
            return "the tight, leaning sound of a diminished fifth"
        return "the dark, settled sound of a minor third"
    if "b7" in has and {"b9", "#9", "b5", "#5", "b13"} & has:
        return "the bite of an altered dominant that wants to go home"
    if "b7" in has and "3" in has:
        return "the pull of a dominant seventh"
    if "3" in has:
        return "the open, bright sound of a major third"
    return "the hovering sound of a chord without a third"


def _to_draw(read: Harmony, most: int = 4) -> list[Reading]:
    """The chords that get a neck diagram: the first, then those whose scale leaves the home, then the others."""
    readings = prose.readings(read)
    ranked = sorted(readings, key=lambda reading: (
        reading is not readings[0], reading.scale.parent == reading.home.parent, readings.index(reading)))
    return [reading for reading in readings if reading in ranked[:most]]
