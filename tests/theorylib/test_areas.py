"""Areas: the usual boxes come out, every place sounds its degree, layers nest.

The box fingerings are common practice, no source. music21 (BSD-3) gives the scales' pitch classes.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from theorylib import Chord, Scale, Tuning
from theorylib.errors import NeckError
from theorylib.necks.areas import in_position, layers, nearest_tones, per_string
from theorylib.necks.tunings import STANDARD


def frets(places) -> str:
    """Frets by string from the lowest: "5-8 5-7"."""
    strings = sorted({place.string for place in places}, reverse=True)
    rows = [[place.fret for place in sorted(places) if place.string == string] for string in strings]
    return " ".join("-".join(map(str, row)) for row in rows)


def test_the_usual_boxes() -> None:
    assert frets(in_position(Scale.parse("A minor pentatonic"), 5)) == "5-8 5-7 5-7 5-7 5-8 5-8"
    assert frets(in_position(Scale.parse("G major"), 2)) == "2-3-5 2-3-5 2-4-5 2-4-5 3-5 2-3-5"
    assert frets(per_string(Scale.parse("G major"), 3, 3)) == "3-5-7 3-5-7 4-5-7 4-5-7 5-7-8 5-7-8"


def test_a_stretch_only_where_the_note_has_no_other_place() -> None:
    """F#3 over D7 in position 5 lies at string 4 fret 4 or string 5 fret 9: one stretch, not two."""
    places = in_position(Chord.parse("D7"), 5)
    low = [place for place in places if STANDARD.midi(place.string, place.fret) == 54]
    assert [(place.string, place.fret) for place in low] == [(4, 4)]
    assert all(5 <= place.fret <= 8 for place in in_position(Chord.parse("D7"), 5, stretch=False))


@pytest.mark.parametrize("tuning", ["standard", "drop D", "all fourths", "seven-string"])
@pytest.mark.parametrize("tonic", ["C", "Eb", "F#", "A"])
def test_every_place_sounds_its_scale(tonic: str, tuning: str) -> None:
    from music21 import scale

    outside = {pitch.pitchClass for pitch in scale.DorianScale(tonic.replace("b", "-")).getPitches()}
    neck = Tuning.parse(tuning)
    dorian = Scale.parse(f"{tonic} dorian")
    for places in (in_position(dorian, 5, neck), per_string(dorian, 3, 4, neck)):
        assert {neck.midi(place.string, place.fret) % 12 for place in places} == outside
        midis = [neck.midi(place.string, place.fret) for place in places]
        assert midis == sorted(set(midis))


def test_one_string_and_every_other_string() -> None:
    one = per_string(Scale.parse("E minor"), 8, 0, strings=[1])
    assert frets(one) == "0-2-3-5-7-8-10-12"
    skipped = per_string(Chord.parse("Am7"), 2, 5, strings=[6, 4, 2])
    assert {place.string for place in skipped} == {6, 4, 2}
    with pytest.raises(NeckError, match="string 1: 20 notes a string from fret 5 run off the neck"):
        per_string(Scale.parse("E minor"), 20, 5, strings=[1])


def test_layers_nest() -> None:
    found = layers("Am7", "A dorian", 5)
    assert [layer.name for layer in found] == ["triad", "arpeggio", "minor pentatonic", "A dorian"]
    for inner, outer in pairwise(found):
        assert set(inner.places) < set(outer.places)
    assert [layer.name for layer in layers("G7#9", "G altered", 3)] == ["triad", "arpeggio", "G altered"]


def test_the_nearest_tone_of_the_next_chord() -> None:
    """From Am7 to D7 (common practice, no source): G falls to F#, C stays, E falls to D."""
    near = nearest_tones(in_position(Chord.parse("Am7"), 5), Chord.parse("D7"))
    by_degree = {place.degree: move for place, move in near.items()}
    assert by_degree == {"1": (0, "5"), "b3": (0, "b7"), "5": (-2, "1"), "b7": (-1, "3")}
