"""Handouts: what a notebook says comes out, nothing else does, and the PDF is tagged.

PDF/UA-1 (ISO 14289-1) is enforced by Typst; poppler's pdfinfo and pdftotext, where the machine has them, read it back.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from workbook.draw.neck import plot_neck
from workbook.draw.score import score
from workbook.handouts.page import lesson_page
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.tree import HandoutError, slices, tree_of

PLANTED = "#panic() $x$ *b* <script>alert(1)</script> \\ & ‘q’ [a](javascript:alert(1)) #set page(fill: red)"


def md(text: str, *tags: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "metadata": {"tags": list(tags)}, "source": text}


def code(*outputs: dict[str, Any], source: str = "1 + 1", tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"cell_type": "code", "metadata": {"tags": list(tags)}, "source": source, "outputs": list(outputs)}


def shown(picture: Any) -> dict[str, Any]:
    data, about = picture._repr_mimebundle_()
    return {"output_type": "execute_result", "data": data, "metadata": about}


def book(*cells: dict[str, Any], **about: Any) -> dict[str, Any]:
    return {"cells": list(cells), "metadata": {"vampbook": about}, "nbformat": 4, "nbformat_minor": 5}


NECK = plot_neck("G dorian", over="Gm7", position=3)
LESSON = book(
    md("# A lesson\n\nWords with **weight**, ♯ ♭ ♮ Δ ø °."), code(shown(NECK)),
    md("## Next\n\n- [ ] tick me\n- [x] done"),
    md("| A | B |\n|---|---|\n| 1 | **2** |"), md("> **Care** Rest.\n\n> A note."), title="A lesson")


def text_of(pdf: bytes, tmp_path: Path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    (tmp_path / "a.pdf").write_bytes(pdf)
    return subprocess.run(["pdftotext", "-layout", str(tmp_path / "a.pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout


class Reader(HTMLParser):
    """Tags, attributes and text of a page; fails on tags that do not match."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.words = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href", "data", "action")]
        assert not any(name.startswith("on") for name, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.words += data


def test_markup_in_a_lesson_is_text_in_the_pdf(tmp_path: Path) -> None:
    text = text_of(handout_pdf(book(md(f"# T\n\n{PLANTED}"))), tmp_path)
    assert "#panic() x" in text  # what stands between dollars is a formula, as in Lab
    assert "<script>alert(1)</script>" in text
    assert "#set page(fill: red)" in text


def test_markup_in_a_lesson_is_text_in_the_page() -> None:
    page = Reader(lesson_page(book(md(f"# T\n\n{PLANTED}"))))
    assert "script" not in page.tags
    assert "<script>alert(1)</script>" in page.words
    assert not any(link.startswith("javascript") for link in page.links)


def test_the_page_needs_nothing_from_outside() -> None:
    page = Reader(lesson_page(LESSON))
    assert all(link.startswith(("#", "data:")) for link in page.links)
    assert "script" not in page.tags
    assert "tick me" in page.words
    assert page.tags.count("input") == 2
    assert page.tags.count("th") == 2


def test_ids_stay_unique_when_a_figure_stands_twice() -> None:
    from support.music import INVENTED

    drill = shown(score(INVENTED["eighths"]))
    page = Reader(lesson_page(book(md("# T"), code(drill), code(drill))))
    assert len(page.ids) > 50
    assert len(page.ids) == len(set(page.ids))
    assert {link[1:] for link in page.links} <= set(page.ids)


@pytest.mark.parametrize(("svg", "message"), [
    ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><script>1</script></svg>', "could run"),
    ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1" onload="x()"/>', "could run"),
    ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><a href="https://x.example"/></svg>', "outside itself"),
    ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><foreignObject/></svg>', "could run"),
    ("<svg", "not well-formed"),
])
def test_a_figure_that_could_run_or_fetch_is_refused(svg: str, message: str) -> None:
    output = {"output_type": "display_data", "data": {"image/svg+xml": svg},
              "metadata": {"image/svg+xml": {"alt": "x"}}}
    with pytest.raises(HandoutError, match=message):
        lesson_page(book(md("# T"), code(output)))


def test_the_pdf_is_tagged_the_same_bytes_and_on_the_paper_asked_for(tmp_path: Path) -> None:
    pdf = handout_pdf(LESSON)
    assert pdf == handout_pdf(LESSON)
    assert b"pdfuaid" in pdf
    if shutil.which("pdfinfo") is None:
        pytest.skip("no pdfinfo on this machine")
    for paper, size in (("a4", "595.276 x 841.89"), ("letter", "612 x 792")):
        (tmp_path / "a.pdf").write_bytes(handout_pdf(LESSON, paper=paper))
        said = subprocess.run(["pdfinfo", str(tmp_path / "a.pdf")], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Tagged:\s+yes", said)
        assert re.search(r"Title:\s+A lesson", said)
        assert size in said
    assert handout_pdf(LESSON, large_print=True) != pdf


def test_tags() -> None:
    blocks = tree_of(book(
        md("# T"), md("hidden", "remove-cell"), code(shown(NECK), source="a = 1", tags=("show-input", "remove-output")),
        code(shown(NECK), source="secret"), md("the answer", "answer"), md("last", "page-break"),
        code(source="x = 2", tags=("injected-parameters", "show-input"))))["blocks"]
    assert [block["t"] for block in blocks] == [
        "heading", "code", "figure", "page-break", "paragraph", "page-break", "heading", "paragraph"]
    assert blocks[1]["text"] == "a = 1"
    assert "secret" not in str(blocks)
    assert blocks[-1]["c"][0]["text"] == "the answer"


def test_headings_never_skip_a_level() -> None:
    blocks = tree_of(book(md("# One\n\n#### Deep\n\n## Two\n\n#### Deeper")))["blocks"]
    assert [block["level"] for block in blocks] == [1, 2, 2, 3]


@pytest.mark.parametrize(("cell", "message"), [
    (code({"output_type": "error", "ename": "ValueError", "evalue": "no"}), "cell 2: the cell raised ValueError: no"),
    (code({"output_type": "display_data", "data": {"image/svg+xml": "<svg/>"}}), "cell 2: a figure has no alt text"),
    (md("![x](https://x.example/a.png)"), "cell 2: an image in the text points outside"),
])
def test_faults_name_the_cell(cell: dict[str, Any], message: str) -> None:
    with pytest.raises(HandoutError, match=message):
        tree_of(book(md("# T"), cell))


def test_a_sign_that_the_font_lacks_comes_from_another_and_is_no_blank(monkeypatch: pytest.MonkeyPatch) -> None:
    """And Typst refuses a blank: without a stand-in or another face it would not set it."""
    assert handout_pdf(book(md("# T\n\nA guitar: 🎸"))).startswith(b"%PDF")
    monkeypatch.setattr("workbook.handouts.pdf.families", lambda texts, language: ("Vampbook Sans",))
    with pytest.raises(HandoutError, match="could not be set"):
        handout_pdf(book(md("# T\n\nA guitar: 🎸")))


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(HandoutError, match="“a5” is not a paper; expected a4 or letter"):
        handout_pdf(LESSON, paper="a5")


def test_slices_tile_the_picture() -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 60" width="100" height="60"><path d="M0 0"/></svg>'
    parts = slices(svg, [20, 45])
    assert [re.search(r'viewBox="([^"]+)"', part)[1] for part, _ in parts] == [
        "0 0 100 20", "0 20 100 25", "0 45 100 15"]
    assert sum(share for _, share in parts) == pytest.approx(0.6)


@pytest.mark.parametrize(("name", "start"), [("lesson_handout", b"%PDF"), ("practice_page", b"<!DOCTYPE html>")])
def test_the_exporters_are_registered_with_nbconvert(name: str, start: bytes) -> None:
    import nbformat
    from nbconvert.exporters import get_exporter

    cells = [{**cell, "id": f"c{index}"} for index, cell in enumerate(LESSON["cells"])]
    for cell in cells:
        if cell["cell_type"] == "code":
            cell["execution_count"] = 1
            cell["outputs"] = [{**output, "execution_count": 1} for output in cell["outputs"]]
    node = nbformat.from_dict({**LESSON, "cells": cells})
    made, resources = get_exporter(name)().from_notebook_node(node)
    assert (made if isinstance(made, bytes) else made.encode()).startswith(start)
    assert resources["output_extension"] in (".pdf", ".html")
