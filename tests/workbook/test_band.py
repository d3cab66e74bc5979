"""What the band plays, counted over every feel, six meters and ten charts; bounds of common practice, no source.

In CI a sample of them, all with VAMPBOOK_EXPLORE=1. The counts are support/band.py's; tests/bench/band.py prints them.
"""

from __future__ import annotations

import doctest
import os
from functools import cache
from importlib import import_module
from pathlib import Path
from statistics import mean

import pytest
from support import band
from support.music21_chords import pitch_classes

from theorylib import Chart
from theorylib.changes.meters import FEELS
from workbook.play.arrangement import ArrangementError, arranged, chorus_words
from workbook.play.backing import BASS, COMP, DRUMS, Backing, BackingError, backing, passes_in
from workbook.play.band import Band
from workbook.play.plan_text import picture

ALL = bool(os.environ.get("VAMPBOOK_EXPLORE"))
MINUTES = 2.0


@cache
def tracks(feel: str) -> tuple[Backing, ...]:
    """Two tracks of a feel in CI, of other meters and charts for each feel."""
    every = [(meter, text) for meter in band.METERS for text in band.CHARTS]
    first = 7 * list(FEELS).index(feel)
    chosen = every if ALL else [every[(first + step) % len(every)] for step in (0, 23)]
    charts = [Chart.parse(text, meter=meter, feel=feel) for meter, text in chosen]
    return tuple(backing(chart, passes=passes_in(chart, MINUTES)) for chart in charts)


# (least, most) of a part: the share of the commonest bar, of bars like the one before, bits a chorus. Common practice;
# in 23 and 11 files of Debian's openttd-openmsx (GPL-2) the middle halves of drums were 0.19 to 0.58, 0.02 to 0.54 and
# 1.2 to 2.0, of comping 0.15 to 0.42, 0 to 0.51 and 1.0 to 2.2 (tests/bench/band_outside.py).
REPEATS = {DRUMS: ((0.15, 0.4), (0.1, 0.4), (1.6, 2.6)), COMP: ((0.1, 0.4), (0.02, 0.4), (1.5, 2.8))}


@pytest.mark.parametrize("feel", FEELS)
def test_bars_repeat_as_a_band_does(feel: str) -> None:
    """No bar is the whole, nor does each bar begin something new; no chorus is just the one before."""
    for part, bounds in REPEATS.items():
        found = [band.repeats(one, part) for one in tracks(feel)]
        counts = [[one.commonest for one in found], [one.like_before for one in found],
                  [one.entropy_bits for one in found]]
        for (least, most), count in zip(bounds, counts, strict=True):
            assert least <= mean(count) <= most, (part, count)
        assert mean(one.passes_alike for one in found) <= 0.05, part


@pytest.mark.parametrize("feel", FEELS)
def test_the_bass_tells_the_changes_and_seldom_leaps(feel: str) -> None:
    for one in tracks(feel):
        ways = band.bass_ways(one)
        assert band.roots_on_changes(one) >= 0.97
        assert ways.leaps <= 0.15, "in 23 files of people's half have 0.02 to 0.23 (see REPEATS)"
        assert ways.low >= 28
        assert ways.high <= 55
        assert sum(ways.approaches.values()) > 0


@pytest.mark.parametrize("feel", FEELS)
def test_comping_has_no_harsh_voicing(feel: str) -> None:
    """No minor ninth, no semitone on top, no #9 under the third, roots left to the bass; D3 to C5."""
    for one in tracks(feel):
        found = band.voicings(one)
        assert found.struck > 0
        assert (found.minor_ninths, found.top_semitones, found.sharp_nine_low) == (0, 0, 0)
        assert found.roots <= 0.05 * found.struck
        assert found.low >= 50
        assert found.high <= 72


@pytest.mark.parametrize("feel", FEELS)
def test_crashes_and_fills_stand_at_sections_only(feel: str) -> None:
    for one in tracks(feel):
        starts = band.section_starts(one)
        assert set(band.crashes(one)) <= starts
        assert {bar + 1 for bar in band.fills(one)} <= starts
        bars = one.passes * one.chart.form_bars
        assert len(band.crashes(one)) <= bars / 7, "one in eight bars at most"


@pytest.mark.parametrize("feel", FEELS)
def test_players_stand_near_the_grid(feel: str) -> None:
    """Within 15 ms on average, and spread by less than 8: what is heard as feel and not as a mistake."""
    for one in tracks(feel):
        for part in (DRUMS, BASS, COMP):
            mean_ms, spread_ms = band.off_the_grid(one, part)
            assert abs(mean_ms) <= 15
            assert 0 < spread_ms <= 8
            assert max(abs(hit.late_ms) for hit in one.of(part)) <= 45


