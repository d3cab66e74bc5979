"""The outline of a solo: phrases over a chart's form, each with one limit, an arc, and an ending to aim at.

An outline is a plan that a student follows while improvising. It is text that a teacher edits ("bars 1-4: one string;
low; sparse") and a value that reads it back. Choices are seeded: the same chart and seed give the same plan. A solo
begins after the first beat, with room to breathe, and comes to rest on the home chord: in the last bar where that is
home, else on the first beat after the last chorus where the form begins at home. What makes a good plan is common
practice, no source.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from ..changes.charts import Chart, as_chart
from ..errors import VampError, as_text, closest, shown
from ..limits import MOST_BARS, exact, is_whole
from ..names.chords import Chord
from .solo_ends import Moment, first_note, last_note

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
    "question and answer": "The first half asks and stays open, the second answers and comes home.",
    "offbeats": "Begin every phrase after the beat.",
    "space": "Rest for as long as you play.",
    "free": "No limit: use what came before.",
}
_CALM = ("chord tones only", "one string", "three notes", "space", "vibrato", "question and answer")
_BUSY = ("two strings", "one rhythm", "bends", "legato", "offbeats", "question and answer")
# For each height of the arc; half-way up, what is left of the calm mixes with the first of the busy.
FITTING = (_CALM, _CALM[2:] + _BUSY[:3], _BUSY)
# limit: what it is for. Two phrases in a row are for different things.
_PURPOSES = {
    "chord tones only": "harmony",
    "one string": "place",
    "two strings": "place",
    "one rhythm": "time",
    "offbeats": "time",
    "space": "time",
    "three notes": "melody",
    "question and answer": "melody",
    "bends": "touch",
    "vibrato": "touch",
    "legato": "touch",
}
PEAK = 0.66  # of the solo
REGISTERS = ("low", "middle", "high")
DENSITIES = ("sparse", "medium", "dense")
_ROW = re.compile(r"bars? (\d{1,5})(?:\s*+[-–]\s*+(\d{1,5}))?\s*+:\s*+(.+)", re.IGNORECASE)
_NOTE = r"\s*+:\s*+(\S++) on beat (\S++) of bar (\d{1,5})"
_BEGINNING = re.compile(r"begin(?:ning)?" + _NOTE, re.IGNORECASE)
_ENDING = re.compile(r"end(?:ing)?" + _NOTE, re.IGNORECASE)


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
class Outline:
    """A plan over `chart`, played as often as its bars need; `str` is its text and `read_outline` reads that back.

    Its first note is `beginning` (None: wherever the player likes), its last is `ending`.
    """

    chart: Chart
    phrases: tuple[Phrase, ...]
    ending: Moment
    beginning: Moment | None = None

    @property
    def bars(self) -> int:
        return self.phrases[-1].last

    def chords_in(self, bar: int) -> tuple[Chord, ...]:
        """The chords of a bar (from 1) of the solo."""
        return tuple(event.chord for event in self.chart.events_in(bar - 1))

    def chord_on(self, moment: Moment) -> Chord:
        """The chord that sounds at a moment of the solo."""
        meter = self.chart.meter
        beat = (moment.bar - 1) * meter.bar_beats + (moment.beat - 1) * meter.bar_beats / meter.beats
        chord = self.chart.chord_at(beat)
        assert chord is not None  # an outline has bars
        return chord

    def __str__(self) -> str:
        begins = [] if self.beginning is None else [f"beginning: {self.beginning}"]
        return "\n".join([*begins, *map(str, self.phrases), f"ending: {self.ending}"])


def outline(
    chart: Chart | str,
    minutes: Fraction | float | str | None = None,
    *,
    bars: int | None = None,
    seed: int = 1,
) -> Outline:
    """To plan a solo before playing it, of about `minutes` or `bars`, over the chart's form.

    Without either it has two choruses. Whole choruses of the form, cut into phrases of 8, 6 or 4 bars that never cross
    a chorus; where the last bar leads back to the home chord of the first, the last phrase ends with that bar more, as
    a backing track does. Register and density rise to a peak about two thirds through and fall to the end; no limit
    comes twice, and two in a row are for different things. The last note is a root, 3rd or 5th of the home chord.

    >>> str(outline("| Am7 | D9 |", bars=8)).splitlines()[-1]
    'ending: 5 on beat 1 of bar 9'
    """
    chart = as_chart(chart)
    phrases, chance = planned(chart, minutes, bars, seed)
    ending = last_note(chart, phrases[-1].last, chance)
    phrases = _up_to(phrases, ending.bar)
    return Outline(chart, phrases, ending, first_note(chart, chance))


def planned(
    chart: Chart,
    minutes: object,
    bars: object,
    seed: int,
    limit_of: Callable[[Random, list[str], int], str] | None = None,
) -> tuple[tuple[Phrase, ...], Random]:
    """The phrases of whole choruses, and the chance that they were drawn with; raises OutlineError.

    `limit_of(chance, limits so far, height of the arc)` draws the next limit; without one, today's rule does.
    """
    limit_of = limit_of or _limit
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
        limit = "free" if is_last_of_many else limit_of(chance, used, height)
        used.append(limit)
        density = max(0, height - 1) if index == 0 else height  # a solo begins with room to spare
        phrases.append(Phrase(first, last, limit, REGISTERS[height], DENSITIES[density]))
    return tuple(phrases), chance


def _up_to(phrases: tuple[Phrase, ...], bar: int) -> tuple[Phrase, ...]:
    """The phrases up to the bar of the last note; where it lies in the last of them, that keeps its bars."""
    kept = [phrase for phrase in phrases if phrase.first <= bar]
    last = max(bar, kept[-1].last) if len(kept) == len(phrases) else bar
    return (*kept[:-1], replace(kept[-1], last=last))


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
    moments: dict[str, Moment] = {}
    for number, line in enumerate(text.strip().splitlines(), 1):
        written, where = line.strip(), f"line {number}"
        if not written:
            continue
        if found := _ENDING.fullmatch(written):
            moments["ending"] = _moment(found, where)
        elif found := _BEGINNING.fullmatch(written):
            moments["beginning"] = _moment(found, where)
        elif found := _ROW.fullmatch(written):
            phrases.append(_phrase(found, where))
        else:
            raise OutlineError(
                f"“{written}” is no part of an outline",
                value=written,
                where=where,
                expected="“bars 1-4: limit; register; density” or “ending: 1 on beat 1 of bar 8”",
            )
    if not phrases or "ending" not in moments:
        raise OutlineError(
            "an outline needs phrases and an ending",
            value=text[:40],
            expected="at least one of each",
        )
    _check_order(phrases)
    plan = Outline(chart, tuple(phrases), **moments)
    for what, moment in moments.items():
        _check_moment(plan, moment, what)
    return plan


def _moment(found: re.Match[str], where: str) -> Moment:
    return Moment(found[1], _beat(found[2], where), int(found[3]))


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
    """A limit that fits the height of the arc and is new to the solo, for another purpose than the one before."""
    fitting = FITTING[height]
    fresh = [limit for limit in fitting if limit not in used]
    fresh = fresh or [limit for limit in _PURPOSES if limit not in used]
    fresh = fresh or [limit for limit in fitting if limit not in used[-3:]]
    before = _PURPOSES[used[-1]] if used else ""
    others = [limit for limit in fresh if _PURPOSES[limit] != before]
    return chance.choice(others or fresh)


def _check_moment(plan: Outline, moment: Moment, what: str) -> None:
    last = plan.bars
    if not 1 <= moment.bar <= last:
        raise OutlineError(
            f"the {what} lies in bar {moment.bar} of {last}",
            value=moment.bar,
            expected=f"1 to {last}",
        )
    if not 1 <= moment.beat < plan.chart.meter.beats + 1:
        raise OutlineError(
            f"beat {moment.beat} of a bar of {plan.chart.meter}",
            value=str(moment.beat),
            expected=f"1 to {plan.chart.meter.beats}",
        )
    chord = plan.chord_on(moment)
    if chord.root is not None and moment.degree not in chord.degrees:
        raise OutlineError(
            f"{chord} has no {moment.degree}",
            value=moment.degree,
            expected=" ".join(chord.degrees),
            nearest=closest(moment.degree, chord.degrees),
        )


def rows(plan: Outline) -> Iterator[tuple[Phrase, tuple[tuple[int, str], ...]]]:
    """Each phrase with its bars as (number, chords in words), for printing."""
    for phrase in plan.phrases:
        bars = range(phrase.first, phrase.last + 1)
        yield (
            phrase,
            tuple((bar, " ".join(chord.pretty for chord in plan.chords_in(bar))) for bar in bars),
        )
