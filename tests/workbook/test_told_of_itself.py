"""What a lesson says of its own pictures and lines is so."""

from __future__ import annotations

import re

import pytest

from theorylib import Chart, harmony
from workbook.kit import necks
from workbook.lesson.chosen import Choices
from workbook.lesson.writing import new_lesson

MINOR_BLUES = ("feel: shuffle\ntempo: 76\n| Cm7 | Fm7 | Cm7 | Cm7 | Fm7 | Fm7 | Cm7 | Cm7 | Ab7 | G7 | Cm7 | G7 |")
BLUES = "feel: shuffle\n| E7 | A7 | E7 | E7 | A7 | A7 | E7 | E7 | B7 | A7 | E7 | B7 |"


def said(changes: str, cell: str, **choices: str | int) -> str:
    notebook = new_lesson(Chart.parse(changes), Choices("Any", **choices))
    return next("".join(one["source"]) for one in notebook["cells"] if one["id"] == cell)


@pytest.mark.parametrize(("changes", "position"), [
    (MINOR_BLUES, 10), (MINOR_BLUES, 8), ("| Gm7 | C9 |", 3), ("| C#m | A | E | B |", 4), ("| F#m7 | B7alt |", 2)])
def test_every_fret_of_the_pictures_is_the_hands_as_it_is_told(changes: str, position: int) -> None:
    """Four fingers own four frets (common practice, no source); the frets are read from what the pictures say."""
    told = said(changes, "neck-words", position=position)
    own = {*range(position, position + 4), *map(int, re.findall(r"(?:back|on) to fret (\d+)", told))}
    alts = " ".join(picture.alt for picture in necks(harmony(changes), position).pictures)
    shown = {int(fret) for fret in re.findall(r"fret (\d+)", alts)}
    assert shown
    assert shown <= own


def test_a_minor_blues_at_the_tenth_fret_reaches_both_ways() -> None:
    """B of G7 lies on string 4 at fret 9, G flat of A flat 7 on string 1 at fret 14 (open strings D3 and E4)."""
    told = said(MINOR_BLUES, "neck-words", position=10)
    assert "It reaches back to fret 9 where a note lies there and the little finger reaches on to fret 14." in told


def test_an_altered_chord_that_leads_elsewhere_is_not_said_to_go_home() -> None:
    """C7#9 is V of the 2nd degree in E flat major: F minor comes next, not home (common practice, no source)."""
    told = said("key: Eb major\n| Fm7 | Bb9 | Ebmaj7 | C7#9 |", "changes-words")
    assert "the bite of C7♯9, which wants to resolve" in told
    assert "home" not in told


@pytest.mark.parametrize(("changes", "level", "curls"), [
    (BLUES, "beginner", True), (MINOR_BLUES, "intermediate", False)])
def test_a_quarter_tone_is_not_said_to_have_a_fret(changes: str, level: str, curls: bool) -> None:
    """Frets are half steps; a minor chord has no blue 3rd to curl (common practice, no source)."""
    told = said(changes, "bend-drill-words", kind="blues", level=level)
    assert ("A quarter tone has no fret: there the straight note comes first." in told) == curls


def test_the_blues_scale_is_home_and_not_said_to_serve_over_all() -> None:
    """Where an altered chord stands the lesson itself says to leave it."""
    told = said(BLUES, "home-words", kind="blues", level="advanced")
    assert "**E blues** is the home scale: " in told


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_what_stands_after_the_slash_of_a_numeral_is_told(level: str) -> None:
    """To many readers V7/V is the dominant of the dominant (common practice, no source): here it is the bass."""
    slash = "In a numeral, what stands after the slash is the bass, as a degree of the key."
    assert slash in said("key: D minor\n| Dm7 | Am7/C | Bbmaj7 | A7alt |", "home-words", level=level)
    assert slash not in said("key: D minor\n| Dm7 | Am7 | Bbmaj7 | A7alt |", "home-words", level=level)
