"""Texts that try to run, to load or to lead away, put where a lesson keeps text: refused, or kept as what draws."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from support.payloads import ALL, OPEN, lesson

from theorylib.errors import VampError
from workbook.draw.screen import WIDTHS
from workbook.handouts import clean
from workbook.handouts.clean import DEEPEST, DRAWING, LONGEST_CHAIN, clean_svg
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import MUTE
from workbook.handouts.tree import HandoutError, slices


def test_there_are_enough_of_them() -> None:
    assert len(ALL) > 107 * 2
    assert len({(one.place, one.text) for one in ALL}) == len(ALL)


@pytest.mark.parametrize("kind", dict.fromkeys(one.kind for one in ALL))
def test_what_is_refused_and_what_is_kept(kind: str) -> None:
    wrong = []
    for one in ALL:
        if one.kind != kind:
            continue
        try:
            lesson_page(lesson(one), MUTE, widths=WIDTHS[-1:])
            became = "kept"
        except VampError:
            became = "refused"
        if became != one.becomes:
            wrong.append((one.text, became))
    assert wrong == []


def nested(depth: int) -> str:
    return f"{OPEN}{'<g>' * depth}<path/>{'</g>' * depth}</svg>"


def test_a_drawing_that_would_grow_is_refused() -> None:
    assert clean_svg(nested(DEEPEST - 2), "f").count("<g>") == DEEPEST - 2
    for depth in (DEEPEST - 1, 600, 100_000):
        with pytest.raises(HandoutError, match="deep, one in another"):
            clean_svg(nested(depth), "f")
    with pytest.raises(HandoutError, match="deep, one in another"):  # cut between systems, too
        slices(nested(600), [5.0])
    with pytest.raises(HandoutError, match="declares entities"):
        clean_svg('<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + f"{OPEN}<text>&b;</text></svg>", "f")
    # Each group draws the one before it ten times: 10, 100, 1,000 … elements out of a few.
    groups = "".join(f"<g id='g{number}'>" + f"<use href='#g{number - 1}'/>" * 10 + "</g>" for number in range(1, 7))
    with pytest.raises(HandoutError, match=r"draws \d+ elements"):
        clean_svg(f"{OPEN}<defs><path id='g0'/>{groups}</defs></svg>", "f")


def test_use_of_a_use_has_an_end() -> None:
    def chained(count: int) -> str:
        links = "".join(f"<g id='g{number}'><use href='#g{number + 1}'/></g>" for number in range(count))
        return f"{OPEN}{links}<path id='g{count}'/></svg>"

    assert clean_svg(chained(LONGEST_CHAIN), "f").count("<use") == LONGEST_CHAIN
    for count in (LONGEST_CHAIN + 1, 5000):
        with pytest.raises(HandoutError, match="points at another"):
            clean_svg(chained(count), "f")
    with pytest.raises(HandoutError, match="points at another"):
        clean_svg(f"{OPEN}<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g></svg>", "f")


class Tags(HTMLParser):
    """The elements and attributes that a text of HTML opens."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.attributes: set[str] = set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}


def test_the_second_reading_stands_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """If the first reading let everything through, the second would still keep nothing but what draws."""
    text = ""
    monkeypatch.setattr(clean, "_write", lambda root, figure, written: written.append(text))
    for one in ALL:
        if one.place == "svg":
            text = f"{OPEN}{one.text}</svg>"
            left = Tags(clean_svg(OPEN + "</svg>", "f"))
            assert left.names <= {name.lower() for name in DRAWING}, one.text
            assert not any(name.startswith("on") or name in ("src", "srcdoc", "action") for name in left.attributes)
