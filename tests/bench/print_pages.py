"""How full the pages of sixty generated lessons are: python tests/bench/print_pages.py [every], some four minutes.

For each paper and size of print: pages a lesson, how far down all pages but the last are filled (reach) and inked (ink,
rows with ink within 6 mm), how many are under 88 %, as poppler draws them (support/pages.py). From the plan of their
rows: how many of these are so when no gap counts for more than 8 mm, and how many systems stand on a page without
another of their line.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from statistics import mean
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.generated import unrun
from support.pages import Page, pages_of

from workbook.handouts import pdf
from workbook.handouts.look import PAPERS
from workbook.handouts.page_plan import PlannedPage, Row, cost_of, planned
from workbook.handouts.pdf import handout_pdf
from workbook.running.run import run_notebook

LESSONS = 60
WIDEST_MM = 8.0  # of a gap that still looks like one
Plan = tuple[Sequence[Row], Sequence[PlannedPage], float]  # of a lesson, and the height of a page


def told(found: list[list[Page]]) -> str:
    inner = [page for pages in found for page in pages[:-1]]
    low = sum(page.reach < 0.88 for page in inner)
    return (f"{mean(map(len, found)):.2f} pages a lesson, reach {mean(page.reach for page in inner):.3f}, "
            f"ink {mean(page.ink for page in inner):.3f}, under 88 %: {low} of {len(inner)}, "
            f"last pages {mean(pages[-1].reach for pages in found):.2f}")


def lone_systems(plan: Plan) -> int:
    """Systems that stand on a page without another of their line, which has more."""
    rows, pages, _ = plan
    whole = Counter(row.drill for row in rows if row.drill)
    here = [Counter(row.drill for row in rows[page.first:page.end] if row.drill) for page in pages]
    return sum(count == 1 < whole[drill] for one in here for drill, count in one.items())


def airy_pages(plan: Plan) -> int:
    """Pages but the last that are under 88 % where wide gaps do not count."""
    rows, pages, height = plan
    low = 0
    for page in pages[:-1]:
        inside = rows[page.first:page.end]
        taller = sum(row.taller for row, is_roomy in zip(inside, page.roomy, strict=True) if is_roomy)
        gaps = sum(min(gap, WIDEST_MM) for gap in page.gaps)
        low += sum(row.height for row in inside) + taller + gaps + sum(page.grown) < 0.88 * height
    return low


def noted(plans: list[Plan]) -> None:
    """Every plan that is made goes into a list."""

    def noting(rows: Sequence[Row], height: float) -> tuple[PlannedPage, ...]:
        pages = planned(rows, height)
        plans.append((rows, pages, height))
        return pages

    pdf.planned = noting  # type: ignore[assignment]


def chosen(plans: Sequence[Plan]) -> Plan:
    return min(plans, key=lambda plan: cost_of(*plan))


def main(every: int = 1) -> None:
    with TemporaryDirectory() as folder:
        lessons = [run_notebook(unrun(seed), Path(folder)) for seed in range(0, LESSONS, every)]
    for name, paper in PAPERS.items():
        for large in (False, True):
            found, plans = [], []
            for lesson in lessons:
                tried: list[Plan] = []
                noted(tried)
                made = handout_pdf(lesson, paper=name, large_print=large)
                found.append(pages_of(made, paper.top, paper.bottom))
                plans.append(chosen(tried))
            print(f"{name} {'large' if large else 'normal'}: {told(found)}; without wide gaps "
                  f"{sum(map(airy_pages, plans))}, lone systems {sum(map(lone_systems, plans))}", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
