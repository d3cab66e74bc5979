"""Backing tracks: a band plays a chart, for as many passes as wanted, with a count-in and an ending.

Everything chosen is chosen by a seed of chart and part: the same chart and band give the same track, in a cell and in
a pack.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from random import Random

from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import shown
from theorylib.limits import TEMPO, is_whole
from theorylib.names.chords import Chord
from theorylib.reading.harmony import Harmony, harmony

from .arrangement import Arrangement, arranged, chorus_bars, chorus_words
from .band import USUAL, Band
from .grouping import pulses_felt, read_groups
from .ladder import Ladder, Tempos, passes_for, tempos_of
from .parts import (
    BASS,
    CLICK,
    CLICK_HIGH,
    CLICK_LOW,
    COMP,
    DRUMS,
    GROUP_CLICK,
    PAD,
    PARTS,
    STRONG_CLICK,
    WEAK_CLICK,
    Backing,
    BackingError,
    Hit,
)
from .players import PLAYERS, Score
from .style import Style

__all__ = ["BASS", "CLICK", "CLICK_HIGH", "CLICK_LOW", "COMP", "DRUMS", "PAD", "PARTS", "STEADY", "USUAL", "Backing",
           "BackingError", "Hit", "backing", "home_chord", "passes_in"]

MOST_BARS = 2000
MOST_MINUTES, MOST_COUNT_IN = 180, 16
STEADY = Ladder()
# Of an ending that slows: the tempo on each beat of its last bar, and of the held chord, against the one before.
_SLOWING, _SLOWEST = (Fraction(19, 20), Fraction(9, 10), Fraction(17, 20), Fraction(39, 50)), Fraction(7, 10)


def backing(chart: Chart | str, band: Band = USUAL, *, passes: int | None = None, count_in_bars: int = 1,
            click: bool = False, ladder: Ladder = STEADY) -> Backing:
    """A track over the chart: `passes` times through the form (see `passes_in`), else the band's choruses, or 4 passes.

    `ladder` raises the tempo on the way. `click` sounds through the whole track, accented by the
    groups of the bar; the count-in always sounds. A band that loops plays no count-in, intro, tag or ending: its end
    leads back to its start. Raises BackingError, StyleError, ArrangementError or GroupError.

    >>> backing("| Am7 | D7 |", Band(ending=False), passes=2).seconds  # four bars at 100, one to count in
    12.0
    """
    chart = as_chart(chart)
    band = replace(band, ending=False, intro=0, tag=0) if band.loop else band
    count_in = _count_in_beats(chart, 0 if band.loop else count_in_bars)
    passes = _passes(chart, passes, band.choruses)
    groups, read = read_groups(band.groups, chart.meter), _read(chart)
    plan = _planned(chart, passes, band, home_chord(chart, read) if band.ending else None)
    score = Score(plan, groups, _scales(read))
    hits = [hit for part in band.parts for hit in _played(score, band, part)]
    intro = band.intro * chart.bar_beats
    hits += _clicks(chart, groups, -intro - count_in, plan.end_beats if click else -intro)
    tempos = tempos_of(chart, passes * chart.length_beats, ladder)
    style = band.style_for(chart)
    if band.ending and style.ending == "slowing":
        tempos = _slowed(tempos, plan)
    return Backing(chart, passes, tuple(sorted(hits, key=_in_order)), tempos, count_in + intro, plan.end_beats, plan,
                   style, _players(chart, band), groups, band.loop)


def _in_order(hit: Hit) -> tuple[float, Fraction, str, int]:
    """By time, part and pitch; of two fractions the later never has the smaller float, which is compared faster."""
    return float(hit.start_beats), hit.start_beats, hit.part, hit.midi


def _players(chart: Chart, band: Band) -> Mapping[str, Style]:
    return {part: band.style_of_part(chart, name) for part, (_, name) in PLAYERS.items()}


def _planned(chart: Chart, passes: int, band: Band, home: Chord | None) -> Arrangement:
    words = chorus_words(band.density, -(-passes * chart.form_bars // chorus_bars(chart)))
    return arranged(chart, passes, words, intro_bars=band.intro, tag_bars=band.tag, home=home)


def _played(score: Score, band: Band, part: str) -> Iterator[Hit]:
    player, name = PLAYERS[part]
    chart = score.plan.chart
    return player(score, band.style_of_part(chart, name), Random(f"1 {part} {chart}"))


def passes_in(chart: Chart, minutes: float, ladder: Ladder = STEADY) -> int:
    """How often the form is played in about so many minutes, while the tempo rises; raises BackingError.

    >>> passes_in(Chart.parse("| Am7 | D7 |", tempo=120), 1)
    15
    """
    if not 0 < minutes <= MOST_MINUTES:
        raise BackingError(f"a track of {minutes!s:.40} minutes", value=minutes,
                           expected=f"more than 0, to {MOST_MINUTES}")
    return passes_for(chart, minutes, ladder, max(1, MOST_BARS // chart.form_bars)) if chart.form_bars else 1


def _passes(chart: Chart, passes: int | None, choruses: int | None) -> int:
    """How often the form is played: as said, or for so many choruses, or four times."""
    bars = chart.form_bars
    if passes is None and bars:
        passes = 4 if choruses is None else choruses * chorus_bars(chart) // bars
    if not bars or not is_whole(passes, 1, MOST_BARS // bars):
        raise BackingError(f"{shown(passes)} passes of {bars} bars", value=passes,
                           expected=f"1 to {MOST_BARS} bars in all")
    assert passes is not None
    return passes


def _count_in_beats(chart: Chart, bars: int) -> Fraction:
    if not 0 <= bars <= MOST_COUNT_IN:
        raise BackingError(f"{bars!s:.40} bars to count in", value=bars, expected=f"0 to {MOST_COUNT_IN}")
    return bars * chart.bar_beats


def _read(chart: Chart) -> Harmony | None:
    """The harmony of a chart; None where it has no chord."""
    return harmony(chart) if any(event.chord.root is not None for event in chart.events) else None


def _scales(read: Harmony | None) -> Mapping[Chord, frozenset[int]]:
    """The pitch classes of each chord's scale, as it is first read."""
    found: dict[Chord, frozenset[int]] = {}
    for one in read.chords if read else ():
        found.setdefault(one.chord, one.scale.pitch_classes | {name.pitch_class for name in one.chord.names})
    return found


