"""How pages are planned: nothing lost, glued rows together, full pages, no drill broken that fits; then our lessons."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.pages import pages_of

from workbook.handouts.look import LARGE, NORMAL, PAPERS, Look
from workbook.handouts.page_plan import PlannedPage, Row, planned
from workbook.handouts.pdf import handout_pdf

LESSONS = sorted((Path(__file__).resolve().parents[2] / "lessons").glob("*.ipynb"))
ROWS = st.builds(Row, height=st.floats(2, 90), least=st.floats(0, 3), most=st.floats(3, 14),
                 elastic=st.floats(0, 12), taller=st.floats(0, 60), glued=st.booleans(), drill=st.integers(0, 3),
                 opens_badly=st.booleans())


def height_of(rows: list[Row], page: PlannedPage) -> float:
    roomy = zip(rows[page.first:page.end], page.roomy, strict=True)
    taller = sum(row.taller for row, is_roomy in roomy if is_roomy)
    return sum(row.height for row in rows[page.first:page.end]) + sum(page.gaps) + sum(page.grown) + taller


@given(st.lists(ROWS, min_size=1, max_size=30))
@settings(max_examples=60)
def test_every_row_stands_once_and_no_page_overflows(rows: list[Row]) -> None:
    pages = planned(rows, 260)
    assert [index for page in pages for index in range(page.first, page.end)] == list(range(len(rows)))
    for page in pages:
        assert height_of(rows, page) <= 260
        inside = rows[page.first + 1:page.end]
        for row, gap in zip(inside, page.gaps[1:], strict=True):
            assert row.least - 0.01 <= gap <= row.most + 0.01
        for row, more in zip(rows[page.first:page.end], page.grown, strict=True):
            assert -0.01 <= more <= row.elastic + 0.01


def test_a_heading_goes_with_what_follows_it() -> None:
    rows = [Row(200), Row(10, 5, 10), Row(80, 2, 4, glued=True), Row(100, 5, 10)]
    assert [(page.first, page.end) for page in planned(rows, 260)] == [(0, 1), (1, 4)]


def test_a_drill_that_fits_a_page_is_not_broken() -> None:
    rows = [Row(200), *(Row(50, 3, 10, drill=1) for _ in range(4)), Row(200, 3, 10)]
    assert [(page.first, page.end) for page in planned(rows, 260)] == [(0, 1), (1, 5), (5, 6)]


def test_a_short_page_is_filled_by_its_tables_and_charts() -> None:
    (first, _) = planned([Row(150, elastic=20), Row(60, 2, 10), Row(200, 2, 10)], 260)
    assert first.end == 2
    assert first.grown == (20, 0)
    assert first.reach == pytest.approx(240 / 260)
    (full,) = planned([Row(150, elastic=20), Row(108, 0.5, 10)], 260)
    assert sum(full.grown) < 1, "no higher than the page"


def test_a_short_page_sets_a_list_in_one_column() -> None:
    """Of the rows that can be set taller as few as keep the gaps from being wide; none on a page that is full."""
    rows = [Row(100), Row(40, 2, 6, taller=50), Row(40, 2, 6, taller=20), Row(200, 2, 10)]
    (short, _) = planned(rows, 260)
    assert short.roomy == (False, True, True)
    assert height_of(rows, short) == pytest.approx(260, abs=3)
    (other, _) = planned([Row(160), *rows[2:]], 260)
    assert other.roomy == (False, True)
    (full, _) = planned([Row(170), Row(84, 2, 8, taller=5), Row(200, 2, 10)], 260)
    assert full.roomy == (False, False)
    (wide, _) = planned([Row(200), Row(40, 2, 20, taller=12), Row(200, 2, 10)], 260)
    assert wide.roomy == (False, True), "rather than gaps near their most"
    (without_room, _) = planned([Row(200), Row(40, 2, 3, taller=30), Row(200, 2, 10)], 260)
    assert without_room.roomy == (False, False), "which would not fit the page"
    (last,) = planned(rows[:2], 260)
    assert last.roomy == (False, False), "the last page may end early"


def test_the_list_after_its_words_opens_no_page() -> None:
    for is_led, ends in ((True, 1), (False, 2)):
        rows = [Row(234), Row(24, 2, 10), Row(28, 1, 3, opens_badly=is_led), Row(200, 2, 10)]
        assert planned(rows, 262)[0].end == ends


def test_a_page_under_88_per_cent_costs_a_broken_drill() -> None:
    drill = [Row(25, 3, 5, drill=1) for _ in range(4)]
    assert planned([Row(200), *drill, Row(100, 3, 10)], 260)[0].end == 3, "two systems before, two after"
    assert planned([Row(230), *drill, Row(100, 3, 10)], 260)[0].end == 1, "not where the page is full without"


def test_two_systems_stay_together_over_a_page_of_three_quarters() -> None:
    """But not over an emptier one, nor is a drill of four broken for a page of 88 per cent."""
    two = [Row(50, 2, 2, drill=1) for _ in range(2)]
    assert [planned([Row(first), *two], 260)[0].end for first in (195, 190)] == [1, 2]
    four = [Row(15, 1, 1, drill=1) for _ in range(4)]
    for first, end in ((226, 3), (229.5, 1)):
        assert planned([Row(first), *four, Row(180, 1, 50), Row(200, 2, 10)], 260)[0].end == end


def test_tables_and_charts_grow_by_their_lines() -> None:
    """A row of a table gets its share above and below; a chart is drawn anew, so much higher."""
    from workbook.draw.chart import chart_picture
    from workbook.handouts.air import most_air
    from workbook.handouts.printed_figures import printed_figure
    from workbook.handouts.rows import Column, Laid

    chart = "| Am7 | D9 |\n| Gmaj7 | % | C | G |\n"
    drawn = chart_picture(chart)
    figure = {"t": "figure", "score": "", "chart": chart, "svg": drawn.svg, "caption": "", "alt": drawn.alt}
    (part,) = printed_figure(figure, NORMAL)["parts"]
    table = {"t": "table", "head": [[]], "rows": [[[]], [[]], [[]]]}
    row = Laid((Column(85, (part,)), Column(85, (table,))), "table", Row(60, elastic=20))
    (one, two) = (column["c"][0] for column in row.content(2.0, 12.0, False, NORMAL)["cols"])
    assert one["h"] == pytest.approx(part["h"] + 12, abs=0.1)
    assert one["data"] != part["data"]
    assert two["air"] * 2 * 3 == pytest.approx(12)
    assert row.content(2.0, 0.0, False, NORMAL)["cols"][0]["c"][0] == part
    long = {**table, "rows": table["rows"] * 10}
    assert most_air([table, part]) > most_air([table]) > most_air([long]) == 0, "a long table may be broken"


def test_a_long_text_flows_over_pages() -> None:
    pages = planned([Row(30), Row(700, 3, 5, flows=True), Row(40, 3, 5)], 260)
    assert [(page.first, page.end) for page in pages][-1][1] == 3


def test_a_page_break_of_the_authors_is_kept() -> None:
    pages = planned([Row(30), Row(30, 2, 9, new_page=True)], 260)
    assert [(page.first, page.end) for page in pages] == [(0, 1), (1, 2)]


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no poppler on this machine")
@pytest.mark.parametrize(("paper", "large"), [("a4", False), ("letter", True)])
def test_pages_of_our_lessons_are_full(paper: str, large: bool) -> None:
    """Poppler draws them: all pages but the last of each reach far down."""
    sheet = PAPERS[paper]
    found = []
    for path in LESSONS[::3]:
        pages = pages_of(handout_pdf(path, paper=paper, large_print=large), sheet.top, sheet.bottom)
        assert 2 <= len(pages) <= (24 if large else 11), path.stem
        assert pages[-1].reach > 0.1
        found += [page.reach for page in pages[:-1]]
    assert min(found) > 0.6
    assert sum(found) / len(found) > 0.94
    assert sum(one < 0.88 for one in found) <= len(found) / 8


def test_what_is_read_on_a_stand_is_large_enough() -> None:
    """Digits, fingers and degrees are 2.5 mm high and more (sizes in the drawings times their scale on paper)."""
    from workbook.draw.engrave import DIGIT, FINGER
    from workbook.draw.neck_svg import LETTER
    from workbook.fonts import CAP_HEIGHT

    for look in (NORMAL, LARGE):
        assert LETTER * CAP_HEIGHT * look.neck * min(look.neck_shares) >= 2.48
        assert min(DIGIT, FINGER) / 100 * CAP_HEIGHT * look.music >= 2.48
    assert LARGE.music >= 1.5 * NORMAL.music


def test_no_word_for_the_teacher_stands_in_print() -> None:
    """What a student takes home says nothing of cells, code, kernels or running again."""
    from workbook.handouts.printing import texts_of
    from workbook.handouts.tree import tree_of

    teachers = re.compile(r"\b(cells?|kernel|notebook|run (it|the|this) again|refresh|code)\b", re.IGNORECASE)
    for path in LESSONS:
        said = [text for block in tree_of(path)["blocks"] if block["t"] != "figure" for text in texts_of([block])]
        assert [text for text in said if teachers.search(text)] == [], path.stem
    assert teachers.search("Change a line and run the cell again.")


def test_a_table_is_set_higher_by_its_air() -> None:
    """As Typst measures it: the head keeps its height, each row has more above and below."""
    from workbook.fonts.scripts import families
    from workbook.handouts.air import with_air
    from workbook.handouts.pdf import _Sheet

    words = [{"t": "text", "text": "Am7"}]
    table = {"t": "table", "head": [words], "rows": [[words], [words]]}
    sheet = _Sheet("T", "en", PAPERS["a4"], NORMAL)
    asked = [((one,), 85.0) for one in (table, with_air(table, 6.0, NORMAL))]
    low, high = sheet._measured(asked, families(["Am7"], "en"))
    assert high - low == pytest.approx(6.0, abs=0.05)


@pytest.mark.parametrize(("long", "glued"), [(10.0, True), (40.0, False)])
def test_words_of_a_line_or_two_lead_to_a_figure_on_their_page(long: float, glued: bool) -> None:
    from workbook.handouts.rows import laid_out

    heights = {"heading": 6.0, "paragraph": long, "part": 50.0, "space": 4.6}
    words = {"t": "paragraph", "c": []}
    heads = [{"t": "heading", "level": 2, "c": []} for _ in range(2)]
    figure = {"t": "figure", "kind": "chart", "parts": [{"t": "part", "w": 178.0, "h": 50.0}]}
    rows = laid_out([heads[0], words, heads[1], words, figure], NORMAL,
                    lambda blocks, width: sum(heights[block["t"]] for block in blocks), 267.0)
    assert [len(row.columns) for row in rows] == [2, 1]
    assert rows[1].row.glued is glued
    assert rows[1].row.opens_badly
    (apart,) = rows[0].roomy
    assert [block["t"] for block in apart.blocks] == ["heading", "paragraph", "space", "heading", "paragraph"]
    assert rows[0].row.taller == pytest.approx(6.0 + long + 4.6), "under each other, with a section's gap"


@pytest.mark.parametrize(("look", "lines", "glued"), [(NORMAL, 2, True), (NORMAL, 4, False), (LARGE, 1, True),
                                                      (LARGE, 2, False)])
def test_longer_words_may_lead_to_a_figure_on_the_next_page(look: Look, lines: int, glued: bool) -> None:
    """Lines 0.58 em apart: a system alone costs more than words at the foot of a page that lead over it."""
    from workbook.handouts.rows import laid_out

    line = 1.3 * look.text * 25.4 / 72
    heights = {"heading": 8.0, "paragraph": lines * line, "part": 80.0}
    figure = {"t": "figure", "kind": "score", "parts": [{"t": "part", "w": 178.0, "h": 80.0}]}
    blocks = [{"t": "heading", "level": 2, "c": []}, {"t": "paragraph", "c": []}, figure]
    head, words, music = (row.row for row in laid_out(
        blocks, look, lambda blocks, width: sum(heights[block["t"]] for block in blocks), 267.0))
    assert words.glued
    assert (music.glued, music.opens_badly) == (glued, True)
    assert not head.glued


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no poppler on this machine")
def test_a_necks_name_is_a_title_over_its_neck(tmp_path: Path) -> None:
    """Read from the page: in a row of its own not at the page's edge, in a column at the column's; its number is kept
    with the word before it."""
    from workbook.handouts.pdf import _Sheet
    from workbook.handouts.printed_figures import printed_figure

    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 200"><rect width="300" height="200"/></svg>'
    neck = {"t": "figure", "legend": {"at": 190.0}, "svg": svg, "alt": "A neck",
            "caption": "triad over Am7, position 5"}
    (part,) = printed_figure(neck, NORMAL)["parts"]
    assert part["caption"] == "Triad over Am7, position\N{NO-BREAK SPACE}5"
    title = {"t": "heading", "level": 1, "c": [{"t": "text", "text": "T"}]}
    rows = [{"cols": [{"w": 178, "c": [title]}], "gap": 0, "flows": False, "label": ""}]
    rows += [{"cols": [{"w": width, "c": [part]}] * count, "gap": 5, "flows": False, "label": ""}
             for width, count in ((178, 1), (85, 2))]
    path = tmp_path / "a.pdf"
    sheet = _Sheet("T", "en", PAPERS["a4"], NORMAL)
    path.write_bytes(sheet._set({"cover": None, "pages": [{"rows": rows}]}, ["Vampbook Sans"]))
    found = subprocess.run(["pdftotext", "-bbox", str(path), "-"], check=True, capture_output=True, text=True).stdout
    lefts = [float(left) * 25.4 / 72 for left in re.findall(r'xMin="([\d.]+)"[^>]*>Triad<', found)]
    alone = 16 + (178 - part["w"]) / 2
    assert lefts == pytest.approx([alone, 16, 16 + 85 + 8], abs=0.5)


def test_a_lessons_title_stays_with_what_follows_it() -> None:
    """In a course a lesson begins where there is room, its title never at the foot of a page."""
    from workbook.handouts.rows import laid_out

    title, head = ({"t": "heading", "level": level, "c": []} for level in (1, 2))
    for opening in ([title], [title, {"t": "meta", "c": []}]):
        rows = laid_out([*opening, head, {"t": "paragraph", "c": []}], NORMAL, lambda blocks, width: 6.0, 267.0)
        assert [row.row.glued for row in rows] == [False, True, True]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no poppler on this machine")
def test_the_map_of_a_course_is_set_closer_where_a_page_holds_it(tmp_path: Path) -> None:
    """Eight lessons in large print on Letter, which with the usual room leave the last to a second page."""
    from workbook.handouts.pdf import Chapter, course_pdf

    def tree(number: int) -> dict[str, Any]:
        words = [{"t": "text", "text": f"Evening {number}"}]
        blocks = [{"t": "heading", "level": 1, "c": words}, {"t": "paragraph", "c": words}]
        return {"title": f"Evening {number}", "about": {}, "blocks": blocks}

    chapters = [Chapter(f"part {number // 3}", tree(number), "30 minutes · two chords", (f"Evening {number - 1}",))
                for number in range(1, 9)]
    path = tmp_path / "course.pdf"
    path.write_bytes(course_pdf("Evenings", "A course.", chapters, paper="letter", large_print=True))
    first = subprocess.run(["pdftotext", "-l", "1", str(path), "-"], check=True, capture_output=True, text=True).stdout
    assert [f"Evening {number}" in first for number in range(1, 9)] == [True] * 8


def test_what_can_be_set_two_ways() -> None:
    """A list in two columns or one, a note of care beside its table or under it, a neck's name beside it or over it."""
    from workbook.handouts.rows import Laid, laid_out

    heights = {"list": 40.0, "table": 30.0, "care": 12.0, "label": 9.0, "space": 2.0}

    def height_of(blocks: Sequence[dict[str, Any]], width: float) -> float:
        return sum(70.0 if block["t"] == "part" and block["caption"] else 64.0 if block["t"] == "part" else
                   4.0 * len(block["items"]) if block["t"] == "list" else heights[block["t"]] for block in blocks)

    def two_ways(blocks: list[dict[str, Any]], look: Look) -> Laid:
        (row,) = laid_out(blocks, look, height_of, 267.0)
        return row

    table = {"t": "table", "head": [[], []], "rows": [[[], []]]}
    items = {"t": "list", "ordered": True, "items": [{"c": []} for _ in range(10)]}
    part = {"t": "part", "w": 110.0, "h": 64.0, "caption": "Dm, position 5"}
    neck = {"t": "figure", "kind": "neck", "parts": [part]}
    noted = [table, {"t": "care", "c": []}]
    for blocks, look, columns, more in (([items], NORMAL, 2, 20.0), (noted, NORMAL, 2, 14.0), ([neck], LARGE, 2, 6.0)):
        row = two_ways(blocks, look)
        assert (len(row.columns), len(row.roomy)) == (columns, 1)
        assert row.row.taller == pytest.approx(more)
        assert row.content(2.0, 0.0, True, look)["cols"][0]["w"] == 178.0
        assert len(row.content(2.0, 0.0, False, look)["cols"]) == columns
    beside = two_ways([neck], LARGE).columns
    assert [column.blocks[0].get("text", "none") for column in beside] == ["Dm, position 5", "none"]
    assert beside[1].blocks[0]["caption"] == ""
    wide = {**neck, "parts": [{**part, "w": 150.0}]}
    assert len(two_ways([wide], LARGE).columns) == 1, "no room for its name"


