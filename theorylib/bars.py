"""Written bars and the order in which repeats and endings play them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .chords import Chord


@dataclass(frozen=True, slots=True)
class Bar:
    """One written bar: its `cells` are chords, "/" (hold a pulse) or a single "%" (as the bar before)."""

    cells: tuple[Chord | str, ...]
    section: str | None = None
    opens: bool = False
    plays: int = 1  # how often the repeat that this bar closes is played; 1 closes nothing
    endings: tuple[int, ...] = ()
    double: bool = False


def unroll(bars: tuple[Bar, ...]) -> Iterator[int]:
    """Indexes of the written bars in playing order."""
    index = 0
    while index < len(bars):
        if not bars[index].opens:
            yield index
            index += 1
            continue
        end = index
        while bars[end].plays == 1 and end + 1 < len(bars):
            end += 1
        last = end + 1  # later endings stand after the `:|`
        while last < len(bars) and bars[last].endings:
            last += 1
        block = range(index, last)
        numbers = [number for one in block for number in bars[one].endings]
        for turn in range(1, max([*numbers, bars[end].plays]) + 1):
            for one in block:
                if not bars[one].endings or turn in bars[one].endings:
                    yield one
        index = last
