"""Each drill of a generated lesson, played through by a hand that knows nothing of our fingering: reach, shifts, speed.

The hand's limits are those of support/played_through.py, by level (common practice, no source).
"""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import pytest
from support.changes import forms
from support.played_through import LEVELS, drills_of, faults

from theorylib import STANDARD, Chart, Line, Note, Pitch, continuous_arpeggio, finger
from theorylib.playing.fingering import fingering_cost
from workbook.cells.drill import Drill
from workbook.lesson.chosen import KINDS, Choices
from workbook.lesson.derived import POSITIONS, best_position
from workbook.lesson.writing import new_lesson

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
LOOPS = ("| Dm7 G7 | Cmaj7 |", "| Am7 | D7 |", "| Em | C | G | D |", "| A7 | D7 | A7 | E7 |",
         "| Cm7 | Fm7 | Dm7b5 | G7#9 |", "| F#m7 B7 | Emaj7 C#7 |", "| Gm7 | C9 |", "| Dm7 Em7 Fmaj7 |",
         "| Bb7 | N.C. | Eb7 | Bb7 |", "| E5 | G5 | A5 | E5 |")
METERS = ("4/4", "3/4", "5/4", "7/8", "6/8", "12/8", "7/8 (3+2+2)")
TEMPOS = (66, 92, 118, 144, 168)
# A rhythm part is struck over all strings by the other hand, and led by the grips' own tests.
NOT_PLAYED_NOTE_BY_NOTE = ("comping",)


def charts() -> list[Chart]:
    """A hundred charts: the loops in the meters, and short ones of the table of changes."""
    loops = [Chart.parse(text, meter=meter, tempo=str(TEMPOS[(number + place) % len(TEMPOS)]))
             for number, text in enumerate(LOOPS) for place, meter in enumerate(METERS)]
    short = [form.chart for form in forms() if form.chart.form_bars <= 8]
    return loops + short[:: len(short) // 30][:30]


def tried() -> list[tuple[Chart, str, str]]:
    """(chart, kind, level): a sample that moves on through keys, kinds and levels.

    When exploring every chart stands in every key, in each of which it is another of the twelve lessons.
    """
    every, levels = charts(), list(LEVELS)
    if EXPLORE:
        lessons = [(kind, level) for kind in KINDS for level in levels]
        return [(chart.transpose(key), *lessons[(number + 5 * key) % len(lessons)])
                for number, chart in enumerate(every) for key in range(12)]
    return [(chart.transpose(7 * number % 12), KINDS[number % 4], levels[number // 4 % 3])
            for number, chart in enumerate(every[::9])]


def test_a_hundred_charts_in_all() -> None:
    assert len(charts()) >= 100
    assert {kind for _, kind, _ in tried()} == set(KINDS)
    assert {level for _, _, level in tried()} == set(LEVELS)


def test_every_drill_of_a_lesson_can_be_played() -> None:
    found: Counter[str] = Counter()
    played = 0
    for chart, kind, level in tried():
        for name, line in drills_of(new_lesson(chart, Choices("Lesson", level, kind=kind))).items():
            if name in NOT_PLAYED_NOTE_BY_NOTE:
                continue
            played += 1
            found.update(f"{kind} {level} {chart.meter} at {chart.tempo}, {name}: {fault}"
                         for fault in faults(line, LEVELS[level]))
    assert played > 2 * len(tried())
    assert not found, found.most_common(5)


def test_a_run_over_a_blues_scale_stays_in_its_position() -> None:
    """Three notes of a scale of six on each string took the hand away at every string, in a ninth of a second."""
    chart = Chart.parse("| Eb7 | Ab7 | Eb7 | Bb7 |", meter="6/8", tempo="118")
    run = drills_of(new_lesson(chart, Choices("Lesson", "intermediate", kind="rock")))["run"]
    assert list(faults(run, LEVELS["intermediate"])) == []
    assert len(run.notes) > 20


# -- the hand itself ---------------------------------------------------------------------------------------------------
def line(*notes: tuple[str, str, int, int, int], tempo: int = 120) -> Line:
    """Notes as (pitch, beats, string, fret, finger), one after the other."""
    found, now = [], Fraction(0)
    for pitch, beats, string, fret, used in notes:
        found.append(Note(Pitch.parse(pitch), now, Fraction(beats), string, fret, used))
        now += Fraction(beats)
    return Line(tuple(found), Chart.parse("| Am7 |", tempo=str(tempo)))


@pytest.mark.parametrize(("notes", "told"), [
    ([("A2", "1/2", 6, 5, 1), ("C3", "1/2", 6, 8, 4), ("D3", "1/2", 5, 5, 1)], ""),
    ([("A2", "1/2", 6, 5, 1), ("E4", "1/2", 2, 17, 4)], "shift"),
    ([("A2", "2", 6, 5, 1), ("E4", "1/2", 2, 17, 4)], ""),
    ([("A2", "1/4", 6, 5, 1), ("D#3", "1/4", 6, 11, 4)], "shift"),
    ([("A2", "1/8", 6, 5, 1), ("C3", "1/8", 6, 8, 4)] * 2, "notes a second"),
])
def test_the_hand_refuses_what_hands_cannot_do(notes, told):
    assert told in " ".join(faults(line(*notes), LEVELS["intermediate"]))
    assert bool(told) == bool(list(faults(line(*notes), LEVELS["intermediate"])))


def test_the_hand_refuses_a_wide_grip():
    wide = line(("F2", "1", 6, 1, 1), ("A3", "1", 4, 7, 4))
    together = replace(wide, notes=tuple(replace(note, onset_beats=Fraction(0)) for note in wide.notes))
    assert any("stretch" in fault for fault in faults(together, LEVELS["advanced"]))


# -- where the hand stands ---------------------------------------------------------------------------------------------
@lru_cache(maxsize=64)
def effort(chart: Chart, position: int) -> float:
    """What the whole arpeggio takes of the hand, how high it stands left out."""
    made = finger(continuous_arpeggio(chart, 8, position, passes=2), STANDARD, position)
    cost = fingering_cost(made, STANDARD, position)
    return cost.total - cost.height


@pytest.mark.parametrize("number", range(0, 100, 1 if EXPLORE else 9))
def test_the_position_is_hardly_dearer_than_the_best(number):
    chart = charts()[number].transpose(number % 12)
    assert effort(chart, best_position(chart)) <= 1.8 * min(effort(chart, position) for position in POSITIONS)


# -- what a plan says of a tempo ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(("tempo", "told"), [(100, ""), (300, "♩ = 300 is fast for eighth notes: up to ♩ = 240 most")])
def test_a_plan_warns_of_a_tempo_that_asks_too_much(tempo, told):
    chart = Chart.parse("| Am7 |", tempo=str(tempo))
    words = Drill(finger(continuous_arpeggio(chart))).plan().markdown
    assert told in words
    assert ("is fast for" in words) == bool(told)
