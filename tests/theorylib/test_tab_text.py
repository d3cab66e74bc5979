"""TAB in many hands: each piece is read as its table says, or refused at its place (tests/tables/tabs*.txt)."""

from __future__ import annotations

import pytest
from support.tabs import Piece, pieces

from theorylib import Line
from theorylib.playing.typed import PhraseError


@pytest.mark.parametrize("piece", [*pieces("tabs.txt"), *pieces("tabs_held_out.txt")], ids=lambda piece: piece.name)
def test_a_piece_is_read_right_or_refused_at_its_place(piece: Piece) -> None:
    assert piece.problem() == ""


def test_two_rows_of_values_beside_one_system_are_refused() -> None:
    with pytest.raises(PhraseError, match="two rows of note values for one system"):
        Line.parse("  q q\n  h h\ne|-5-7-|\nB|-----|\nG|-----|\nD|-----|\nA|-----|\nE|-----|")