def test_no_item_of_a_long_list_stands_alone_and_care_stays_by_its_table() -> None:
    from workbook.handouts.rows import laid_out

    heights = {"table": 40.0, "care": 30.0, "paragraph": 30.0}

    def height_of(blocks: Sequence[dict[str, Any]], width: float) -> float:
        return sum(12.0 * len(block["items"]) if block["t"] == "list" else heights[block["t"]] for block in blocks)

    items = {"t": "list", "ordered": True, "items": [{"c": []} for _ in range(5)]}
    blocks = [{"t": "paragraph", "c": []}, items, {"t": "table", "head": [[]], "rows": [[[]]]}, {"t": "care", "c": []}]
    words, *listed, table, care = (row.row for row in laid_out(blocks, LARGE, height_of, 267.0))
    assert [row.glued for row in listed] == [False, True, False, False, True]
    assert [row.opens_badly for row in listed] == [True, False, False, False, False]
    assert [row.opens_badly for row in (words, table, care)] == [False, False, True]
    assert listed[1].least < care.least, "items stand closer than paragraphs"
    assert care.least == LARGE.inner > 0.58 * LARGE.text * 25.4 / 72, "further apart than lines (0.58 em)"


@pytest.mark.parametrize(("lead", "item", "glued"), [(12.0, 5.0, True), (12.0, 7.0, False), (30.0, 5.0, False)])
def test_a_list_stays_with_the_few_words_that_lead_to_it(lead: float, item: float, glued: bool) -> None:
    """The ten tasks for the ear under their heading: 50 mm in print; what is longer may begin a page."""
    from workbook.handouts.rows import laid_out

    def height_of(blocks: Sequence[dict[str, Any]], width: float) -> float:
        return sum(item * len(block["items"]) if block["t"] == "list" else lead for block in blocks)

    items = {"t": "list", "ordered": True, "items": [{"c": []} for _ in range(10)]}
    head = {"t": "heading", "level": 2, "c": []}
    rows = [row.row for row in laid_out([head, {"t": "paragraph", "c": []}, items], NORMAL, height_of, 267.0)]
    assert rows[-1].glued is glued
    assert rows[-1].opens_badly


def test_large_print_takes_the_size_of_necks_that_fills_its_pages() -> None:
    from workbook.handouts.printed_figures import with_necks

    part = {"t": "part", "w": 100.0, "h": 70.0}
    blocks = [{"t": "figure", "kind": kind, "parts": [part]} for kind in ("neck", "picture")] + [{"t": "table"}]
    small, other, table = with_necks(blocks, 0.94)
    assert small["parts"][0] == {"t": "part", "w": pytest.approx(94.0), "h": pytest.approx(65.8)}
    assert [other, table] == blocks[1:]
    assert with_necks(blocks, 1.0) == blocks
    assert NORMAL.neck_shares == (1.0,)
    assert min(LARGE.neck_shares) * LARGE.neck > 1.2 * NORMAL.neck, "large all the same"
