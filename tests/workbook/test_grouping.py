"""Odd and compound meters in groups: drums, bass, comping and click agree. Which groups: common practice."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from theorylib import Chart
from theorylib.changes.meters import Meter
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, backing
from workbook.play.band import Band
from workbook.play.grouping import GroupError, groups_of, read_groups, steps_of
from workbook.play.style import DRUM_KEYS
from workbook.play.style_text import style_named


@pytest.mark.parametrize(("meter", "groups"), [
    ("4/4", (4,)), ("3/4", (3,)), ("5/4", (3, 2)), ("6/4", (4, 2)), ("7/4", (4, 3)), ("6/8", (2,)), ("9/8", (3,)),
    ("12/8", (4,)), ("5/8", (2, 3)), ("7/8", (2, 2, 3)), ("8/8", (2, 2, 2, 2)),
    ("7/8 (3+2+2)", (3, 2, 2)), ("11/8", (2, 2, 2, 2, 3)), ("2/2", (2,)),
    ("10/8", (2, 2, 2, 2, 2)), ("13/16", (2, 2, 2, 2, 2, 3)), ("1/4", (1,)), ("3/8", (3,)),
])
def test_the_groups_of_a_bar(meter: str, groups: tuple[int, ...]) -> None:
    assert groups_of(Meter.parse(meter)) == groups


def test_every_meter_has_groups_that_fill_it() -> None:
    for beats in range(1, 33):
        for unit in (1, 2, 4, 8, 16):
            meter = Meter(beats, unit)
            steps = steps_of(meter, groups_of(meter), 2, "xo xo xo xo", "hat")
            ends = [beat for beat, _ in steps]
            assert ends == sorted(set(ends)), meter
            assert ends[0] >= 0
            assert ends[-1] < meter.bar_beats <= ends[-1] + max(meter.pulse_beats, Fraction(4, unit)), meter


@pytest.mark.parametrize("text", ["3+2", "2+2+2", "2+5", "x", "2+2+3+0", "7"])
def test_groups_that_do_not_make_the_bar_are_refused(text: str) -> None:
    with pytest.raises(GroupError, match=r"2\+2\+3"):
        read_groups(text, Meter(7, 8))


PLAIN = replace(style_named("rock"), drums={"main": (("hat", ("xx xx xx xx",)), ("kick", ("X. .. X. ..",)),
                                                     ("snare", (".. X. .. X.",)))},
                bass={"main": ("R- 5- R- 5-",)}, comp={"main": ("X- -- X- --",)}, fills={}, drift_ms=0, pocket_ms={})


@pytest.mark.parametrize(("meter", "asked", "kick", "snare", "hats"), [
    ("4/4", "", [0, 2], [1, 3], 8), ("5/4", "", [0, 3], [2, 4], 10), ("5/4", "2+3", [0, 2], [1, 4], 10),
    ("7/8", "", [0], [2], 7), ("7/8", "3+2+2", [0], [Fraction(5, 2)], 7), ("3/4", "", [0], [2], 6),
])
def test_drums_follow_the_groups(meter: str, asked: str, kick: list[Fraction], snare: list[Fraction],
                                 hats: int) -> None:
    made = backing(f"meter: {meter}\n| Am | Am |", passes=1, band=Band(style=PLAIN, groups=asked, ending=False))
    first = [hit for hit in made.of(DRUMS) if hit.start_beats < made.chart.bar_beats]
    by_drum = {name: [hit.start_beats for hit in first if hit.midi == DRUM_KEYS[name]]
               for name in ("kick", "snare", "hat")}
    assert by_drum["kick"] == kick
    assert by_drum["snare"] == snare
    assert len(by_drum["hat"]) == hats


@pytest.mark.parametrize(("meter", "accents"), [("5/4", [0, 3]), ("7/8", [0, 1, 2]), ("12/8", [0])])
def test_the_click_is_accented_where_groups_begin(meter: str, accents: list[int]) -> None:
    made = backing(f"meter: {meter}\n| Am7 |", passes=1, click=True, count_in_bars=0, band=Band(ending=False))
    clicks = made.of(CLICK)
    weakest = min(hit.velocity for hit in clicks)
    loud = [hit.start_beats for hit in clicks if hit.velocity > weakest or len(set(accents)) == len(clicks)]
    assert loud == accents
    assert clicks[0].velocity == max(hit.velocity for hit in clicks)


@pytest.mark.parametrize("meter", ["5/4", "7/8", "9/8"])
def test_every_part_stays_inside_its_bar(meter: str) -> None:
    chart = Chart.parse(f"meter: {meter}\n| Am7 | D7 | Gmaj7 | E7b9 |")
    made = backing(chart, passes=2, band=Band(ending=False))
    for part in (DRUMS, BASS, COMP):
        bars = {hit.start_beats // chart.bar_beats for hit in made.of(part)}
        assert bars == set(range(8)), part
