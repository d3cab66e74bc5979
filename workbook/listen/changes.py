"""The changes of a recording whose grid is known: chords by half bar, the cycle in which they return, the key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Any

import numpy as np

from theorylib.changes.charts import Chart
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale

from .chord_model import CLASSES, log_likelihoods, stretches
from .decoding import Choice, averaged, cycle_bars, decoded, favoured, in_key
from .grid import Grid, moved
from .spectra import Notes
from .spelling import class_of, keys_of, spelled
from .wishes import Wishes

GIVEN = 50.0            # what a chord that a person gave is favoured by
MOST_SHIFTS = 64        # places at which a chart's first bar is looked for
_KEYS = 3


@dataclass(frozen=True, slots=True)
class HeardChord:
    """A chord from `start_seconds` to `end_seconds`, in bar `bar` (from 0); `given` where a person said so."""

    start_seconds: float
    end_seconds: float
    bar: int
    share: float  # of its bar, at which it begins: 0 is the bar line
    chord: Chord
    rivals: tuple[Chord, ...]
    confidence: float
    given: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """`cycle` in bars, 0 where nothing returns; `keys` the likeliest first; `likeness` of each bar to each, 0 to 1."""

    grid: Grid
    chords: tuple[HeardChord, ...]
    cycle: int
    keys: tuple[Scale, ...]
    likeness: Any


def find_changes(notes: Notes, grid: Grid, wished: Wishes) -> Changes:
    """The changes on a grid. A chart that a person gave says its chords, and where the first bar must lie for them."""
    if wished.chart is not None and wished.first_bar_seconds is None and not wished.bars:
        grid = moved(grid, _first_by_chart(notes, grid, wished))
    logs, halves = _by_half_bar(notes, grid), _halves(grid)
    by_bar = np.exp(logs).reshape(grid.bar_count, -1)
    cycle = _cycle(by_bar, wished)
    given = _given(grid, wished, halves)
    by_half = _with(averaged(logs, cycle * halves), given)
    whole = _bars_with(averaged(_by_whole_bar(notes, grid), cycle), given, halves)
    key = _mode(wished.key) if wished.key else in_key(by_half)
    choices = decoded(by_half, whole, favoured(key, given=wished.key is not None))
    keys = _keys(choices[:cycle * halves] if cycle else choices, wished)
    chords = tuple(_chords(grid, choices, keys[0] if keys else None, wished))
    return Changes(grid, chords, cycle, keys, _likeness(by_bar))


def _halves(grid: Grid) -> int:
    return 2 if grid.pulses > 1 else 1


def _shares(grid: Grid) -> list[float]:
    """Where the stretches of a bar begin, and its end, as shares of it."""
    return [0.0, (grid.pulses + 1) // 2 / grid.pulses, 1.0] if grid.pulses > 1 else [0.0, 1.0]


def _by_half_bar(notes: Notes, grid: Grid) -> Any:
    """Log-likelihoods of each half bar."""
    edges = grid.bar_edges
    inner = [grid.seconds_at(bar, share) for bar in range(grid.bar_count) for share in _shares(grid)[:-1]]
    beat = np.diff(edges).repeat(_halves(grid)) / grid.pulses
    return log_likelihoods(stretches(notes, [*inner, float(edges[-1])], beat))


def _by_whole_bar(notes: Notes, grid: Grid) -> Any:
    return log_likelihoods(stretches(notes, grid.bar_edges, np.diff(grid.bar_edges) / grid.pulses))


def _cycle(by_bar: Any, wished: Wishes) -> int:
    if wished.form:
        return sum(bars for _, bars in wished.form)
    return wished.chart.form_bars if wished.chart is not None else cycle_bars(by_bar)


def _mode(key: Scale) -> tuple[int, bool]:
    """The major or minor key whose chords a home uses: of D dorian those of C major."""
    if key.family == "major":
        return key.parent.tonic.pitch_class, False
    return key.tonic.pitch_class, key.is_minor


def _given(grid: Grid, wished: Wishes, halves: int) -> list[int | None]:
    """The class of each stretch that the chart says, None where it says nothing or is unsure."""
    count = grid.bar_count * halves
    if wished.chart is None:
        return [None] * count
    chart, shares = wished.chart, _shares(grid)
    found: list[int | None] = []
    for bar in range(grid.bar_count):
        in_form = bar % chart.form_bars
        for share in shares[:-1]:
            beat = (in_form + share) * float(chart.bar_beats)
            chord = chart.chord_at(_exact(beat))
            found.append(None if in_form in wished.unsure or chord is None else class_of(chord))
    return found


def _exact(beat: float) -> Any:
    from fractions import Fraction

    return Fraction(beat).limit_denominator(1000)


def _with(logs: Any, given: Sequence[int | None]) -> Any:
    """The halves' log-likelihoods; what a person gave is certain."""
    found = logs.copy()
    for number, chord in enumerate(given):
        if chord is not None:
            found[number] -= GIVEN
            found[number, chord] = 0.0
    return found


