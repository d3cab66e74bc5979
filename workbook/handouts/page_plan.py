"""Where pages end, chosen for a whole handout at once: full pages, nothing stranded, no drill broken that fits a page.

A dynamic programme over the rows: each page costs something, more where it cannot be filled by widening its gaps, and
some breaks cost more than others. Heights and gaps in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

A_PAGE, UNFILLED, LAST = 3.0, 100.0, 0.35   # costs of a page, of its unfilled share squared, of that on the last page
WIDE_AIR = 0.6                              # share of what gaps may give, from which they look wide
FULL, SHORT = 0.89, 300.0                   # of a page that counts as full; cost of what the others lack to that
IN_A_DRILL, LONE_SYSTEM, SUB_HEADING = 6.0, 17.0, 8.0
SLACK_MM = 0.6                              # for what typesetting rounds
_FLOWING_MM = 12.0                          # what a page may lose where a flowing row breaks by itself


@dataclass(frozen=True, slots=True)
class Row:
    """What stays together: its height, the least and most gap before it (not at the top of a page).

    `elastic` is how much higher it may be set itself, a table or a chart with more room in its rows; `taller` how much
    higher it is the other way that it may be set, one or the other: a list in one column. `glued` keeps it on the page
    of the row before. `drill` is the number of the drill whose system it is (or of another picture in parts), 0 for
    none. `opens_badly`: it should not begin a page. A row that `flows` may break by itself.
    """

    height: float
    least: float = 0.0
    most: float = 0.0
    elastic: float = 0.0
    taller: float = 0.0
    glued: bool = False
    drill: int = 0
    opens_badly: bool = False
    flows: bool = False
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class PlannedPage:
    """Rows `first` to before `end`, the gap before each and how much higher each is set, in mm; which of them are set
    their taller way.

    `reach` is the share of the page's height that they fill.
    """

    first: int
    end: int
    gaps: tuple[float, ...]
    grown: tuple[float, ...]
    roomy: tuple[bool, ...]
    reach: float


def planned(rows: Sequence[Row], height: float) -> tuple[PlannedPage, ...]:
    """The pages of some rows on sheets with text areas of this height; no row is lost, and none without rows."""
    if not rows:
        return ()
    best: list[tuple[float, int]] = [(0.0, 0)] + [(inf, 0)] * len(rows)  # cost up to a row, and where its page began
    for first in range(len(rows)):
        for end in range(first + 1, len(rows) + 1):
            if end > first + 1 and rows[end - 1].new_page:
                break
            least = _least(rows, first, end)
            if least > _room(rows, first, end, height) and end > first + 1:
                break
            cost = best[first][0] + _cost(rows, first, end, height)
            if cost < best[end][0]:
                best[end] = (cost, first)
    return tuple(_pages(rows, [first for _, first in best], height))


def cost_of(rows: Sequence[Row], pages: Sequence[PlannedPage], height: float) -> float:
    """What a plan costs: to choose among several ways to set the same lesson."""
    return sum(_cost(rows, page.first, page.end, height) for page in pages)


def _least(rows: Sequence[Row], first: int, end: int) -> float:
    """Height of rows on one page, as low as they may be."""
    return sum(row.height for row in rows[first:end]) + sum(row.least for row in rows[first + 1:end])


def _give(rows: Sequence[Row], first: int, end: int) -> float:
    """How much higher a page's gaps, and what is elastic, may make it."""
    return sum(row.most - row.least for row in rows[first + 1:end]) + sum(row.elastic for row in rows[first:end])


def _roomy(rows: Sequence[Row], first: int, end: int, height: float) -> tuple[float, tuple[int, ...]]:
    """(mm, the rows) that are set their taller way: as little as keeps the gaps from being wide."""
    spare = height - SLACK_MM - _least(rows, first, end)
    wide = WIDE_AIR * _give(rows, first, end)
    sums: dict[float, tuple[int, ...]] = {0.0: ()}
    for index in range(first, end):
        taller = rows[index].taller
        if taller:
            more = {round(mm + taller, 1): (*those, index) for mm, those in sums.items() if mm + taller <= spare}
            sums = more | sums
    best = min(sums, key=lambda mm: (max(0.0, spare - mm - wide), mm))
    return best, sums[best]


