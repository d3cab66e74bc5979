"""Scores for screens: where bars and beats stand, read again from the drawn digits and staves; the stage's order."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from fractions import Fraction

import pytest
from support.music import INVENTED

from theorylib import Chart, Line, continuous_arpeggio, finger
from workbook.draw.score import score
from workbook.draw.screen import WIDTHS, ScreenScore, Staves, Width, bars_a_system, screen_scores
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import MUTE, moments_of, pack_key

SVG = "{http://www.w3.org/2000/svg}"


def placed(root: ElementTree.Element) -> list[tuple[str, ElementTree.Element, float, float]]:
    """(id, node, how far it is moved across and down) of every named group, the moves of its parents added."""
    found = []

    def visit(node: ElementTree.Element, across: float, down: float) -> None:
        moved = re.match(r"translate\((-?[\d.]+),? (-?[\d.]+)\)", node.get("transform", ""))
        if moved:
            across, down = across + float(moved[1]), down + float(moved[2])
        if node.get("id"):
            found.append((node.get("id", ""), node, across, down))
        for child in node:
            visit(child, across, down)

    visit(root, 0.0, 0.0)
    return found


def digits(found: ScreenScore) -> dict[int, tuple[float, float]]:
    """Number of each note: the middle of its digit and its baseline, in units."""
    out = {}
    for name, node, across, down in placed(ElementTree.fromstring(found.svg)):
        match = re.fullmatch(r"t(\d+)", name)
        if match:
            text = next(node.iter(f"{SVG}text"))
            out[int(match[1])] = ((float(text.get("x", "0")) + across) / 10, (float(text.get("y", "0")) + down) / 10)
    return out


@pytest.mark.parametrize("name", ["eighths", "swing", "triplets", "double stops", "rests", "capo"])
def test_each_moment_stands_on_its_digit(name: str) -> None:
    line = INVENTED[name]
    for found in screen_scores(line, moments_of(line)):
        drawn = digits(found)
        first = {note.onset_beats: index for index, note in reversed(list(enumerate(line.notes)))}
        for moment, (system, x) in zip(moments_of(line), found.places, strict=True):
            across, down = drawn[first[moment]]
            assert x == pytest.approx(across, abs=1.0), (found.name, moment)
            assert found.systems[system].top < down < found.systems[system].bottom + 12


def test_bars_follow_each_other_and_hold_their_digits() -> None:
    line = finger(continuous_arpeggio(Chart.parse("| Gm7 | C9 | Am7 | D7 | Gm7 |")))
    for found in screen_scores(line, moments_of(line)):
        bars = [(number, bar) for number, system in enumerate(found.systems) for bar in system.bars]
        assert len(bars) == line.bar_count
        drawn = digits(found)
        for index, note in enumerate(line.notes):
            number, (left, right) = bars[int(note.onset_beats / 4)]
            assert left < drawn[index][0] < right
            assert found.systems[number].top < drawn[index][1]
        for system in found.systems:
            assert 0 <= system.top < system.bottom <= found.height
            assert all(one[1] == two[0] for one, two in zip(system.bars, system.bars[1:], strict=False))
            assert system.bars[-1][1] <= found.width


@pytest.mark.parametrize(("signs", "most_bars", "most_signs", "bars"), [
    ([8, 8, 8, 8], 4, 48, 4), ([8, 8, 8, 14], 2, 20, 1), ([8] * 5, 4, 48, 3), ([8] * 9, 4, 48, 3), ([30], 4, 20, 1),
    ([1] * 12, 4, 20, 4), ([], 4, 20, 1),
])
def test_bars_a_system(signs: list[int], most_bars: int, most_signs: int, bars: int) -> None:
    """Worked out by hand: no system crowded, all alike but the last, no lone bar where it can be helped."""
    assert bars_a_system(signs, Width("a", 868, most_bars, most_signs)) == bars


def test_its_ink_is_the_pages_and_its_bytes_are_the_same() -> None:
    line = INVENTED["eighths"]
    one, two = (screen_scores(line, (Fraction(0),), widths=WIDTHS[1:2])[0] for _ in range(2))
    assert one == two
    assert "#000000" not in one.svg
    assert 'color="black"' not in one.svg
    assert not re.search(r'<rect width="\d+" height="\d+" fill="#ffffff"', one.svg), "no ground of its own"
    assert one.width == 868


def test_what_the_author_left_out_is_left_out() -> None:
    line = INVENTED["eighths"]
    (tab,) = screen_scores(line, (Fraction(0),), Staves(staff=False), WIDTHS[1:2])
    (staff,) = screen_scores(line, (Fraction(0),), Staves(tab=False), WIDTHS[1:2])
    assert 'id="t0"' in tab.svg
    assert "E0A4" not in tab.svg  # a note head (SMuFL)
    assert "E0A4" in staff.svg
    assert 'id="t0"' not in staff.svg


def page_of(line: Line, **options: bool) -> str:
    data, about = score(line, **options)._repr_mimebundle_()
    output = {"output_type": "execute_result", "data": data, "metadata": about}
    cells = [{"cell_type": "markdown", "metadata": {}, "source": "# A title\n\nSome facts.\n\n## One\n\nWords."},
             {"cell_type": "code", "metadata": {}, "source": "1", "outputs": [output]},
             {"cell_type": "markdown", "metadata": {}, "source": "> **Care** Rest.\n\n## Two\n\nMore."}]
    return lesson_page({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}, MUTE)


def test_the_score_comes_before_the_words() -> None:
    page = page_of(INVENTED["eighths"], staff=False)
    order = ["<h1>A title", "Some facts.", '<figure class="music"', 'id="p-steps"', "Rest.", "<h2>One", "Words.",
             "<h2>Two", "More.", 'class="credits"', 'id="p-play"']
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    assert page.count("Some facts.") == 1
    assert 'id="f1-phone-t0"' in page
    assert "f1-phone-E0A4" not in page, "the author's engraving has no staff"
    told = json.loads(page.split('id="practice-data">')[1].split("</script>")[0])
    assert set(told["lines"][0]["scores"]) == {"large", "phone", "desk"}


def test_a_pack_has_a_key_of_its_own() -> None:
    """By title, student and changes; not by the notes of a drill, nor by how many drills there are."""
    one, other = (finger(continuous_arpeggio(Chart.parse(text))) for text in ("| Gm7 | C9 |", "| Am7 | D7 |"))
    longer = finger(continuous_arpeggio(Chart.parse("| Gm7 | C9 |"), 8))
    key = pack_key({"title": "A"}, [one])
    assert key == pack_key({"title": "A"}, [one, longer])
    assert len({key, pack_key({"title": "B"}, [one]), pack_key({"title": "A"}, [other]),
                pack_key({"title": "A", "student": "Ines"}, [one])}) == 4


def test_what_the_guitar_is_set_to_is_said() -> None:
    page = page_of(INVENTED["drop D"])
    assert "tuning drop D</p>" in page
    assert '"setting":"tuning drop D"' in page
    assert '"setting":""' in page_of(INVENTED["eighths"])
