"""What is left of a drawing: what draws, under names of its figure; expected texts are written by hand."""

from __future__ import annotations

import pytest

from workbook.handouts.clean import clean_svg
from workbook.handouts.tree import HandoutError, may_lead_to

OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">'


def inside(text: str) -> str:
    """The cleaned content of a drawing that holds `text`, as figure f."""
    found = clean_svg(f"{OPEN}{text}</svg>", "f")
    assert found.startswith('<svg aria-hidden="true" focusable="false">')
    assert found.endswith("</svg>")
    return found.partition(">")[2].removesuffix("</svg>")


@pytest.mark.parametrize(("text", "left"), [
    ('<path id="a" d="M0 0h1"/>', '<path id="f-a" d="M0 0h1"></path>'),
    ('<use href="#a"/><use xlink:href=" #a "/>', '<use href="#f-a"></use><use xlink:href="#f-a"></use>'),
    ('<rect fill="url(#a)"/>', '<rect fill="url(&quot;#f-a&quot;)"></rect>'),
    ("<rect clip-path=\"url('#a')\"/>", '<rect clip-path="url(&quot;#f-a&quot;)"></rect>'),
    ('<rect style="fill: URL(#a) red; position: fixed; stroke:none"/>',
     '<rect style="fill:url(&quot;#f-a&quot;) red;stroke:none"></rect>'),
    ('<rect style="stroke-width: calc(1px + 2px)"/>', '<rect style="stroke-width:calc(1px + 2px)"></rect>'),
    ('<rect style="fill: red !important"/>', '<rect style="fill:red"></rect>'),
    ('<rect fill="rgb(1, 2, 3)" transform="translate(1) scale(2)"/>',
     '<rect fill="rgb(1, 2, 3)" transform="translate(1) scale(2)"></rect>'),
    ('<text xml:space="preserve" font-family="\'A b\', serif"> a &lt; b &amp; c </text>',
     '<text xml:space="preserve" font-family="\'A b\', serif"> a &lt; b &amp; c </text>'),
    ('<g><title>words</title><desc>more</desc><path/></g>', "<g><path></path></g>"),
    ('<o:note xmlns:o="urn:other"><rect/></o:note><g xmlns:o="urn:other" o:label="x" data-x="1" role="img"/>',
     "<g></g>"),
    ('<image href="data:image/png;base64,AAAA"/>', '<image href="data:image/png;base64,AAAA"></image>'),
    ('<clipPath id="a" clipPathUnits="userSpaceOnUse"/>',
     '<clipPath id="f-a" clipPathUnits="userSpaceOnUse"></clipPath>'),
    ("<style>#a g > .b, *{fill:red;position:fixed}</style>", "<style>#f #f-a g &gt; .b, #f * {fill:red}</style>"),
    ("<style>g:is(#a, .b) [x] {fill:red}</style>", "<style>#f g:is(#f-a, .b) [x] {fill:red}</style>"),
    ("<style>/* words */ :root {fill:red} g {fill: url(#a)}</style>",
     '<style>#f svg {fill:red}\n#f g {fill:url("#f-a")}</style>'),
])
def test_what_is_left(text: str, left: str) -> None:
    assert inside(text) == left


def test_cleaning_twice_changes_names_alone() -> None:
    once = clean_svg(f"{OPEN}<g id='a'><path d='M0 0'/></g><use href='#a'/></svg>", "f")
    assert clean_svg(once, "e") == once.replace("f-a", "e-f-a")


@pytest.mark.parametrize(("text", "message"), [
    ("<script/>", "a figure holds <script>: it could run or load something, or is not known to draw"),
    ("<g onclick='x'/>", "a figure holds a handler “onclick” that could run"),
    ("<use href='a.svg#b'/>", "a figure points outside itself; expected a #part of the same figure"),
    ("<g fill='url(a.svg#b)'/>", "a figure's style points outside itself"),
    ("<g style='fill:image(red)'/>", r"a figure's style calls image\(\): it could load something"),
    ("<style>@media print {g {fill:red}}</style>", "a figure's style holds @media"),
])
def test_a_refusal_names_what_it_found(text: str, message: str) -> None:
    with pytest.raises(HandoutError, match=message):
        inside(text)


@pytest.mark.parametrize(("address", "may"), [
    ("https://a.example/b", True), ("HTTP://a.example", True), ("mailto:a@b.example", True), ("#part", True),
    ("other.html", True), ("../b/lesson.html#part", True), ("a/b:c", True),
    ("javascript:x", False), ("java\tscript:x", False), ("\x01javascript:x", False), ("data:text/html,x", False),
    ("vbscript:x", False), ("file:///a", False), ("//a.example/b", False), ("\\\\a.example\\b", False),
    ("/\\a.example", False), ("https:a", False),
])
def test_where_a_link_may_lead(address: str, may: bool) -> None:
    assert may_lead_to(address) is may
