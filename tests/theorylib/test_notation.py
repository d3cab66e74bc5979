"""Written rhythm: every bar adds up, no value hides a beat that practice keeps in sight, ties join what was cut."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from support.music import INVENTED, durations, line_of_durations, rhythms

from theorylib import LineError
from theorylib.playing.notation import Written, accidentals, signature_fifths, written_bars


def nominal_beats(item: Written) -> Fraction:
    """What the note value, its dots and its tuplet say, by the definition of each."""
    plain = Fraction(4, item.value) * (2 - Fraction(1, 2**item.dots))
    return plain * item.tuplet[1] / item.tuplet[0] if item.tuplet else plain


def check(line) -> None:
    bars = written_bars(line)
    assert len(bars) == line.bar_count
    heard: dict[int, Fraction] = {}
    for number, bar in enumerate(bars):
        now = number * line.chart.bar_beats
        for item in bar:
            assert item.onset_beats == now
            assert item.duration_beats == nominal_beats(item)
            now += item.duration_beats
            for index in item.notes:
                heard[index] = heard.get(index, Fraction(0)) + item.duration_beats
        assert now == (number + 1) * line.chart.bar_beats
        for one, two in pairwise(bar):
            assert one.tied_to == two.tied_from
    assert heard == {index: note.duration_beats for index, note in enumerate(line.notes)}


@settings(max_examples=150, deadline=None)
@given(rhythms())
def test_every_bar_adds_up_and_every_note_keeps_its_length(lengths):
    check(line_of_durations(lengths))


@pytest.mark.parametrize("name", INVENTED)
def test_invented_lines_add_up(name):
    check(INVENTED[name])


# Common practice, no source: written values (denominator, dots) of a first bar of 4/4.
WRITTEN = {
    "1/2 1 1/2 2": [(8, 0), (4, 0), (8, 0), (2, 0)],
    "1 2 1": [(4, 0), (2, 0), (4, 0)],
    "3/2 5/2": [(4, 1), (8, 0), (2, 0)],        # the middle of the bar stays in sight
    "1/2 1/2 3": [(8, 0), (8, 0), (2, 1)],
    "3/4 1/4 3": [(8, 1), (16, 0), (2, 1)],
    "1/4 1 3/4 2": [(16, 0), (8, 1), (16, 0), (8, 1), (2, 0)],  # off a half beat, a beat's length hides the next beat
    "1/4 1/2 1/4 3": [(16, 0), (8, 0), (16, 0), (2, 1)],
    "4": [(1, 0)],
}


@pytest.mark.parametrize("text", WRITTEN)
def test_written_values(text):
    bar = written_bars(line_of_durations(durations(text)))[0]
    assert [(item.value, item.dots) for item in bar] == WRITTEN[text]


def test_beams_join_within_beats_and_pairs_of_plain_eighths():
    bar = written_bars(line_of_durations(durations("1/2 1/2 1/2 1/2 1/4 1/4 1/4 1/4 1/2 1/4 1/4")))[0]
    assert [item.beam for item in bar] == [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3]


def test_compound_beams_join_three_eighths():
    bar = written_bars(line_of_durations(durations("1/2 1/2 1/2 1/2 1/2 1/2"), meter="6/8"))[0]
    assert [item.beam for item in bar] == [1, 1, 1, 2, 2, 2]


# Common practice, no source: a beam holds the notes of one beat; only plain eighths share one over two beats, and not
# across the middle of a bar of 4/4. 0: a note or rest with no beam.
BEAMED = {
    ("4/4", "1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 2"): [1, 1, 1, 1, 2, 2, 2, 2, 0],
    ("4/4", "1 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1"): [0, 1, 1, 1, 1, 2, 2, 2, 2, 0],
    ("4/4", "3/4 1/4 1/4 3/4 2"): [1, 1, 2, 2, 0],
    ("4/4", "1/2 1/4 1/4 1/2 1/2 2"): [1, 1, 1, 2, 2, 0],
    ("4/4", "1/2 1/2 1/3 1/3 1/3 2"): [1, 1, 2, 2, 2, 0],
    ("4/4", "1/4 -1/2 1/4 1/4 1/4 -1/2 2"): [0, 0, 0, 1, 1, 0, 0],
    ("4/4", "1/8 1/8 1/8 1/8 1/4 1/4 1/4 1/4 1/4 1/4 2"): [1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 0],
    ("4/4", "1 1/2 1/2 1/2 1/2 1"): [0, 1, 1, 2, 2, 0],
    ("2/2", "3/4 3/4 1/2 3/4 3/4 1/2"): [1, 1, 1, 2, 2, 2],
    ("2/2", "1/2 1/2 1/2 1/2 1/2 1/2 1/2 1/2"): [1, 1, 1, 1, 2, 2, 2, 2],
    ("2/4", "1/2 1/2 1/2 1/2"): [1, 1, 1, 1],
    ("2/4", "1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4"): [1, 1, 1, 1, 2, 2, 2, 2],
    ("3/4", "1/2 1/2 1/2 1/2 1/2 1/2"): [1, 1, 2, 2, 3, 3],  # an odd number of beats makes no pairs
    ("3/4", "1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4"): [1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3],
    ("3/8", "1/2 1/2 1/2"): [1, 1, 1],  # counted in one
    ("3/8", "1/4 1/4 1/2 1/4 1/4"): [1, 1, 1, 1, 1],
    ("5/4", "1/2 1/2 1/2 1/2 1 1/2 1/2 1"): [1, 1, 2, 2, 0, 3, 3, 0],
    ("7/8", "1/2 1/2 1/2 1/2 1/2 1/2 1/2"): [1, 1, 2, 2, 3, 3, 3],
    ("6/8", "1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4 1/4"): [1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2],
}


@pytest.mark.parametrize(("meter", "text"), BEAMED)
def test_which_notes_share_a_beam(meter, text):
    bar = written_bars(line_of_durations(durations(text), meter=meter))[0]
    assert [item.beam for item in bar] == BEAMED[meter, text]


def test_a_rhythm_that_no_tuplet_writes_is_refused():
    with pytest.raises(LineError, match="cannot be written"):
        written_bars(line_of_durations(durations("1/11 2/13 1")))


@pytest.mark.parametrize(("key", "fifths"), [("C major", 0), ("A major", 3), ("Eb major", -3), ("C minor", -3),
                                             ("F# minor", 3), ("G dorian", -1), ("E phrygian", 0)])
def test_signatures(key, fifths):
    """Key signatures of major, minor and the church modes: common practice."""
    assert signature_fifths(line_of_durations([Fraction(1)], key=key)) == fifths


def test_an_accidental_holds_to_the_end_of_its_bar():
    line = line_of_durations(durations("1 1 1 1 1"), pitch="A#3")
    signs = [accidentals(line, bar) for bar in written_bars(line)]
    assert [signs[0][number, number] for number in range(4)] == ["#", None, None, None]
    assert signs[1][0, 4] == "#"
