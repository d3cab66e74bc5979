"""The names that stay: what theorylib exports, and the fields of its values."""

from __future__ import annotations

# The calls of design.md, "Names that stay", that the tree already has; more join as their capability is built.
NAMES_THAT_STAY = ("Chord", "Scale", "Chart", "harmony", "Tuning", "STANDARD", "continuous_arpeggio", "Line", "finger",
                   "substitutes", "uses_of", "names_of", "target_shapes")


def test_the_names_that_stay_are_importable():
    import theorylib

    for name in NAMES_THAT_STAY:
        assert name in theorylib.__all__
        assert getattr(theorylib, name) is not None
    assert sorted(set(theorylib.__all__)) == sorted(theorylib.__all__)
    assert all(hasattr(theorylib, name) for name in theorylib.__all__)


def test_the_names_that_stay_keep_their_fields():
    from theorylib import STANDARD, Chart, Chord, Scale, Tuning

    chord, scale, chart = Chord.parse("Am7/G"), Scale.parse("A dorian"), Chart.parse("[A] | Am7 | D7 |")
    assert (chord.root, chord.bass, str(chord)) == ("A", "G", "Am7/G")
    assert (chord.tones[1].name, chord.tones[1].degree) == ("C", "b3")
    assert (scale.names[0], str(scale.parent), scale.parent_degree, str(scale)) == ("A", "G major", 2, "A dorian")
    event = chart.events[1]
    assert (str(event.chord), event.onset_beats, event.duration_beats) == ("D7", 4, 4)
    assert (chart.sections[0].name, str(chart.meter), chart.tempo) == ("A", "4/4", 100)
    assert str(chart.transpose(2).events[0].chord) == "Bm7"
    assert Tuning.parse("E2 A2 D3 G3 B3 E4") == STANDARD
    assert str(STANDARD.pitch(6, 5)) == "A2"
    assert [(place.string, place.fret) for place in STANDARD.places("E4")][:2] == [(1, 0), (2, 5)]
