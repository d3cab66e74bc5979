"""Grips as diagrams: every finger on its string and fret, mirrored for the left hand, read aloud."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import pytest

from theorylib import grips, led_grips
from theorylib.errors import NeckError
from workbook.draw.grip_sheet import SIDE, SIZES, TOP, grips_picture
from workbook.reader import Reader, read_by

SVG = "{http://www.w3.org/2000/svg}"


def numbers(picture) -> list[tuple[int, int, str]]:
    """(string, fret from the diagram's first, finger) of the bold numbers that stand on a string of the first grip."""
    found = []
    for text in ElementTree.fromstring(picture.svg).iter(f"{SVG}text"):
        x, y = float(text.get("x")), float(text.get("y"))
        string, fret = 6 - (x - SIDE) / SIZES.gap, (y - TOP - SIZES.open) / SIZES.fret
        if text.text.isdigit() and string == int(string) and text.get("font-weight"):
            found.append((int(string), int(fret) + 1, text.text))
    return sorted(found)


def test_fingers_stand_where_they_press() -> None:
    """C as schools print it: fingers 3, 2 and 1 on strings 5, 4 and 2 (common practice, no source)."""
    picture = grips_picture(grips("C")[:1], left_handed=False)
    assert numbers(picture) == [(2, 1, "1"), (4, 2, "2"), (5, 3, "3")]
    assert "string 6 not played, string 5 fret 3 finger 3, string 4 fret 2 finger 2, string 3 open" in picture.alt


def test_a_barre_is_drawn_across_its_strings_and_a_far_fret_is_numbered() -> None:
    grip = next(one for one in grips("Gm") if str(one) == "355333")
    picture = grips_picture([grip], left_handed=False)
    assert [fret for _, fret, finger in numbers(picture) if finger == "1"] == [1, 1, 1, 1]
    barre = re.search(r'<line x1="([\d.]+)"[^>]*x2="([\d.]+)"[^>]*stroke-width="9"', picture.svg)
    assert [float(end) for end in barre.groups()] == [SIDE, SIDE + 5 * SIZES.gap]
    assert ">3</text>" in picture.svg
    assert "barre at fret 3" in picture.alt


def test_left_handers_see_the_mirror() -> None:
    right = grips_picture(grips("C")[:1])
    with read_by(Reader(left_handed=True)):
        left = grips_picture(grips("C")[:1])
    assert [(7 - string, fret, finger) for string, fret, finger in numbers(right)][::-1] == numbers(left)
    assert left.alt == right.alt


def test_rows_keep_within_the_page_and_may_break_between() -> None:
    led = [one.grip for one in led_grips(["Cm7", "F7", "Bbmaj7", "Ebmaj7", "Am7b5", "D7alt", "Gm6", "G7", "C13"])]
    for large in (False, True):
        picture = grips_picture(led, large_print=large)
        assert picture.width_mm <= 180
        assert len(picture.cuts) >= 2
        assert picture.svg.count('class="system"') == len(picture.cuts) + 1


def test_other_necks() -> None:
    picture = grips_picture(grips("Am", "bass")[:1], "bass")
    assert "string 4" in picture.alt
    assert "string 5" not in picture.alt


def test_nothing_to_draw() -> None:
    with pytest.raises(NeckError, match="no grips to draw"):
        grips_picture([])
    with pytest.raises(NeckError, match="no grips to draw"):
        grips_picture(["x32010"])


def test_a_diagram_shows_four_frets_where_the_grip_needs_fewer() -> None:
    """The nut, four frets' ends (common practice, no source), six strings, and the crosses' own strokes besides."""
    picture = grips_picture(grips("C")[:1])
    level = re.findall(r'<line x1="([\d.]+)" y1="([\d.]+)" x2="([\d.]+)" y2="\2"', picture.svg)
    assert sorted({float(y) for _, y, _ in level}) == [TOP + SIZES.open + fret * SIZES.fret for fret in range(5)]
