"""Written bars and the order in which repeats and endings play them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from ..names.chords import Chord
from ..names.scales import Scale

AS_BEFORE = ("%",)  # the cells of a bar that plays what the bar before it plays


@dataclass(frozen=True, slots=True)
class Bar:
    """One written bar: its `cells` are chords, "/" (hold a pulse) or a single "%" (as the bar before)."""

    cells: tuple[Chord | str, ...]
    section: str | None = None
    opens: bool = False
    plays: int = 1  # how often the repeat that this bar closes is played; 1 closes nothing
    endings: tuple[int, ...] = ()
    double: bool = False
    key: Scale | None = None  # the key that begins with this bar, where the chart states one


def only_changes(bars: Iterable[Bar], key: Scale | None) -> Iterator[Bar]:
    """Bars that carry the key in force, with the key kept where it changes alone; `key` is that of the chart."""
    for bar in bars:
        yield bar if bar.key != key else replace(bar, key=None)
        key = bar.key


def sources(bars: Sequence[Bar]) -> list[int]:
    """For each written bar, the written bar whose chords it plays: its own, or for `%` that of the bar before."""
    own = (-1 if bar.cells == AS_BEFORE else index for index, bar in enumerate(bars))
    return list(accumulate(own, max))


def unroll(bars: tuple[Bar, ...]) -> Iterator[int]:
    """Indexes of the written bars in playing order."""
    index = 0
    while index < len(bars):
        if not bars[index].opens:
            yield index
            index += 1
            continue
        endings = repeat_endings(bars, index)
        last = index + len(endings)
        numbers = [number for ending in endings for number in ending]
        for turn in range(1, max(numbers or [bar.plays for bar in bars[index:last]]) + 1):
            for one, ending in enumerate(endings, index):
                if not ending or turn in ending:
                    yield one
        index = last


def repeat_endings(bars: Sequence[Bar], first: int) -> list[tuple[int, ...]]:
    """For each bar of the repeat that opens at `first`, later endings included: the turns that play it, () for all.

    An ending reaches from its number to the next `:|`, or to the next number.
    """
    found: list[tuple[int, ...]] = []
    ending: tuple[int, ...] = ()
    closed = False
    for index in range(first, len(bars)):
        bar = bars[index]
        if (closed and not bar.endings) or (bar.opens and index > first):
            break
        ending = bar.endings or ending
        found.append(ending)
        closed = bar.plays > 1
        if closed:
            ending = ()
    return found
