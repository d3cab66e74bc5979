"""The words of lessons over charts of many kinds: they tell the signs, say what the pictures show, and nothing twice.

What is expected is read from the lines and pictures that the lesson's own code makes, or typed.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from theorylib import Chart, Tuning, harmony
from theorylib.levels import LEVELS
from theorylib.practice.ear import ear_tasks
from theorylib.practice.outline import LIMITS
from theorylib.practice.strumming import strummed
from workbook.cells.drill import Drill, PhraseChorus
from workbook.draw.pictures import Picture, Pictures
from workbook.kit import bends, colour_necks, necks, phrase_chorus, play_along, rhythm_part
from workbook.lesson import prose
from workbook.lesson.chosen import KINDS, PHRASE, Choices
from workbook.lesson.derived import bend_area, phrase_position
from workbook.lesson.kinds import aims, standing
from workbook.lesson.sections import Plan, parts_of, plan_of

TRIADS = "| C | Am | F | G |"
POWER = "feel: rock\n| E5 | G5 A5 | C5 | D5 |"
MINOR_BLUES = "feel: shuffle\ntempo: 72\n| Fm7 | Bbm7 | Fm7 | C7 |"
CHARTS = (
    TRIADS, POWER, MINOR_BLUES, "| Dbmaj7 | Abm7 Db7 | Gbmaj7 |", "meter: 3/4\nfeel: waltz\n| Em | C | G/B | D |",
    "meter: 12/8\ntempo: 96\n| Gm7 | Cm7 | Gm7 | D7alt |", "meter: 7/8\ntempo: 126\n| Am9 | Fmaj7 | Dm9 | E7alt |",
    "feel: swing\ntempo: 138\n| Bb7 | Eb7 | Fm7 Bb7 | Edim7 | Bb7 G7alt | Cm7 F7 |",
    "meter: 5/4\n| Bm7 | E9 | Dmaj7 |",
)
EVERY = [(chart, kind, level) for number, chart in enumerate(CHARTS) for kind in KINDS for level in LEVELS]
SOME = EVERY[::11]  # all kinds, all levels, all charts


@cache
def planned(changes: str, kind: str, level: str, tuning: str = "standard", minutes: int = 30) -> Plan:
    choices = Choices("Any", level, kind=kind, minutes=minutes, tuning=Tuning.parse(tuning))
    return plan_of(Chart.parse(changes), choices)


@cache
def words(changes: str, kind: str, level: str, tuning: str = "standard") -> dict[str, str]:
    plan = planned(changes, kind, level, tuning)
    return {part.by: part.text for part in parts_of(standing(plan), plan)}


def test_the_sample_has_every_kind_level_and_chart() -> None:
    for column, every in enumerate((CHARTS, KINDS, LEVELS)):
        assert {one[column] for one in SOME} == set(every)


@pytest.mark.parametrize(("changes", "kind", "level"), SOME)
def test_an_accent_is_told_where_the_rhythm_part_has_one(changes: str, kind: str, level: str) -> None:
    part = strummed(Chart.parse(changes), level)
    has = any(note.marked("accent") for note in part.notes)
    assert ("under > it is louder" in words(changes, kind, level)["rhythm-words"]) == has


@pytest.mark.parametrize("changes", CHARTS)
def test_what_a_chord_asks_for_says_nothing_of_its_row_in_the_table(changes: str) -> None:
    """The table has scale, where it comes from, numeral and tones; the words add every colour of the chord."""
    for level in LEVELS[1:]:
        said = words(changes, "groove", level)
        told = said.get("chords-words", "")
        assert "takes" not in told
        assert "The chord sounds" not in told
        assert "reads" not in said["home-words"]
        for reading in harmony(changes).chords:
            assert prose.origin(reading.scale) not in told
            if level == "intermediate" and not prose.is_power(reading.chord):
                for name, degree in reading.tensions:
                    counted = degree if {"6", "b7", "7", "bb7"} & set(reading.chord.degrees) else TRIADIC[degree]
                    assert prose.called_with_degrees([(name, counted)]) in told


# How players count over a triad (common practice, no source).
TRIADIC = {"9": "2", "11": "4", "#11": "#4", "13": "6", "b13": "b6", "7": "7", "b7": "b7"}

# Cells that show nothing in a position.
UNPLACED = ("kit", "harmony", "changes", "rhythm", "grips", "plan", "ear", "ear-answers", "reading", "solo",
            "phrases-told")


def made_by(changes: str, kind: str, level: str, tuning: str) -> list[tuple[str, str]]:
    """(“words”, text) and (“shown”, title or caption) of a lesson in order, from its code run here."""
    plan = planned(changes, kind, level, tuning)
    space: dict[str, Any] = {}
    exec("from workbook.kit import *", space)
    space.update(chart=plan.chart, read=plan.read, hand=plan.position, neck=plan.choices.tuning, kind=kind,
                 level=level, per_chord=plan.choices.per_chord, passes=plan.choices.passes)
    found = []
    for part in parts_of(standing(plan), plan):
        if part.kind != "code":
            found.append(("words", part.text))
            continue
        if part.by in UNPLACED:
            continue
        *before, last = part.text.split("\n")
        exec("\n".join(before), space)
        value = eval(last.removesuffix(".score()"), space) if not last.startswith("#") else None
        if isinstance(value, Drill | PhraseChorus):
            found.append(("shown", value.line.title))
        pictures = value.pictures if isinstance(value, Pictures) else (value,) if isinstance(value, Picture) else ()
        found += [("shown", picture.caption) for picture in pictures]
    return found


@pytest.mark.parametrize(("changes", "kind", "level", "tuning"), [
    ("feel: shuffle\ntempo: 88\n| G7 | C7 | G7 | D7 |", "blues", "intermediate", "open G"),
    (MINOR_BLUES, "blues", "beginner", "standard"), (MINOR_BLUES, "blues", "advanced", "standard"),
    (CHARTS[6], "modern", "advanced", "standard"), (POWER, "rock", "beginner", "drop D"),
    ("feel: rock\n| Bm | G/B | A | Em | F#m |", "rock", "intermediate", "standard"),
    ("| A7 | D7 |", "groove", "intermediate", "standard"),
])
def test_no_line_or_picture_lies_in_a_position_that_the_words_have_not_told(changes: str, kind: str, level: str,
                                                                           tuning: str) -> None:
    told, seen = 0, set()
    for what, text in made_by(changes, kind, level, tuning):
        if what == "words":
            told = next((int(one) for one in re.findall(r"(?:position |from fret )(\d+)", text)[-1:]), told)
        elif found := re.search(r"position (\d+)", text):
            assert int(found[1]) == told, text
            seen.add(told)
    assert seen
    if kind == "blues" and level != "beginner":
        assert len(seen) > 1, "a lesson in one place proves nothing"


def test_a_place_is_told_once() -> None:
    for changes, kind, level in SOME:
        texts = [text for by, text in words(changes, kind, level).items() if by.endswith("-words")]
        places = re.findall(r"(?:position|from fret) \d+", " ".join(texts))
        assert all(one != two for one, two in pairwise(places)), places


# -- the ear -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("changes", ["| C | Am | F | G |", "| Em | D/F# | G | Asus4 |", "| Bm | F#m | G | A5 |"])
def test_nobody_is_asked_about_sevenths_over_triads(changes: str) -> None:
    for level in LEVELS:
        for seed in range(4):
            asked = [task for task in ear_tasks(changes, level, 5, seed=seed) if task.kind == "quality"]
            assert asked
            for task in asked:
                assert not re.search(r"\d", " ".join(task.choices).replace("3rd", "").replace("4th", "")), task.choices


def test_sevenths_are_asked_about_where_the_changes_have_one() -> None:
    (one, _) = (task for task in ear_tasks("| C | Am7 | F | G |", "intermediate", 5) if task.kind == "quality")
    assert "m7" in one.choices


def test_over_power_chords_the_aim_names_what_is_neither() -> None:
    assert "whether a chord is bright, dark or neither" in words(POWER, "rock", "beginner")["aims"]
    assert "whether a chord is bright or dark and" in words(TRIADS, "rock", "beginner")["aims"]
    assert "the bare sound of all five, which have no 3rd" in words(POWER, "rock", "beginner")["changes-words"]
    assert "the hovering sound of Asus4" in words("| A | Asus4 |", "rock", "beginner")["changes-words"]


# -- bends -------------------------------------------------------------------------------------------------------------
def test_a_beginner_is_told_what_9_and_11_are_and_which_note() -> None:
    """Over Fm7 the 11 is B flat, the 4 of F blues (typed)."""
    assert "The 11 is the 4 of the scale, an octave up." in words(MINOR_BLUES, "blues", "beginner")["targets-words"]
    assert "octave" not in words(MINOR_BLUES, "blues", "advanced")["targets-words"]
    read = harmony(MINOR_BLUES)
    area = bend_area("Fm7", phrase_position(read, "blues", 8, level="beginner"), "beginner")
    assert "The 11 (B♭) at string" in str(bends(area, over="Fm7"))


# -- what is drawn and what not ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(("changes", "named"), [
    ("| Dm7 | G7 | Cmaj7 | A7b9 |", ""), ("| Dm7 | G7 | Cmaj7 | A7b9 | Fmaj7 |", "Find Fmaj7 in the same place"),
    ("| Bm | G/B | A | Em | F#m |", "Find F♯m in the same place"),
])
def test_chords_without_a_picture_are_named(changes: str, named: str) -> None:
    told = words(changes, "groove", "intermediate")["neck-words"]
    assert named in told
    assert ("in the same place yourself" in told) == bool(named)
    chords = {reading.chord.without_bass() for reading in harmony(changes).chords}
    left = re.search(r"Find (.*) in the same place", told)
    assert len(necks(harmony(changes), 5).pictures) + (len(left[1].split(", ")) if left else 0) == len(chords)


@pytest.mark.parametrize("changes", ["| Cm7 | G7alt |", "| Dm7 | G7 | Cmaj7 |", "| Abm9 | Db13 | Gbmaj7 |"])
def test_a_substitute_arpeggio_is_not_drawn_alone(changes: str) -> None:
    captions = [picture.caption for picture in colour_necks(changes, 5).pictures]
    assert len(captions) == 2
    assert captions[0].split(" over ")[0] != captions[1].split(" over ")[0]


def test_a_beginner_is_told_what_stands_over_the_strings() -> None:
    for changes in (TRIADS, POWER, "| F#m | Bm |"):
        rows = [row.split(": ")[1] for row in repr(play_along(changes, "beginner")).splitlines()]
        told = words(changes, "groove", "beginner")["grips-words"]
        assert ("× over a string leaves it out" in told) == any("x" in row for row in rows)
        assert ("over the first line is an open string" in told) == any(re.search(r"(?<!\d)0", row) for row in rows)
        assert "×" not in words(changes, "groove", "advanced").get("grips-words", "")


# -- phrases and the solo ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("bars", [3, 4, 5, 6, 7, 9, 10, 12])
def test_every_bar_of_the_phrases_is_told(bars: int) -> None:
    row = ("Am7", "D7", "Gmaj7", "Em7", "C", "Bm7", "E7")
    changes = "| " + " | ".join(row[bar % len(row)] for bar in range(bars)) + " |"
    for level in LEVELS:
        chorus = phrase_chorus(changes, "groove", level)
        told = set()
        for first, last in re.findall(r"\*\*Bars? (\d+)(?:–(\d+))?\*\*", str(chorus.told())):
            told |= set(range(int(first), int(last or first) + 1))
        assert told >= set(range(1, chorus.line.bar_count + 1)), (level, str(chorus.told()))


def test_words_on_time_fit_every_meter() -> None:
    """Half a beat of 12/8 is no eighth, a bar of 3/4 has no “and” of 4, a chord of two beats no beat 3."""
    for changes in CHARTS[3:7]:
        said = words(changes, "modern", "advanced")
        assert "half a beat" not in said["phrases-words"]
        assert not re.search(r"of \d|on \d", said["vibrato-words"].split("one beat")[1])
    assert all(not re.search(r"\b(?:two|four) bars", says) for says in LIMITS.values())


def test_the_plan_calls_the_phrases_as_their_heading_does() -> None:
    for changes, kind, level in SOME:
        said = words(changes, kind, level)
        if "phrases-words" in said:
            does = next(one.does for one in standing(planned(changes, kind, level)) if one.id == "phrases")
            assert said["phrases-words"].lower().startswith(f"## {does}")


def test_a_beginner_is_told_what_the_wavy_line_is() -> None:
    for changes in (TRIADS, MINOR_BLUES, POWER):
        chorus = phrase_chorus(changes, "groove", "beginner")
        kinds = {mark.kind for note in chorus.line.notes for mark in note.marks}
        assert kinds <= {"vibrato"}
        assert "A wavy line is a vibrato" in words(changes, "groove", "beginner")["phrases-words"]
        modern = words(changes, "modern", "beginner")  # there a drill of vibrato comes first
        assert "A wavy line is a vibrato" in modern["vibrato-words"]
        assert "A wavy line is a vibrato" not in modern["phrases-words"]


@pytest.mark.parametrize(("changes", "level", "tuning"), [
    (TRIADS, "beginner", "standard"), (POWER, "beginner", "drop D"), (POWER, "advanced", "standard"),
    (MINOR_BLUES, "advanced", "standard"),
])
def test_the_rhythm_is_told_as_it_is_drawn(changes: str, level: str, tuning: str) -> None:
    """Strokes over two strings are written out, on TAB too: there is no slash to be told of."""
    plan = planned(changes, "rock", level, tuning)
    near = None if level == "beginner" else plan.position
    drawn = rhythm_part(plan.chart, level, tuning=plan.choices.tuning, near=near).score()
    has_tab = "string 5 fret" in drawn.alt or "|-" in drawn.text
    told = words(changes, "rock", level, tuning)["rhythm-words"]
    assert ("a slash is a stroke" in told) != has_tab
    assert ("what stands in one column" in told) == has_tab


def test_chords_with_the_same_strangers_are_told_together() -> None:
    changes = "key: C minor\n| Cm7 | Fm7 | G7 | Cm7 | G7b9 | F#dim7 |"
    said = words(changes, "groove", "intermediate")["home-words"]
    assert "Outside it lie B in G7 and G7♭9; F♯ and A in F♯°7." in said
    assert "Outside" not in words(changes, "groove", "advanced")["home-words"]  # where the scale changes names them


def test_no_heading_promises_what_leaves_the_home_where_nothing_does() -> None:
    """G flat lydian holds both chords; D7 alone steps out of D flat major's first four (common practice, no source)."""
    stays = words("key: Gb lydian\n| Gbmaj7 | Ab7 | Gbmaj7 | Ab7 |", "groove", "advanced")["home-words"]
    leaves = words("| Dbmaj7 Bbm7 | Ebm7 Ab7 | Fm7 Bbm7 | Ebm7 D7 |", "groove", "advanced")["home-words"]
    assert stays.startswith("## The home scale\n")
    assert leaves.startswith("## The home scale, and what leaves it\n")


