"""Names, intervals and pitches against the standards, music21 and the laws of arithmetic."""

from __future__ import annotations

import json
import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.refusals import read_or_refuse
from support.tables import TABLES, tonal

from theorylib.errors import SpellingError
from theorylib.names.spelling import Interval, NoteName, Pitch, degree_of, plain, pretty_accidentals

STANDARDS = json.loads((TABLES / "standards.json").read_text(encoding="utf-8"))
# Within ±8 fifths of C a name can be moved by any two of the intervals below and keep four accidentals or fewer.
NAMES = st.integers(-8, 8).map(NoteName.at)
INTERVALS = st.sampled_from([Interval.parse(text) for text in (
    "P1", "m2", "M2", "A2", "d3", "m3", "M3", "d4", "P4", "A4", "d5", "P5", "A5", "m6", "M6", "d7", "m7", "M7",
    "P8", "m9", "M9", "A9", "P11", "A11", "m13", "M13")])
PITCHES = st.builds(Pitch, NAMES, st.integers(-1, 9))


# -- standards -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("pitch", "midi"), STANDARDS["midi"]["values"].items())
def test_midi_numbers(pitch, midi):
    assert Pitch.parse(pitch).midi == midi


@pytest.mark.parametrize(("pitch", "hz"), STANDARDS["open_strings_hz"]["values"].items())
def test_open_strings_in_hz(pitch, hz):
    assert round(Pitch.parse(pitch).hz, 2) == hz


def test_a4_is_440_hz_and_an_octave_doubles():  # ISO 16
    assert Pitch.parse("A4").hz == 440.0
    assert Pitch.parse("A5").hz == 880.0
    assert Pitch.parse("Cb4").hz == Pitch.parse("B3").hz


def test_pitches_are_those_of_music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import pitch as theirs
    for letter in "ABCDEFG":
        for sign in ("", "#", "b", "##", "bb", "###", "bbb"):
            for octave in (-1, 0, 3, 4, 9):
                ours = Pitch.parse(f"{letter}{sign}{octave}")
                other = theirs.Pitch(f"{letter}{sign.replace('b', '-')}")
                other.octave = octave
                assert ours.midi == other.ps
                assert ours.hz == pytest.approx(other.frequency, rel=1e-9)
                assert ours.name.pitch_class == other.pitchClass


def test_intervals_move_names_as_in_music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import interval, pitch
    for text in ("m2", "M2", "A2", "m3", "M3", "d4", "P4", "A4", "d5", "P5", "A5", "m6", "M6", "d7", "m7", "M7", "P8",
                 "m9", "M9", "A9", "P11", "A11", "m13", "M13"):
        theirs = interval.Interval(text)
        assert theirs.semitones == Interval.parse(text).semitones
        for start in ("C4", "F#3", "Bb2", "E4", "Ab5", "B3"):
            moved = theirs.transposePitch(pitch.Pitch(start.replace("b", "-")), maxAccidental=None)
            ours = Pitch.parse(start).up(Interval.parse(text))
            assert str(ours) == moved.nameWithOctave.replace("-", "b")


def test_names_move_as_in_tonal():
    letters = {"P": "P", "M": "M", "m": "m", "A": "A", "d": "d"}
    chords = json.loads((TABLES / "tonal_chords.json").read_text(encoding="utf-8"))
    for _, _, intervals, spelled in chords["rows"]:
        for root, notes in zip(chords["roots"], spelled, strict=True):
            for interval, note in zip(intervals.split(), notes.split(), strict=True):
                assert NoteName(root).up(Interval.parse(letters[interval[-1]] + interval[:-1])) == note
    assert len(tonal("tonal_scales.json")) > 92  # the names and aliases of 92 scales


# -- names -----------------------------------------------------------------------------------------------------------
@given(st.integers(-29, 33))
def test_the_line_of_fifths_and_back(fifths):
    name = NoteName.at(fifths)
    assert name.fifths == fifths
    assert name.pitch_class == fifths * 7 % 12
    assert NoteName(name.pretty) == name


@given(st.integers(-29, 33))
def test_the_simple_name_sounds_the_same_and_has_at_most_one_accidental(fifths):
    name = NoteName.at(fifths)
    simple = name.simple()
    assert simple.pitch_class == name.pitch_class
    assert abs(simple.accidental) <= 1
    assert simple not in ("E#", "B#", "Fb", "Cb")
    assert simple.simple() == simple


@pytest.mark.parametrize(("name", "simple"), [("F##", "G"), ("E#", "F"), ("B###", "D"), ("Cb", "B"), ("Abbb", "Gb"),
                                              ("C#", "C#"), ("Db", "Db"), ("Bbb", "A"), ("D###", "F")])
def test_simple_names(name, simple):  # common practice, no source
    assert NoteName(name).simple() == simple


