"""Comping: from a style's rows and a plan to struck chords, with pushes into the next, room for a solo, and an answer.

Two bars in a row seldom have the same rhythm. Where the drums fill, the comping leaves the end of the bar to them.
Every chord is struck once at least. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from random import Random

from .arrangement import COMP_PART, ENDING, STOP, Arrangement, Slot, Span
from .grouping import COMP_ROW, distinct, pulses_felt, steps_of
from .style import MAIN, Rows, Style

_USUAL = (0.55, 0.3, 0.4, 0.15)  # of a style's usual row, by the bar of the phrase
_DETACHED = Fraction(9, 10)      # of a chord's time that it sounds
_PUSH, _STRUCK = "P", "XxP"      # of a row's signs: the next chord, early; those that are strokes


@dataclass(frozen=True, slots=True)
class Struck:
    """A chord as it is struck: beats in the track before swing; `early` is one that belongs to the next bar."""

    beat: Fraction
    length_beats: Fraction
    span: Span
    accent: bool
    early: bool = False


def struck(plan: Arrangement, style: Style, groups: tuple[int, ...], chance: Random) -> tuple[Struck, ...]:
    """Every stroke of the plan's bars, in order."""
    found: list[Struck] = []
    before, pushed = "", None
    for place, slot in enumerate(plan.slots):
        if COMP_PART in slot.resting:
            before, pushed = "", None
            continue
        rows = style.comp.get(slot.density) or style.comp[MAIN]
        row = _row_of(distinct(plan.chart.meter, groups, style.steps, rows, COMP_ROW), slot.place, before, chance)
        following = plan.slots[place + 1] if place + 1 < len(plan.slots) else None
        bar = list(_bar(plan, slot, following, _signs(plan, slot, style, groups, row), pushed))
        pushed = bar[-1].span if bar and bar[-1].early else None
        before = row
        found += bar
    return tuple(_let_out(found))


def _row_of(rows: Rows, place: int, before: str, chance: Random) -> str:
    """A row for the bar: the usual one where a phrase begins, seldom the one before again."""
    others = [row for row in rows if row != before] or list(rows)
    return rows[0] if rows[0] != before and chance.random() < _USUAL[place] else chance.choice(others)


def _signs(plan: Arrangement, slot: Slot, style: Style, groups: tuple[int, ...],
           row: str) -> list[tuple[Fraction, str]]:
    if slot.kind == ENDING:
        return [(Fraction(0), "X")]
    if slot.density == STOP:
        return [(Fraction(0), "X"), (plan.chart.meter.pulse_beats / 2, ".")]
    signs = list(steps_of(plan.chart.meter, groups, style.steps, row, COMP_ROW))
    if slot.fill > 1:
        felt = pulses_felt(plan.chart.meter, groups, 4)
        quiet = felt[max(1, len(felt) - slot.fill)].onset_beats
        signs = [(beat, "-" if beat >= quiet and sign in "Xx" else sign) for beat, sign in signs]
    return signs


def _bar(plan: Arrangement, slot: Slot, following: Slot | None, signs: Sequence[tuple[Fraction, str]],
         pushed: Span | None) -> Iterator[Struck]:
    """The strokes of a bar, chord by chord; `pushed` is the chord that the bar before struck early."""
    bar = _Bar(plan.spans_in(slot), tuple((slot.start_beats + beat, sign) for beat, sign in signs),
               slot.start_beats + plan.chart.bar_beats, _next_bars_chord(plan, following), plan.chart.meter.pulse_beats)
    for span in bar.spans:
        if span.event.chord.root is None:
            continue
        sounds_already = span is bar.spans[0] and pushed is not None
        for beat, sign in _signs_over(bar, span, sounds_already):
            stroke = _stroke(bar, span, beat, sign)
            if stroke is not None:
                yield stroke


@dataclass(frozen=True, slots=True)
class _Bar:
    """A bar to be comped: its chords, its row's signs in beats of the track, its end, and what may be struck early."""

    spans: tuple[Span, ...]
    signs: tuple[tuple[Fraction, str], ...]
    end_beats: Fraction
    ahead: Span | None
    pulse_beats: Fraction


def _next_bars_chord(plan: Arrangement, following: Slot | None) -> Span | None:
    """The chord that a push at the end of a bar is about; None where the comping rests next, or the track ends."""
    if following is None or following.kind == ENDING or COMP_PART in following.resting:
        return None
    ahead = plan.spans_in(following)[0]
    return None if ahead.event.chord.root is None else ahead


def _signs_over(bar: _Bar, span: Span, sounds_already: bool) -> list[tuple[Fraction, str]]:
    """What is struck while a chord lasts: its row's strokes, and one where it begins if they leave it out."""
    struck = [(beat, sign) for beat, sign in bar.signs
              if span.start_beats <= beat < span.end_beats and sign in _STRUCK]
    if sounds_already:
        return [(beat, sign) for beat, sign in struck if beat != span.start_beats]
    is_left_out = not struck or struck[0][1] == _PUSH
    return [(span.start_beats, "x"), *struck] if is_left_out else struck


def _stroke(bar: _Bar, span: Span, beat: Fraction, sign: str) -> Struck | None:
    """A sign as a stroke: of the chord at hand, or, pushed, of the one that comes."""
    stop = _held_to(bar.signs, beat, span.end_beats)
    if sign != _PUSH:
        return Struck(beat, (stop - beat) * _DETACHED, span, sign == "X")
    if stop < bar.end_beats:  # within the bar: the next chord of it, or the same again
        over = next((one for one in bar.spans if one.start_beats <= stop < one.end_beats), span)
        return Struck(beat, (stop - beat) * _DETACHED, over, False)
    if bar.ahead is None:
        return None
    return Struck(beat, stop - beat + bar.pulse_beats, bar.ahead, True, early=True)


def _held_to(placed: Sequence[tuple[Fraction, str]], beat: Fraction, end: Fraction) -> Fraction:
    """Until the next sign that does not hold it, or the chord's end."""
    after = next((other for other, sign in placed if other > beat and sign != "-"), end)
    return min(end, after)


def _let_out(found: Sequence[Struck]) -> Iterator[Struck]:
    """A chord ends where the next is struck."""
    for one, two in zip_longest(found, found[1:]):
        if two is not None and one.beat + one.length_beats > two.beat:
            yield Struck(one.beat, two.beat - one.beat, one.span, one.accent, one.early)
        else:
            yield one
