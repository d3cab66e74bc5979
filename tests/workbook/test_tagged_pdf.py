"""How a handout is tagged, as poppler reads it: the structure that PDF/UA-1 (ISO 14289-1) asks of a document.

Typst refuses what it sees missing; here the finished file is read by another's code: order and levels of headings, a
text for every figure, tables whose cells know their heads, lists with their bodies.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import zlib
from itertools import pairwise
from pathlib import Path

import pytest

from workbook.handouts.pdf import handout_pdf
from workbook.handouts.tree import plain_text, tree_of

LESSONS = sorted((Path(__file__).resolve().parents[2] / "lessons").glob("*.ipynb"))
_STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)
pytestmark = pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="no poppler on this machine")


def structure(path: Path) -> str:
    """A file's elements in reading order, a line each, with their attributes."""
    told = subprocess.run(["pdfinfo", "-struct", str(path)], capture_output=True, check=True).stdout
    return told.decode(errors="replace")


def tags(told: str) -> list[str]:
    return re.findall(r"^ *([A-Z][A-Za-z0-9]*)\b", told, re.MULTILINE)


def alt_texts(pdf: bytes) -> int:
    """How often a file gives a text for a figure, in its objects and in packed streams of them."""
    parts = [pdf]
    for packed in _STREAM.findall(pdf):
        try:
            parts.append(zlib.decompress(packed))
        except zlib.error:
            continue
    return sum(len(re.findall(rb"/Alt\s*[(<]", part)) for part in parts)


@pytest.fixture(scope="module", params=[(LESSONS[0], False), (LESSONS[-1], True)], ids=["normal", "large"])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, bytes, str]:
    """A lesson, its PDF and what poppler tells of it."""
    lesson, large = request.param
    path = tmp_path_factory.mktemp("pdf") / "a.pdf"
    path.write_bytes(handout_pdf(lesson, large_print=large))
    return lesson, path.read_bytes(), structure(path)


def test_headings_stand_in_the_lessons_order_and_skip_no_level(made: tuple[Path, bytes, str]) -> None:
    lesson, _, told = made
    levels = [int(tag[1]) for tag in tags(told) if re.fullmatch(r"H[1-6]", tag)]
    written = [block["level"] for block in tree_of(lesson)["blocks"]
               if block["t"] == "heading" and plain_text(block["c"]).strip()]
    assert levels == written
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(two <= one + 1 for one, two in pairwise(levels))


def test_every_figure_says_what_it_shows(made: tuple[Path, bytes, str]) -> None:
    _, pdf, told = made
    figures = tags(told).count("Figure")
    assert figures >= 8
    assert alt_texts(pdf) >= figures


def test_cells_of_tables_know_their_heads_and_items_their_bodies(made: tuple[Path, bytes, str]) -> None:
    _, _, told = made
    found = tags(told)
    assert told.count("/Scope /Column") == found.count("TH") >= 3
    assert len(re.findall(r"/Headers \[\(", told)) == found.count("TD") > 0
    assert found.count("LI") == found.count("LBody") > 0
    assert told.startswith("Document"), "one document holds all"
