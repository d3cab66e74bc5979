"""How full the pages of sixty generated lessons are: python tests/bench/print_pages.py [every], some four minutes.

For each paper and size of print: pages a lesson, how far down all pages but the last are filled (reach) and inked (ink,
rows with ink within 6 mm), how many are under 88 %, and how much of it is read with poppler (support/pages.py).
"""

from __future__ import annotations

import sys
from pathlib import Path
from statistics import mean
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.generated import unrun
from support.pages import Page, pages_of

from workbook.handouts.look import PAPERS
from workbook.handouts.pdf import handout_pdf
from workbook.running.run import run_notebook

LESSONS = 60


def told(found: list[list[Page]]) -> str:
    inner = [page for pages in found for page in pages[:-1]]
    low = sum(page.reach < 0.88 for page in inner)
    return (f"{mean(map(len, found)):.2f} pages a lesson, reach {mean(page.reach for page in inner):.3f}, "
            f"ink {mean(page.ink for page in inner):.3f}, under 88 %: {low} of {len(inner)}, "
            f"last pages {mean(pages[-1].reach for pages in found):.2f}")


def main(every: int = 1) -> None:
    with TemporaryDirectory() as folder:
        lessons = [run_notebook(unrun(seed), Path(folder)) for seed in range(0, LESSONS, every)]
    for name, paper in PAPERS.items():
        for large in (False, True):
            found = [pages_of(handout_pdf(lesson, paper=name, large_print=large), paper.top, paper.bottom)
                     for lesson in lessons]
            print(f"{name} {'large' if large else 'normal'}: {told(found)}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