def _room(rows: Sequence[Row], first: int, end: int, height: float) -> float:
    """What a page holds; where a long row flows on, what as many pages hold as it needs."""
    flowing = [row for row in rows[first:end] if row.flows and row.height > height / 2]
    if not flowing:
        return height - SLACK_MM
    sheets = 1 + int(max(0.0, sum(row.height for row in flowing)) // (height - _FLOWING_MM))
    return sheets * (height - _FLOWING_MM)


def _cost(rows: Sequence[Row], first: int, end: int, height: float) -> float:
    least = _least(rows, first, end)
    most = least + _roomy(rows, first, end, height)[0] + _give(rows, first, end)
    sheets = max(1, -int(-least // height))
    reach = min(1.0, most / (sheets * height))
    unfilled = UNFILLED * (1 - reach) ** 2
    unfilled = unfilled * LAST if end == len(rows) else unfilled + SHORT * max(0.0, FULL - reach)
    return A_PAGE * sheets + unfilled + _break_cost(rows, first, height) + _alone(rows, first, end)


def _break_cost(rows: Sequence[Row], first: int, height: float) -> float:
    row = rows[first]
    if first == 0 or row.new_page:
        return 0.0
    if row.glued:
        return 1000.0
    cost = SUB_HEADING if row.opens_badly else 0.0
    if row.drill and rows[first - 1].drill == row.drill:
        whole = sum(one.height + one.least for one in rows if one.drill == row.drill)
        cost += IN_A_DRILL if whole < height else IN_A_DRILL / 3
    return cost


def _alone(rows: Sequence[Row], first: int, end: int) -> float:
    """A system that stands on a page without the others of its drill."""
    cost = 0.0
    for edge, inside in ((first, 1), (end - 1, -1)):
        drill = rows[edge].drill
        beyond = edge - inside
        if not drill or not 0 <= beyond < len(rows) or rows[beyond].drill != drill:
            continue
        within = edge + inside
        if not first <= within < end or rows[within].drill != drill:
            cost += LONE_SYSTEM
    return cost


def _pages(rows: Sequence[Row], began: Sequence[int], height: float) -> list[PlannedPage]:
    spans = []
    end = len(rows)
    while end > 0:
        spans.append((began[end], end))
        end = began[end]
    spans.reverse()
    roomy = [_roomy(rows, first, end, height) for first, end in spans[:-1]] + [(0.0, ())]
    widened = [_share(rows, first, end, height - more) for (first, end), (more, _) in zip(spans, roomy, strict=True)]
    usual = min(widened[:-1], default=0.4)
    widened[-1] = min(widened[-1], max(usual, 0.3))
    found = []
    for (first, end), (more, those), share in zip(spans, roomy, widened, strict=True):
        gaps = (0.0, *(row.least + share * (row.most - row.least) for row in rows[first + 1:end]))
        grown = tuple(share * row.elastic for row in rows[first:end])
        filled = sum(row.height for row in rows[first:end]) + sum(gaps) + sum(grown) + more
        found.append(PlannedPage(first, end, _rounded(gaps), _rounded(grown),
                                 tuple(index in those for index in range(first, end)), min(1.0, filled / height)))
    return found


def _rounded(lengths: Sequence[float]) -> tuple[float, ...]:
    return tuple(round(one, 2) for one in lengths)


def _share(rows: Sequence[Row], first: int, end: int, height: float) -> float:
    """How far the gaps of a page are widened and its rows grown, 0 to 1."""
    least, give = _least(rows, first, end), _give(rows, first, end)
    if give <= 0 or least > height:
        return 0.0
    return max(0.0, min(1.0, (height - SLACK_MM - least) / give))
