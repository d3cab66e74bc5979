"""How wide a table's columns are: shared evenly, as Typst does, long words stand in four lines beside bare columns."""

from __future__ import annotations

from typing import Any

import pytest

from workbook.fonts import text_width
from workbook.handouts.look import LARGE, NORMAL, PAPERS, TEXT_MM
from workbook.handouts.table_widths import shared

FROM = ("7th-degree arpeggio of F♯ major", "7th-degree arpeggio of F♯ harmonic minor",
        "notes of F♯ half-whole diminished")
INTO = "E♯–E, B–A♯, D♯–E"


def table(*rows: tuple[str, ...]) -> dict[str, Any]:
    head, *others = ([[{"t": "text", "text": text}] for text in row] for row in rows)
    return {"t": "table", "head": head, "rows": others}


LONG = table(("Arpeggio", "Its notes become", "Comes from", "How far out", "By half step into the next"),
             *(("Bmaj7♭5", "♭7 ♭9 3 ♭13", source, "inside", INTO) for source in FROM))


def test_columns_of_long_words_are_the_widest_and_the_table_is_lower() -> None:
    """As Typst measures it, against its own way to share the width."""
    from workbook.handouts.pdf import _Sheet

    widths = shared(LONG, TEXT_MM, LARGE.sans)
    assert sum(widths) == pytest.approx(TEXT_MM, abs=0.1)
    assert max(widths) == widths[2]
    sheet = _Sheet("T", "en", PAPERS["a4"], LARGE)
    own, ours = sheet._measured([((one,), TEXT_MM) for one in (LONG, {**LONG, "shares": widths})], ["Vampbook Sans"])
    assert ours < 0.85 * own < 1.5 * ours


def test_a_column_of_one_long_word_has_its_width_and_no_more() -> None:
    word, long = "Hypomixolydianissimo", "slow single notes up and down the neck " * 3
    widths = shared(table(("Name", "What", "Why"), (word, long, long)), TEXT_MM, LARGE.sans)
    assert widths[0] == pytest.approx(text_width(word, LARGE.sans) * 25.4 / 72 + 2, abs=0.5)


@pytest.mark.parametrize(("given", "size"), [
    (LONG, NORMAL.sans / 2),                                                  # each cell has one line
    (table(("Step", "What"), ("1", "slow single notes " * 12)), LARGE.sans),  # one column has the rest
    (table(("", ""), ("W" * 90, "W" * 90)), LARGE.sans),                      # words that fit no column
])
def test_other_tables_are_left_to_typst(given: dict[str, Any], size: float) -> None:
    assert shared(given, TEXT_MM, size) == []


def test_a_column_with_a_picture_is_left_as_wide_as_it_is() -> None:
    picture = {"t": "image", "parts": [{"data": "<svg/>"}]}
    assert shared(LONG, TEXT_MM, LARGE.sans)
    assert shared({**LONG, "rows": [*LONG["rows"], [[picture], [], [], [], []]]}, TEXT_MM, LARGE.sans) == []