def home_chord(chart: Chart, read: Harmony | None) -> Chord | None:
    """The chord on which a track ends: the tonic's own in the changes, else its triad; None without any chord.

    >>> str(home_chord(Chart.parse("| Dm7 | G7 | Cmaj7 | A7 |"), harmony("| Dm7 | G7 | Cmaj7 | A7 |")))
    'Cmaj7'
    """
    if read is None:
        return None
    scale = read.homes[-1].scale
    tonic = scale.names[0].pitch_class
    own = [event.chord for event in chart.events if event.chord.root is not None and event.chord.bass is None
           and event.chord.root.pitch_class == tonic]
    return own[0] if own else Chord.parse(f"{scale.names[0].simple()}{'m' if scale.is_minor else ''}")


def _slowed(tempos: Tempos, plan: Arrangement) -> Tempos:
    """The last bar before the ending slows beat by beat, into the held chord."""
    end = plan.end_beats - plan.chart.bar_beats
    pulses = pulses_felt(plan.chart.meter, (1,) * plan.chart.meter.pulses, 4)[-len(_SLOWING):]
    start, last = end - plan.chart.bar_beats, tempos[-1][1]
    marks = [(start + pulse.onset_beats, last * share)
             for pulse, share in zip(pulses, _SLOWING[-len(pulses):], strict=True)]
    slower = [(beat, max(Fraction(TEMPO[0]), tempo)) for beat, tempo in [*marks, (end, last * _SLOWEST)]]
    return (*(one for one in tempos if one[0] < slower[0][0]), *slower) if start > 0 else tempos


def _clicks(chart: Chart, groups: tuple[int, ...], first: Fraction, last: Fraction) -> Iterator[Hit]:
    """A click on every pulse, accented on the first of the bar, and a little where another group begins."""
    felt = pulses_felt(chart.meter, groups, 4)
    bar = first
    while bar < last:
        for pulse in felt:
            if bar + pulse.onset_beats < last:
                strong, leads = not pulse.onset_beats, pulse.leads and len(groups) > 1
                velocity = STRONG_CLICK if strong else GROUP_CLICK if leads else WEAK_CLICK
                yield Hit(CLICK, bar + pulse.onset_beats, Fraction(1, 8), CLICK_HIGH if strong else CLICK_LOW, velocity)
        bar += chart.bar_beats
