"""The outline of a solo: phrases over a chart's form, each with one limit, an arc, and an ending to aim at.

An outline is a plan that a student follows while improvising. It is text that a teacher edits ("bars 1-4: one string;
low; sparse") and a value that reads it back. Choices are seeded: the same chart and seed give the same plan. What makes
a good plan is common practice, no source.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from ..changes.charts import Chart, as_chart
from ..errors import VampError, as_text, closest, shown
from ..limits import MOST_BARS, exact, is_whole
from ..names.chords import Chord

PHRASE_BARS = (8, 6, 4)
MOST_MINUTES = 60
MOST_PHRASES = 10  # what one page holds and a player keeps in mind
# limit: what it asks of the player.
LIMITS = {
    "chord tones only": "Play nothing but the notes of the chord of the moment.",
    "one string": "Stay on one string and move along it.",
    "two strings": "Stay on two neighbouring strings.",
    "one rhythm": "Choose a rhythm of one bar and keep it; change only the notes.",
    "three notes": "Choose three notes and make music with their time and touch.",
    "bends": "Let every phrase hold a bend that arrives in tune.",
    "vibrato": "End every phrase on a held note whose vibrato begins late.",
    "legato": "Pick the first note on each string, hammer and pull the rest.",
    "question and answer": "Two bars ask and stay open, two bars answer and come home.",
    "offbeats": "Begin every phrase after the beat.",
    "space": "Rest for as long as you play.",
    "free": "No limit: use what came before.",
}
_CALM = ("chord tones only", "one string", "three notes", "space", "vibrato", "question and answer")
_BUSY = ("two strings", "one rhythm", "bends", "legato", "offbeats", "question and answer")
PEAK = 0.66  # of the solo
REGISTERS = ("low", "middle", "high")
DENSITIES = ("sparse", "medium", "dense")
_ROW = re.compile(r"bars? (\d{1,5})(?:\s*+[-–]\s*+(\d{1,5}))?\s*+:\s*+(.+)", re.IGNORECASE)
_ENDING = re.compile(r"end(?:ing)?\s*+:\s*+(\S++) on beat (\S++) of bar (\d{1,5})", re.IGNORECASE)


class OutlineError(VampError):
    """An outline that does not fit its chart, or text that is not one."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """Bars `first` to `last` (from 1, both played) under one limit, in a register, at a density."""

    first: int
    last: int
    limit: str
    register: str
    density: str

    def __str__(self) -> str:
        return f"bars {self.first}-{self.last}: {self.limit}; {self.register}; {self.density}"


@dataclass(frozen=True, slots=True)
class Ending:
    """The last note: its degree over the chord there, on a beat (from 1) of a bar (from 1)."""

    degree: str
    beat: Fraction
    bar: int

    def __str__(self) -> str:
        return f"ending: {self.degree} on beat {self.beat} of bar {self.bar}"


@dataclass(frozen=True, slots=True)
class Outline:
    """A plan over `chart`, played as often as its bars need; `str` is its text and `read_outline` reads that back."""

    chart: Chart
    phrases: tuple[Phrase, ...]
    ending: Ending

    @property
    def bars(self) -> int:
        return self.phrases[-1].last

    def chords_in(self, bar: int) -> tuple[Chord, ...]:
        """The chords of a bar (from 1) of the solo."""
        return tuple(event.chord for event in self.chart.events_in(bar - 1))

    def __str__(self) -> str:
        return "\n".join([*map(str, self.phrases), str(self.ending)])


def outline(
    chart: Chart | str,
    minutes: Fraction | float | str | None = None,
    *,
    bars: int | None = None,
    seed: int = 1,
) -> Outline:
    """Plan a solo of about `minutes` (or of `bars` bars; without either two choruses) over the chart's form.

    Whole choruses of the form, cut into phrases of 8, 6 or 4 bars that never cross a chorus. Register and density rise
    to a peak about two thirds through and fall to the end; no limit comes back within three phrases. The last note is a
    root, 3rd or 5th of the last chord.
    """
    chart = as_chart(chart)
    form = chart.form_bars
    if not form:
        raise OutlineError("an empty chart has no form", value=str(chart))
    spans = _spans(_choruses(chart, minutes, bars), form)
    chance = Random(f"{seed} {chart}")
    used: list[str] = []
    phrases = []
    for index, (first, last) in enumerate(spans):
        height = _height((index + 0.5) / len(spans))
        is_last_of_many = index == len(spans) - 1 and len(spans) > 2
        limit = "free" if is_last_of_many else _limit(chance, used, height)
        used.append(limit)
        density = max(0, height - 1) if index == 0 else height  # a solo begins with room to spare
        phrases.append(Phrase(first, last, limit, REGISTERS[height], DENSITIES[density]))
    plan = Outline(chart, tuple(phrases), Ending("1", Fraction(1), spans[-1][1]))
    return replace(plan, ending=_ending(plan, chance))


def _choruses(chart: Chart, minutes: object, bars: object) -> int:
    """How often the form is played: as near as whole choruses come to the length asked for, two without one."""
    length = None if minutes is None else _minutes(minutes)
    if bars is not None and not is_whole(bars, 1, MOST_BARS):
        raise OutlineError(
            f"a solo of {shown(bars)} bars", value=bars, expected=f"1 to {MOST_BARS} bars"
        )
    form = chart.form_bars
    asked = 2 * form
    if bars is not None:
        asked = int(bars)  # type: ignore[call-overload]
    elif length is not None:
        asked = round(float(length) * float(chart.tempo) / float(chart.bar_beats))
    least = PHRASE_BARS[-1] // form or 1  # a short form is planned in whole phrases
    return max(1, round(asked / form / least)) * least


def _height(place: float) -> int:
    """The arc of a solo: how high it stands, 0 to 2, at a place from 0 (its start) to 1 (its end)."""
    if place < PEAK:
        height = place / PEAK
    else:
        height = max(0.0, 1 - (place - PEAK) / 0.5)  # steep enough to come to rest before the end
    return min(2, int(height * 3))


def _minutes(value: object) -> Fraction:
    try:
        found = exact(value)
    except VampError:
        found = Fraction(0)
    if not 0 < found <= MOST_MINUTES:
        raise OutlineError(
            f"a solo of {shown(value)} minutes",
            value=value,
            expected=f"more than 0, to {MOST_MINUTES}",
        )
    return found


def _beat(text: str, where: str) -> Fraction:
    try:
        return exact(text, "beat")
    except VampError as error:
        raise OutlineError(
            error.message, value=text, where=where, expected="a beat such as 1 or 5/2"
        ) from error


def read_outline(text: str, chart: Chart | str) -> Outline:
    """Read an outline's text back; raises OutlineError with the line and the nearest word."""
    chart = as_chart(chart)
    expected = "rows such as “bars 1-4: one string; low; sparse” and an ending"
    as_text(text, "outline", expected, OutlineError)
    phrases: list[Phrase] = []
    ending: Ending | None = None
    for number, line in enumerate(text.strip().splitlines(), 1):
        written, where = line.strip(), f"line {number}"
        if not written:
            continue
        if found := _ENDING.fullmatch(written):
            ending = Ending(found[1], _beat(found[2], where), int(found[3]))
        elif found := _ROW.fullmatch(written):
            phrases.append(_phrase(found, where))
        else:
            raise OutlineError(
                f"“{written}” is no part of an outline",
                value=written,
                where=where,
                expected="“bars 1-4: limit; register; density” or “ending: 1 on beat 1 of bar 8”",
            )
    if not phrases or ending is None:
        raise OutlineError(
            "an outline needs phrases and an ending",
            value=text[:40],
            expected="at least one of each",
        )
    _check_order(phrases)
    plan = Outline(chart, tuple(phrases), ending)
    _check_ending(plan)
    return plan


