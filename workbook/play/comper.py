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
    spans, end = plan.spans_in(slot), slot.start_beats + plan.chart.bar_beats
    goes_on = following is not None and following.kind != ENDING and COMP_PART not in following.resting
    ahead = plan.spans_in(following)[0] if goes_on and following is not None else None
    placed = [(slot.start_beats + beat, sign) for beat, sign in signs]
    for number, span in enumerate(spans):
        if span.event.chord.root is None:
            continue
        here = [(beat, sign) for beat, sign in placed if span.start_beats <= beat < span.end_beats and sign in "XxP"]
        was_pushed = number == 0 and pushed is not None
        if not was_pushed and (not here or here[0][1] == "P"):
            here.insert(0, (span.start_beats, "x"))
        for beat, sign in here:
            if was_pushed and beat == span.start_beats:
                continue  # it sounds already
            stop = _held_to(placed, beat, span.end_beats)
            if sign != "P":
                yield Struck(beat, (stop - beat) * _DETACHED, span, sign == "X")
            elif stop < end:  # within the bar: the next chord of it, or the same again
                over = next((one for one in spans if one.start_beats <= stop < one.end_beats), span)
                yield Struck(beat, (stop - beat) * _DETACHED, over, False)
            elif ahead is not None and ahead.event.chord.root is not None:
                yield Struck(beat, (stop - beat) + plan.chart.meter.pulse_beats, ahead, True, early=True)


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
