"""What a lesson says and asks for is fit to be played as it stands: over many charts and keys, read from its own words.

Which notes a shape has, what a grip sounds and where a form ends is worked out here by other means, or typed; what is
asked of which level is common practice, no source.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise

import pytest

from theorylib import Chart, Chord, Tuning
from theorylib.necks.areas import in_position
from theorylib.necks.grip_leading import led_grips
from theorylib.practice.ear import ear_tasks
from theorylib.practice.landings import landed
from theorylib.practice.sequences import sequence
from theorylib.practice.subdivisions import subdivision_ladder
from theorylib.reading.chordscales import counted_degree
from workbook.kit import areas, necks, plot_neck
from workbook.lesson.chosen import Choices
from workbook.lesson.derived import best_position
from workbook.lesson.kinds import sections_of
from workbook.lesson.sections import parts_of, plan_of

ROOTS = ("C#", "Eb", "F#", "Ab", "A", "B")  # keys of many signs and of few
# What sounds a ø7, a °7 and a diminished triad, in semitones over the root.
NOTHING_SIMPLER = {"m7b5": {0, 3, 6, 10}, "dim7": {0, 3, 6, 9}, "dim": {0, 3, 6}}


def words(changes: str, section: str, level: str = "intermediate", *, kind: str = "groove",
          tuning: str = "standard") -> str:
    """What a section of a lesson says and does."""
    plan = plan_of(Chart.parse(changes), Choices("Any", level, kind=kind, tuning=Tuning.parse(tuning)))
    found = [one for one in sections_of(kind) if one.id == section]
    return "\n".join(part.text for part in parts_of(found, plan))


# -- degrees as they are counted ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(("chord", "asked", "counted"), [
    ("C", "9 11 #11 13 b13 b9", "2 4 #4 6 b6 b2"), ("Cm", "9 11 13", "2 4 6"), ("C7", "9 11 13", "9 11 13"),
    ("C6", "9 11", "9 11"), ("Cadd9", "9 11 13", "9 4 6"), ("Csus4", "11 9", "4 2"), ("Csus2", "9 11", "2 4"),
    ("C7sus4", "11 9 13", "4 9 13"), ("C9sus4", "11 9", "4 9"), ("Cmaj7#11", "#11", "#11"), ("Cm11", "11", "11"),
    ("Cdim7", "9 11", "9 11"), ("C5", "9", "2"), ("C", "1 3 5", "1 3 5"),
])
def test_over_a_triad_a_scale_counts_to_seven(chord: str, asked: str, counted: str) -> None:
    """A sus chord is called by its 4 or 2; 9, 11 and 13 come after a 7th, or by their own name (typed by hand)."""
    assert " ".join(counted_degree(degree, Chord.parse(chord)) for degree in asked.split()) == counted


def test_pictures_and_words_over_triads_speak_of_no_9_11_or_13() -> None:
    changes = "| G | D/F# | Em | C |"
    alts = [picture.alt for picture in (*necks(changes, 3).pictures, *areas(changes, 3).pictures)]
    assert any("(2)" in alt for alt in alts)
    assert any("(6)" in alt for alt in alts)
    for text in (*alts, *(words(changes, section) for section in ("chords", "chords-words", "neck"))):
        assert not re.findall(r"\([♯♭]?(?:9|11|13)\)|called 9", text), text
    assert "(4)" in plot_neck("Asus4").alt
    asked = [task for task in ear_tasks("| Asus4 | Dsus4 |") if task.kind == "degree"]
    assert [task.choices for task in asked] == [("1", "4", "5")] * 2


def test_a_sus_chord_is_not_coloured_with_the_3rd_that_it_holds_back() -> None:
    said = words("| Gsus4 | G | D7sus4 | D7 |", "chords-words")
    assert "**Gsus4**: colour it with A (2), E (6)" in said
    assert not re.search(r"colour it with [^.]*\(3\)", said)


def test_no_seventh_is_asked_where_the_changes_have_none() -> None:
    for level in ("intermediate", "advanced"):
        asked = [task for task in ear_tasks("| G | Cadd9 | Gsus4 G | D/F# |", level) if task.kind == "quality"]
        assert asked
        assert not [one for task in asked for one in task.choices if "7" in one]


@pytest.mark.parametrize(("changes", "said"), [
    ("| Dm7 | G7 |", ("Over a chord the 2nd, 4th and 6th of its scale are called 9, 11 and 13; "
                     "a scale by itself counts to 7.")),
    ("| C | G7 |", ("Over a chord with a 7th the 2nd, 4th and 6th of its scale are called 9, 11 and 13; "
                   "over a triad, and by itself, a scale counts to 7.")),
    ("| C | Gadd9 |", ""),
])
def test_how_a_scale_is_counted_is_told_as_the_pictures_have_it(changes: str, said: str) -> None:
    text = words(changes, "neck")
    assert said in text
    assert ("counts to 7" in text) == bool(said)


# -- a beginner's grips ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("suffix", NOTHING_SIMPLER)
def test_a_beginner_has_a_grip_of_what_nothing_simpler_stands_for(suffix: str) -> None:
    """Near enough to the nut, with four fingers at most; a diminished triad may stand for the ø7."""
    for root in ROOTS:
        (led,) = led_grips([root + suffix], level="beginner")
        tones = {(midi - Chord.parse(root).root.pitch_class) % 12 for midi in led.grip.midis}
        assert {0, 3, 6} <= tones <= NOTHING_SIMPLER[suffix], (root, str(led.grip))
        assert min(led.grip.midis) % 12 == Chord.parse(root).root.pitch_class
        assert led.grip.hand <= 8, (root, str(led.grip))
        assert len({place.finger for place in led.grip.places} - {0}) <= 4
        wide = led.grip.barre is None or led.grip.barre.thickest - led.grip.barre.thinnest <= 2
        assert wide or "0" in str(led.grip) or suffix == "dim7", (root, str(led.grip))
    assert str(led_grips(["C#m7b5"], level="beginner")[0].grip) == "x4545x"


@pytest.mark.parametrize(("chords", "tuning"), [
    ("G5 Bb5 C5 G5 F5", "drop C"), ("D5 C5 Bb5 C5 A5", "drop D"), ("D5 Bb5 C5 D5", "drop D"), ("D5 F5 G5", "drop D"),
    ("E5 D5 C5 D5", "standard"), ("B5 A5 G5 A5", "drop B")])
def test_power_chords_lie_no_7th_away_from_their_neighbours(chords: str, tuning: str) -> None:
    """A beginner's too: roots a 5th apart at most, also back to the first (common practice, no source)."""
    for level in ("beginner", "intermediate"):
        led = led_grips(chords.split(), Tuning.parse(tuning), level)
        roots = [min(one.grip.midis) for one in led]
        assert all(abs(one - two) <= 7 for one, two in pairwise([*roots, roots[0]])), [str(one.grip) for one in led]


