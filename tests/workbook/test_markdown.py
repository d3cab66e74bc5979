"""Markdown as blocks: what Lab 4.6 was seen to render (marked, MathJax) comes out, and nothing else becomes markup."""

from __future__ import annotations

import re
import shutil
import subprocess
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbook.handouts.brought import Place
from workbook.handouts.formulas import NoFormula, formula
from workbook.handouts.inlines import plain_text
from workbook.handouts.page import inlines as as_html
from workbook.handouts.pdf import handout_pdf
from workbook.handouts.tree import markdown_blocks


def told(text: str) -> list[str]:
    place = Place(3)
    markdown_blocks(text, place)
    return [one.words for one in place.brought.told]


def words(blocks: list[dict[str, Any]]) -> str:
    return "".join(plain_text(block.get("c", ())) for block in blocks)


@pytest.mark.parametrize(("text", "html"), [
    ("~~gone~~", "<s>gone</s>"), ("H<sub>2</sub>O, x<sup>2</sup>", "H<sub>2</sub>O, x<sup>2</sup>"),
    ("<kbd>Ctrl</kbd>", "<kbd>Ctrl</kbd>"), ("<b>a <i>b</i></b>", "<strong>a <em>b</em></strong>"),
    ("<b>a <i>b</b> c", "<strong>a <em>b</em></strong> c"), ("a <u>b", "a <u>b</u>"), ("a</b> c", "a c"),
    ("one  \ntwo\\\nthree<br>four", "one<br>two<br>three<br>four"), ("a<!-- b -->c", "ac"),
    ("&copy; &amp; &lt;b&gt; &#9835;", "© &amp; &lt;b&gt; ♫"),
    ("`<b>&amp;</b>`", "<code>&lt;b&gt;&amp;amp;&lt;/b&gt;</code>"),
    ("<a href='https://example.org'>x</a>", '<a href="https://example.org" rel="noreferrer">x</a>'),
    ("<a href='javascript:hit()'>x</a>", "x"),
    ("https://a.example/?b=1", '<a href="https://a.example/?b=1" rel="noreferrer">https://a.example/?b=1</a>'),
    ("<custom>x</custom>", "&lt;custom&gt;x&lt;/custom&gt;"), ("<b onclick='hit()'>x</b>", "<strong>x</strong>"),
    ("$2^{n/12}$", "2<sup>n/12</sup>"), ("costs $5 and $6", "costs $5 and $6"), ("<mark>m</mark>", "<mark>m</mark>"),
])
def test_words_with_their_form(text, html):
    assert as_html(markdown_blocks(text)[0]["c"]) == html


def test_blocks():
    table = markdown_blocks("| a | b | c |\n|:--|:-:|--:|\n| 1 | 2 | **3** |")[0]
    assert table["align"] == ["left", "center", "right"]
    nested = markdown_blocks("- a\n  - b\n    - c")[0]
    assert nested["items"][0]["c"][1]["items"][0]["c"][1]["t"] == "list"
    assert markdown_blocks("3. three\n4. four")[0]["start"] == 3
    assert [item["box"] for item in markdown_blocks("- [ ] a\n- [x] b")[0]["items"]] == [False, True]
    assert markdown_blocks("> a\n> > b")[0]["c"][1]["t"] == "note"
    assert markdown_blocks("$$\nf = 440\n$$")[0]["align"] == "center"
    assert markdown_blocks("1. a\n\n   | x |\n   |---|\n   | 1 |")[0]["items"][0]["c"][1]["t"] == "table"
    assert markdown_blocks("> | x |\n> |---|\n> | 1 |")[0]["c"][0]["t"] == "table"
    assert markdown_blocks("    x = 1")[0] == {"t": "code", "text": "x = 1"}
    assert words(markdown_blocks("text[^1]\n\n[^1]: the note")) == "text[^1][^1]: the note"  # nor does Lab


