"""Time in drills: one note value, the meter's own beats, and a tempo that leaves the hand time. Common practice.

Expected values are typed here: how a bar of each meter is counted is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from theorylib import Chart, continuous_arpeggio
from theorylib.changes.meters import Meter
from theorylib.errors import ChartError, DrillError
from theorylib.names.scales import Scale
from theorylib.playing.notation import written_bars
from theorylib.practice.approaches import approach_targets, strong_beats
from theorylib.practice.pace import fast_value, highest_tempo, most_a_beat, note_value, value_words
from theorylib.practice.strumming import pattern_of, strummed
from theorylib.practice.subdivisions import bursts, subdivision_ladder
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.touch import beat_of, held_vibrato

FIVE = Scale.parse("A minor pentatonic")
HALF_BARS = "| Dm7 G7 | Cmaj7 |"
METERS = ("4/4", "3/4", "5/4", "7/8", "7/8 (3+2+2)", "6/8", "12/8", "5/8", "9/8", "2/2", "2/4", "7/4", "11/8")
# meter: the quarters of each beat that the foot taps.
FELT = {"4/4": "1 1 1 1", "2/2": "2 2", "6/8": "3/2 3/2", "12/8": "3/2 3/2 3/2 3/2", "7/8": "1 1 3/2", "5/8": "1 3/2",
        "7/8 (3+2+2)": "3/2 1 1", "7/8 (2+3+2)": "1 3/2 1", "11/8": "1 1 1 1 3/2", "9/8": "3/2 3/2 3/2",
        "9/8 (2+2+2+3)": None, "5/4": "1 1 1 1 1"}


@pytest.mark.parametrize("meter", FELT)
def test_the_beats_that_a_foot_taps(meter):
    if FELT[meter] is None:
        with pytest.raises(ChartError, match="turn in uneven bars"):
            Meter.parse(meter)
        return
    beats = Meter.parse(meter).felt_beats
    assert " ".join(map(str, beats)) == FELT[meter]
    assert sum(beats) == Meter.parse(meter).bar_beats


@pytest.mark.parametrize(("text", "told"), [("7/8 (3+3+2)", "twos and threes"), ("7/8 (4+3)", "twos and threes"),
                                            ("4/4 (2+2)", "turn in uneven bars"), ("7/8 3+2+2", "not a meter")])
def test_a_turn_that_does_not_fill_its_bar_is_refused(text, told):
    with pytest.raises(ChartError, match=told):
        Meter.parse(text)


def test_a_turn_is_written_and_read_with_its_chart():
    chart = Chart.parse("meter: 7/8 (3+2+2)\n| Am7 |")
    assert Chart.parse(str(chart)) == chart
    assert Meter.parse("7/8 (2+2+3)") == Meter(7, 8)
    assert str(Meter(7, 8)) == "7/8"


@pytest.mark.parametrize(("meter", "per_chord", "value"), [
    ("4/4", 8, "1/2"), ("4/4", 6, "2/3"), ("4/4", 16, "1/4"), ("4/4", 7, "4/7"), ("3/4", 8, "1/2"), ("3/4", 3, "1"),
    ("3/4", 6, "1/2"), ("5/4", 8, "1/2"), ("5/4", 5, "1"), ("5/4", 16, "1/4"), ("7/8", 8, "1/2"), ("7/8", 16, "1/4"),
    ("6/8", 8, "1/2"), ("6/8", 6, "1/2"), ("6/8", 2, "3/2"), ("12/8", 8, "1/2"), ("12/8", 12, "1/2"),
    ("12/8", 4, "3/2"), ("7/4", 8, "1/2"), ("5/8", 8, "1/2"),
])
def test_the_note_value_of_a_bar(meter, per_chord, value):
    assert note_value(Chart.parse("| Am7 |", meter=meter), per_chord) == Fraction(value)


@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("changes", [HALF_BARS, "| Am7 D7 Gm7 C7 | F |", "| Am7 | N.C. | D7 |"])
def test_a_drill_keeps_its_value_whatever_the_changes(meter, changes):
    chart = Chart.parse(changes, meter=meter)
    sounding = {event for event in chart.events if event.chord.root is not None}
    for line in (continuous_arpeggio(chart), tapped_arpeggio(chart)):
        assert len({note.duration_beats for note in line.notes}) == 1
        assert {chart.event_at(note.onset_beats) for note in line.notes} == sounding
        assert line.problems() == ()
        written_bars(line)


def test_half_bars_get_half_the_notes():
    line = continuous_arpeggio(HALF_BARS, 8)
    assert [sum(note.onset_beats // 2 == half for note in line.notes) for half in range(4)] == [4, 4, 4, 4]
    assert {note.duration_beats for note in line.notes} == {Fraction(1, 2)}


def test_values_have_their_names():
    assert [value_words(Fraction(text)) for text in ("1", "1/2", "1/3", "3/2", "1/4")] == [
        "quarter notes", "eighth notes", "eighth-note triplets", "dotted quarter notes", "sixteenth notes"]


@pytest.mark.parametrize(("tempo", "level", "most", "value"), [
    (120, "intermediate", 4, "1/4"), (121, "intermediate", 3, "1/2"), (200, "intermediate", 2, "1/2"),
    (160, "advanced", 4, "1/4"), (60, "beginner", 2, "1/2"), (100, "beginner", 2, "1/2"), (121, "beginner", 1, "1")])
def test_a_tempo_says_how_short_notes_may_be(tempo, level, most, value):
    chart = Chart.parse("| Am7 |", tempo=str(tempo))
    assert (most_a_beat(chart, level), fast_value(chart, level)) == (most, Fraction(value))
    shortest = min(note.duration_beats for note in tapped_arpeggio(chart, level=level).notes)
    assert shortest == Fraction(value)


def test_the_highest_tempo_and_what_lies_above_it():
    levels = ("beginner", "intermediate", "advanced")
    assert [highest_tempo(Fraction(1, 4), level) for level in levels] == [60, 120, 160]
    with pytest.raises(DrillError, match="level"):
        highest_tempo(Fraction(1, 4), "hard")


@pytest.mark.parametrize(("meter", "counts", "title"), [
    ("4/4", [4, 8, 12, 16], "quarters, eighths, triplets, sixteenths"),
    ("5/4", [5, 10, 15, 20], "quarters, eighths, triplets, sixteenths"),
    ("6/8", [2, 6, 12], "dotted quarters, eighths, sixteenths"),
    ("12/8", [4, 12, 24], "dotted quarters, eighths, sixteenths"),
    ("7/8", [3, 7, 14], "beats, eighths, sixteenths"), ("5/8", [2, 5, 10], "beats, eighths, sixteenths")])
def test_a_ladder_climbs_in_the_beats_of_its_meter(meter, counts, title):
    chart = Chart.parse("| Am7 |", meter=meter, tempo="100")
    line = subdivision_ladder(FIVE, 5, level="intermediate", chart=chart)
    per_bar = [sum(note.onset_beats // chart.bar_beats == bar for note in line.notes) for bar in range(len(counts))]
    assert (per_bar, line.title) == (counts, f"Ladder of {title}")
    assert line.length_beats == len(counts) * chart.bar_beats
    written_bars(line)


def test_a_quick_tempo_takes_the_upper_rungs_away():
    chart = Chart.parse("| Am7 |", tempo="180")
    assert subdivision_ladder(FIVE, 5, level="intermediate", chart=chart).title == "Ladder of quarters, eighths"
    uneven = Chart.parse("| Am7 |", meter="7/8")
    assert subdivision_ladder(FIVE, 5, (1, 3, 4), chart=uneven).title == "Ladder of beats, sixteenths"
    with pytest.raises(DrillError, match="no bar of 7/8 has 5 notes"):
        subdivision_ladder(FIVE, 5, (5,), chart=uneven)


@pytest.mark.parametrize(("meter", "landing"), [
    ("4/4", "3"), ("5/4", "4"), ("3/4", "2"), ("7/8", "2"), ("7/8 (3+2+2)", "5/2"), ("6/8", "3/2"), ("12/8", "9/2"),
    ("9/8", "3"), ("5/8", "1"), ("2/2", "2")])
def test_bursts_land_on_the_last_felt_beat(meter, landing):
    chart = Chart.parse("| Am7 |", meter=meter, tempo="100")
    line = bursts(FIVE, 5, bars=2, chart=chart)
    bar = chart.bar_beats
    ends = [note for note in line.notes if note.end_beats % bar == 0]
    assert [note.onset_beats % bar for note in ends] == [Fraction(landing)] * 2
    fast = [note for note in line.notes if note.duration_beats == Fraction(1, 4)]
    assert len(fast) == 8
    assert all(note.onset_beats % bar < Fraction(landing) for note in fast)


def test_a_quick_tempo_makes_a_burst_of_eighths():
    line = bursts(FIVE, 5, bars=1, chart=Chart.parse("| Am7 |", tempo="180"))
    assert [str(note.duration_beats) for note in line.notes] == ["1", "1/2", "1/2", "1/2", "1/2", "1"]


@pytest.mark.parametrize(("text", "meter", "beats"), [
    ("2", "6/8", "3/2"), ("and of 1", "6/8", "1/2"), ("a of 2", "12/8", "5/2"), ("3", "7/8", "2"),
    ("and of 3", "7/8", "5/2"), ("and of 1", "7/8", "1/2"), ("2", "7/8 (3+2+2)", "3/2"), ("2", "2/2", "2")])
def test_beats_are_those_of_the_meter(text, meter, beats):
    assert beat_of(text, Meter.parse(meter)) == Fraction(beats)


def test_no_quarter_of_a_dotted_beat():
    with pytest.raises(DrillError, match="beat 1 of 6/8 has no “e”"):
        beat_of("e of 1", Meter(6, 8))


@pytest.mark.parametrize(("meter", "beats"), [
    ("4/4", "0 2"), ("3/4", "0"), ("5/4", "0 3"), ("7/4", "0 3 5"), ("2/4", "0"), ("6/8", "0 3/2"), ("7/8", "0 1 2"),
    ("12/8", "0 3/2 3 9/2")])
def test_strong_beats(meter, beats):
    assert " ".join(map(str, strong_beats(Meter.parse(meter)))) == beats


def test_vibrato_waits_for_its_beat_or_for_the_middle_of_a_short_chord():
    line = held_vibrato(Chart.parse("| Am7 D7 G Em | C |", meter="4/4"))
    assert [note.marks[0].at_beats for note in line.notes] == [Fraction(1, 2)] * 4 + [1]
    assert held_vibrato(Chart.parse("| Am7 |", meter="6/8")).notes[0].marks[0].at_beats == Fraction(3, 2)


@pytest.mark.parametrize("meter", METERS)
def test_eighths_of_approaches_lie_on_the_eighths_of_the_bar(meter):
    line = approach_targets(Chart.parse("| Am7 D7 G7 | C |", meter=meter))
    assert all(note.onset_beats % Fraction(1, 2) == 0 for note in line.notes)
    assert line.problems() == ()
    written_bars(line)


@pytest.mark.parametrize(("meter", "row"), [("7/8", "D- dU D--"), ("7/8 (3+2+2)", "D-- dU -u"), ("5/8", "D- d--")])
def test_an_uneven_bar_is_strummed_in_its_beats(meter, row):
    chart = Chart.parse("| Am7 |", meter=meter)
    assert pattern_of(chart, "intermediate") == row
    onsets = {note.onset_beats for note in strummed(chart).notes}
    assert onsets <= {Fraction(eighth, 2) for eighth in range(chart.meter.beats)}


def test_eighths_of_seven_eight_are_beamed_in_twos_and_a_three():
    bar = written_bars(continuous_arpeggio(Chart.parse("| Am7 |", meter="7/8")))[0]
    assert [item.beam for item in bar] == [1, 1, 2, 2, 3, 3, 3]
    turned = written_bars(continuous_arpeggio(Chart.parse("| Am7 |", meter="7/8 (3+2+2)")))[0]
    assert [item.beam for item in turned] == [1, 1, 1, 2, 2, 3, 3]
