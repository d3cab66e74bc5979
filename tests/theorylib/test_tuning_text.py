"""Tunings as guitarists write them; the pitches of each typed from common practice (no source)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from theorylib.errors import NeckError
from theorylib.necks.tuning_text import NAMED_TUNINGS
from theorylib.necks.tunings import Tuning

# written: open strings from low to high
WRITTEN = {
    "DADGBE": "D2 A2 D3 G3 B3 E4", "EADGBE": "E2 A2 D3 G3 B3 E4", "dadgbe": "D2 A2 D3 G3 B3 E4",
    "EADGBe": "E2 A2 D3 G3 B3 E4", "ead gbe": "E2 A2 D3 G3 B3 E4", "E A D G B E": "E2 A2 D3 G3 B3 E4",
    "E-A-D-G-B-E": "E2 A2 D3 G3 B3 E4", "E, A, D, G, B, E": "E2 A2 D3 G3 B3 E4",
    "E2A2D3G3B3E4": "E2 A2 D3 G3 B3 E4", "EbAbDbGbBbEb": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
    "E♭ A♭ D♭ G♭ B♭ E♭": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "eb ab db gb bb eb": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
    "DADF#AD": "D2 A2 D3 F#3 A3 D4", "DADF♯AD": "D2 A2 D3 F#3 A3 D4", "DGDGBD": "D2 G2 D3 G3 B3 D4",
    "CGCFAD": "C2 G2 C3 F3 A3 D4", "CGCGCE": "C2 G2 C3 G3 C4 E4", "EAEAC#E": "E2 A2 E3 A3 C#4 E4",
    "EBEG#BE": "E2 B2 E3 G#3 B3 E4", "BF#BEG#C#": "B1 F#2 B2 E3 G#3 C#4", "AEADF#B": "A1 E2 A2 D3 F#3 B3",
    "BEADF#B": "B1 E2 A2 D3 F#3 B3", "CGDAEG": "C2 G2 D3 A3 E4 G4", "BEADGBE": "B1 E2 A2 D3 G3 B3 E4",
    "AEADGBE": "A1 E2 A2 D3 G3 B3 E4", "F#BEADGBE": "F#1 B1 E2 A2 D3 G3 B3 E4", "EADG": "E1 A1 D2 G2",
    "DADG": "D1 A1 D2 G2", "BEADG": "B0 E1 A1 D2 G2", "BEADGC": "B0 E1 A1 D2 G2 C3",
    "dropped D": "D2 A2 D3 G3 B3 E4", "drop-d": "D2 A2 D3 G3 B3 E4", "Drop D tuning": "D2 A2 D3 G3 B3 E4",
    "Eb standard": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "half-step down": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
    "full step down": "D2 G2 C3 F3 A3 D4", "D standard": "D2 G2 C3 F3 A3 D4", "open Em": "E2 B2 E3 G3 B3 E4",
    "Open G": "D2 G2 D3 G3 B3 D4", "7-string": "B1 E2 A2 D3 G3 B3 E4", "DADGBE capo 2": "D2 A2 D3 G3 B3 E4",
}


@pytest.mark.parametrize("written", WRITTEN)
def test_a_tuning_as_guitarists_write_it(written):
    tuning = Tuning.parse(written)
    assert " ".join(map(str, tuning.open_strings[::-1])) == WRITTEN[written]
    assert tuning.capo == (2 if "capo" in written else 0)


@pytest.mark.parametrize(("written", "said"), {
    "EADGHE": "did you mean EADGBE", "GCEA": "does not say which octaves", "DGBE": "does not say which octaves",
    "EADGC": "does not say which octaves", "GDGBD": "does not say which octaves",
    "DADDAD": "does not say which octaves",
    "EBGDAE": "from low to high", "Eb": "not 1", "drop Q": "did you mean drop", "AAAAAAAA": "octaves",
    "AADGBE": "octaves",
}.items())
def test_what_could_be_several_tunings_is_refused(written, said):
    with pytest.raises(NeckError, match=said):
        Tuning.parse(written)


@pytest.mark.parametrize("name", NAMED_TUNINGS)
def test_the_note_names_of_a_named_tuning_alone_are_that_tuning(name):
    tuning = Tuning.parse(name)
    for between in ("", " ", "-"):
        assert Tuning.parse(between.join(str(pitch.name) for pitch in tuning.open_strings[::-1])) == tuning


@given(st.text(alphabet="ABCDEFGabcdefg#b♭ -,", max_size=24))
def test_what_is_read_from_note_names_sounds_those_names_in_rising_order(text):
    try:
        tuning = Tuning.parse(text)
    except NeckError:
        return
    strings = tuning.open_strings[::-1]
    assert all(low.midi < high.midi for low, high in pairwise(strings))
    letters = "".join(sign for sign in text.upper().replace("♭", "B") if sign.isalnum() or sign == "#")
    assert letters == "".join(str(pitch.name).upper() for pitch in strings)
    assert 4 <= len(strings) <= 9
