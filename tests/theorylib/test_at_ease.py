"""What a level's hand is at ease with: grips within limits, power chords in one shape, strokes that tempo allows.

All that is expected here is common practice, no source: typed from what teachers ask, and counted from frets and
fingers by other means than ours.
"""

from __future__ import annotations

import os
from itertools import pairwise

import pytest
from support.changes import forms

from theorylib import STANDARD, Chart, Tuning
from theorylib.necks.grip_leading import led_grips
from theorylib.practice.outline import outline
from theorylib.practice.strumming import pattern_of, strummed
from theorylib.practice.touch import bend_drill

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
POWER = ("E5 G5 A5 E5", "D5 F5 G5 C5", "A5 C5 D5 G5", "D5 F5 C5 G5 A5", "E5 Bb5 D5 A5", "C5 Db5 C5 B5")
LEVELS = ("beginner", "intermediate", "advanced")


def strained(frets: tuple[int | None, ...], fingers: dict[int, int]) -> str:
    """What a grip asks of an intermediate hand beyond its ease; frets stand from the thickest string."""
    pressed = [fret for fret in frets if fret]
    if not pressed:
        return ""
    span, low = max(pressed) - min(pressed), min(pressed)
    at_low = [6 - index for index, fret in enumerate(frets) if fret == low]
    barre = len([string for string in at_low if fingers[string] == 1]) > 1
    sounding = [6 - index for index, fret in enumerate(frets) if fret is not None]
    damped = max(sounding) - min(sounding) >= len(sounding)
    if barre and span > 2:
        return "a barre with a stretch"
    if barre and damped and max(at_low) > 3:
        return "a barre over a damped string"
    if barre and max(at_low) > 3 and max(at_low) != max(sounding):
        return "a barre behind the bass"
    if span > 3 or (span == 3 and damped):
        return "a stretch"
    by_little = [string for string, finger in fingers.items() if finger == 4]
    return "the little finger flat" if len(by_little) > 2 else ""


def test_an_intermediate_hand_is_at_ease_with_every_grip() -> None:
    """A hundred charts in twelve keys when exploring, else each in one."""
    short = [form.chart for form in forms() if form.chart.form_bars <= 8][:100]
    tried = 0
    for number, chart in enumerate(short if EXPLORE else short[::5]):
        for key in range(12) if EXPLORE else (number % 12,):
            chords = [event.chord for event in chart.transpose(key).events if event.chord.root is not None]
            for led in led_grips(chords, near=1 + (number + key) % 9):
                fingers = {place.string: place.finger for place in led.grip.places}
                tried += 1
                assert not strained(led.grip.frets(STANDARD), fingers), (str(led.grip), str(led.chord))
    assert tried > 60


@pytest.mark.parametrize(("changes", "near", "shapes"), [
    ("Abm6 B E", 4, {"B": "x24442 799877 7998xx", "Abm6": "4x344x xx6464 xx4344 4x646x"}),
    ("F#m7 B E A", 2, {"B": "x24442", "F#m7": "242222 2x222x", "E": "022100", "A": "x02220 577655"}),
])
def test_grips_that_teachers_ask(changes: str, near: int, shapes: dict[str, str]) -> None:
    for led in led_grips(changes.split(), near=near):
        assert str(led.grip) in shapes.get(str(led.chord), str(led.grip)).split(), str(led.chord)


@pytest.mark.parametrize("changes", POWER)
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("tuning", ["standard", "drop D", "drop C"])
def test_power_chords_keep_to_one_shape_and_register(changes: str, level: str, tuning: str) -> None:
    """Root, 5th and octave: in a drop tuning under one finger on the lowest three strings, from the first to the last
    chord, else on neighbouring strings from one of the two thickest."""
    neck = Tuning.parse(tuning)
    for key in range(12):
        chart = Chart.parse("| " + " | ".join(changes.split()) + " |").transpose(key)
        chords = [event.chord for event in chart.events]
        led = led_grips(chords, neck, level, near=None if level == "beginner" else 5)
        for one in led:
            steps = [midi - one.grip.midis[0] for midi in one.grip.midis]
            strings = [place.string for place in one.grip.places]
            assert steps == [0, 7, 12], (str(one.chord), str(one.grip))
            assert strings in ([[6, 5, 4]] if tuning.startswith("drop") else [[6, 5, 4], [5, 4, 3]])
            if tuning.startswith("drop"):
                assert len({place.fret for place in one.grip.places}) == 1
                assert {place.finger for place in one.grip.places} <= {0, 1}
        for one, two in pairwise(led):
            assert abs(one.grip.midis[0] - two.grip.midis[0]) < 12, (str(one.grip), str(two.grip))
            if level != "beginner" and tuning == "standard":
                assert abs(one.grip.midis[0] - two.grip.midis[0]) <= 9


@pytest.mark.parametrize("level", LEVELS[1:])
def test_eighths_go_down_alone_up_to_a_tempo(level: str) -> None:
    for tempo, alone in ((90, True), (140, True), (141, False), (168, False), (200, False)):
        for key in range(12):
            chart = Chart.parse("| E5 | G5 | A5 | E5 |", feel="rock", tempo=tempo).transpose(key)
            part = strummed(chart, level).notes
            on = {mark.kind for note in part if note.onset_beats % 1 == 0 for mark in note.marks}
            between = {mark.kind for note in part if note.onset_beats % 1 for mark in note.marks}
            assert "pick down" in on
            assert "pick up" not in on
            assert ("pick up" in between, "pick down" in between) == (not alone, alone)
            assert ("u" in pattern_of(chart, level)) is not alone


def test_a_solo_has_each_limit_once_and_two_in_a_row_for_different_things() -> None:
    same = ({"one string", "two strings"}, {"bends", "vibrato", "legato"}, {"one rhythm", "offbeats", "space"},
            {"three notes", "question and answer"})
    for changes in ("| Am7 | D7 |", "| A7 | D7 | A7 | E7 |", "| Cm7 | % | Fm7 | % | Dm7b5 | G7 | Cm7 | % |"):
        for key in range(12):
            for minutes, seed in ((1, 1), (2, 2), (2, 3)):
                plan = outline(Chart.parse(changes).transpose(key), minutes, seed=seed)
                limits = [phrase.limit for phrase in plan.phrases]
                assert len(set(limits)) == len(limits), limits
                for pair in pairwise(limits):
                    assert not any(set(pair) <= group for group in same), pair


def test_bends_stand_in_the_feel_of_their_changes_and_no_faster() -> None:
    for tempo, own in ((60, 60), (80, 80), (168, 80)):
        changes = Chart.parse("| G7 | C7 |", tempo=tempo, feel="shuffle")
        for neck in ("standard", "open G", "open D"):
            drill = bend_drill("G7", chart=changes, tuning=Tuning.parse(neck)).chart
            assert (drill.tempo, drill.feel, str(drill.meter)) == (own, "shuffle", "4/4")
