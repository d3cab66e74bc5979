"""The tension map: its squares say the scores of the substitutes, and its picture is the same bytes each time."""

import xml.etree.ElementTree as ElementTree

import pytest

from theorylib import substitutes
from theorylib.names.arpeggios import KINDS
from workbook.draw.tension_map import map_words, tension_map, tension_picture

CHORD, KEY, NEXT = "B7#9", "E minor", "Em7"


@pytest.fixture(scope="module")
def ax():
    return tension_map(CHORD, KEY, NEXT)


def test_every_square_with_a_number_is_a_substitute_with_that_score(ax):
    kinds = list(KINDS)
    shown = {(kinds[int(text.get_position()[1])], int(text.get_position()[0])): text.get_text() for text in ax.texts}
    expected = {(one.kind, one.step): f"{one.score:g}" for one in substitutes(CHORD, KEY, NEXT)}
    assert shown == expected


def test_solid_frames_are_the_inside_arpeggios_and_dotted_ones_colour(ax):
    found = substitutes(CHORD, KEY, NEXT)
    frames = [patch for patch in ax.patches if not patch.get_fill()]
    solid = sum(patch.get_linestyle() == "-" for patch in frames)
    assert solid == sum(one.reach == "inside" for one in found)
    assert len(frames) - solid == sum(one.reach == "colour" for one in found)


def test_numbers_stand_out_from_their_square(ax):
    """WCAG 2 contrast for text, 4.5 to 1; by its formula for relative luminance of greys."""
    def luminance(level: float) -> float:
        return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4

    grounds = {(int(patch.get_x()), int(patch.get_y())): patch.get_facecolor()[0] for patch in ax.patches
               if patch.get_fill()}
    for text in ax.texts:
        x, y = text.get_position()
        one = luminance(grounds[int(x), int(y)])
        two = {"#ffffff": 1.0, "#000000": 0.0}[text.get_color()]
        assert (max(one, two) + 0.05) / (min(one, two) + 0.05) >= 4.5


def test_the_picture_is_reproducible_and_says_the_best_in_words():
    one, two = tension_picture(CHORD, KEY, NEXT), tension_picture(CHORD, KEY, NEXT)
    assert one.svg == two.svg
    ElementTree.fromstring(one.svg)
    assert one.alt == map_words(CHORD, KEY, NEXT)
    assert substitutes(CHORD, KEY, NEXT)[0].arpeggio.pretty in one.alt
