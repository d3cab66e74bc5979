"""Harmony against readings that are common practice (no source), and against music21's roman numerals.

music21 (BSD-3) names the scale degree of a chord in a key: our numerals must stand on the same degree.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from theorylib import Chart, Chord, Scale, chord_scales, harmony, moves, numeral
from theorylib.errors import ChartError, ScaleError


def homes(text: str, key: str | None = None) -> list[str]:
    return [str(span.scale) for span in harmony(text, key).homes]


def numerals(text: str, key: str | None = None) -> list[str]:
    return [reading.numeral for reading in harmony(text, key).chords]


# Common practice, no source: (changes, homes, numerals).
READINGS = [
    ("Am7 | D7", ["A dorian"], ["i7", "IV7"]),
    ("Dm7 | G7 | Cmaj7 | %", ["C major"], ["ii7", "V7", "Imaj7", "Imaj7"]),
    ("Em | C | G | D", ["E minor"], ["i", "bVI", "bIII", "bVII"]),
    ("D | C | G | D", ["D mixolydian"], ["I", "bVII", "IV", "I"]),
    ("Dm7b5 | G7b9 | Cm6 | %", ["C minor"], ["iiø7", "V7b9", "i6", "i6"]),
    ("A7 | D7 | A7 | % | D7 | % | A7 | % | E7 | D7 | A7 | E7", ["A blues"],
     ["I7", "IV7", "I7", "I7", "IV7", "IV7", "I7", "I7", "V7", "IV7", "I7", "V7"]),
    ("Em | F | Em | F", ["E phrygian"], ["i", "bII", "i", "bII"]),
]


@pytest.mark.parametrize(("changes", "expected_homes", "expected_numerals"), READINGS)
def test_common_readings(changes: str, expected_homes: list[str], expected_numerals: list[str]) -> None:
    assert homes(changes) == expected_homes
    assert numerals(changes) == expected_numerals


def test_the_two_chord_vamp_in_full() -> None:
    """Common practice, no source: heard from its tonic Am7 - D7 is i7 - IV7 of A dorian, the 2nd mode of G major."""
    read = harmony("Am7 | D7")
    assert [str(span.key) for span in read.homes] == ["A minor"]
    assert read.homes[0].scale.parent == Scale.parse("G major")
    assert read.homes[0].scale.parent_degree == 2
    assert [str(reading.scale) for reading in read.chords] == ["A dorian", "D mixolydian"]


@pytest.mark.parametrize("symbol", ["E7#9", "E7alt", "E7#5", "E7b5b9", "E7#5#9"])
def test_altered_dominants_take_the_altered_scale_first(symbol: str) -> None:
    """The altered scale is the 7th mode of the melodic minor a semitone above (common practice, no source)."""
    first, *others = chord_scales(Chord.parse(symbol))
    assert str(first) == "E altered"
    assert str(first.parent) == "F melodic minor"
    assert others, "the alternatives stand beside it"


def test_a_plain_fifth_does_not_reject_the_altered_scale() -> None:
    assert "B" in Chord.parse("E7#9").names
    assert Scale.parse("E altered") in chord_scales(Chord.parse("E7#9"))


@pytest.mark.parametrize(("changes", "key", "scale"), [
    ("Dm7b5 | G7 | Cm7 | %", None, "G phrygian dominant"),
    ("Cmaj7 | Dm7 | Db7 | Cmaj7", None, "Db lydian dominant"),
    ("Cmaj7 | Fm7 Bb7 | Cmaj7 | G7", None, "Bb lydian dominant"),
    ("Cmaj7 | A7 | Dm7 | G7", None, "A mixolydian b6"),
])
def test_dominants_by_function(changes: str, key: str | None, scale: str) -> None:
    """Common practice, no source: V of a minor key, tritone substitute, backdoor dominant, V of ii."""
    assert scale in [str(reading.scale) for reading in harmony(changes, key).chords]


def test_a_given_key_decides() -> None:
    assert homes("Am7 | D7", "A minor") == ["A dorian"]
    assert homes("Am7 | D7", "G major")[0].startswith("G ")
    assert homes("key: D minor\n| Dm7 | G7 |") == ["D dorian"]


def test_slash_chords_keep_their_root_and_name_their_bass() -> None:
    read = harmony("key: C minor\n| Cm7 | Cm7/Bb | Abmaj7 | G7#9 |")
    assert [reading.numeral for reading in read.chords] == ["i7", "i7/b7", "bVImaj7", "V7#9"]
    assert [str(span.scale) for span in read.homes] == ["C minor"]


def test_moves_are_the_smallest() -> None:
    """Dm7 to G7 (common practice, no source): C falls to B, D and F stay, A falls or rises by a step."""
    found = {str(move.from_name): (str(move.to_name), move.semitones) for move in
             moves(Chord.parse("Dm7"), Chord.parse("G7"))}
    assert found == {"D": ("D", 0), "F": ("F", 0), "A": ("G", -2), "C": ("B", -1)}


def test_no_chord_has_no_numeral_and_a_chart_needs_one_chord() -> None:
    assert numerals("Am7 | N.C. | D7 | Am7")[1] == ""
    with pytest.raises(ChartError, match="no chord"):
        harmony("N.C. | N.C.")
    with pytest.raises(ScaleError, match="did you mean A dorian"):
        harmony("Am7 | D7", "A dorean")


def test_homes_tile_the_chart() -> None:
    chart = Chart.parse("| Cmaj7 | Dm7 G7 | Cmaj7 | Cmaj7 | Fm7 | Bb7 | Ebmaj7 | Ebmaj7 | Fm7 | Bb7 | Ebmaj7 | % |")
    spans = harmony(chart).homes
    assert spans[0].onset_beats == 0
    assert sum(span.duration_beats for span in spans) == chart.length_beats
    assert all(one.onset_beats + one.duration_beats == two.onset_beats for one, two in pairwise(spans))


@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"])
@pytest.mark.parametrize("side", ["major", "minor"])
def test_numeral_degrees_agree_with_music21(tonic: str, side: str) -> None:
    """music21.roman names each diatonic triad's degree; ours must stand on the same one, minor in small letters."""
    from music21 import chord as m21_chord
    from music21 import key as m21_key
    from music21 import roman

    scale = Scale.parse(f"{tonic} {side}")
    theirs = m21_key.Key(tonic.replace("b", "-"), side)
    for degree, root in enumerate(scale.names):
        triad = [scale.names[(degree + step) % 7] for step in (0, 2, 4)]
        ours = next(chord for suffix in ("", "m", "dim") if (chord := Chord.parse(root + suffix)).names == tuple(triad))
        outside = roman.romanNumeralFromChord(m21_chord.Chord([name.replace("b", "-") for name in triad]), theirs)
        found = numeral(ours, scale).lstrip("b").rstrip("°")
        assert found.upper() == outside.romanNumeralAlone.upper()
        assert found.isupper() == outside.romanNumeralAlone.isupper()