def test_a_chord_and_what_takes_its_place_stand_once_in_the_table() -> None:
    plan = planned("| Abm7 | Db7#11 | Gbmaj7 | Edim7 | Abm7 G7 | Gbmaj7/Bb |", "groove", "advanced", minutes=50)
    told = next(part.text for part in parts_of(standing(plan), plan) if part.by == "against-words")
    rows = told.splitlines()[6:]
    assert len(rows) == len({row.split("|")[1] for row in rows}) == 5
    assert "/" not in "".join(rows)


def test_after_a_clause_a_comma_parts_the_sounds() -> None:
    said = words("| Am7 | D7sus4 | Bb7b9 |", "groove", "advanced")["changes-words"]
    assert ", which has no 3rd, and for the bite of B♭7♭9, which wants to resolve." in said


def test_over_a_power_chord_no_scale_is_said_to_change() -> None:
    said = words("feel: rock\n| E5 | G5 A5 | C#m7 | B7 |", "rock", "advanced")
    assert "G5" not in said.get("chords-words", "")


def test_the_hand_goes_back_only_where_it_has_been() -> None:
    for changes, kind, level in [*SOME, (CHARTS[7], "blues", "advanced"), (MINOR_BLUES, "blues", "intermediate")]:
        been: list[str] = []
        for text in words(changes, kind, level).values():
            for back, place in re.findall(r"(back )?(?:to|in) position (\d+)", text):
                assert bool(back) == (place in been), text
                been.append(place)


def test_what_is_improvised_by_a_beginner_ends_on_a_named_root() -> None:
    """Where the last chord leads back, a last note on it would hang in the air: the ending is the home chord's."""
    said = words(TRIADS, "groove", "beginner")["next-words"]
    assert "end on the root of C as the first bar comes round again." in said
    assert "end on the root of the last chord, C." in words("| F | G | C | C |", "groove", "beginner")["next-words"]


def test_no_aim_holds_its_answer() -> None:
    """What is to be named stands in the lesson, not in its aims."""
    choices = Choices("Any", kind=PHRASE, phrase="e G3 Bb3 D4 F4")
    plan = plan_of(Chart.parse("| Gm7 | C9 |"), choices)
    homes = {home.scale.pretty for home in plan.read.homes}
    assert homes == {"G dorian"}
    for changes, kind, level in SOME:
        one = planned(changes, kind, level)
        names = {reading.chord.pretty for reading in one.read.chords if len(reading.chord.pretty) > 2}
        assert not [aim for aim in aims(one) for name in names if name in aim]
    assert not [aim for aim in aims(plan) for name in homes if name in aim]
