"""Beats to ticks: the swing of a feel, laid on exact beats, and where each line of a lesson begins."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

from theorylib.changes.charts import Chart
from theorylib.changes.meters import grid_beats, swing_ratio
from theorylib.playing.lines import Line

TICKS = 5040  # a quarter note: divisible by 2 to 10, so that halves, triplets, quintuplets and septuplets are exact


@dataclass(frozen=True, slots=True)
class Placed:
    """A line of a lesson and the beat at which it begins; a bar of rest parts it from the one before."""

    line: Line
    start_beats: Fraction


def one_after_the_other(lines: Sequence[Line]) -> tuple[Placed, ...]:
    """Where each line begins when they are laid end to end with a bar of rest between."""
    found, start = [], Fraction(0)
    for line in lines:
        found.append(Placed(line, start))
        start += line.length_beats + line.chart.bar_beats
    return tuple(found)


def swung(beats: Fraction, chart: Chart, straight: Collection[Fraction] = (),
          share: Fraction = Fraction(1)) -> Fraction:
    """When a beat sounds in the chart's feel: within each pair of grid notes, times up to the second note are
    stretched and those after it shortened; a moment at a third or fifth of the pair (a written tuplet) stays.

    `straight` are the onsets of the pairs that hold tuplets (see `tuplet_pairs`): all their moments stay, the middle of
    a sextuplet with its other notes. `share` is how much of the feel's swing a part takes: 1 all of it, 0 none.
    """
    swing, pair = share * (swing_ratio(chart.feel, chart.tempo) - 1), 2 * grid_beats(chart.feel)
    # A dotted pulse swings by itself; where a bar is no whole number of pairs, nothing would be left on its first beat.
    if not swing or chart.meter.compound or chart.bar_beats % pair:
        return beats
    whole, inside = divmod(beats, pair)
    if whole * pair in straight or _is_of_tuplet(inside / pair):
        return beats
    half, middle = pair / 2, pair * (1 + swing) / (2 + swing)
    moved = inside / half * middle if inside <= half else middle + (inside - half) / half * (pair - middle)
    return whole * pair + moved


def tuplet_pairs(line: Line) -> frozenset[Fraction]:
    """The onsets of the pairs of grid notes that hold a tuplet of the line; empty where nothing swings."""
    chart = line.chart
    if swing_ratio(chart.feel, chart.tempo) == 1:
        return frozenset()
    pair = 2 * grid_beats(chart.feel)
    edges = {edge for note in line.notes for edge in (note.onset_beats, note.end_beats)}
    return frozenset(edge // pair * pair for edge in edges if _is_of_tuplet(edge % pair / pair))


def _is_of_tuplet(share: Fraction) -> bool:
    """Does a part of a pair lie at a third, a fifth or a seventh?"""
    return bool(share.denominator & (share.denominator - 1))


def ticks(beats: Fraction) -> int:
    """Whole ticks, exact for every rhythm that TICKS holds; others to the nearest, to an even one from the middle."""
    whole, rest = divmod(beats.numerator * TICKS, beats.denominator)  # a track asks so often that a Fraction would cost
    twice = 2 * rest - beats.denominator
    return whole + (twice > 0 or (twice == 0 and whole % 2))
