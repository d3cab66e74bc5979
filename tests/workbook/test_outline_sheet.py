"""The outline sheet: a box for each bar, every word in its column, the ending on its beat."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from math import inf

import pytest
from support.boxes import text_boxes

from theorylib import Chart
from theorylib.practice.outline import LIMITS, outline, read_outline
from workbook.draw.outline_sheet import LEFT, beginning_words, ending_words, outline_picture
from workbook.kit import OUTLINE_MIME, outline_sheet

CHARTS = {
    "blues": "title: Gravel\nkey: A major\n| A7 | D7 | A7 | % | D7 | % | A7 | % | E7 | D7 | A7 | E7alt |",
    "two chords": "title: Two\n| Gm7 | C9 |",
    "full bars": "title: Full\n| Gm7 C9 | Ab13sus4/Eb F#m7b5 |",
    "eight": "title: Eight\nmeter: 3/4\n| Dm | Gm | C7 | F | Bb | Em7b5 | A7alt | Dm |",
}


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_bar_has_its_box_and_nothing_collides(name: str, seed: int) -> None:
    plan = outline(Chart.parse(CHARTS[name]), 1, seed=seed)
    picture = outline_picture(plan)
    root = ElementTree.fromstring(picture.svg)
    boxes = [node for node in root.iter("{http://www.w3.org/2000/svg}rect") if node.get("fill") == "none"]
    assert len(boxes) == plan.bars
    texts = text_boxes(picture.svg)
    for index, one in enumerate(texts):
        assert one.right <= 760
        for two in texts[index + 1:]:
            assert not one.overlaps(two, 0.5), (one.text, two.text)
    for phrase in plan.phrases:
        limit = next(one for one in texts if one.text == phrase.limit)
        assert limit.right < LEFT
    assert float(root.get("height", "0")) / 760 * 180 < 230, "one page of A4 with its heading"
    assert ending_words(plan) in picture.alt
    assert beginning_words(plan).rstrip(".") in picture.alt
    rings = [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="10.0"', picture.svg)]
    assert len(rings) == 2
    for one in texts:
        if one.text in LIMITS.values():
            assert not any(one.left - 11 < x < one.right and one.top - 9 < y < one.bottom + 9 for x, y in rings), one


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("seed", [1, 2])
def test_in_large_print_words_stand_over_the_boxes(name: str, seed: int) -> None:
    """Every text 1.36 times as large and more, nothing beyond the edge or over another word, the same said."""
    plan = outline(Chart.parse(CHARTS[name]), 1, seed=seed)
    usual, large = outline_picture(plan), outline_picture(plan, large_print=True)
    assert large.alt == usual.alt
    assert len(large.cuts) == len(usual.cuts)
    texts = text_boxes(large.svg)
    for index, one in enumerate(texts):
        assert one.right <= 760
        for two in texts[index + 1:]:
            assert not one.overlaps(two, 0.5), (one.text, two.text)
    small, big = (_sizes(one.svg) for one in (usual, large))
    assert small.keys() == big.keys()
    assert [words for words in small if big[words] < 1.36 * small[words]] == []
    limits = [one for one in texts if one.text in {phrase.limit for phrase in plan.phrases}]
    rects = re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="68.0" fill="none"', large.svg)
    assert len(limits) == len(plan.phrases)
    assert len(rects) == plan.bars
    assert float(rects[0][0]) < 20, "the boxes begin at the margin"
    assert limits[0].bottom < float(rects[0][1])


def _sizes(svg: str) -> dict[str, float]:
    """The least type size of each text that is drawn."""
    found: dict[str, float] = {}
    for node in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        sizes = [float(part.get("font-size", "inf")) for part in node.iter()]
        words = "".join(node.itertext())
        found[words] = min([*sizes, found.get(words, inf)])
    return found


def test_a_handout_in_large_print_has_a_large_outline() -> None:
    """Drawn anew over the chart that stands before it; over another chart the stored sheet is kept."""
    from workbook.handouts.look import LARGE, NORMAL
    from workbook.handouts.printed_figures import printed_figure

    chart, other = (Chart.parse(CHARTS[name]) for name in ("two chords", "eight"))
    sheet = outline_sheet(outline(chart, bars=16), chart)
    block = {"t": "figure", "outline": sheet.extra[OUTLINE_MIME], "over": chart, "svg": sheet.svg, "alt": sheet.alt,
             "caption": "", "cuts": list(sheet.cuts), "width_mm": sheet.width_mm}
    kept = [printed_figure({**block, **more}, LARGE)["parts"] for more in ({"over": other}, {"over": ""})]
    kept.append(printed_figure(block, NORMAL)["parts"])
    assert len({str([part["data"] for part in parts]) for parts in kept}) == 1
    anew = printed_figure(block, LARGE)["parts"]
    assert [part["alt"] for part in anew] == [part["alt"] for part in kept[0]]
    assert all(more["h"] > 1.3 * less["h"] for more, less in zip(anew, kept[0], strict=True))


def test_the_ring_stands_on_the_beat_of_the_ending() -> None:
    plan = read_outline("bars 1-8: free; low; sparse\nending: 1 on beat 3 of bar 8", Chart.parse(CHARTS["full bars"]))
    svg = outline_picture(plan).svg
    ring = re.search(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="10.0"', svg)
    assert ring is not None
    rects = re.findall(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="50.0" fill="none"', svg)
    x, y, width = map(float, rects[-1])
    assert float(ring[2]) == pytest.approx(y + 50)
    assert x + width / 2 < float(ring[1]) < x + width / 2 + 20


def test_the_text_can_be_edited() -> None:
    chart = Chart.parse(CHARTS["two chords"])
    text = str(outline(chart, bars=16)).replace("free", "bends")
    sheet = outline_sheet(text, chart)
    assert sheet.extra[OUTLINE_MIME] == text
    assert "bends" in sheet.svg


def test_a_beat_is_counted_as_the_foot_taps_it() -> None:
    """In 12/8 the seventh eighth is beat 3; the eighth after it is no beat."""
    chart = Chart.parse("| Gm | D7 |", meter="12/8")
    for beat, said in (("1", "beat 1"), ("7", "beat 3"), ("8", "eighth 8")):
        plan = read_outline(f"bars 1-2: free; low; sparse\nending: 1 on beat {beat} of bar 1", chart)
        assert ending_words(plan) == f"Land on the 1 of Gm, G, on {said} of bar 1, and let it ring."