@pytest.mark.parametrize("text", ["", "H", "c", "C#b", "C#####", "Cbbbbb", "C4", "♯C", "C C"])
def test_what_is_no_name_is_refused(text):
    with pytest.raises(SpellingError, match="not a note name"):
        NoteName(text)


def test_a_name_can_be_followed_only_so_far():
    with pytest.raises(SpellingError, match="not a note name"):
        NoteName.at(34).up(Interval.parse("A1"))


def test_signs_are_read_and_written():
    assert plain("E♭7♯9𝄪𝄫") == "Eb7#9##bb"
    assert pretty_accidentals("bb7") == "♭♭7"
    assert NoteName("F𝄪").pretty == "F♯♯"


# -- intervals -------------------------------------------------------------------------------------------------------
@given(INTERVALS, INTERVALS, INTERVALS)
def test_intervals_add_like_numbers(a, b, c):
    nothing = Interval.parse("P1")
    assert a + b == b + a
    assert (a + b) + c == a + (b + c)
    assert a + nothing == a
    assert a + -a == nothing
    back = -a
    assert -back == a
    assert (a + b).fifths == a.fifths + b.fifths
    assert (a + b).semitones % 12 == (a + b).fifths * 7 % 12


@given(INTERVALS, INTERVALS)
def test_an_interval_reads_back_and_its_octaves_fall_away(a, b):
    assert Interval.parse(str(a)) == a
    assert Interval.parse(str(-a)) == -a
    assert (a + b).simple.fifths == (a + b).fifths
    assert 0 <= (a + b).simple.steps < 7
    assert (-a).simple + a.simple in (Interval.parse("P1"), Interval.parse("P8"))


@given(PITCHES, INTERVALS, INTERVALS)
def test_moving_pitches_follows_the_sum(pitch, a, b):
    assert pitch.up(a).midi == pitch.midi + a.semitones
    assert pitch.up(a).up(-a) == pitch
    assert pitch.up(a).up(b) == pitch.up(a + b)
    assert pitch.up(a).name == pitch.name.up(a)


@given(st.integers(-8, 12), st.booleans())
def test_degrees_and_their_intervals_agree(fifths, tension):
    degree = degree_of(fifths, tension=tension)
    assert Interval.of_degree(degree).fifths == fifths
    assert NoteName("C").up(Interval.of_degree(degree)).fifths == fifths


@pytest.mark.parametrize(("degree", "interval", "from_e"), [
    ("1", "P1", "E"), ("b3", "m3", "G"), ("#9", "A9", "F##"), ("bb7", "d7", "Db"), ("#11", "A11", "A#"),
    ("b13", "m13", "C"), ("b5", "d5", "Bb"),
])
def test_degrees_name_intervals(degree, interval, from_e):
    assert Interval.of_degree(degree) == Interval.parse(interval)
    assert NoteName("E").up(Interval.of_degree(degree)) == from_e


@pytest.mark.parametrize("text", ["", "P2", "M5", "m4", "P0", "X3", "d", "AAAAA4", "5P"])
def test_what_is_no_interval_is_refused(text):
    with pytest.raises(SpellingError, match="not an interval"):
        Interval.parse(text)


@pytest.mark.parametrize("text", ["", "0", "16", "b", "3b", "#b3", "x"])
def test_what_is_no_degree_is_refused(text):
    with pytest.raises(SpellingError, match="not a degree"):
        Interval.of_degree(text)


# -- pitches ---------------------------------------------------------------------------------------------------------
@given(st.integers(0, 127))
def test_midi_to_pitch_and_back(midi):
    pitch = Pitch.of_midi(midi)
    assert pitch.midi == midi
    assert Pitch.parse(str(pitch)) == pitch
    assert Pitch.parse(pitch.pretty) == pitch
    assert abs(pitch.name.accidental) <= 1
    assert pitch.hz == pytest.approx(440 * 2 ** ((midi - 69) / 12))


@given(PITCHES)
def test_a_pitch_keeps_its_given_name(pitch):
    assert Pitch.of_midi(pitch.midi, pitch.name) == pitch
    assert Pitch.parse(str(pitch)) == pitch


def test_a_name_that_does_not_sound_the_number_is_refused():
    with pytest.raises(SpellingError, match="does not sound MIDI note 60"):
        Pitch.of_midi(60, NoteName("D"))


@given(st.one_of(st.text(max_size=8), st.text("ABCDEFGHabc#b♯♭𝄪𝄫-0123456789²٣ ", max_size=9)))
def test_random_text_raises_nothing_but_our_error(text):
    for read in (NoteName, Pitch.parse, Interval.parse, Interval.of_degree):
        value = read_or_refuse(read, text)
        if value is not None and read != Interval.of_degree:
            assert read(str(value)) == value
