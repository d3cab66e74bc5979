"""Where techniques stand in the engraving: nothing collides, waves begin on their beat, marks end with a system.

Geometry is read from the SVG itself: text by the widths of its font, paths by their numbers.
"""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from fractions import Fraction

import pytest
from support.boxes import Box, collisions, text_boxes
from support.drills import DRILLS, KEYS, made
from support.techniques import long_bend, mark, note, one_of_each, unison_bend

from theorylib import Chart, Line, finger
from workbook.draw.engrave import engrave, evenly_broken
from workbook.draw.mei import mei_of
from workbook.draw.print_score import printed_systems
from workbook.draw.score import score
from workbook.draw.technique import bend_size
from workbook.handouts.look import LARGE, NORMAL

SVG = "{http://www.w3.org/2000/svg}"


def overlay(line: Line) -> list[ElementTree.Element]:
    root = ElementTree.fromstring(score(line).svg)
    return [part for group in root.iter(f"{SVG}g") if group.get("class") == "overlay" for part in group]


def waves(line: Line) -> list[tuple[float, float]]:
    """(left, right) of each vibrato wave."""
    found = []
    for part in overlay(line):
        match = re.match(r"M(-?[\d.]+) (-?[\d.]+) q", part.get("d", ""))
        if match:
            steps = [float(one) for one in re.findall(r" q[-\d.]+ [-\d.]+ ([\d.]+) 0", part.get("d", ""))]
            found.append((float(match[1]), float(match[1]) + sum(steps)))
    return found


@pytest.mark.parametrize("name", DRILLS)
def test_no_text_collides_in_any_key(name: str) -> None:
    for key in KEYS:
        line = made(name, key, "standard", "straight 8")
        svg = score(finger(line, line.tuning, line.position)).svg
        assert len(text_boxes(svg)) > len(line.notes) / 2
        assert collisions(svg) == [], key


@pytest.mark.parametrize("large_print", [False, True])
@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_no_text_collides_in_the_techniques(make: Callable[[], Line], large_print: bool) -> None:
    assert collisions(score(make(), large_print=large_print).svg) == []
    assert collisions(score(make(), staff=False).svg) == []


def test_the_collision_check_can_fail() -> None:
    svg = score(one_of_each()).svg
    boxes = text_boxes(svg)
    assert Box("x", boxes[0].left, boxes[0].right, boxes[0].top, boxes[0].bottom).overlaps(boxes[0])
    x = re.search(r'<text x="(\d+)" y="(\d+)"[^>]*>mp<', svg)
    assert x is not None
    assert collisions(svg.replace(f'<text x="{x[1]}" y="{x[2]}"', f'<text x="{int(x[1]) + 300}" y="{x[2]}"')) != []


def test_every_mark_is_drawn() -> None:
    words = [part.text for part in overlay(one_of_each()) if part.text]
    for word in ("H", "P", "T", "1", "¼", "P.M.", "let ring", "Harm.", "T.H.", "mp", "ff"):
        assert word in words, word
    text = [box.text for box in text_boxes(score(one_of_each()).svg)]
    assert {"×", "(5)", "‹12›", "4‹16›"} <= set(text)
    native = score(one_of_each()).svg
    for kind in ("slur", "gliss", "tie", "artic"):
        assert f'class="{kind}"' in native


@pytest.mark.parametrize(("semitones", "said"), [("1/2", "¼"), ("1", "½"), ("3/2", "¾"), ("2", "1"), ("3", "1½"),
                                                 ("4", "2")])
def test_bends_are_written_in_whole_tones(semitones: str, said: str) -> None:
    assert bend_size(Fraction(semitones)) == said


def test_a_wave_begins_on_its_beat() -> None:
    """Halfway between the beats around it: beat 3 of a held whole note lies in the middle of its bar."""
    notes = tuple(note("D4", str(4 * bar), "4", 3, 7, mark("vibrato", "40", at))
                  for bar, at in enumerate(("0", "2", "3")))
    line = finger(Line(notes, Chart.parse("| Dm7 | G7 | Dm7 |")))
    digits = [box for box in text_boxes(score(line).svg) if box.text == "7" and box.top > 1500]
    found = waves(line)
    assert len(found) == 3
    lengths = [right - left for left, right in found]
    assert lengths[0] > lengths[1] > lengths[2]
    for digit, (left, _), share in zip(digits[1:], found[1:], (0.5, 0.75), strict=True):
        middle = (digit.left + digit.right) / 2
        width = found[digits.index(digit)][1] + 60 - middle
        assert (left - middle) / width == pytest.approx(share, abs=0.02)


def test_marks_are_cut_where_a_system_ends() -> None:
    """A slur, a slide and a vibrato across a system break have a part in each system, inside its edges."""
    notes = []
    for bar in range(12):
        start = 4 * bar
        notes += [note("D4", str(start), "1", 3, 7, *([mark("pull")] if bar else [])),
                  note("E4", str(start + 1), "1", 3, 9, mark("slide")),
                  note("F4", str(start + 2), "1", 3, 10, mark("vibrato", "40")),
                  note("E4", str(start + 3), "1", 3, 9, mark("pull"))]
    line = finger(Line(tuple(notes), Chart.parse("| Dm7 |")))
    music = mei_of(line)
    systems = engrave(music, Fraction(4), tab=True, width_units=1800).systems
    assert len(systems) >= 3
    left, right = min(system.left for system in systems), max(system.right for system in systems)
    for part in overlay(line):
        for x in re.findall(r"[ML](-?[\d.]+) ", part.get("d", "")):
            assert left - 400 <= float(x) <= right
    arcs = [part for part in overlay(line) if part.get("d", "").endswith("Z") and " C" in part.get("d", "")]
    assert len(arcs) == 12 - 1 + len(systems)  # each bar's pair of pulls; one more piece where a system ends


