"""What a position is (common practice, no source; figures typed here); everything that stands in one agrees."""

from __future__ import annotations

import pytest

from theorylib import STANDARD, Tuning, finger
from theorylib.errors import DrillError, NeckError
from theorylib.necks.areas import in_position
from theorylib.necks.positions import NATURAL_FINGER, as_position, covered, reached, stretches, whole_positions
from theorylib.playing.lines import line_of
from theorylib.practice.drills import Reach
from workbook.draw.neck import plot_neck

SHORT = Tuning(STANDARD.open_strings, frets=12)


@pytest.mark.parametrize(("position", "neck", "under", "with_stretch"), [
    (5, STANDARD, [5, 6, 7, 8], [4, 5, 6, 7, 8, 9]),
    (2, STANDARD, [2, 3, 4, 5], [1, 2, 3, 4, 5, 6]),
    (1, STANDARD, [1, 2, 3, 4], [1, 2, 3, 4, 5]),       # fret 0 is an open string: nobody's
    (10, SHORT, [10, 11, 12], [9, 10, 11, 12]),         # the neck ends at fret 12
    (12, SHORT, [12], [11, 12]),
])
def test_the_frets_of_a_position(position: int, neck: Tuning, under: list[int], with_stretch: list[int]) -> None:
    assert list(covered(position, neck)) == under
    assert list(reached(position, neck)) == with_stretch
    assert list(stretches(position, neck)) == [fret for fret in with_stretch if fret not in under]


def test_a_finger_a_fret_and_a_stretch_to_either_side() -> None:
    assert NATURAL_FINGER == {-1: 1, 0: 1, 1: 2, 2: 3, 3: 4, 4: 4}
    assert list(whole_positions(SHORT)) == [1, 2, 3, 4, 5, 6, 7, 8]


@pytest.mark.parametrize("value", [0, 13, -1, True, "5", 2.0, None])
def test_what_is_no_position(value: object) -> None:
    with pytest.raises(NeckError, match="no position"):
        as_position(value, SHORT)
    with pytest.raises(DrillError, match="no position"):
        as_position(value, SHORT, DrillError)


@pytest.mark.parametrize("position", [1, 5, 9])
def test_areas_drills_fingerings_and_pictures_stand_on_the_same_frets(position: int) -> None:
    """Frets p - 1 to p + 4, counted here; the chromatic scale fills them all, so that each edge shows.

    In the first position the open strings are added, and take what the fifth fret would; a picture ends there under the
    fingers, where a drill may stretch by the one fret more.
    """
    frets = [fret for fret in range(position - 1, position + 5) if fret > 0]
    edge = [STANDARD.midi(6, frets[0]), STANDARD.midi(1, frets[-1])]
    opened = [0] if position == 1 else []
    sounding = {STANDARD.midi(string, fret) for string in range(1, 7) for fret in [*opened, *frets]}
    assert set(Reach.of(STANDARD, position).midis) == sounding
    chromatic = dict.fromkeys(range(12), "1")
    area = in_position(chromatic, position)
    beyond = {STANDARD.midi(1, 5)} if position == 1 else set()
    assert {STANDARD.midi(place.string, place.fret) for place in area} == sounding - beyond
    unstretched = in_position(chromatic, position, stretch=False)
    assert {place.fret for place in unstretched} == {*opened, *range(position, position + 4)}
    names = [str(STANDARD.pitch(6, frets[0])), str(STANDARD.pitch(1, frets[-1]))]
    held = finger(line_of(names, "| C |"), position=position)
    assert [note.pitch.midi for note in held.notes] == edge
    assert [note.fret for note in held.notes] == [frets[0], frets[-1]]
    view = plot_neck("C major", position=position).view
    assert view.first_fret <= position
    assert view.last_fret >= position + 3
