"""The neck: open strings and frets against the standards, places against a plain search, text and errors."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.refusals import read_or_refuse
from support.tables import TABLES

from theorylib.errors import NeckError, VampError
from theorylib.names.spelling import NoteName, Pitch
from theorylib.necks.tunings import NAMED_TUNINGS, STANDARD, Place, Tuning

STANDARDS = json.loads((TABLES / "standards.json").read_text(encoding="utf-8"))
TUNINGS = st.builds(
    lambda midis, capo, frets: Tuning(tuple(Pitch.of_midi(midi) for midi in midis), capo, frets),
    st.lists(st.integers(21, 76), min_size=4, max_size=9), st.integers(0, 7), st.integers(12, 36))


def test_the_open_strings_of_standard_tuning():
    hz = list(STANDARDS["open_strings_hz"]["values"].values())
    assert [round(pitch.hz, 2) for pitch in STANDARD.open_strings[::-1]] == hz
    assert [str(STANDARD.pitch(string, 0)) for string in STANDARD.strings] == ["E4", "B3", "G3", "D3", "A2", "E2"]


def test_standard_tuning_and_its_pitches_are_those_of_music21():
    import warnings
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import tablature
    theirs = tablature.GuitarFretBoard().tuning  # lowest string first
    ours = [pitch.midi for pitch in STANDARD.open_strings[::-1]]
    assert [int(pitch.ps) for pitch in theirs] == ours


@pytest.mark.parametrize(("fret", "share"), STANDARDS["frets_of_scale_length"]["values"].items())
def test_frets_stand_where_the_rule_of_fret_placement_puts_them(fret, share):
    tuning = Tuning(STANDARD.open_strings, 0, 24, 1000.0)
    assert tuning.fret_mm(int(fret)) == pytest.approx(1000.0 * share, abs=0.001)


def test_a_semitone_is_one_fret_of_string_length():
    """The sounding length left at fret n is the scale length over the ratio of its pitch to the open string's."""
    for fret in range(23):
        left = STANDARD.scale_length_mm - STANDARD.fret_mm(fret)
        ratio = STANDARD.pitch(3, fret).hz / STANDARD.pitch(3, 0).hz
        assert left == pytest.approx(STANDARD.scale_length_mm / ratio)


@pytest.mark.parametrize(("string", "fret", "pitch"), [  # common practice, no source: target notes over G
    (2, 8, "G4"), (2, 10, "A4"), (3, 9, "E4"), (6, 5, "A2"), (1, 12, "E5"), (5, 3, "C3"), (6, 3, "G2"),
])
def test_places_that_every_guitarist_knows(string, fret, pitch):
    assert STANDARD.pitch(string, fret) == Pitch.parse(pitch)
    assert Place(string, fret) in STANDARD.places(pitch)


@given(TUNINGS, st.integers(0, 127))
def test_places_are_all_and_only_those_that_sound_the_pitch(tuning, midi):
    searched = {Place(string, fret) for string in tuning.strings for fret in range(tuning.last_fret + 1)
                if tuning.midi(string, fret) == midi}
    assert set(tuning.places(midi)) == searched == set(tuning.places(Pitch.of_midi(midi)))
    assert list(tuning.places(midi)) == sorted(tuning.places(midi))
    assert bool(searched) <= (tuning.lowest_midi <= midi <= tuning.highest_midi)


@given(TUNINGS)
def test_a_capo_raises_every_string_and_shortens_the_neck(tuning):
    bare = tuning.with_capo(0)
    for string in tuning.strings:
        assert tuning.midi(string, 0) == bare.midi(string, tuning.capo)
        assert tuning.midi(string, tuning.last_fret) == bare.midi(string, bare.last_fret)
    assert tuning.fret_mm(2) == pytest.approx(bare.fret_mm(2 + tuning.capo))
    assert tuning.span_mm(1, 4) < bare.span_mm(1, 4) or tuning.capo == 0


@given(TUNINGS)
def test_printing_reads_back(tuning):
    again = Tuning.parse(str(tuning), frets=tuning.frets)
    assert again == tuning
    assert str(again) == str(tuning)


@pytest.mark.parametrize("name", NAMED_TUNINGS)
def test_named_tunings_are_read_by_name_and_by_pitches(name):
    tuning = Tuning.parse(name)
    assert tuning == Tuning.parse(NAMED_TUNINGS[name]) == Tuning.parse(name.upper())
    assert NAMED_TUNINGS[tuning.name] == NAMED_TUNINGS[name]
    midis = [pitch.midi for pitch in tuning.open_strings]
    assert midis == sorted(midis, reverse=True)
    if name == "all fourths":
        assert {high - low for low, high in zip(midis[1:], midis, strict=False)} == {5}
    if name.startswith("open "):  # an open tuning sounds the major triad it is named for
        from theorylib.names.chords import Chord
        assert {pitch.name for pitch in tuning.open_strings} == set(Chord.parse(name.removeprefix("open ")).names)


def test_a_pitch_at_a_place_takes_the_name_it_is_given():
    assert str(STANDARD.pitch(1, 3, NoteName("F##"))) == "F##4"
    with pytest.raises(VampError, match="does not sound"):
        STANDARD.pitch(1, 3, NoteName("A"))


@pytest.mark.parametrize(("string", "fret"), [(0, 1), (7, 1), (1, -1), (1, 23)])
def test_a_place_off_the_neck_is_refused(string, fret):
    with pytest.raises(NeckError, match="strings 1 to 6, frets 0 to 22"):
        STANDARD.midi(string, fret)


@pytest.mark.parametrize(("text", "message"), [
    ("", "4 to 9 strings, not 0"), ("E2 A2 D3", "4 to 9 strings, not 3"), ("E2 A2 D3 G3 B3 H4", "is not a tuning"),
    ("drop E", "did you mean drop D"), ("standard capo x", "not a capo"), ("standard capo ²", "not a capo"),
    ("standard capo " + "9" * 5000, "not a capo"), ("standard capo 22", "capo 22 on a neck of 22 frets"),
    (" ".join(["E2"] * 10), "not 10"),
])
def test_what_is_no_tuning_is_refused(text, message):
    with pytest.raises(NeckError, match=message):
        Tuning.parse(text)


@given(st.one_of(st.text(max_size=20), st.text("ABCDEFG#b0123456789 capostndr²", max_size=30)))
def test_random_text_raises_nothing_but_our_error(text):
    tuning = read_or_refuse(Tuning.parse, text)
    assert tuning is None or Tuning.parse(str(tuning)) == tuning
