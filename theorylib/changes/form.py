"""Form: repeats, endings and sections found in a flat list of bars, and the chart printed that way.

What is shortest
----------------
A description is a row of items: a bar written out (1), a block played k times (its bars + REPEAT), or a block played
twice with another last bar (its bars + the second ending + REPEAT + ENDING). Of all rows whose blocks have a length in
LENGTHS the one of least cost is found, exactly, by dynamic programming; ties fall to the earlier and longer item. Time
grows in proportion to the number of bars. Sections are the split into equal lengths (SECTIONS) whose different blocks
and labels cost least, where that beats writing everything out.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

from .bars import Bar, only_changes
from .charts import Chart, as_chart

LENGTHS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 20, 24, 32, 48, 64)  # bars in a repeated block
SECTIONS = (4, 6, 8, 10, 12, 16, 24, 32)  # bars in a section
# What a repeat sign, a pair of endings and a section label cost, in bars.
REPEAT, ENDING, LABEL = 1, 1, 1
MOST_TIMES = 8  # a longer run is one repeat of all its times, or of up to this many
SHORTEST_WITH_ENDINGS = 4


@dataclass(frozen=True, slots=True)
class Item:
    """Bars from `start`: `length` of them, played `times`; with `ending` the second time ends on another bar."""

    start: int
    length: int
    times: int = 1
    ending: bool = False

    @property
    def covers(self) -> int:
        """How many bars of the flat list it stands for."""
        return self.length * self.times

    @property
    def cost(self) -> int:
        if self.times == 1:
            return self.length
        return self.length + REPEAT + ((1 + ENDING) if self.ending else 0)


def describe(bars: Sequence[Hashable]) -> tuple[Item, ...]:
    """The cheapest row of items for a list of bars (anything that can be compared), from left to right."""
    count = len(bars)
    same = {length: _runs(bars, length) for length in LENGTHS if length <= count // 2}
    best = [0] * (count + 1)
    choice: list[Item] = [Item(index, 1) for index in range(count)]
    for index in range(count - 1, -1, -1):
        cost, chosen = 1 + best[index + 1], choice[index]
        for length, run in same.items():
            shared = run[index]
            if shared >= length:
                most = shared // length + 1
                for times in (most, *range(min(most - 1, MOST_TIMES), 1, -1)):
                    total = length + REPEAT + best[index + length * times]
                    if total < cost or (
                        total == cost and chosen.times > 1 and length * times > chosen.covers
                    ):
                        cost, chosen = total, Item(index, length, times)
            elif (
                shared == length - 1
                and length >= SHORTEST_WITH_ENDINGS
                and index + 2 * length <= count
            ):
                total = length + 1 + REPEAT + ENDING + best[index + 2 * length]
                if total < cost:
                    cost, chosen = total, Item(index, length, 2, True)
        best[index], choice[index] = cost, chosen
    items, index = [], 0
    while index < count:
        items.append(choice[index])
        index += choice[index].covers
    return tuple(items)


def form_of(chart: Chart | str) -> str:
    """To see how a tune is built: its sections by letter, “AABA” or “ABAC”.

    Runs beyond four are written as “A×12”; it is “A” where nothing returns.

    >>> form_of("| C | Am | F | G | C | Am | F | G | Dm | G | Dm | G | C | Am | F | G |")
    'AABA'
    """
    letters = _letters(as_chart(chart).sounded)[1]
    words, index = "", 0
    while index < len(letters):
        end = index
        while end < len(letters) and letters[end] == letters[index]:
            end += 1
        words += (
            letters[index] * (end - index)
            if end - index <= 4
            else f"{letters[index]}×{end - index}"
        )
        index = end
    return words


def shaped(chart: Chart | str) -> Chart:
    """To print a chart by its form: sections named, repeats and endings as signs.

    It sounds bar for bar the same.

    >>> print(shaped("| C | Am | F | G | C | Am | F | G | Dm | G | Dm | G | C | Am | F | G |"))
    meter: 4/4
    tempo: 100
    feel: straight 8
    [A] |: C | Am | F | G :|
    [B] |: Dm | G :|
    [A] | C | Am | F | G |
    """
    chart = as_chart(chart)
    flat = chart.sounded
    length, letters = _letters(flat)
    if len(letters) < 2:
        return replace(chart, bars=tuple(only_changes(_written(flat, describe(flat)), chart.key)))
    bars: list[Bar] = []
    index = 0
    while index < len(letters):
        end = index
        while end < len(letters) and letters[end] == letters[index]:
            end += 1
        block = flat[index * length : (index + 1) * length]
        item = [Item(0, length, end - index)] if end - index > 1 else describe(block)
        found = list(_written(block, item))
        bars += [replace(found[0], section=letters[index]), *found[1:]]
        index = end
    return replace(chart, bars=tuple(only_changes(bars, chart.key)))


def unrolled(chart: Chart | str) -> Chart:
    """The chart bar for bar as it sounds, without repeats; sections and keys stay where they begin.

    >>> print(unrolled("|: Am7 | D7 :|"))
    meter: 4/4
    tempo: 100
    feel: straight 8
    | Am7 | D7 | Am7 | D7 |
    """
    chart = as_chart(chart)
    bars = [
        replace(bar, section=chart.bars[written].section)
        for written, bar in zip(chart.order, chart.sounded, strict=True)
    ]
    return replace(chart, bars=tuple(only_changes(bars, chart.key)))


def _runs(bars: Sequence[Hashable], length: int) -> list[int]:
    """For each bar, how many bars from it on are the same as those `length` later."""
    run = [0] * (len(bars) + 1)
    for index in range(len(bars) - length - 1, -1, -1):
        run[index] = run[index + 1] + 1 if bars[index] == bars[index + length] else 0
    return run


def _letters(flat: Sequence[Hashable]) -> tuple[int, list[str]]:
    """(section length, a letter for each section) of the cheapest split; one "A" where none is cheaper."""
    whole = describe(flat)
    if len(whole) == 1 and whole[0].times > 1 and not whole[0].ending:  # a chorus and nothing else
        return whole[0].length, ["A"] * whole[0].times
    best: tuple[int, int, list[str]] = (sum(item.cost for item in whole), len(flat), ["A"])
    for length in SECTIONS:
        if len(flat) % length or len(flat) == length:
            continue
        known: dict[tuple[Hashable, ...], str] = {}
        letters = []
        for start in range(0, len(flat), length):
            block = tuple(flat[start : start + length])
            letters.append(known.setdefault(block, _letter(len(known))))
        written = sum(sum(item.cost for item in describe(block)) for block in known)
        cost = written + LABEL * len(letters)
        if len(known) < len(letters) and cost < best[0]:
            best = (cost, length, letters)
    return best[1], best[2]


def _letter(number: int) -> str:
    """A to Z, then A2, B2 ..."""
    return chr(ord("A") + number % 26) + ("" if number < 26 else str(number // 26 + 1))


def _written(flat: Sequence[Bar], items: Sequence[Item]) -> Iterator[Bar]:
    """The bars of a description, with its signs."""
    for item in items:
        last = item.start + item.length - 1
        for index in range(item.start, last + 1):
            closes = index == last and item.times > 1
            yield Bar(
                flat[index].cells,
                key=flat[index].key,
                opens=item.times > 1 and index == item.start,
                plays=item.times if closes else 1,
                endings=(1,) if closes and item.ending else (),
            )
        if item.ending:
            last_bar = flat[item.start + 2 * item.length - 1]
            yield Bar(last_bar.cells, key=last_bar.key, endings=(2,))
