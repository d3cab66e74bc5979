"""Charts: what the text means beat by beat, round trips, transposition, errors with line and column."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.examples import examples
from support.refusals import read_or_refuse

from theorylib.changes.bars import Bar
from theorylib.changes.charts import Chart, chart_of
from theorylib.changes.meters import FEELS, Meter, grid_beats, read_feel, swing_ratio
from theorylib.errors import ChartError
from theorylib.names.chords import NO_CHORD, Chord
from theorylib.names.scales import KINDS, Scale
from theorylib.names.spelling import Interval, NoteName

THIRD = Fraction(4, 3)  # of a bar of four beats


def played(text: str) -> str:
    """The chords of the unrolled chart, one word an event."""
    return " ".join(str(event.chord) for event in Chart.parse(text).events)


def beats(text: str) -> list[tuple[str, Fraction, Fraction]]:
    return [(str(event.chord), event.onset_beats, event.duration_beats) for event in Chart.parse(text).events]


# -- what the text means (common practice, no source: the order in which a player reads a chart) ---------------------
@pytest.mark.parametrize(("text", "order"), [
    ("Am7 | D7", "Am7 D7"),
    ("| Am7 | D7 |", "Am7 D7"),
    ("| Am7 | % | % |", "Am7 Am7 Am7"),
    ("| A B | % |", "A B A B"),
    ("|: A | B :|", "A B A B"),
    ("|: A | B :| x3", "A B A B A B"),
    ("|: A | B :| x3 | C |", "A B A B A B C"),
    ("|: A :|: B :| C |", "A A B B C"),
    ("| A | B :| C |", "A B A B C"),
    ("|: A :| B | C :|", "A A B C B C"),
    ("|: A |1. B :|2. C |", "A B A C"),
    ("| A |1. B :|2. C |", "A B A C"),
    ("|: A |1. B | C :|2. D | E ||", "A B C A D E"),
    ("|: A |1. B :|2. C :|3. D || E |", "A B A C A D E"),
    ("|: A |1,2. B :|3. C | D |", "A B A B A C D"),
    ("|: A |1. B :|2. C | D :|", "A B A C D"),
    ("|: A |1. B :|2. C || D | E :|", "A B A C D E D E"),
    ("|: A |1. B :|2. C || D || E :|", "A B A C D E D E"),
    ("|: A |1. B :|2. C |\n[X] D | E :|", "A B A C D E D E"),
    ("|: A |1. B | C :|2. D | E :|3. F | G :|: A | B :|", "A B C A D E A F G A B A B"),
    ("A | N.C. | A", "A N.C. A"),
    ("A | B # the rest is a remark | C\n# and this line too\nD", "A B D"),
    ("| A\n| B |\nC |", "A B C"),
])
def test_the_playing_order(text, order):
    assert played(text) == order


@pytest.mark.parametrize(("text", "expected"), [
    ("| A B |", [("A", 0, 2), ("B", 2, 2)]),
    ("| A / / B |", [("A", 0, 3), ("B", 3, 1)]),
    ("| A B C |", [("A", 0, THIRD), ("B", THIRD, THIRD), ("C", 2 * THIRD, THIRD)]),
    ("meter: 3/4\n| A / B | C |", [("A", 0, 2), ("B", 2, 1), ("C", 3, 3)]),
    ("meter: 6/8\n| A / | B C |", [("A", 0, 3), ("B", 3, Fraction(3, 2)), ("C", Fraction(9, 2), Fraction(3, 2))]),
    ("meter: 5/4\n| A / / B / |", [("A", 0, 3), ("B", 3, 2)]),
    ("meter: 5/4\n| A B |", [("A", 0, 3), ("B", 3, 2)]),
    ("meter: 5/4\n| A B C |", [("A", 0, 2), ("B", 2, 2), ("C", 4, 1)]),
    ("meter: 3/4\n| A B |", [("A", 0, 2), ("B", 2, 1)]),
    ("meter: 7/8\n| A B |", [("A", 0, 2), ("B", 2, Fraction(3, 2))]),
    ("meter: 7/8 (3+2+2)\n| A B |", [("A", 0, Fraction(3, 2)), ("B", Fraction(3, 2), 2)]),
    ("meter: 7/8\n| A B C |", [("A", 0, 1), ("B", 1, 1), ("C", 2, Fraction(3, 2))]),
    ("meter: 12/8\n| A B |", [("A", 0, 3), ("B", 3, 3)]),
    ("meter: 7/8\n| A | % |", [("A", 0, Fraction(7, 2)), ("A", Fraction(7, 2), Fraction(7, 2))]),
])
def test_onsets_and_durations_in_quarter_notes(text, expected):
    assert beats(text) == expected


def test_a_chart_reads_its_headers():
    chart = Chart.parse("title: Slow ferry\nKEY: f# minor\n".replace("f#", "F#")
                        + "meter: 6/8\ntempo: 72.5\nfeel: Straight 16\n| F#m | D |")
    assert (chart.title, str(chart.key), str(chart.meter)) == ("Slow ferry", "F# minor", "6/8")
    assert (chart.tempo, chart.feel, chart.length_beats) == (Fraction(145, 2), "straight 16", 6)


@pytest.mark.parametrize(("text", "sections"), [
    ("A | B", [("", 0, 8)]),
    ("[A] A | B\n[B] C", [("A", 0, 8), ("B", 8, 4)]),
    ("A\n[B] C", [("", 0, 4), ("B", 4, 4)]),
    ("[A] |: A | B :|\n[B] C", [("A", 0, 16), ("B", 16, 4)]),
    ("|: [A] A |\n[B] B :|", [("A", 0, 4), ("B", 4, 4), ("A", 8, 4), ("B", 12, 4)]),
    ("|: D | [A] A :|", [("", 0, 4), ("A", 4, 4), ("", 8, 4), ("A", 12, 4)]),
    ("[A] |: A :|\n[A] |: B :|", [("A", 0, 8), ("A", 8, 8)]),
    ("[A] E |: D |\n[B] A :|", [("A", 0, 8), ("B", 8, 4), ("A", 12, 4), ("B", 16, 4)]),
])
def test_sections_of_the_unrolled_form(text, sections):
    chart = Chart.parse(text)
    assert [(one.name, one.onset_beats, one.duration_beats) for one in chart.sections] == sections
    for event in chart.events:
        name = [one.name for one in chart.sections if one.onset_beats <= event.onset_beats][-1]
        assert event.section == name


@pytest.mark.parametrize(("text", "message"), [
    ("", "no bars"), ("title: x", "no bars"), ("| Am7 | Dmm7 |", "line 1, column 9: cannot read"),
    ("|: Am7 | D7", "line 1, column 1: the repeat is never closed"),
    ("|: A |1. B", "line 1, column 1: the repeat is never closed"),
    ("A |1. B | C", "line 1, column 4: the ending belongs to no repeat"),
    ("|: A |2. B :|1. C |", "line 1, column 14: the repeat has the endings 2, 1"),
    ("|: A |1. B :| C |", "the repeat has the endings 1; expected 1, 2"),
    ("|: A |0. B :|2. C |", "the repeat has the endings 0, 2"),
    ("|: A |1. B :| x3 |2. C |", "a repeat with endings is counted twice"),
    ("1. A", "does not follow a bar line"), ("A 1. B", "does not follow a bar line"),
    ("| A / B |", "the bar has 3 pulses"), ("| / A |", "has no chord before it"), ("% | A", "has no bar before it"),
    ("A | A % |", "shares its bar"), ("| A | | B |", "line 1, column 7: a bar is empty"), (":| A", "closes nothing"),
    ("|: A |: B :|", r"line 1, column 6: “\|:” opens inside the repeat of line 1, column 1"),
    ("| A | x2", "does not follow a repeat"), ("|: A :| x100", "expected x2 to x99"),
    ("|: A :| x1", "expected x2 to x99"),
    ("|: A :| x" + "9" * 5000, "expected x2 to x99"), ("A | [B]", "ends where a bar should follow"),
    ("A |:", "never closed"), ("A ] B", "means nothing here"), ("tempo: 5\nA", "line 1: “5” is not a tempo"),
    ("tempo: 1e999999\nA", "not a tempo"), ("tempo: 100/3\nA", "not a tempo"), ("tempo: ٩٩\nA", "not a tempo"),
    ("meter: 4/5\nA", "line 1: .*not a meter"), ("meter: 0/4\nA", "not a meter"),
    ("key: H\nA", "line 1: .*not a scale"),
    ("feel: swng\nA", "did you mean swing"), ("tmpo: 90\nA", "did you mean tempo"),
    ("A\ntempo: 90", "line 2: the header “tempo” stands after the first bar"),
])
def test_what_cannot_be_read_says_where_and_what(text, message):
    with pytest.raises(ChartError, match=message):
        Chart.parse(text)


def test_feels_and_meters():
    assert swing_ratio(read_feel("swing")) == 2  # triplet swing is two to one (the design's convention)
    assert {swing_ratio(feel) for feel in FEELS if "swing" not in feel and feel != "shuffle"} == {1}
    fast = [swing_ratio("swing", tempo) for tempo in (120, 180, 220, 260, 300, 340)]
    assert fast[:2] == [2, 2]
    assert fast == sorted(fast, reverse=True), "the faster, the evener"
    assert fast[-2:] == [Fraction(5, 4)] * 2
    assert swing_ratio("shuffle", 300) == 2
    assert grid_beats("straight 16") == Fraction(1, 4)
    dotted = Fraction(3, 2)
    meters = [Meter.parse(text) for text in ("4/4", "3/4", "6/8", "12/8", "3/8")]
    assert [(meter.pulses, meter.pulse_beats) for meter in meters] == [
        (4, 1), (3, 1), (2, dotted), (4, dotted), (3, Fraction(1, 2))]


# -- properties ------------------------------------------------------------------------------------------------------
CHORDS = st.sampled_from([Chord.parse(text) for text in (
    "C", "Am7", "F#m7b5", "Bb7", "E7#9", "Db6/9", "G/B", "Abmaj7#11", "C(b5)", "D7sus4", "Ebb", "B#7alt", "Cm/Bb",
    "F13b9",
)] + [NO_CHORD])
METERS = st.sampled_from([Meter.parse(text) for text in ("4/4", "3/4", "6/8", "5/4", "7/8", "12/8", "2/2")])
NAMES = st.sampled_from(["A", "B", "Intro", "Verse 2", "", "B'", "x3", "1."])


@st.composite
def cells(draw, meter: Meter, first: bool):
    if not first and draw(st.integers(0, 5)) == 0:
        return ("%",)
    if draw(st.booleans()):
        rest = draw(st.lists(st.one_of(st.just("/"), CHORDS), min_size=meter.pulses - 1, max_size=meter.pulses - 1))
        return (draw(CHORDS), *rest)
    return tuple(draw(st.lists(CHORDS, min_size=1, max_size=5)))


@st.composite
def charts(draw):
    """Blocks of bars: plain, repeated n times, or repeated with endings of one or two bars."""
    meter = draw(METERS)
    bars: list[Bar] = []

    def some(most: int = 3) -> list[Bar]:
        found = []
        for _ in range(draw(st.integers(1, most))):
            found.append(Bar(draw(cells(meter, not bars and not found)),
                             draw(NAMES) if draw(st.integers(0, 3)) == 0 else None))
        return found

    for _ in range(draw(st.integers(1, 3))):
        block = some()
        kind = draw(st.sampled_from(["plain", "double", "repeat", "endings"]))
        if kind == "double":
            block[-1] = replace(block[-1], double=True)
        elif kind == "repeat":
            block[0] = replace(block[0], opens=True)
            block[-1] = replace(block[-1], plays=draw(st.integers(2, 4)))
        elif kind == "endings":
            block[0] = replace(block[0], opens=True)
            turns = draw(st.sampled_from([[(1,), (2,)], [(1, 2), (3,)], [(1,), (2,), (3,)]]))
            for number, ending in enumerate(turns):
                bracket = some(2)
                bracket = [replace(bar, section=None) for bar in bracket]
                bracket[0] = replace(bracket[0], endings=ending)
                closes = number < len(turns) - 1
                bracket[-1] = replace(bracket[-1], plays=2 if closes else 1, double=not closes)
                block += bracket
        bars += block
    key = draw(st.none() | st.builds(Scale, st.integers(-6, 6).map(NoteName.at), st.sampled_from(sorted(KINDS))))
    return Chart(tuple(bars), draw(st.sampled_from(["", "Low tide", "Study # 2", "a: b | c"])), key, meter,
                 draw(st.sampled_from([Fraction(100), Fraction(145, 2), Fraction(20), Fraction(400)])),
                 draw(st.sampled_from(sorted(FEELS))))


@examples(100)
@given(charts())
def test_printing_reads_back(chart):
    again = Chart.parse(str(chart))
    assert again == chart
    assert again.events == chart.events
    assert str(again) == str(chart)


@examples(100)
@given(charts())
def test_events_tile_the_time_without_gaps(chart):
    now = Fraction(0)
    for event in chart.events:
        assert event.onset_beats == now
        assert event.duration_beats > 0
        assert event.bar == event.onset_beats // chart.bar_beats
        now = event.onset_beats + event.duration_beats
    assert now == chart.length_beats == sum(one.duration_beats for one in chart.sections)
    assert {event.bar for event in chart.events} == set(range(len(chart.order)))


@examples(80)
@given(charts())
def test_every_turn_of_a_repeat_has_its_own_ending(chart):
    """A player's walk over the written bars, kept apart from the product's: open, play, jump back, count turns."""
    order, index, turn, start = [], 0, 1, 0
    bars = chart.bars
    while index < len(bars):
        bar = bars[index]
        if bar.opens and index != start:
            start, turn = index, 1
        elif bar.opens:
            start = index
        if bar.endings and turn not in bar.endings:  # skip to the next number
            index += 1
            while not bars[index].endings:
                index += 1
            continue
        order.append(index)
        in_ending = next((one.endings for one in reversed(bars[start:index + 1]) if one.endings), ())
        later = any(turn < number for one in bars[index + 1:index + 2] for number in one.endings)
        if bar.plays > 1 and (turn + 1 in in_ending or later or (not in_ending and turn < bar.plays)):
            turn += 1
            index = start
            continue
        if bar.plays > 1:
            turn, start = 1, len(bars)
        index += 1
    assert order == list(chart.order)


@examples(80)
@given(charts(), st.integers(-12, 24))
def test_an_octave_in_two_steps_is_the_identity_on_sound(chart, semitones):
    there = chart.transpose(semitones)
    back = there.transpose(12 - semitones)
    for one, two, moved in zip(chart.events, back.events, there.events, strict=True):
        assert (one.onset_beats, one.duration_beats, one.section) == (two.onset_beats, two.duration_beats, two.section)
        assert one.chord.pitch_classes == two.chord.pitch_classes
        assert moved.chord.pitch_classes == {(pc + semitones) % 12 for pc in one.chord.pitch_classes}
        assert one.chord.suffix == moved.chord.suffix
        if one.chord.root:
            assert two.chord.root.pitch_class == one.chord.root.pitch_class
            assert abs(moved.chord.root.accidental) <= 2
        if one.chord.bass:
            assert two.chord.bass.pitch_class == one.chord.bass.pitch_class
    if chart.key:
        assert back.key.pitch_classes == chart.key.pitch_classes
        assert abs(there.key.parent.tonic.fifths) <= 6
    assert Chart.parse(str(there)) == there


@given(charts())
def test_moving_by_a_whole_octave_changes_nothing(chart):
    spelled = replace(chart, key=chart.key and chart.key.simple())
    assert [event.chord.pitch_classes for event in chart.transpose(12).events] == [
        event.chord.pitch_classes for event in chart.events]
    assert chart.transpose(0).key == spelled.key


def test_transposing_spells_in_the_new_key():  # common practice, no source: flats in Eb, sharps in E
    chart = Chart.parse("key: C major\nDm7 | G7 | Cmaj7 | A7b9/C#")
    assert " ".join(str(event.chord) for event in chart.transpose(3).events) == "Fm7 Bb7 Ebmaj7 C7b9/E"
    assert " ".join(str(event.chord) for event in chart.transpose(4).events) == "F#m7 B7 Emaj7 C#7b9/E#"
    assert str(chart.transpose(6).key) in ("F# major", "Gb major")
    assert chart.up(Interval.parse("m3")).events == chart.transpose(3).events


@pytest.mark.parametrize(("key", "semitones", "expected"), [
    ("B major", 2, "Db Gb"), ("Gb major", 1, "G C"), ("A major", 6, "Eb Ab"), ("F major", 6, "B E"),
])
def test_transposing_picks_the_key_with_fewer_accidentals(key, semitones, expected):  # common practice, no source
    one, four = Scale.parse(key).names[0], Scale.parse(key).names[3]
    chart = Chart.parse(f"key: {key}\n{one} | {four}").transpose(semitones)
    assert " ".join(str(event.chord) for event in chart.events) == expected


def test_a_double_bar_ends_the_bar_before_it_on_its_own_line():
    assert [bar.double for bar in Chart.parse("A || B |\n|| D |").bars] == [True, False, False]


VALID = """title: x
key: C minor
meter: 6/8
tempo: 90
feel: swing
[A] |: Cm7 / | % |1. F/G :|2. G7(b9,b13) Cm ||
[B] | Ab :| x3 # y
"""
PIECES = ("|", ":|", "|:", "||", "%", "/", "x2", "x9999999", "1.", "2.", "[", "]", "[C]", "\n", "#", " # ", ":", "N.C.",
          "٣.")


@st.composite
def mutated(draw):
    text = VALID
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        cut = draw(st.integers(0, 6))
        piece = draw(st.one_of(st.text(max_size=3), st.sampled_from(PIECES)))
        text = text[:at] + piece + text[at + cut:]
    return text


@examples(150)
@given(st.one_of(st.text(max_size=30), mutated(), st.text("ABCm7|:[]% /x123.#\n", max_size=40)))
def test_random_text_raises_nothing_but_our_error(text):
    chart = read_or_refuse(Chart.parse, text)
    if chart is not None:
        assert Chart.parse(str(chart)) == chart
        assert sum(event.duration_beats for event in chart.events) == chart.length_beats


def test_chart_of_lays_one_chord_a_bar():
    chart = chart_of(["Am7", Chord.parse("D7")], tempo=Fraction(90))
    assert chart == Chart.parse("tempo: 90\n| Am7 | D7 |")


def test_a_name_or_an_ending_alone_between_bar_lines_is_an_empty_bar():
    for text in ("| Am7 | [B] | D7 |", "|: Am7 |1. | D7 :|2. E7 |"):
        with pytest.raises(ChartError, match="a bar is empty"):
            Chart.parse(text)
    assert len(Chart.parse("| Am7 | [B] D7 |").events) == 2


def test_a_header_given_as_none_leaves_the_texts_own() -> None:
    text = "tempo: 72\nfeel: swing\nkey: D minor\nmeter: 3/4\n| Dm7 | A7 |"
    chart = Chart.parse(text, tempo=None, feel=None, key=None, meter=None)
    assert chart == Chart.parse(text)
    assert (chart.tempo, chart.feel, str(chart.meter)) == (72, "swing", "3/4")
    assert Chart.parse(text, tempo=90, feel=None).tempo == 90