def _bars_with(logs: Any, given: Sequence[int | None], halves: int) -> Any:
    """The whole bars' log-likelihoods; no bar is another chord than a person gave for a part of it."""
    found = logs.copy()
    for number, chord in enumerate(given):
        if chord is not None:
            found[number // halves] -= GIVEN * (np.arange(CLASSES) != chord)
    return found


def _first_by_chart(notes: Notes, grid: Grid, wished: Wishes) -> int:
    """The beat on which the chart's first bar must begin for its chords to be the likeliest."""
    assert wished.chart is not None
    best = (-np.inf, grid.first)
    for first in range(min(grid.pulses * wished.chart.form_bars, MOST_SHIFTS, len(grid.beats) - grid.pulses)):
        tried = moved(grid, first)
        if tried.bar_count < 1:
            break
        logs = _by_half_bar(notes, tried)
        given = _given(tried, wished, _halves(tried))
        said = [logs[number, chord] for number, chord in enumerate(given) if chord is not None]
        if said:
            best = max(best, (float(np.mean(said)), first))
    return best[1]


def _keys(choices: Sequence[Choice], wished: Wishes) -> tuple[Scale, ...]:
    found = keys_of([chord for chord, _ in groupby(one.chord for one in choices)])
    if wished.key is not None:
        return (wished.key, *(key for key in found if key != wished.key))[:_KEYS]
    return found[:_KEYS]


def _chords(grid: Grid, choices: Sequence[Choice], key: Scale | None, wished: Wishes) -> Any:
    """The chords bar by bar: the chart's own where it is sure, else what was heard, equal halves together."""
    shares, halves = _shares(grid), _halves(grid)
    for bar in range(grid.bar_count):
        chart = wished.chart
        if chart is not None and bar % chart.form_bars not in wished.unsure:
            yield from _of_chart(grid, bar, chart)
            continue
        inside = choices[bar * halves:(bar + 1) * halves]
        places = [number for number in range(halves) if not number or inside[number].chord != inside[number - 1].chord]
        for place, following in pairwise([*places, halves]):
            same = inside[place:following]
            surest = max(same, key=lambda one: one.confidence)
            yield HeardChord(grid.seconds_at(bar, shares[place]), grid.seconds_at(bar, shares[following]), bar,
                             shares[place], spelled(surest.chord, key),
                             tuple(spelled(one, key) for one in surest.rivals),
                             sum(one.confidence for one in same) / len(same))


def _of_chart(grid: Grid, bar: int, chart: Chart) -> Any:
    in_form = bar % chart.form_bars
    start = in_form * chart.bar_beats
    beats = sorted({start, *(event.onset_beats for event in chart.events_in(in_form))} - {None})
    inside = [beat for beat in beats if start <= beat < start + chart.bar_beats]
    for beat, following in pairwise([*inside, start + chart.bar_beats]):
        share, until = (float((one - start) / chart.bar_beats) for one in (beat, following))
        chord = chart.chord_at(beat)
        if chord is not None:
            yield HeardChord(grid.seconds_at(bar, share), grid.seconds_at(bar, until), bar, share, chord, (), 1.0, True)


def _likeness(by_bar: Any) -> Any:
    rows = by_bar / (np.linalg.norm(by_bar, axis=1, keepdims=True) + 1e-9)
    return np.clip(rows @ rows.T, 0, 1)