def test_x_of_a_beat_rises_and_ends_at_the_bar_line() -> None:
    line = long_bend()
    (system,) = engrave(mei_of(line), Fraction(4), tab=True, width_units=1800).systems
    xs = [system.x_at(Fraction(beat, 4)) for beat in range(64)]
    assert xs == sorted(xs)
    assert system.end_at(Fraction(4)) < system.x_at(Fraction(4))
    assert system.end_at(Fraction(16)) == system.right
    assert len(system.strings) == 6


@pytest.mark.parametrize(("counts", "expected"), [
    ([3, 1], [2, 2]), ([4, 4, 1], [3, 3, 3]), ([3, 3, 3, 1], [3, 3, 2, 2]), ([2, 2], [2, 2]), ([5], [5]),
    ([3, 2, 1], [2, 2, 2]), ([20, 8], [20, 8])])
def test_bars_are_shared_evenly_among_systems(counts: list[int], expected: list[int]) -> None:
    text = "<section>" + "".join(f"<measure {bar}/>" for bar in range(sum(counts))) + "</section>"
    broken = evenly_broken(text, counts)
    parts = (broken or "").split("<sb/>")
    assert ([part.count("<measure") for part in parts] if broken else counts) == expected


@pytest.mark.parametrize("counts", [(2, 3), (3, 4), (4, 5), (2, 2, 2, 3), (1, 2)])
def test_a_last_bar_of_one_held_note_has_no_system_of_its_own(counts: tuple[int, ...]) -> None:
    """Bars as they fit on paper: the last system holds one more than the first, and no further system is made."""
    from workbook.draw.engrave import _may_be_equal

    assert not _may_be_equal(counts)
    assert not _may_be_equal((2, 2)), "they are"
    assert not _may_be_equal((5,))
    assert _may_be_equal((3, 4, 2)), "three to each"


@pytest.mark.parametrize("scale", [NORMAL.music, LARGE.music], ids=["normal", "large"])
def test_no_text_collides_on_paper(scale: float) -> None:
    """Every drill in one key as paper has it, the keys in turn; with VAMPBOOK_EXPLORE=1 every drill in every key."""
    for number, name in enumerate(DRILLS):
        for key in KEYS if os.environ.get("VAMPBOOK_EXPLORE") else KEYS[number % 12:number % 12 + 1]:
            line = made(name, key, "standard", "straight 8")
            for system in printed_systems(finger(line, line.tuning, line.position), width_mm=178, scale=scale):
                assert collisions(system.svg) == [], (name, key, scale)


@pytest.mark.parametrize("make", [one_of_each, long_bend, unison_bend])
def test_no_text_collides_in_the_techniques_on_paper(make: Callable[[], Line]) -> None:
    for scale in (NORMAL.music, LARGE.music):
        for system in printed_systems(make(), width_mm=178, scale=scale):
            assert collisions(system.svg) == [], scale


def test_a_bar_number_stands_over_the_left_edge_of_its_staff_in_our_face() -> None:
    """Verovio's own, in its own face and centred on that edge, is cut in half by the edge of the paper's picture."""
    systems = printed_systems(one_of_each(), width_mm=178, scale=LARGE.music)
    assert len(systems) > 1
    for system in systems[1:]:
        root = ElementTree.fromstring(system.svg)
        (number,) = (node for node in root.iter(f"{SVG}g") if "mNum" in node.get("class", "").split())
        (text,) = number.iter(f"{SVG}text")
        assert text.text == str(system.first_bar + 1)
        assert (text.get("x"), text.get("text-anchor")) == ("0", None)
        assert "Vampbook Sans" in text.get("font-family", "")


def test_systems_on_paper_stand_within_their_ink() -> None:
    """No text leaves the drawing of its system, which is no higher than it needs; large print is that much larger."""
    normal, large = (printed_systems(one_of_each(), width_mm=178, scale=look.music) for look in (NORMAL, LARGE))
    for system in (*normal, *large):
        root = ElementTree.fromstring(system.svg)
        top, high = (float(part) for part in (root.get("viewBox") or "").split()[1::2])
        down = sum(float(moved[1]) for node in root.iter(f"{SVG}g")
                   if node.get("class") in ("page-margin", "system")
                   and (moved := re.search(r"translate\(-?[\d.]+,? (-?[\d.]+)\)", node.get("transform", ""))))
        for box in text_boxes(system.svg):
            assert 10 * top <= box.top + down < box.bottom + down <= 10 * (top + high), box
    assert len(large) > len(normal)
    assert [system.end_bar for system in large[:-1]] == [system.first_bar for system in large[1:]]
