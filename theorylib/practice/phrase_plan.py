"""The plan of a chorus of phrases: which shape says which bars, and where the form comes home.

A form is cut into phrases of four bars, two that call and two that answer; the third phrase of three says something
new (A A B, as a blues is sung), of four the third. Of what is left over, two bars answer and one asks. A chorus comes
home where the form is at home for the last time; where the last chord leads back to a first one that is home, in the
bar after it. Bars that follow the home chord ask: they lead back to the beginning. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from ..changes.charts import Chart, Event
from ..levels import LEVELS, Level
from .idioms import ANSWER, BAR_BEATS, CALL, Idiom, Style, idioms_of
from .solo_ends import Rest, home_chords, leads_back, rest_of

PHRASE_BARS = 4
FAST = 132  # quarter notes a minute: beyond it no shape in sixteenths is chosen, where there is another
# By phrase: which of two calls, and of two answers, it takes.
_PATTERNS = {1: "a", 2: "aa", 3: "aab", 4: "aaba"}


@dataclass(frozen=True, slots=True)
class Statement:
    """What a call or an answer says: its bars (from 1), its shape, and whether it leads from home to the beginning."""

    first: int
    last: int
    idiom: Idiom
    leads_back: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """A chorus of so many bars: its statements, and where it comes home (None: nowhere)."""

    bars: int
    statements: tuple[Statement, ...]
    home: Rest | None


def planned(chart: Chart, style: Style, level: Level, seed: int) -> Plan:
    """The plan of a chart in a style at a level; the same for the same seed."""
    chance = Random(f"{seed} {style} {level} {_changes(chart)}")
    calls, answers = (_chosen(chart, style, role, level, chance) for role in (CALL, ANSWER))
    bars, home = _bars(chart), _home(chart)
    statements = list(_statements(chart, calls, answers))
    if home is None:
        return Plan(bars, tuple(statements), None)
    # A call that begins when the form is at home already would leave it again.
    bar_of_home = int(home.onset_beats // chart.bar_beats) + 1
    said = [
        one
        for one in statements
        if one.idiom in answers or one.first < bar_of_home or home.onset_beats % chart.bar_beats
    ]
    home_bars = int(-(-home.end_beats // chart.bar_beats))  # up to the end of the home chord
    if home_bars >= bars:
        return Plan(bars, tuple(said), home)
    kept = [
        replace(one, last=min(one.last, home_bars))
        for one in said
        if one.first <= home_bars
    ]
    asking = _asking(home_bars, bars, calls, bars_of_a_bar(chart))
    back = [replace(one, leads_back=True) for one in asking]
    return Plan(bars, (*kept, *back), home)


def _statements(chart: Chart, calls: Sequence[Idiom], answers: Sequence[Idiom]) -> Iterator[Statement]:
    """Calls and answers of two bars each in every phrase of four, then what is left of the form."""
    wide, bars, phrases = bars_of_a_bar(chart), _bars(chart), phrase_count(chart)
    pattern = _PATTERNS.get(phrases, "aaba" * phrases)
    now = 0
    for letter in pattern[:phrases]:
        for shapes in (calls, answers):
            last = now + 2 * wide
            yield Statement(now + 1, last, shapes["ab".index(letter) % len(shapes)])
            now = last
    if bars - now >= 2 * wide:
        yield Statement(now + 1, now + 2 * wide, answers[-1])
        now += 2 * wide
    yield from _asking(now, bars, calls, wide)


def _asking(after: int, bars: int, calls: Sequence[Idiom], wide: int) -> Iterator[Statement]:
    """Calls over the bars after one, to the last: two bars each, the last of them maybe less."""
    for number, first in enumerate(range(after + 1, bars + 1, 2 * wide)):
        yield Statement(first, min(first + 2 * wide - 1, bars), calls[(number + 1) % len(calls)])


def _home(chart: Chart) -> Rest | None:
    """Where a chorus comes home: the last time that the form does, in the bar after it where it leads back there."""
    home = home_chords(chart)
    events = [event for event in chart.events if event.chord in home]
    turns = _bars(chart) // chart.form_bars
    if not events:
        return None
    if leads_back(chart) or events[-1] is chart.events[-1]:
        return rest_of(chart, turns)
    event = events[-1]
    return Rest((turns - 1) * chart.length_beats + event.onset_beats, event.duration_beats, event.chord)


@dataclass(frozen=True, slots=True)
class Run:
    """A chord for as long as it lasts."""

    onset_beats: Fraction
    end_beats: Fraction
    event: Event


def runs_of(chart: Chart, bars: int) -> list[Run]:
    """Each chord for as long as it lasts, over so many bars of whole forms."""
    found: list[Run] = []
    for turn in range(bars // chart.form_bars):
        for event in chart.events:
            if event.chord.root is None:
                continue
            onset = event.onset_beats + turn * chart.length_beats
            run = Run(onset, onset + event.duration_beats, event)
            goes_on = found and found[-1].event.chord == event.chord and found[-1].end_beats == onset
            if goes_on:
                run = replace(run, onset_beats=found.pop().onset_beats)
            found.append(run)
    return found


def _changes(chart: Chart) -> str:
    """The changes as steps from the first root: the same in every key, at every tempo and in every feel."""
    chords = [event.chord for event in chart.events if event.chord.root is not None]
    roots = [chord.root.pitch_class for chord in chords if chord.root is not None]
    return " ".join(
        f"{(root - roots[0]) % 12}{chord.suffix}" for root, chord in zip(roots, chords, strict=True)
    )


def phrase_count(chart: Chart) -> int:
    """How many phrases of four bars (of eight in a meter in two) a chorus has."""
    return max(1, _bars(chart) // (PHRASE_BARS * bars_of_a_bar(chart)))


def _bars(chart: Chart) -> int:
    """Of the form, as often as one phrase of four bars needs."""
    return chart.form_bars * -(-PHRASE_BARS * bars_of_a_bar(chart) // chart.form_bars)


def _chosen(chart: Chart, style: Style, role: str, level: Level, chance: Random) -> list[Idiom]:
    """The two shapes of a level in an order by chance; of a fast chart those of the level below, in eighths."""
    found = list(idioms_of(style, role, level))
    slow_enough = [one for one in found if chart.tempo <= FAST or one.shortest_beats >= Fraction(1, 2)]
    if not slow_enough:
        slow_enough = list(idioms_of(style, role, LEVELS[max(0, LEVELS.index(level) - 1)]))
    chance.shuffle(slow_enough)
    return slow_enough


def beat_of_shapes(chart: Chart) -> Fraction:
    """What a beat of a shape is in the chart's meter: a dotted quarter where it is felt in threes."""
    return chart.meter.pulse_beats if chart.meter.compound else Fraction(1)


def bars_of_a_bar(chart: Chart) -> int:
    """How many bars of the chart a bar of a shape takes: two of a meter in two."""
    beats = chart.bar_beats / beat_of_shapes(chart)
    return max(1, int(BAR_BEATS / beats)) if beats < 3 else 1
