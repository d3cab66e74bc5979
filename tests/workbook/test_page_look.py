"""Pages on screens: our faces within them, and colours of notes that are told apart in grey, light and dark.

Lightness by CIE 1976 (L*), contrast by WCAG 2.1.
"""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

import workbook
from workbook.draw.markers import MARKERS, contrast
from workbook.fonts.web import faces_css

ROOM = Path(workbook.__file__).parent
SHEETS = {"practice": ROOM / "handouts" / "practice_page" / "practice.css",
          "explorer": ROOM / "widgets" / "explorer" / "explorer.css"}
APART = 10.0  # L*: steps of grey that are seen at a glance
FIGURES = {"practice": "on-{}", "explorer": "{}-ink"}


def colours(sheet: str, role: str) -> list[str]:
    """The values of a colour in a sheet of style: light, then dark."""
    return re.findall(rf"--{role}: (#[0-9a-f]{{3,6}});", SHEETS[sheet].read_text(encoding="utf-8"))[:2]


def six(colour: str) -> str:
    return colour if len(colour) == 7 else "#" + "".join(digit * 2 for digit in colour[1:])


def lightness(colour: str) -> float:
    luminance = contrast(six(colour), "#000000") * 0.05 - 0.05
    return 116 * luminance ** (1 / 3) - 16


@pytest.mark.parametrize("sheet", SHEETS)
def test_third_and_seventh_are_told_apart_in_grey(sheet: str) -> None:
    for third, seventh in zip(colours(sheet, "third"), colours(sheet, "seventh"), strict=True):
        assert abs(lightness(third) - lightness(seventh)) > APART


@pytest.mark.parametrize("sheet", SHEETS)
def test_figures_in_signs_are_read(sheet: str) -> None:
    for role in ("root", "third", "fifth", "seventh", "tension"):
        for fill, ink in zip(colours(sheet, role), colours(sheet, FIGURES[sheet].format(role)), strict=True):
            assert contrast(six(fill), six(ink)) >= 4.5, (role, fill, ink)


def test_a_screen_by_day_has_the_colours_of_print() -> None:
    for sheet in SHEETS:
        for role in ("third", "fifth", "seventh", "tension"):
            assert six(colours(sheet, role)[0]) == MARKERS[role].fill


def test_faces_are_in_the_page_and_nothing_is_fetched() -> None:
    css = faces_css()
    fonts = re.findall(r"url\(data:font/woff2;base64,([^)]+)\)", css)
    assert css.count("@font-face") == css.count("url(") == len(fonts) == 5
    assert all(base64.b64decode(font)[:4] == b"wOF2" for font in fonts)
    assert len(css) < 200_000


def test_each_cut_stands_under_its_own_name() -> None:
    rules = re.findall(r"font-family: '([^']+)'; font-style: (\w+); font-weight: (\d+); src: url\(data:[^,]+,([^)]+)",
                       faces_css())
    for family, style, weight, font in rules:
        cut = "Italic" if style == "italic" else {"400": "Regular", "700": "Bold"}[weight]
        file = ROOM / "fonts" / "web" / f"{family.replace(' ', '')}-{cut}.woff2"
        assert base64.b64decode(font) == file.read_bytes()
    assert len(rules) == 5
