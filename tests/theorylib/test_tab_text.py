"""TAB in many hands: each piece is read as its table says, or refused at its place (tests/tables/tabs*.txt)."""

from __future__ import annotations

import pytest
from support.tabs import Piece, pieces


@pytest.mark.parametrize("piece", [*pieces("tabs.txt"), *pieces("tabs_held_out.txt")], ids=lambda piece: piece.name)
def test_a_piece_is_read_right_or_refused_at_its_place(piece: Piece) -> None:
    assert piece.problem() == ""
