"""A long chart costs in proportion to its length: sizes of the pack from 8 to 32 bars; to 1,000 when exploring.

What a bar more costs is taken from two lengths each, so that what every file holds once does not count. What grows with
the square of the length costs twice as much from 16 bars to 32 as from 8 to 16; the bound is a quarter more.
"""

from __future__ import annotations

import os
import random
import re
import xml.etree.ElementTree as ElementTree
from functools import lru_cache
from html import unescape
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from support.music import INVENTED, arpeggio
from support.techniques import mark, note

from theorylib import Chart, Line, finger
from workbook.draw import engrave, stacking
from workbook.draw.chart import chart_picture
from workbook.draw.pictures import ONE_COPY, SVG_MIME, Picture
from workbook.draw.score import score
from workbook.handouts.clean import MOST_DRAWN
from workbook.handouts.pack import BRIEF, pack_of
from workbook.handouts.page import lesson_page
from workbook.handouts.slicing import slices
from workbook.handouts.tree import HandoutError, tree_of
from workbook.lesson.chosen import Choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson
from workbook.mimes import stored_svg
from workbook.running.run import run_notebook

SVG = "{http://www.w3.org/2000/svg}"
CHORDS = ("Gmaj7", "Am7", "Bm7", "Cmaj7", "D7", "Em7", "F#m7b5", "B7", "E7", "A7", "C6", "G6")
MORE = 1.25  # the most that a further bar may cost in a long lesson, to one in a short lesson
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


def chart_of(bars: int) -> Chart:
    chance = random.Random(7)
    return Chart.parse("".join(f"| {chance.choice(CHORDS)} " for _ in range(bars)) + "|", key="G major")


@lru_cache
def lesson(bars: int) -> dict[str, Any]:
    """A lesson as `vampbook new` writes it, run; position given, since to look for one is no part of a pack."""
    return run_notebook(new_lesson(chart_of(bars), Choices("Long way round", position=3)), Path())


@lru_cache
def sizes(bars: int) -> dict[str, int]:
    files = pack_of(Lesson.of(lesson(bars)), paging=BRIEF).files
    # The track of a lesson is some minutes long whatever its chart.
    found = {name: len(data) for name, data in files.items() if not name.startswith("backing")}
    return found | {"notebook": len(Lesson.of(lesson(bars)).text)}


@pytest.mark.parametrize("name", ["lesson.html", "handout.pdf", "lesson.mid", "lesson.musicxml", "notebook"])
def test_each_file_grows_with_the_length(name: str) -> None:
    few, some, many = (sizes(bars)[name] for bars in (8, 16, 32))
    assert few < some < many
    assert (many - some) / 16 < MORE * (some - few) / 8


@lru_cache(maxsize=1)
def page_of_32_bars() -> str:
    return lesson_page(lesson(32))


def test_an_ordinary_page_can_be_sent_by_mail() -> None:
    page = page_of_32_bars()
    # 64 bars of eighths and the lesson's other lines, engraved for three widths: 2.6 MB; and their sounds, as long as
    # the slowest tempo asks, in base64: 2.7 MB. Mail makes 8 MB of 6; services take 10 (common practice, no source).
    sounds = max(re.findall(r'"bank":\s*"([^"]*)"', page), key=len)
    assert 1_000_000 < len(sounds) < 3_000_000
    assert len(page.encode()) - len(sounds) < 3_000_000
    assert page.count("<use ") > 500
    heads = re.findall(r'id="f\d+-desk-E0A4"', page)  # the shape of a note head: once a line, for all its systems
    assert 1 <= len(heads) == len(set(heads))


@pytest.mark.skipif(not EXPLORE, reason="a minute; VAMPBOOK_EXPLORE=1 asks for it")
@pytest.mark.parametrize("bars", [400, 1000])
def test_very_long_charts_build(bars: int) -> None:
    found, some, few = (sizes(count)["lesson.html"] for count in (bars, 32, 16))
    assert (found - some) / (bars - 32) < MORE * (some - few) / 16
    if bars == 400:
        assert found + 3_000_000 < 20_000_000  # with room for its sounds


def test_every_bar_stands_once_in_each_score_of_the_page() -> None:
    page = page_of_32_bars()
    figures = [one.partition("</figure>")[0] for one in page.split('<figure class="music"')[1:]]
    drill = max(figures, key=lambda one: one.count('class="measure"') + one.count('class="note"'))
    scores = re.split(r'<div class="score" data-width="(\w+)"', drill)[1:]
    assert scores[::2] == ["large", "phone", "desk"]
    for each in scores[1::2]:
        assert each.count('class="measure"') == 65  # twice through the changes, and where it lands
        notes = re.findall(r'id="f\d+-\w+-(t\d+)"', each)
        assert notes == [f"t{index}" for index in range(64 * 8 + 1)]
    names = re.findall(r'\sid="([^"]+)"', page)
    assert len(names) == len(set(names))
    assert set(re.findall(r'xlink:href="#([^"]+)"', page)) <= set(names)