# -- beside the nut ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("changes", "kind", "tuning", "position"), [
    ("| Em | Am | Em | B7 |", "blues", "standard", 1), ("| E7 | A7 | E7 | B7 |", "blues", "standard", 1),
    ("| Em | C | G | D |", "rock", "standard", 1), ("| Em7 | A7 |", "groove", "standard", 1),
    ("| Dm | Bb | C | Dm |", "rock", "drop D", 1), ("| Am | Dm | Am | E7 |", "blues", "standard", 5),
    ("| E | A | B | E |", "groove", "standard", 6),
])
def test_a_beginner_begins_in_open_position_where_the_minor_shape_lies_there(
        changes: str, kind: str, tuning: str, position: int) -> None:
    """E minor's first shape is the open one, D minor's with the thickest string down to D."""
    assert best_position(changes, kind, tuning=tuning, level="beginner") == position


def test_beside_the_nut_a_stretch_only_fills_a_gap() -> None:
    """E minor's open shape ends on G; with the thickest string down to D its G has no other place (by hand)."""
    assert max(place.fret for place in in_position("E minor pentatonic", 1)) == 3
    assert (6, 5) in {(place.string, place.fret) for place in in_position("D minor pentatonic", 1, "drop D")}
    assert "Open strings need no finger." in words("| Em | Am | Em | B7 |", "area", "beginner", kind="blues")
    assert "; open strings need no finger." in words("| Em | C |", "area", "beginner")
    assert "pen strings" not in words("| Am | Dm | Am | E7 |", "area", "beginner", kind="blues")


def test_a_beginners_phrases_stay_in_the_shape_that_was_learnt() -> None:
    for changes in ("| Em | Am | Em | B7 |", "| Eb | Bb/D | Cm | Ab Bb |"):
        for kind in ("blues", "rock"):
            assert "level, hand, tuning=neck" in words(changes, "phrases", "beginner", kind=kind)


# -- runs that end -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("changes", ["| C | Am | F | G7 |", "| Em | D C |", "meter: 3/4\n| Am | F | Dm | E7 |",
                                     "meter: 12/8\n| Gm | Cm |", "meter: 5/4\n| D5 | C5 | Bb5 |",
                                     "| A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7 |"])
def test_a_run_and_a_ladder_come_to_rest_where_a_bar_begins(changes: str) -> None:
    """With the form where one time up and down holds it, else with four bars or one."""
    chart = Chart.parse(changes)
    for semitones in (0, 5):
        moved = chart.transpose(semitones)
        home = f"{moved.events[0].chord.root} minor"
        for length in (Fraction(1, 4), Fraction(1, 2)):
            line = landed(sequence(home, "groups of 4", 5, a_string=3, way="in bars", length_beats=length, chart=moved))
            whole = sequence(home, "groups of 4", 5, a_string=3, way="up and down", length_beats=length, chart=moved)
            rest = line.notes[-1].onset_beats
            assert rest % chart.bar_beats == 0
            assert rest >= whole.length_beats / 2
            if whole.length_beats >= chart.length_beats:
                assert rest % chart.length_beats == 0
        ladder = landed(subdivision_ladder(home, 5, [1, 2, 3], bars=None, chart=moved)).notes[-1].onset_beats
        assert ladder % (chart.length_beats if chart.form_bars in (2, 4, 12) else chart.bar_beats) == 0
        assert ladder <= 12 * chart.bar_beats


# -- where an improvisation ends ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(("changes", "ends"), [
    ("| Am7 | D7 | Am7 | E7 |", "the 3rd or the 7th of Am7 as the first bar comes round again"),
    ("| Dm7 | G7 | Cmaj7 | Cmaj7 |", "the 3rd or the 7th of Cmaj7"),
    ("| A5 | D5 | A5 | E5 |", "the root or the 5th of A5 as the first bar comes round again"),
])
def test_nobody_rests_on_the_guide_tones_of_a_chord_that_leads_back(changes: str, ends: str) -> None:
    for level in ("intermediate", "advanced"):
        assert f"end on {ends}." in words(changes, "next-words", level)


# -- a capo ------------------------------------------------------------------------------------------------------------
def test_a_capo_is_told_once_with_how_frets_are_counted() -> None:
    said = words("| Am | F |", "changes", tuning="standard capo 2")
    assert "Put the capo at fret 2: frets are counted from it" in said
    assert "Tune first" not in said
    assert "Put the capo" not in words("| Am | F |", "changes")
    assert "D A D G B E. Put the capo at fret 3" in words("| Am | F |", "changes", tuning="drop D capo 3")
