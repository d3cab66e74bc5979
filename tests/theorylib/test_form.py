"""Form: the shortest description against brute force, and charts that sound the same when they are printed by form."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib import Chart
from theorylib.changes.form import ENDING, LENGTHS, REPEAT, describe, form_of, shaped


def sounding(chart: Chart) -> list[tuple]:
    return [(event.chord, event.onset_beats, event.duration_beats) for event in chart.events]


def cheapest(bars: str) -> int:
    """Every description there is, by recursion: written anew, with no bound on how often a block is played."""

    @cache
    def cost(rest: str) -> int:
        if not rest:
            return 0
        found = [1 + cost(rest[1:])]
        for length in range(1, len(rest) // 2 + 1):
            block, times = rest[:length], 1
            while rest[length * times:length * (times + 1)] == block:
                times += 1
                found.append(length + REPEAT + cost(rest[length * times:]))
            other = rest[length:2 * length]
            if length >= 4 and other[:-1] == block[:-1] and other != block:
                found.append(length + 1 + REPEAT + ENDING + cost(rest[2 * length:]))
        return min(found)

    return cost(bars)


@settings(max_examples=400, deadline=None)
@given(st.text("AB", max_size=14) | st.text("ABC", max_size=14))
def test_the_shortest_description(bars: str) -> None:
    items = describe(bars)
    assert sum(item.cost for item in items) == cheapest(bars)
    assert sum(item.covers for item in items) == len(bars)
    assert set(range(1, 8)) <= set(LENGTHS), "short blocks of every length are tried"


CHORDS = ("Am7", "D7", "Gmaj7", "E7 / / A7", "F#m7b5 B7b9")


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(CHORDS), min_size=1, max_size=40), st.integers(1, 3))
def test_a_shaped_chart_sounds_the_same(bars: list[str], times: int) -> None:
    chart = Chart.parse(" | ".join(bars * times))
    found = shaped(chart)
    assert sounding(found) == sounding(chart)
    assert sounding(Chart.parse(str(found))) == sounding(chart)
    assert len(found.bars) <= len(chart.bars)


A, B, C = "Am7 | D7 | Gmaj7 | Em7 | Am7 | D7 | Gmaj7 | %", "Cm7 | F7 | Bbmaj7 | % | Am7 | D7 | Gmaj7 | E7", (
    "Fmaj7 | Fm7 | Em7 | A7 | Dm7 | G7 | Cmaj7 | Am7")
BLUES = "E7 | A7 | E7 | % | A7 | % | E7 | % | B7 | A7 | E7 | B7"


@pytest.mark.parametrize(("bars", "form"), [
    (" | ".join([A, A, B, A]), "AABA"), (" | ".join([A, B, A, C]), "ABAC"), (" | ".join([BLUES] * 3), "AAA"),
    (" | ".join([BLUES] * 6), "A×6"), (A, "A"), ("Am7 | D7 | Gmaj7", "A"),
])
def test_known_forms(bars: str, form: str) -> None:
    """Invented changes in forms of common practice (no source)."""
    assert form_of(bars) == form


def test_printing_by_form() -> None:
    assert [bar.plays for bar in shaped(" | ".join([BLUES] * 3)).bars][-1] == 3
    text = str(shaped(" | ".join([A, A, B, A])))
    assert text.count("[A]") == 2
    assert "[B]" in text
    assert "[A] |: Am7" in text


def test_a_changed_last_bar_gives_endings() -> None:
    found = shaped("Am7 | D7 | Gmaj7 | E7 | Am7 | D7 | Gmaj7 | Cmaj7")
    assert str(found).splitlines()[-2:] == ["|: Am7 | D7 | Gmaj7 |1. E7 :|", "|2. Cmaj7 |"]


def test_nothing_to_shorten_is_left_alone() -> None:
    chart = Chart.parse("Am7 | D7 | Gmaj7 | E7")
    assert shaped(chart).bars == chart.bars