def test_walking_bass_uses_every_kind_of_approach() -> None:
    """From a semitone or a step on either side and from the fifth; a major 7th on a dominant never."""
    # Roots that move by step: what leads to them is the approach's own.
    walked = backing("feel: swing\n| Dm7 | Ebmaj7 | Fm7 | Ebmaj7 |", Band(density="main"), passes=40)
    counts = band.bass_ways(walked).approaches
    assert {"semitone below", "semitone above", "step below", "step above", "fifth"} <= set(counts)
    assert counts["semitone below"] > counts["semitone above"], "a leading note rises, as a rule"
    assert counts["fifth"] > counts["fourth"], "the note before is the dominant of what it leads to"
    assert max(counts.values()) <= 0.85 * sum(counts.values()), "no kind is the only one"
    blues = backing("feel: swing\n| G7 | C7 | G7 | G7 | C7 | C7 | G7 | E7 | A7 | D7 | G7 | D7 |", passes=6)
    for hit in blues.of(BASS):
        chord = blues.chart.chord_at(hit.start_beats)
        assert chord is not None
        assert chord.root is not None
        if hit.start_beats < 6 * 48 and hit.start_beats % 4 < 3.9:
            assert (hit.midi - chord.root.pitch_class) % 12 != 11, hit


def test_a_bass_note_on_a_strong_beat_belongs_to_its_chord() -> None:
    """Most of beats one and three of a walking bass are chord tones (common practice, no source)."""
    made = backing("feel: swing\ntempo: 140\n| Dm7 | G7 | Cmaj7 | A7b9 |", passes=16)
    strong = [hit for hit in band.played(made, BASS) if hit.start_beats % 2 == 0]
    inside = [hit for hit in strong if hit.midi % 12 in pitch_classes(made.chart.chord_at(hit.start_beats))]
    assert len(inside) / len(strong) > 0.75


# -- form ------------------------------------------------------------------------------------------------------------
FORM = "feel: rock\n[A] | Am | F | C | G |\n[B] | F | G | Am | Am |"


def test_choruses_grow() -> None:
    made = backing(FORM, passes=5, band=Band(ending=False))
    choruses = [[hit for hit in made.of(DRUMS) if 32 * turn <= hit.start_beats < 32 * turn + 32] for turn in range(5)]
    counts = [len(hits) for hits in choruses]
    loud = [mean(hit.velocity for hit in hits) for hits in choruses]
    assert counts[0] < counts[1] < counts[-1]
    assert loud[0] < loud[1] < loud[-1]
    rests = [hit.start_beats // 4 for hit in made.of(COMP)]
    assert not {16, 17, 18, 19} & set(rests), "the third chorus begins without comping"


def test_stops_leave_room() -> None:
    made = backing(FORM, passes=2, band=Band(density="main, stop", ending=False))
    for part in (DRUMS, BASS, COMP):
        stops = {hit.start_beats % 4 for hit in made.of(part) if hit.start_beats >= 32}
        assert stops == {0}, part
    assert all(hit.length_beats <= 1 for hit in made.of(BASS) if hit.start_beats >= 32)


def test_intro_and_tag() -> None:
    made = backing(FORM, passes=1, band=Band(intro=2, tag=2))
    assert made.count_in_beats == 12
    assert min(hit.start_beats for hit in made.of(DRUMS)) == -8
    assert made.length_beats == 32 + 8 + 4
    low = [hit.midi % 12 for hit in made.of(BASS) if hit.start_beats in (32, 36, 40)]
    assert low == [9, 9, 9], "the form's last two bars again, then home"
    with pytest.raises(BackingError, match="0 to 16"):
        backing(FORM, band=Band(intro=40))


def test_a_loop_has_no_count_in_and_no_ending() -> None:
    made = backing(FORM, passes=2, band=Band(loop=True))
    assert (made.count_in_beats, made.length_beats, made.of("Click")) == (0, 64, ())


@pytest.mark.parametrize("text", ["", "loud", "main x", "main,,full", "main x9999", "light main"])
def test_choruses_that_cannot_be_read_are_refused(text: str) -> None:
    with pytest.raises(ArrangementError, match="light, main"):
        chorus_words(text, 3)


def test_a_picture_of_the_plan() -> None:
    chart = Chart.parse(FORM)
    shown = picture(arranged(chart, 3, chorus_words("light, main, stop", 3)), (3, 2)).splitlines()
    assert shown[0].split() == ["bars", "1–8", "A", "B", "light", "▁▁▁▂", "▁▁▁▂"]
    assert shown[1].split() == ["bars", "9–16", "A", "B", "main", "█▃▃▅", "▃▃▃▅"]
    assert shown[2].split() == ["bars", "17–24", "A", "B", "stop", "█╎╎╎", "╎╎╎╎"]
    assert shown[3] == "felt 3+2"


def test_the_examples_in_the_docstrings_of_players_are_true() -> None:
    folder = Path(import_module("workbook.play").__path__[0])
    modules = [path.stem for path in sorted(folder.glob("*.py")) if ">>> " in path.read_text(encoding="utf-8")]
    assert len(modules) >= 5
    assert [name for name in modules if doctest.testmod(import_module(f"workbook.play.{name}")).failed] == []


def test_leaving_a_part_out_changes_no_other() -> None:
    whole = backing(FORM, passes=3)
    for part in (DRUMS, BASS, COMP):
        others = backing(FORM, passes=3, band=Band(parts=[one for one in (DRUMS, BASS, COMP) if one != part]))
        assert [others.of(one) for one in (DRUMS, BASS, COMP) if one != part] == [
            whole.of(one) for one in (DRUMS, BASS, COMP) if one != part]
        assert others.of(part) == ()
