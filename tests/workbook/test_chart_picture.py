"""The chart as a picture: every written bar is there, symbols fit their bars, repeats and endings are drawn."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from itertools import combinations

import pytest

from workbook.draw.chart import chart_picture
from workbook.fonts import FONT_DIR, text_width

SVG = "{http://www.w3.org/2000/svg}"
CHARTS = {
    "two bars": "title: Slack water\nkey: G dorian\n| Gm7 | C9 |",
    "long": ("title: Long\nkey: Bb major\nfeel: swing\n"
             "[A] |: Bbm7b5 Eb7#9 | F#7b9#11/A# / Am7 / | % | C7alt |1. Fmaj7 D7b9 :|2. Fmaj7 ||\n"
             "[Bridge] |: Am7 D7 Gm7 C7 | N.C. :| x3\n| Fmaj7#11 | Bb13 | Am7 | Abdim7 |"),
    "waltz": "meter: 3/4\n| Am | E7 / Bm7 | Am |",
}


def texts(svg: str) -> list[tuple[str, float, float, float, float]]:
    found = []
    for node in ElementTree.fromstring(svg).iter(f"{SVG}text"):
        size, x, y = (float(node.get(name)) for name in ("font-size", "x", "y"))
        wide = text_width(node.text, size, bold=node.get("font-weight") == "bold")
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[node.get("text-anchor")]
        found.append((node.text, left, y - 0.74 * size, left + wide, y))
    return found


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("large", [False, True])
def test_symbols_do_not_touch_or_leave_the_picture(name: str, large: bool) -> None:
    svg = chart_picture(CHARTS[name], large_print=large).svg
    width, height = map(float, ElementTree.fromstring(svg).get("viewBox").split()[2:])
    for words, left, top, right, bottom in texts(svg):
        assert left >= 0, words
        assert right <= width, words
        assert top >= 0, words
        assert bottom <= height, words
    for one, two in combinations(texts(svg), 2):
        wide = min(one[3], two[3]) - max(one[1], two[1])
        high = min(one[4], two[4]) - max(one[2], two[2])
        assert wide <= 0.5 or high <= 0.5, (one[0], two[0])


def test_what_is_drawn() -> None:
    words = [row[0] for row in texts(chart_picture(CHARTS["long"]).svg)]
    for expected in ("A", "Bridge", "1.", "2.", "×3", "N.C.", "B♭", "/A♯", "Long", "B♭ major · 4/4 · ♩ = 100 · swing"):
        assert expected in words
    assert "end of repeat" in chart_picture(CHARTS["long"]).alt
    assert chart_picture(CHARTS["two bars"]).alt == (
        "Chord chart, 4/4, straight 8, 100 quarter notes a minute; bar 1 G minor seventh; bar 2 C ninth.")
    assert chart_picture(CHARTS["two bars"]) == chart_picture(CHARTS["two bars"])


def test_widths_are_the_fonts_own() -> None:
    """fontTools (MIT) reads the advances from the font files again."""
    import json

    from fontTools.ttLib import TTFont

    table = json.loads((FONT_DIR / "widths.json").read_text(encoding="utf-8"))
    for weight, name in (("regular", "VampbookSans-Regular.ttf"), ("bold", "VampbookSans-Bold.ttf")):
        font = TTFont(FONT_DIR / name)
        glyphs, advances = font.getBestCmap(), font["hmtx"].metrics
        for sign, width in table[weight].items():
            assert width == round(advances[glyphs[ord(sign)]][0] / font["head"].unitsPerEm * 1000)
        for sign in "♯♭Δø°♩·×–“”☐":
            assert sign in table[weight]