def _check_order(phrases: list[Phrase]) -> None:
    for one, two in itertools.pairwise(phrases):
        if two.first != one.last + 1:
            raise OutlineError(
                f"bars {two.first}-{two.last} do not follow bars {one.first}-{one.last}",
                value=two.first,
                expected=f"a phrase that begins in bar {one.last + 1}",
            )


def _phrase(found: re.Match[str], where: str) -> Phrase:
    words = [word.strip() for word in found[3].split(";")]
    if len(words) != 3:
        raise OutlineError(
            f"“{found[3]}” names {len(words)} things",
            value=found[3],
            where=where,
            expected="limit; register; density",
        )
    for word, known, what in zip(
        words, (LIMITS, REGISTERS, DENSITIES), ("limit", "register", "density"), strict=True
    ):
        if word not in known:
            raise OutlineError(
                f"“{word}” is no {what}",
                value=word,
                where=where,
                expected=", ".join(known),
                nearest=closest(word, known),
            )
    first, last = int(found[1]), int(found[2] or found[1])
    if not 1 <= first <= last:
        raise OutlineError(
            f"bars {first}-{last}",
            value=(first, last),
            where=where,
            expected="bars in order, from 1",
        )
    return Phrase(first, last, *words)


def _spans(choruses: int, form: int) -> list[tuple[int, int]]:
    """First and last bar of each phrase: the shortest phrases that keep to MOST_PHRASES, else the longest."""
    ways = [_spans_of(choruses, form, size) for size in reversed(PHRASE_BARS)]
    return next((way for way in ways if len(way) <= MOST_PHRASES), ways[-1])


