"""Level is content: the same changes give another lesson at each level; its minutes add up and set how much stands."""

from __future__ import annotations

import os
import re
from random import Random
from typing import Any

import pytest

from theorylib import Chart, finger, harmony
from theorylib.levels import LEVELS
from theorylib.practice.landings import landings, steady_scale
from workbook.cells.drill import Drill
from workbook.kit import areas
from workbook.lesson.areas import area_scale, areas_of
from workbook.lesson.chosen import KINDS, Choices
from workbook.lesson.derived import phrase_position, shape_position
from workbook.lesson.kinds import aims, standing
from workbook.lesson.routine import minutes_of
from workbook.lesson.sections import plan_of
from workbook.lesson.writing import new_lesson

# Charts that nobody tuned to: a groove, blues major and minor, a slash-chord loop, power chords, three, one chord.
CHARTS = ("| Gm7 | C9 |", "| A7 | D7 | A7 | % | D7 | % | A7 | F#7 | Bm7 | E7 | A7 | E7 |",
          "feel: shuffle\n| Cm7 | Fm7 | Cm7 | % | Fm7 | % | Cm7 | % | Ab7 | G7#9 | Cm7 | G7alt |",
          "| Dm | Dm/C | Bbmaj7 | A7b9 |", "feel: rock\n| E5 | C5 | G5 | D5 |", "meter: 3/4\n| Em | C | Am | B7 |",
          "| Dm9 |", "| Ebmaj7 | Cm7 | Fm7 | Bb13 |")
KEYS = range(12)
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


def lesson(changes: str, level: str, kind: str, minutes: int = 45, up: int = 0) -> dict[str, Any]:
    return new_lesson(Chart.parse(changes).transpose(up), Choices("Any", level=level, kind=kind, minutes=minutes))


def texts(notebook: dict[str, Any]) -> dict[str, str]:
    return {cell["id"]: "".join(cell["source"]) for cell in notebook["cells"]}


def sampled(count: int, seed: int) -> list[tuple[str, str, int]]:
    chance = Random(seed)
    return [(chance.choice(CHARTS), chance.choice(KINDS), chance.choice(KEYS)) for _ in range(count)]


@pytest.mark.parametrize(("changes", "kind", "up"), sampled(10, 3))
def test_no_words_of_a_level_stand_in_another_but_what_every_musician_does(changes: str, kind: str, up: int) -> None:
    """Bursts, bends and accents ask the same of whoever plays them; all else is another text."""
    by_level = [texts(lesson(changes, level, kind, up=up)) for level in LEVELS]
    shared = {"bend-drill-words", "targets-words", "rhythm-words", "ear-answers-words"}
    for one in range(3):
        for two in range(one):
            both = by_level[one].keys() & by_level[two].keys()
            same = {by for by in both if by.endswith("-words") and by_level[one][by] == by_level[two][by]}
            assert same <= shared, same
    first, middle, last = (set(found) for found in by_level)
    assert {"tones", "steady", "land"} <= first
    assert not {"steady", "land", "tones"} & (middle | last)
    assert {"drill", "neck", "moves"} & middle
    assert not {"drill", "neck", "moves"} & (first | last)
    assert {"displaced", "triads"} & last
    assert not {"displaced", "triads", "colours"} & (first | middle)


@pytest.mark.parametrize(("changes", "kind", "up"), sampled(6, 5))
def test_the_lines_of_a_beginner_are_slow_and_stay_in_one_place(changes: str, kind: str, up: int) -> None:
    """No note shorter than half a beat, and all frets within five of each other (common practice, no source)."""
    space: dict[str, Any] = {}
    notebook = lesson(changes, "beginner", kind, up=up)
    exec("\n".join("".join(cell["source"]) for cell in notebook["cells"] if cell["cell_type"] == "code"), space)
    lines = [value.line for name, value in space.items() if isinstance(value, Drill) and name != "comping"]
    assert len(lines) >= 3
    for line in lines:
        assert min(note.duration_beats for note in line.notes) >= line.chart.meter.pulse_beats / 2, line.title
        frets = [note.fret for note in line.notes if note.fret]
        assert max(frets) - min(frets) <= 5, line.title


def test_the_routine_adds_up_to_the_lessons_minutes() -> None:
    for kind in KINDS:
        for level in LEVELS:
            for minutes in (*range(1, 13), 15, 20, 25, 30, 40, 45, 59, 60, 90, 240):
                plan = plan_of(Chart.parse(CHARTS[0]), Choices("Any", level=level, kind=kind, minutes=minutes))
                rows = minutes_of(plan, standing(plan))
                assert sum(row[1] for row in rows) == minutes, (kind, level, minutes)
                assert min(row[1] for row in rows) >= 1


def test_more_minutes_hold_more() -> None:
    for kind in KINDS:
        for level in LEVELS:
            counts = [len(lesson(CHARTS[0], level, kind, minutes)["cells"]) for minutes in (10, 20, 30, 60)]
            assert counts == sorted(counts), (kind, level)
            assert counts[0] < counts[-1], (kind, level)


def test_aims_say_what_is_heard_and_name_no_answer() -> None:
    """What the lesson asks for, its scales and its chords, is nowhere in its aims."""
    names = re.compile(r"\b[A-G][♭♯]?(?:m|maj|sus|dim|°|ø|\d| (?:minor|major|dorian|mixolydian|blues))")
    for number, changes in enumerate(CHARTS):
        for kind in KINDS if EXPLORE else KINDS[number % 2::2]:
            for level in LEVELS:
                plan = plan_of(Chart.parse(changes), Choices("Any", level=level, kind=kind, minutes=60))
                found = aims(plan)
                assert 3 <= len(found) <= 5, (kind, level, found)
                assert not [aim for aim in found if names.search(aim)]
                # An aim speaks of what the lesson drills, and of nothing else.
                drilled = {section.id for section in standing(plan)}
                said = " ".join(found)
                for word, by in SPOKEN_OF.items():
                    assert word not in said or drilled & set(by.split()), (word, kind, level)