def test_tab_typed_as_code_keeps_its_columns(tmp_path):
    """By the places that poppler finds the words at: what stands below each other in the text does so on paper."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    strings = ["e|iiii--AAA--|", "B|WWWW--BBB--|", "G|i.W.--CCC--|"]
    book = {"cells": [{"cell_type": "markdown", "metadata": {}, "source": "# T\n\n```\n" + "\n".join(
        one.replace("-", " ") for one in strings) + "\n```"}], "metadata": {}, "nbformat": 4, "nbformat_minor": 4}
    (tmp_path / "a.pdf").write_bytes(handout_pdf(book))
    found = subprocess.run(["pdftotext", "-bbox", str(tmp_path / "a.pdf"), "-"], capture_output=True, text=True,
                           check=True).stdout
    starts = [re.search(rf'xMin="([\d.]+)"[^>]*>{word}<', found)[1] for word in ("AAA", "BBB", "CCC")]
    assert len(set(starts)) == 1


def test_details_hold_markdown():
    text = "<details open><summary>A <b>hint</b></summary>\n\nUse *this*.\n\n- one\n\n</details>\n\nAfter"
    block = markdown_blocks(text)
    assert [one["t"] for one in block] == ["details", "paragraph"]
    assert plain_text(block[0]["summary"]) == "A hint"
    assert [one["t"] for one in block[0]["c"]] == ["paragraph", "list"]
    assert block[0]["open"] is True
    assert markdown_blocks("<details><summary>a</summary>b</details>")[0]["open"] is False
    plain = markdown_blocks("<details>\n<summary>S</summary>\nplain\n</details>")[0]
    assert words(plain["c"]).strip() == "plain"
    assert markdown_blocks("<details><summary>never closed</summary>\n\nx")[0]["t"] == "details"


def test_html_of_its_own():
    table = markdown_blocks("<table><tr><th>x</th><th>y</th></tr><tr><td>1<td align=right>2</table>")[0]
    assert [plain_text(cell) for cell in table["head"]] == ["x", "y"]
    assert [[plain_text(cell) for cell in row] for row in table["rows"]] == [["1", "2"]]
    assert table["align"] == ["", "right"]
    assert markdown_blocks("<div align=center>mid <b>dle</b></div>")[0]["align"] == "center"
    assert [words(item["c"]) for item in markdown_blocks("<ul><li>a<li>b</ul>")[0]["items"]] == ["a", "b"]
    assert words(markdown_blocks("<summary>a</summary><td>b<li>c")) == "abc"  # parts without their whole
    assert markdown_blocks("<pre>a\n  b</pre>")[0] == {"t": "code", "text": "a\n  b"}
    assert markdown_blocks("<ol start=3><li>a</ol>")[0]["start"] == 3
    assert "start" not in markdown_blocks("<ol start=123456><li>a</ol>")[0], "no number for a list in print"
    assert markdown_blocks("<h3>Head</h3>")[0]["level"] == 3
    assert markdown_blocks("<!-- note\nto self -->") == []


@pytest.mark.parametrize(("text", "said"), [
    ("<span style='color:red'>x</span>", "the style of <span>"),
    ("<iframe src='x'></iframe>", "<iframe> is printed as"),
    ("$\\oint x$", "holds \\oint"), ("```mermaid\nx\n```", "mermaid"),
    ("|a|b|\n|-|-|\n|1|", "a table is printed as typed"),
    ("<font color=red>x</font>", "the colour of <font>"),
])
def test_what_does_not_come_out_is_told(text, said):
    assert any(said in one for one in told(text))


def test_what_comes_out_is_not_told():
    assert told("# A\n\n**b** <kbd>c</kbd> $d^2$\n\n<details><summary>e</summary>f</details>\n\n|a|\n|-|\n|b|") == []


# Written out by hand, by the rules of arithmetic.
@pytest.mark.parametrize(("tex", "plain"), [
    ("f_n = 440\\cdot 2^{(n-69)/12}", "f_{n} = 440·2^{(n−69)/12}"), ("\\frac{1}{2}", "1/2"),
    ("\\frac{a+b}{c}", "(a + b)/c"), ("\\sqrt{x}", "√x"), ("\\sqrt{x+1}", "√(x + 1)"), ("\\sqrt[12]{2}", "^{12}√2"),
    ("\\text{if } x", "if x"), ("a \\times b \\approx c", "a × b ≈ c"), ("C^\\sharp", "C^{♯}"),
])
def test_simple_formulas(tex, plain):
    def shown(blocks):
        signs = {"sup": "^", "sub": "_"}
        return "".join(one.get("text") or signs[one["t"]] + "{" + shown(one["c"]) + "}" for one in blocks)

    assert shown(formula(tex)) == plain.replace("a + b", "a+b").replace("x + 1", "x+1")


@pytest.mark.parametrize("tex", ["\\begin{matrix}", "x^", "{a", "a}", "\\sqrt" * 400 + "x", "{" * 400, "a" * 3000,
                                 "\\\\"])
def test_other_formulas_are_no_formula(tex):
    with pytest.raises(NoFormula):
        formula(tex)


TAGS = ["<b>", "</b>", "<details>", "</details>", "<summary>", "<table>", "<tr>", "<td>", "</table>", "<ul>", "<li>",
        "</li>", "<p>", "<pre>", "</pre>", "<br>", "<sub>", "<script>", "<!--", "-->", "<img src=x>", "<", ">", "\n\n",
        "word", "&amp;", "$x$", "$$", "| a |\n|---|\n", "- ", "> ", "`", "<h2>", "</h2>",
        "<a href='#'>", "<blockquote>"]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(TAGS), max_size=25))
def test_any_mixture_of_tags_gives_blocks_that_can_be_written(parts):
    from workbook.handouts.page import _Page
    from workbook.lesson.lesson import Lesson

    page = _Page(Lesson.of({"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}))
    html = "".join(page.blocks(markdown_blocks("".join(parts))))
    assert "<script" not in html
    assert html.count("<details") == html.count("</details>")
