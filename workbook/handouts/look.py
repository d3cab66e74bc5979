"""Sizes on paper: the sheets, and a look for normal and one for large print. Type in points, everything else in mm.

Text is read on a stand at about a metre: TAB digits, fingers and degrees are 2.5 mm high or more.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet with its margins; the text is 178 mm wide on both, so that figures are the same."""

    w: float
    h: float
    top: float
    bottom: float
    side: float

    @property
    def text_mm(self) -> float:
        """Height of the text area."""
        return self.h - self.top - self.bottom


PAPERS = {"a4": Paper(210.0, 297.0, 13.0, 17.0, 16.0), "letter": Paper(215.9, 279.4, 13.0, 15.0, 18.95)}
TEXT_MM, BETWEEN_MM = 178.0, 8.0  # width of the text, and between two columns
HALF_MM = (TEXT_MM - BETWEEN_MM) / 2


@dataclass(frozen=True, slots=True)
class Look:
    """Type sizes in points; `music` is how much larger than 7.2 mm a staff is; `neck` and `picture` are mm a unit and
    how much larger than drawn; `inner` is the room between blocks of one column, more than
    between lines."""

    text: float
    sans: float
    title: float
    heading: float
    sub: float
    foot: float
    music: float
    neck: float
    picture: float
    symbol: float   # a chart's largest symbol, in units of its picture
    inner: float
    lead: float     # the most of words that stay on the page of the figure to which they lead
    columns: bool   # whether two columns may stand side by side
    neck_shares: tuple[float, ...] = (1.0,)  # of `neck`, one for a whole handout: whichever fills its pages better

    @property
    def between_items_mm(self) -> float:
        """Between the items of a list, as the template sets them."""
        return 0.6 * self.text * 25.4 / 72


NORMAL = Look(text=10.5, sans=9.5, title=28, heading=13.5, sub=10.5, foot=8.5, music=1.16, neck=0.218, picture=1.0,
              symbol=42, inner=2.7, lead=12.0, columns=True)
LARGE = Look(text=16, sans=14.5, title=35, heading=21, sub=16, foot=12, music=1.74, neck=0.283, picture=1.4,
             symbol=60, inner=4.2, lead=8.0, columns=False, neck_shares=(1.0, 0.94))