def joined_across_systems() -> Line:
    """Twelve bars, each joined to the next by a pull-off, with slides and vibrato inside."""
    notes = []
    for start in range(0, 48, 4):
        notes += [note("D4", str(start), "1", 3, 7, *([mark("pull")] if start else [])),
                  note("E4", str(start + 1), "1", 3, 9, mark("slide")),
                  note("F4", str(start + 2), "1", 3, 10, mark("vibrato", "40")),
                  note("E4", str(start + 3), "1", 3, 9, mark("pull"))]
    return finger(Line(tuple(notes), Chart.parse("| Dm7 |")))


def measures(svg: str) -> list[ElementTree.Element]:
    return [node for node in ElementTree.fromstring(svg).iter(f"{SVG}g") if node.get("class") == "measure"]


@pytest.mark.parametrize("together", [False, True])
def test_a_slice_holds_its_own_system_and_all_that_is_drawn_in_it(together: bool) -> None:
    picture = score(joined_across_systems())
    parts = [svg for svg, _ in slices(picture.svg, picture.cuts, together=together)]
    assert len(parts) == len(picture.cuts) + 1 > 1
    whole = ElementTree.fromstring(picture.svg)
    kinds = ("note", "measure", "overlay")
    for kind in kinds:
        count = sum(node.get("class") == kind for node in whole.iter())
        assert sum(node.get("class") == kind for svg in parts for node in ElementTree.fromstring(svg).iter()) == count
    words = sorted("".join(node.itertext()) for node in whole.iter(f"{SVG}text"))
    assert sorted("".join(node.itertext()) for svg in parts for node in ElementTree.fromstring(svg).iter(f"{SVG}text")
                  ) == words
    for number, svg in enumerate(parts):
        root = ElementTree.fromstring(svg)
        used = {node.attrib["{http://www.w3.org/1999/xlink}href"][1:] for node in root.iter(f"{SVG}use")}
        shapes = {shape.get("id") for defs in root.iter(f"{SVG}defs") for shape in defs}
        assert (shapes == used) if not together else (shapes >= used) if not number else not shapes


def test_an_engraving_of_an_earlier_version_is_sliced_too() -> None:
    """It names its root in its styles and lays all its marks over the whole."""
    old = ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 20" id="abc"><style>#abc path {stroke:red}</style>'
           '<g class="page-margin"><g class="system" id="x"><path d="M0 0"/></g><g class="system" id="y"/>'
           '<g class="overlay" id="z"/></g></svg>')
    one, two = (svg for svg, _ in slices(old, [10], together=True))
    assert ".abc path {stroke:red}" in one
    assert 'class="abc"' in two
    assert "<style>" not in two
    assert ('id="x"' in one, 'id="y"' in one, 'id="x"' in two, 'id="y"' in two) == (True, False, False, True)
    assert one.count('id="z"') + two.count('id="z"') == 1
    assert one.count('"overlay"') == two.count('"overlay"') == 1


def test_a_score_longer_than_a_page_of_the_engraver_looks_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    line = arpeggio("key: G major\n" + "| Gmaj7 | Em7 | Am7 | D7 |\n" * 10)
    whole = score(line)
    monkeypatch.setattr(engrave, "PAGE_UNITS", 1300)
    stacked = score(line)
    assert stacked.svg != whole.svg
    moved = [node.get("transform") for node in ElementTree.fromstring(stacked.svg).iter(f"{SVG}g")
             if node.get("class") == "system"]
    assert len(set(moved) - {None}) > 1
    assert len(stacked.cuts) == len(whole.cuts)
    assert [len(measures(svg)) for svg, _ in slices(stacked.svg, stacked.cuts)] == [
        len(measures(svg)) for svg, _ in slices(whole.svg, whole.cuts)]
    steps = [two - one for one, two in pairwise(stacked.cuts)]
    before = [two - one for one, two in pairwise(whole.cuts)]
    # Half a system's gap up or down where pages meet; elsewhere nothing.
    assert all(abs(one - two) < 60 for one, two in zip(steps, before, strict=True))
    xs = re.compile(r'<text x="(\d+)"')
    assert xs.findall(stacked.svg) == xs.findall(whole.svg)


