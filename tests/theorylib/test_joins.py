"""Joins between positions: each crosses on one string, sounds its scale, and is the next note of it."""

import pytest

from theorylib import STANDARD, NeckError
from theorylib.names.scales import Scale
from theorylib.playing.joins import joins

KINDS = ("minor pentatonic", "major", "dorian", "blues")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("tonic", ["C", "Eb", "F#", "A"])
@pytest.mark.parametrize("positions", [(3, 5), (5, 8), (2, 7)])
def test_a_join_crosses_to_the_next_note_of_the_scale(tonic, kind, positions):
    scale = Scale.parse(f"{tonic} {kind}")
    classes = {name.pitch_class for name in scale.names}
    found = joins(scale, *positions)
    assert found
    assert [join.travel_mm for join in found] == sorted(join.travel_mm for join in found)
    for join in found:
        low, high = STANDARD.midi(join.string, join.low.fret), STANDARD.midi(join.string, join.high.fret)
        assert low % 12 in classes
        assert high % 12 in classes
        assert join.low.fret <= positions[0] + 4
        assert join.high.fret >= positions[1] - 1
        assert (join.kind == "slide") == (join.high.fret > positions[0] + 4)
        assert not join.line.problems()
        assert all(note.pitch.midi % 12 in classes for note in join.line.notes)
        slides = [note for note in join.line.notes if note.marked("slide")]
        assert len(slides) <= (join.kind == "slide")
        for note in slides:
            before = join.line.notes[join.line.notes.index(note) - 1]
            assert (before.string, before.finger) == (note.string, note.finger)


def test_the_same_position_twice_is_refused():
    with pytest.raises(NeckError, match="position 5 twice"):
        joins(Scale.parse("A minor"), 5, 5)