SPOKEN_OF = {"arpeggios of the changes": "drill", "guide tones": "guides", "Bend": "bend-drill", "vibrato": "vibrato",
             "sixteenths": "run ladder", "burst": "burst", "three notes of a triad": "triads", "Tap": "taps",
             "Answer a short phrase": "phrases", "solo with": "solo", "arpeggio of another": "colours", "Hum": "guides"}


# chord as it is typed: semitones from C of its root, and of its 3rd or of what a landing has instead (typed by hand).
LANDS = {"Gm7": (7, 10), "C9": (0, 4), "Dm": (2, 5), "Bbmaj7": (10, 2), "A7b9": (9, 1), "E5": (4, 11), "C5": (0, 7),
         "Em": (4, 7), "Am": (9, 0), "B7": (11, 3), "C": (0, 4), "Dsus4": (2, 7), "Gsus2": (7, 9), "Bm7b5": (11, 2)}


@pytest.mark.parametrize("up", KEYS)
def test_a_landing_is_the_root_and_then_the_third_where_the_chord_comes_in(up: int) -> None:
    chance = Random(up)
    for meter in ("4/4", "3/4", "6/8", "5/4"):
        chords = [chance.choice(list(LANDS)) for _ in range(4)]
        chart = Chart.parse(" | ".join(chords), meter=meter).transpose(up)
        line = finger(landings(chart, ("1", "3"), 5), position=5)
        assert line.problems() == ()
        heard = {note.onset_beats: note.pitch.midi % 12 for note in line.notes}
        for turn in (0, 1):
            for event in chart.events:
                name = chords[event.bar]
                assert heard[event.onset_beats + turn * chart.length_beats] == (LANDS[name][turn] + up) % 12, name
        assert all(note.end_beats % chart.bar_beats == 0 for note in line.notes), "held while the chord lasts"


@pytest.mark.parametrize(("changes", "position"), [
    ("| E7 | A7 | E7 | B7 |", 12), ("| F#m7 | B7 |", 2), ("| Am7 | D7 |", 5), ("| Bb | Gm | Eb | F |", 6)])
def test_a_beginner_lands_under_the_four_fingers_where_the_note_lies_there(changes: str, position: int) -> None:
    """Open strings E A D G B E; four fingers own four frets (common practice, no source)."""
    own = {string + fret for string in (40, 45, 50, 55, 59, 64) for fret in range(position, position + 4)}
    for note in landings(Chart.parse(changes), ("1", "3"), position).notes:
        lies_there = note.pitch.midi % 12 in {midi % 12 for midi in own}
        assert note.pitch.midi in own or not lies_there, str(note.pitch)


@pytest.mark.parametrize("up", KEYS)
def test_a_first_scale_begins_on_its_root_turns_and_comes_home(up: int) -> None:
    """The minor pentatonic has 0, 3, 5, 7 and 10 semitones above its root (common practice)."""
    for meter, feel in (("4/4", "straight 8"), ("6/8", "straight 8"), ("3/4", "waltz"), ("5/4", "straight 8")):
        chart = Chart.parse("| Am7 | D7 | Am7 | D7 |", meter=meter, feel=feel).transpose(up)
        root = (9 + up) % 12
        scale = area_scale(harmony(chart), "groove")
        position = shape_position(harmony(chart).homes[0].scale)
        line = finger(steady_scale(scale, position, chart=chart), position=position)
        pitches = [note.pitch.midi for note in line.notes]
        assert pitches[0] % 12 == pitches[-1] % 12 == root
        assert {(pitch - root) % 12 for pitch in pitches} == {0, 3, 5, 7, 10}
        assert {note.duration_beats for note in line.notes[:-1]} == {chart.meter.pulse_beats}
        assert line.notes[-1].duration_beats == chart.bar_beats
        frets = [note.fret for note in line.notes]
        assert max(frets) - min(frets) == 3, "one finger a fret"
        assert position <= 9


def test_a_blues_has_the_blues_scale_and_arpeggios_at_every_level() -> None:
    """The blues scale has 1 b3 4 b5 5 b7 (common practice); typed for A and C."""
    for changes, notes in ((CHARTS[1], {9, 0, 2, 3, 4, 7}), (CHARTS[2], {0, 3, 5, 6, 7, 10})):
        read = harmony(changes)
        for level in LEVELS:
            first, *others = areas_of(read, "blues", level, 5)
            assert {name.pitch_class for name in first.what.names} == notes
            assert others, "an arpeggio beside it"
            assert others[0].what == read.chords[0].chord
            plan = plan_of(Chart.parse(changes), Choices("Any", level=level, kind="blues"))
            assert "area" in {section.id for section in standing(plan)}


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_the_areas_of_a_blues_are_drawn_where_its_phrases_are_played(level: str) -> None:
    """C minor's box: frets 8 to 11, wherever the hand stands for the arpeggios (common practice, no source)."""
    read = harmony(CHARTS[2])
    pictures = areas(read, 1, "blues", level).pictures
    assert phrase_position(read, "blues", 1, level=level) == 8
    for picture in pictures:
        assert picture.caption.endswith("position 8")
        frets = {int(fret) for fret in re.findall(r"fret (\d+)", picture.alt)}
        assert frets <= set(range(7, 13)), picture.alt
        assert min(frets) <= 8
