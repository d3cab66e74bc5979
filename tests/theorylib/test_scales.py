"""Scales against music21 and tonal, kind by kind on twelve tonics; parents; round trips."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.refusals import read_or_refuse
from support.tables import ROOTS, rows, tonal

from theorylib.errors import ScaleError
from theorylib.names.scales import _READS, KINDS, SYMMETRIC, Scale, all_scales, scales_with
from theorylib.names.spelling import NoteName

SOURCES = rows("scale_sources.txt", 4)
PARENT_TONICS = ("Fb", "Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#")
CHURCH = {"dorian": "DorianScale", "phrygian": "PhrygianScale", "lydian": "LydianScale",
          "mixolydian": "MixolydianScale", "minor": "MinorScale", "locrian": "LocrianScale", "major": "MajorScale"}


@pytest.fixture(scope="module")
def music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
        import music21.scale
    return music21


def notes_of(scale_of_theirs) -> list[str]:
    """The spelled notes of one octave of a music21 scale, upward, the octave itself left out."""
    low = scale_of_theirs.tonic.name + "3"
    notes = [pitch.name.replace("-", "b") for pitch in scale_of_theirs.getPitches(low, low[:-1] + "4")]
    return notes[:-1] if NoteName(notes[-1]).pitch_class == NoteName(notes[0]).pitch_class else notes


def sounds(names) -> list[int]:
    return [NoteName(name).pitch_class for name in names]


def test_every_kind_has_a_row_and_a_source():
    assert [row[0] for row in SOURCES] == list(KINDS)
    assert all(row[2] and row[3] for row in SOURCES)


@pytest.mark.parametrize("row", SOURCES, ids=lambda row: row[0])
def test_degrees_are_those_of_the_table(row):
    assert list(KINDS[row[0]].degrees) == row[1].split()


@pytest.mark.parametrize("row", [row for row in SOURCES if not row[2].startswith("set")], ids=lambda row: row[0])
def test_spelling_on_every_tonic_is_that_of_music21(row, music21):
    class_name, mode, *loose = row[2].split()
    class_name, _, argument = class_name.partition(":")
    make = getattr(music21.scale, class_name)
    covered = set()
    for parent in ROOTS if loose else PARENT_TONICS:
        theirs = notes_of(make(parent.replace("b", "-"), *([int(argument)] if argument else [])))
        theirs = theirs[int(mode) - 1:] + theirs[:int(mode) - 1]
        ours = Scale(NoteName(parent if loose else theirs[0]), row[0])
        if loose:
            assert sounds(ours.names) == sounds(theirs)
        else:
            assert list(ours.names) == theirs
        assert ours.parent_degree == int(mode)
        assert ours.parent.tonic == parent
        covered.add(ours.tonic.pitch_class)
    assert covered == set(range(12))


@pytest.mark.parametrize("kind", CHURCH)
def test_the_modes_that_music21_names_itself(kind, music21):
    for tonic in ROOTS:
        theirs = notes_of(getattr(music21.scale, CHURCH[kind])(tonic.replace("b", "-")))
        assert list(Scale(NoteName(tonic), kind).names) == theirs


FAMILY_WORDS = {"7-32B": "harmonic major", "5-35": "major pentatonic", "6-47B": "blues scale"}


@pytest.mark.parametrize("row", [row for row in SOURCES if row[2].startswith("set")], ids=lambda row: row[0])
def test_scales_without_a_class_are_the_set_class_that_music21_names(row, music21):
    forte = row[2].split()[1]
    for tonic in ROOTS:
        names = Scale(NoteName(tonic), row[0]).names
        chord = music21.chord.Chord([name.replace("b", "-") for name in names])
        assert chord.forteClass == forte
        assert FAMILY_WORDS[forte] in chord.commonName


@pytest.mark.parametrize("row", SOURCES, ids=lambda row: row[0])
def test_spelling_on_every_tonic_is_that_of_tonal(row):
    word, *loose = row[3].split(" ~")
    word, mode = word.rsplit(" ", 1)
    for parent, notes in tonal("tonal_scales.json")[word].items():
        theirs = notes[int(mode) - 1:] + notes[:int(mode) - 1]
        ours = Scale(NoteName(theirs[0]), row[0])
        if loose:
            assert sounds(ours.names) == sounds(theirs)
            assert list(ours.names) != theirs or parent not in ("C", "D", "A")  # else the "~" is not needed
        else:
            assert list(ours.names) == theirs


# Words of tonal that mean another scale or another spelling to us, with the reason.
TONAL_DIFFERS = {
    "pentatonic": "the major one to tonal; a guitarist's pentatonic is the minor one (common practice, no source)",
    "altered": "spelled by sharps", "super locrian": "spelled by sharps",
    "half-whole diminished": "Eb where we write the #9, D#", "dominant diminished": "Eb where we write the #9, D#",
    "whole tone": "A# where we write the b7",
}


def test_every_name_that_we_share_with_tonal_means_the_same_or_is_listed():
    differs, shared = set(), 0
    for word, notes in tonal("tonal_scales.json").items():
        try:
            ours = Scale.parse(f"C {word}")
        except ScaleError:
            continue
        shared += 1
        if list(ours.names) != notes["C"]:
            differs.add(word)
    assert differs == set(TONAL_DIFFERS)
    assert shared >= 35


# -- parents, catalogue ----------------------------------------------------------------------------------------------
def test_the_parent_of_a_dorian_is_g_major():  # common practice, no source: the second mode of G
    scale = Scale.parse("A dorian")
    assert (str(scale.parent), scale.parent_degree) == ("G major", 2)


def test_e_altered_is_the_seventh_mode_of_f_melodic_minor():  # common practice, no source
    scale = Scale.parse("E altered")
    assert (str(scale.parent), scale.parent_degree) == ("F melodic minor", 7)
    assert scale.names == ("E", "F", "G", "Ab", "Bb", "C", "D")


@pytest.mark.parametrize("kind", KINDS)
def test_a_scale_is_its_own_parents_mode(kind):
    for tonic in ROOTS:
        scale = Scale(NoteName(tonic), kind)
        assert scale.parent.pitch_classes == scale.pitch_classes
        assert scale.parent.mode(scale.parent_degree) == scale
        assert scale.mode_on(scale.tonic) == scale
        assert set(scale.parent.names) == set(scale.names)
        assert scale.parent.parent == scale.parent


def test_symmetric_scales_sound_alike_from_several_notes():
    for kind, step in (("whole tone", 2), ("diminished", 3), ("half-whole diminished", 3)):
        found = {Scale(NoteName(root), kind).pitch_classes for root in ROOTS}
        assert kind in SYMMETRIC
        assert len(found) == step


def test_the_catalogue_holds_every_kind_on_twelve_tonics_once():
    scales = all_scales()
    assert len(set(scales)) == len(scales) == 12 * len(KINDS)
    found = {(scale.kind, scale.tonic.pitch_class) for scale in scales}
    assert found == {(kind, pitch_class) for kind in KINDS for pitch_class in range(12)}


def test_scales_with_a_chord_are_those_whose_notes_hold_it():
    wanted = frozenset({9, 0, 4, 7})
    found = scales_with(wanted)
    assert set(found) == {scale for scale in all_scales() if wanted <= scale.pitch_classes}
    assert Scale.parse("A dorian") in found
    assert Scale.parse("A lydian") not in found


def test_simple_keeps_the_sound():
    for fifths in range(-13, 14):
        for kind in KINDS:
            scale = Scale(NoteName.at(fifths), kind)
            assert scale.simple().pitch_classes == scale.pitch_classes


# -- text ------------------------------------------------------------------------------------------------------------
TONICS = st.builds(lambda letter, sign: letter + sign, st.sampled_from("ABCDEFG"),
                   st.sampled_from(["", "#", "b", "##", "bb"]))


@given(TONICS, st.sampled_from(sorted(_READS)), st.booleans())
def test_printing_reads_back(tonic, word, capital):
    scale = Scale.parse(f"{tonic} {word.title() if capital else word}")
    assert Scale.parse(str(scale)) == scale
    assert Scale.parse(scale.pretty) == scale
    assert len(set(scale.names)) == len(scale.degrees)
    natural = Scale(NoteName(tonic[0]), scale.kind)
    assert [name.letter for name in scale.names] == [name.letter for name in natural.names]


@given(st.one_of(st.text(max_size=16), st.text("ABCDEFG#b♯♭ majorinlydxcbluesw0123456789-", max_size=20)))
def test_random_text_raises_nothing_but_our_error(text):
    scale = read_or_refuse(Scale.parse, text)
    assert scale is None or (scale.names and scale.parent.names)


@pytest.mark.parametrize(("text", "expected"), [("Bb", "Bb major"), ("Cm", "C minor"), ("F# minor scale", "F# minor"),
                                                ("e♭ blues", None), ("E♭ Blues", "Eb blues")])
def test_short_forms(text, expected):
    if expected is None:
        with pytest.raises(ScaleError, match="is not a scale"):
            Scale.parse(text)
    else:
        assert str(Scale.parse(text)) == expected


def test_the_error_offers_the_nearest_scale():
    with pytest.raises(ScaleError, match="did you mean A dorian"):
        Scale.parse("A dorain")


def test_a_tonic_beyond_double_accidentals_is_refused():
    with pytest.raises(ScaleError, match="is no tonic"):
        Scale.parse("B### lydian")
