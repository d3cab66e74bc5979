"""A teacher's own pictures and recordings in handout, page, pack, check and record; poppler reads the PDF back."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from support.photographs import OWNER, drawing, photograph, tone

from workbook.checking.usable import check_usable
from workbook.handouts.errors import HandoutError
from workbook.handouts.page import lesson_page
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.tracks import SILENT
from workbook.handouts.tree import tree_of
from workbook.lesson.lesson import Lesson
from workbook.library.library import build_library
from workbook.library.orders import How, Outcome, orders_for

ABOUT = {"title": "Thumb", "level": "beginner", "aims": ["hold"], "minutes": 10, "key": "A minor", "tempo": "90",
         "feel": "straight 8"}
HAND = "![The thumb rests on the middle of the neck](hand.jpg \"My own hand\")"


def md(text: str, *tags: str, **more: Any) -> dict[str, Any]:
    return {"cell_type": "markdown", "metadata": {"tags": list(tags)}, "source": text, **more}


def out(data: dict[str, Any], about: dict[str, Any]) -> dict[str, Any]:
    return {"cell_type": "code", "metadata": {}, "source": "1", "execution_count": 1,
            "outputs": [{"output_type": "display_data", "data": data, "metadata": about}]}


def lesson(folder: Path, *cells: dict[str, Any]) -> Lesson:
    """A saved lesson with a photograph, a drawing and a recording beside it."""
    (folder / "pics").mkdir(parents=True, exist_ok=True)
    (folder / "hand.jpg").write_bytes(photograph(800, 600, 6))
    (folder / "pics" / "neck.svg").write_text(drawing(), encoding="utf-8")
    (folder / "loop.wav").write_bytes(tone())
    path = folder / "thumb.ipynb"
    path.write_text(json.dumps({"cells": [md("# Thumb"), *cells], "metadata": {"vampbook": ABOUT}, "nbformat": 4,
                                "nbformat_minor": 4}), encoding="utf-8")
    return Lesson.read(path)


def texts(pdf: bytes, tmp_path: Path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    (tmp_path / "a.pdf").write_bytes(pdf)
    return subprocess.run(["pdftotext", "-layout", str(tmp_path / "a.pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout


def pictures_in(pdf: bytes, tmp_path: Path) -> list[tuple[int, int, str]]:
    """(width, height, form) of each picture in pixels that poppler finds."""
    if shutil.which("pdfimages") is None:
        pytest.skip("no pdfimages on this machine")
    (tmp_path / "a.pdf").write_bytes(pdf)
    rows = subprocess.run(["pdfimages", "-list", str(tmp_path / "a.pdf")], capture_output=True, text=True,
                          check=True).stdout.splitlines()[2:]
    return [(int(cells[3]), int(cells[4]), cells[8]) for cells in map(str.split, rows) if cells[2] == "image"]


def test_pictures_from_everywhere_stand_in_handout_and_page(tmp_path: Path) -> None:
    stored = base64.b64encode(photograph(400, 300)).decode()
    made = lesson(
        tmp_path, md(HAND), md("![Neck and thumb](pics/neck.svg)"), md("<img src='hand.jpg' alt='again' width='50%'>"),
        md("![pasted](attachment:image.png)", attachments={"image.png": {"image/jpeg": stored}}),
        out({"image/jpeg": stored, "text/plain": "<Image>"}, {"image/jpeg": {"alt": "an output", "width": 200}}),
        md(f"Among words ![small](hand.jpg) and ![stored](data:image/jpeg;base64,{stored})."))
    tree = tree_of(made)
    figures = [one for one in tree["blocks"] if one["t"] == "figure"]
    assert [one["alt"] for one in figures] == ["The thumb rests on the middle of the neck", "Neck and thumb", "again",
                                               "pasted", "an output"]
    assert [round(one["width_mm"]) for one in figures] == [90, 80, 85, 106, 53]  # 120 mm high; its own; half of 170 …
    assert figures[0]["caption"] == "My own hand"
    assert tree["files"] == ["hand.jpg", "pics/neck.svg"]
    pdf, page = handout_pdf(made, tree=tree), lesson_page(made, tree=tree)
    assert (pdf, page) == (handout_pdf(made), lesson_page(made))  # the same bytes each time
    assert OWNER.encode() not in pdf
    assert OWNER not in page
    assert OWNER.encode() not in b"".join(map(base64.b64decode, re.findall(r"base64,([\w+/=]+)", page)))
    assert page.count("<img ") == 6
    assert page.count("<circle") == 1
    assert "My own hand" in texts(pdf, tmp_path)
    found = pictures_in(pdf, tmp_path)
    assert len(found) == 6
    assert (600, 800, "jpeg") in found  # upright, and kept as the JPEG that it is


def test_a_picture_alone_is_a_figure_wherever_it_stands(tmp_path: Path) -> None:
    made = lesson(tmp_path, md(f"<details><summary>s</summary>\n\n{HAND}\n\n</details>\n\n> {HAND}\n\n- {HAND}"))
    details, note, listed = tree_of(made)["blocks"][1:]
    assert [details["c"][0]["t"], note["c"][0]["t"], listed["items"][0]["c"][0]["t"]] == ["figure"] * 3
    assert lesson_page(made).count("<figure ") == 3


def test_a_recording_plays_on_the_page_and_is_named_on_paper(tmp_path: Path) -> None:
    made = lesson(tmp_path, md("Hear [the loop, slowly](loop.wav) first."),
                  md("<audio controls src='loop.wav'></audio>"))
    page, words = lesson_page(made), texts(handout_pdf(made), tmp_path)
    assert len(re.findall(r"<audio controls [^>]*src=\"data:audio/wav;base64,", page)) == 2
    assert "media-src data:" in page
    assert "the loop, slowly (sound loop.wav, on the page to practise with)" in " ".join(words.split())
    assert OWNER.encode() not in b"".join(map(base64.b64decode, re.findall(r"base64,([\w+/=]+)", page)))


@pytest.mark.parametrize(("text", "said"), [
    ("![x](hnad.jpg)", "cell 2: hnad.jpg is not beside the lesson.*did you mean hand.jpg"),
    ("![x](../hand.jpg)", "cell 2: .*outside the lesson's folder"),
    ("![x](https://example.org/a.png)", "cell 2: an image in the text points outside"),
    ("![x](loop.wav)", "cell 2: loop.wav is a recording"), ("[x](none.mp3)", "cell 2: none.mp3 is not beside"),
    ("![x](attachment:none.png)", "cell 2: nothing of the name none.png is attached"),
    ("![x](bad.svg)", "cell 2: a figure holds <script>.*or the drawing saved as PNG"),
    ("![x](data:image/png;base64,AA==)", "cell 2: .*known here"),
])
def test_what_cannot_be_shown_is_refused_with_its_cell(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "bad.svg").write_text(drawing("<script>hit()</script>"), encoding="utf-8")
    with pytest.raises(HandoutError, match=said):
        tree_of(lesson(tmp_path, md(text)))


def test_an_element_that_brings_nothing_stays_as_typed_and_is_a_fault(tmp_path: Path) -> None:
    made = lesson(tmp_path, md("One <img src='hnad.jpg'> two"))
    assert "&lt;img src=&#x27;hnad.jpg&#x27;&gt;" in lesson_page(made)
    assert [(one.cell, one.note) for one in check_usable(made)] == [(2, False)]


def test_check_asks_for_words_and_names_what_does_not_come_out(tmp_path: Path) -> None:
    made = lesson(tmp_path, md("<img src='hand.jpg'>"), md("A <span style='color:red'>red</span> word, $\\oint x$."),
                  md("```mermaid\ngraph LR; a-->b\n```"), md("<iframe src='x'></iframe>"))
    found = {(one.cell, one.note): one.message for one in check_usable(made)}
    assert "alt text" in found[2, False]
    assert {cell for cell, note in found if note} == {3, 4, 5}
    stored = base64.b64encode(photograph(form="PNG")).decode()
    plain = lesson(tmp_path, md("![](hand.jpg)"), out({"image/png": stored}, {}))
    assert [(one.cell, "alt text" in one.message) for one in check_usable(plain)] == [(3, True), (2, True)]
    assert check_usable(lesson(tmp_path, md(HAND))) == []


def test_an_output_of_html_that_says_nothing_in_words_is_told(tmp_path: Path) -> None:
    made = lesson(tmp_path, out({"text/html": "<img src='https://example.org/a.png'>",
                                 "text/plain": "<IPython.core.display.HTML object>"}, {}),
                  out({"text/html": "<table></table>", "text/plain": "  a\n1 2"}, {}))
    assert [(one.cell, one.note) for one in check_usable(made)] == [(2, True)]


def test_a_picture_without_words_does_not_stop_a_build(tmp_path: Path) -> None:
    made = lesson(tmp_path, md("![](hand.jpg)"))
    assert tree_of(made)["blocks"][1]["alt"] == "a picture without a description (hand.jpg)"
    assert handout_pdf(made).startswith(b"%PDF")


# -- packs -----------------------------------------------------------------------------------------------------------
def built(path: Path, out_: Path, **options: Any) -> Outcome:
    how = How({"paper": "a4", "large_print": False, "sound": SILENT, **options}, run=False)
    return next(iter(build_library(orders_for([path], out_), how)))


def test_a_pack_is_due_when_its_picture_changes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "lessons"
    made = lesson(folder, md("![Neck and thumb](pics/neck.svg)"))
    assert built(made.path, tmp_path / "out").error == ""
    assert built(made.path, tmp_path / "out").unchanged
    (folder / "pics" / "other.svg").write_text("x", encoding="utf-8")  # that it does not show
    assert built(made.path, tmp_path / "out").unchanged
    before = (tmp_path / "out" / "thumb" / "lesson.html").read_bytes()
    (folder / "pics" / "neck.svg").write_text(drawing('<rect width="9" height="9"/>'), encoding="utf-8")
    again = built(made.path, tmp_path / "out")
    assert not again.unchanged
    assert (tmp_path / "out" / "thumb" / "lesson.html").read_bytes() != before
    os.remove(folder / "pics" / "neck.svg")
    assert "is not beside the lesson" in built(made.path, tmp_path / "out").error


def test_cells_for_the_teacher_are_in_their_own_handout_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    made = lesson(tmp_path / "lessons", md("For all."), md("Ask who looks at the hand.", "teacher"))
    assert set(built(made.path, tmp_path / "out").files) == {"handout.pdf", "lesson.html"}
    assert set(built(made.path, tmp_path / "out", teacher=True).files) == {"handout.pdf", "lesson.html", "teacher.pdf"}
    pack = tmp_path / "out" / "thumb"
    assert "Ask who" not in (pack / "lesson.html").read_text(encoding="utf-8")
    assert "Ask who" not in texts((pack / "handout.pdf").read_bytes(), tmp_path)
    for_teacher = texts((pack / "teacher.pdf").read_bytes(), tmp_path)
    assert "For the teacher" in for_teacher
    assert "Ask who" in for_teacher
    assert "For all." in for_teacher


def test_columns_stand_side_by_side(tmp_path: Path) -> None:
    made = lesson(tmp_path, md("First.", "column"), md("Second.", "column"), md("After."))
    assert [block["t"] for block in tree_of(made)["blocks"]] == ["heading", "columns", "paragraph"]
    lines = texts(handout_pdf(made), tmp_path).splitlines()
    assert any(re.search(r"First\.\s{2,}Second\.", line) for line in lines)
    assert re.search(r'<div class="columns"><div><p>First.</p></div><div><p>Second.</p></div></div>', lesson_page(made))
