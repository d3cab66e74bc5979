"""The table of changes with their readings (tests/tables/changes.txt), and what a reading of ours gets wrong of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from theorylib import Chart, Harmony, Scale
from theorylib.names.spelling import Interval

from .tables import TABLES

Answers = dict[str, list[str]]  # place ("4", "2.1"): the answers that are right there


@dataclass(frozen=True)
class Form:
    """A row of the table: a chart with the answers for it, `aside` where it was kept unseen."""

    name: str
    chart: Chart
    keys: Answers
    home: list[str]
    numerals: Answers
    scales: Answers
    also_up: tuple[int, ...]
    aside: bool

    def moved(self) -> Iterator[tuple[str, Chart, Interval | None]]:
        """The form in each of its keys."""
        yield self.name, self.chart, None
        for semitones in self.also_up:
            interval = self.chart.interval_to(semitones)
            yield f"{self.name} up {semitones}", self.chart.up(interval), interval


@lru_cache(maxsize=1)
def forms() -> tuple[Form, ...]:
    text = (TABLES / "changes.txt").read_text(encoding="utf-8")
    seen, aside = text.split("== aside\n")
    return tuple(_form(block, part is aside) for part in (seen, aside) for block in part.split("\n\n")
                 if block.strip().startswith("= "))


def _form(block: str, aside: bool) -> Form:
    name, *lines = block.strip().splitlines()
    words = ("keys", "home", "numerals", "scales", "also up")
    said = {line.partition(":")[0]: line.partition(":")[2].strip() for line in lines if line.startswith(words)}
    chart = Chart.parse("\n".join(line for line in lines if not line.startswith(words)))
    return Form(name[2:], chart, _answers(said.get("keys", "")), said["home"].split(" or ") if "home" in said else [],
                _answers(said.get("numerals", "")), _answers(said.get("scales", "")),
                tuple(map(int, said.get("also up", "").split())), aside)


def _answers(text: str) -> Answers:
    return {place: answers.split(" or ") for place, _, answers in
            (one.strip().partition(" ") for one in text.split(";") if one.strip())}


def faults(form: Form, chart: Chart, interval: Interval | None, read: Harmony) -> list[str]:
    """What the reading of the form, moved by `interval`, says otherwise than the table."""
    def moved(answers: list[str]) -> list[Scale]:
        return [scale if interval is None else scale.up(interval) for scale in map(Scale.parse, answers)]

    at, count = {}, Counter[int]()
    for one in read.chords:
        bar = int(one.onset_beats // chart.bar_beats) + 1
        count[bar] += 1
        at[f"{bar}.{count[bar]}"] = one
        at.setdefault(str(bar), one)
    found = []
    for place, answers in form.keys.items():
        if at[place].key not in moved(answers):
            found.append(f"bar {place} in {at[place].key}, not {answers}")
    if form.home and read.homes[0].scale not in moved(form.home):
        found.append(f"home {read.homes[0].scale}, not {form.home}")
    for place, answers in form.numerals.items():
        if at[place].numeral not in answers:
            found.append(f"{place} {at[place].chord} is {at[place].numeral}, not {answers}")
    for place, answers in form.scales.items():
        if not any(_sounds_alike(at[place].scale, scale) for scale in moved(answers)):
            found.append(f"{place} {at[place].chord} takes {at[place].scale}, not {answers}")
    return found


def _sounds_alike(one: Scale, other: Scale) -> bool:
    return one.kind == other.kind and one.tonic.pitch_class == other.tonic.pitch_class