def page_of(height: int, *systems: str) -> ElementTree.Element:
    return ElementTree.fromstring(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 700 {height}" id="p"><svg class="definition-scale">'
        '<g class="page-margin" transform="translate(320, 750)">'
        + "".join(f'<g class="system" id="{name}"><path d="M0 0"/></g>' for name in systems) + "</g></svg></svg>")


def test_where_the_pages_of_a_score_meet() -> None:
    """Margins of 75 above and 40 below stand once around the whole; 54 between systems where pages meet, too.

    Pages of 300, 240 and 200 units end with their music at 260, 200 and 160 and begin it at 75. So the second begins at
    260 + 54 = 314, 239 lower than on its own page; its music ends at 439, the third begins at 493, 418 lower. A tenth
    of a unit is the measure within a system.
    """
    pages = [page_of(300, "a"), page_of(240, "b", "c"), page_of(200, "d")]
    root, _, width, height = stacking.stacked(pages, bottom=40, top=75, gap=54)
    moved = {node.get("id"): node.get("transform") for node in root.iter(f"{SVG}g") if node.get("class") == "system"}
    assert moved == {"a": None, "b": "translate(0 2390)", "c": "translate(0 2390)", "d": "translate(0 4180)"}
    assert (width, height) == (700, 418 + 200)
    assert root.get("viewBox") == "0 0 700 618"


def test_lengths_beyond_a_million_are_written_plainly() -> None:
    svg = ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1800 1234567.5"><g class="system"/>'
           '<g class="system"/></svg>')
    for part, _ in slices(svg, [1000000.25]):
        assert "e+" not in part
    assert 'viewBox="0 1000000.25 1800 234567.25"' in part


def test_a_long_figure_may_hold_much_but_not_draw_much_again() -> None:
    """A score of a thousand bars has more elements than one drawing may draw; a bomb has few and draws many."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 20">'
    system = '<g class="system">' + "<path/>" * (MOST_DRAWN // 2) + "</g>"
    assert len(slices(f"{head}{system * 2}</svg>", [10])) == 2
    bomb = ('<defs><g id="a">' + "<path/>" * 1000 + '</g></defs><g class="system">' + '<use href="#a"/>' * 300
            + '</g><g class="system"/>')
    with pytest.raises(HandoutError, match="a figure draws"):
        slices(f"{head}{bomb}</svg>", [10])


def as_output(picture: Picture) -> dict[str, Any]:
    data, about = picture._repr_mimebundle_()
    return {"output_type": "display_data", "data": data, "metadata": about}


def test_a_large_picture_is_stored_once_and_shown_as_before() -> None:
    ground = ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10">'
              "<desc>50 % of #1 &amp; '♯' \"x\"?</desc>{}</svg>")
    large = Picture(ground.format("<path/>" * (ONE_COPY // 7)), "A 'large' one", cuts=(5.0,))
    small = Picture(ground.format("<path/>"), "A small one")
    assert SVG_MIME in as_output(small)["data"]
    output = as_output(large)
    assert SVG_MIME not in output["data"]
    assert stored_svg(output) == large.svg
    assert len(output["data"]["text/html"]) < 1.1 * len(large.svg)
    book = {"cells": [{"cell_type": "code", "source": "1", "outputs": [output]}], "metadata": {}}
    (block,) = tree_of(book)["blocks"]
    assert (block["svg"], block["alt"], block["cuts"]) == (large.svg, large.alt, [5.0])


def test_an_image_of_someone_else_is_no_drawing() -> None:
    output = as_output(Picture("<svg/>" + " " * ONE_COPY, "x")) | {"metadata": {}}
    assert stored_svg(output) == ""


def test_a_long_chart_may_break_between_its_rows() -> None:
    assert chart_picture(chart_of(48)).cuts == ()
    picture = chart_picture(chart_of(200))
    assert len(picture.cuts) == 49
    for svg, _ in slices(picture.svg, picture.cuts):
        low, high = (float(part) for part in re.search(r'viewBox="0 ([\d.]+) 760 ([\d.]+)"', svg).groups())  # type: ignore[union-attr]
        heights = [float(y) for y in re.findall(r'<text [^>]*y="([\d.]+)"', svg)]
        assert heights
        assert all(low < y < low + high for y in heights)


def test_the_same_line_gives_the_same_bytes_through_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engrave, "PAGE_UNITS", 1300)
    one = score(INVENTED["sixteenths"])
    score(INVENTED["eighths"])
    assert score(INVENTED["sixteenths"]) == one
    assert unescape(one.svg).count("<defs>") == 1