def _spans_of(choruses: int, form: int, size: int) -> list[tuple[int, int]]:
    """Phrases of about `size` bars: each chorus cut into such phrases, or short choruses joined to one."""
    if form < size:
        whole = choruses * form
        step = max(1, size // form) * form
        return [(start + 1, min(start + step, whole)) for start in range(0, whole, step)]
    found: list[tuple[int, int]] = []
    for start in range(0, choruses * form, form):
        now = start
        for length in _cut(form, size):
            found.append((now + 1, now + length))
            now += length
    return found


def _cut(form: int, size: int) -> list[int]:
    """Sizes that fill a chorus: `size` where it divides the form, else a larger one that does, else fours and more."""
    # Phrases of one length, where there is one that fills the chorus: a listener counts them.
    for length in (size, *reversed(PHRASE_BARS)):
        if form % length == 0 and length >= size:
            return [length] * (form // length)
    found = []
    while form >= 2 * PHRASE_BARS[-1]:
        found.append(PHRASE_BARS[-1])
        form -= PHRASE_BARS[-1]
    return [*found, form] if form else found


def _limit(chance: Random, used: list[str], height: int) -> str:
    """A limit that fits the height of the arc and was not used lately."""
    # Half-way up the arc, what is left of the calm mixes with the first of the busy.
    fitting = (_CALM, _CALM[2:] + _BUSY[:3], _BUSY)[height]
    return chance.choice([limit for limit in fitting if limit not in used[-3:]])


def _ending(plan: Outline, chance: Random) -> Ending:
    """A stable degree of the last chord, on the first beat of the last bar or its middle."""
    chord = plan.chords_in(plan.bars)[-1]
    # Tones at rest over any chord: its root, its third, a perfect fifth.
    stable = [degree for degree in ("1", "3", "b3", "5") if degree in chord.degrees] or ["1"]
    pulses = plan.chart.meter.pulses
    middle = pulses // 2 + 1
    if len(plan.chords_in(plan.bars)) > 1:
        beat = middle
    elif pulses % 2 == 0:
        beat = chance.choice([1, middle])
    else:
        beat = 1
    return Ending(chance.choice(stable), Fraction(beat), plan.bars)


def _check_ending(plan: Outline) -> None:
    last, ending = plan.bars, plan.ending
    if not 1 <= ending.bar <= last:
        raise OutlineError(
            f"the ending lies in bar {ending.bar} of {last}",
            value=ending.bar,
            expected=f"1 to {last}",
        )
    if not 1 <= ending.beat < plan.chart.meter.beats + 1:
        raise OutlineError(
            f"beat {ending.beat} of a bar of {plan.chart.meter}",
            value=str(ending.beat),
            expected=f"1 to {plan.chart.meter.beats}",
        )
    chord = plan.chords_in(ending.bar)[-1]
    if chord.root is not None and ending.degree not in chord.degrees:
        raise OutlineError(
            f"{chord} has no {ending.degree}",
            value=ending.degree,
            expected=" ".join(chord.degrees),
            nearest=closest(ending.degree, chord.degrees),
        )


def rows(plan: Outline) -> Iterator[tuple[Phrase, tuple[tuple[int, str], ...]]]:
    """Each phrase with its bars as (number, chords in words), for printing."""
    for phrase in plan.phrases:
        bars = range(phrase.first, phrase.last + 1)
        yield (
            phrase,
            tuple((bar, " ".join(chord.pretty for chord in plan.chords_in(bar))) for bar in bars),
        )
