"""Where a neck's frets, strings and notes stand: the one geometry from which every picture of a neck is drawn.

Conventions: along the neck from the edge of the window that is nearer to the nut, across it from string 1, in the units
of the sizes given. Frets are drawn equally wide, as in printed diagrams (common practice, no source), not as on wood.
A window from fret 0 begins with a column for open strings, which ends at the nut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from theorylib.necks.tunings import Tuning

INLAYS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)  # where necks usually carry dots (common practice, no source)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Units of one picture: the length of a fret, of the column for open strings, and the distance of two strings."""

    fret: float
    open: float
    gap: float


@dataclass(frozen=True, slots=True)
class Board:
    """A window of frets, both ends shown, over a number of strings."""

    first_fret: int
    last_fret: int
    strings: int
    sizes: Sizes

    @property
    def frets(self) -> range:
        """The frets that are drawn; the open strings are none."""
        return range(max(self.first_fret, 1), self.last_fret + 1)

    @property
    def wires(self) -> range:
        """The fret wires that are drawn, named by the fret that ends at each; 0 is the nut."""
        return range(self.frets.start - 1, self.last_fret + 1)

    @property
    def nut(self) -> float:
        """Along to where the strings begin: after the column for open strings, if there is one."""
        return self.sizes.open if self.first_fret == 0 else 0.0

    @property
    def along(self) -> float:
        return self.nut + len(self.frets) * self.sizes.fret

    @property
    def across(self) -> float:
        return (self.strings - 1) * self.sizes.gap

    def wire(self, fret: float) -> float:
        """Along to the wire at which `fret` ends."""
        return self.nut + (fret - self.wires.start) * self.sizes.fret

    def middle(self, fret: float) -> float:
        """Along to where a note at `fret` stands; fret 0 in the column for open strings."""
        return self.nut / 2 if fret == 0 else self.wire(fret) - self.sizes.fret / 2

    def string(self, string: int) -> float:
        """Across to a string, 1 the thinnest."""
        return (string - 1) * self.sizes.gap

    def from_nut(self, along: float) -> float:
        """A place along, measured from the nut of the whole neck; what lies before the nut is negative."""
        return along - self.nut + self.wires.start * self.sizes.fret


def board_data(board: Board, tuning: Tuning) -> dict[str, Any]:
    """The board as numbers for a picture in a browser, which adds its margins and turns it for the left hand.

    `wires` and `notes` are [fret, place along]; `strings` are places across, of string 1 first.
    """
    shown = [0, *board.frets] if board.first_fret == 0 else list(board.frets)
    return {
        "first": board.first_fret, "last": board.last_fret, "along": board.along, "nut": board.nut,
        "wires": [[fret, board.wire(fret)] for fret in board.wires],
        "notes": [[fret, board.middle(fret)] for fret in shown],
        "strings": [board.string(string) for string in tuning.strings],
        "names": [pitch.name.pretty for pitch in tuning.open_strings],
        "inlays": [fret for fret in board.frets if fret + tuning.capo in INLAYS],
        "fret": board.sizes.fret, "open": board.sizes.open, "gap": board.sizes.gap,
    }
