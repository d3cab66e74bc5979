"""A whole library against named peers, in one run; half an hour. Run it by hand: python tests/bench/library.py [MOST]

- 20 lessons run by us, and run and built by us, against `jupyter nbconvert --execute` (BSD-3) one after the other;
- the same build by 1, 2 and 4 processes;
- generated lessons, 10, 100 and MOST (1000): seconds a lesson, which must not grow;
- a roster of 500: each with a key, a tuning and a language of their own;
- looking through MOST unchanged packs.
With 0 for MOST only the first two.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from support.generated import unrun  # noqa: E402

from workbook.handouts.tracks import SILENT  # noqa: E402
from workbook.lesson.lesson import Lesson  # noqa: E402
from workbook.library.library import build_library  # noqa: E402
from workbook.library.orders import How, Order, orders_for  # noqa: E402
from workbook.library.personal import Student  # noqa: E402
from workbook.running.run import run_notebook  # noqa: E402
from workbook.running.workers import each  # noqa: E402

HOW = How({"sound": SILENT})
KEYS = ("A", "Bb", "B", "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab")


def run_one(path: Path) -> bool:
    return bool(run_notebook(Lesson.read(path).notebook, path.parent))


def seconds(action: Callable[[], Any]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def built(orders: list[Order], jobs: int | None = None, force: bool = True) -> None:
    errors = [one.error for one in build_library(orders, HOW, jobs=jobs, force=force) if one.error]
    if errors:
        print(f"  {len(errors)} of {len(orders)} refused, such as {errors[0][:160]}")


def written(folder: Path, count: int) -> list[Path]:
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(count):
        path = folder / f"lesson-{number}.ipynb"
        if not path.exists():
            path.write_text(Lesson.of(unrun(number)).text, encoding="utf-8")
    return [folder / f"lesson-{number}.ipynb" for number in range(count)]


def main(most: int) -> None:
    place = Path(tempfile.mkdtemp(prefix="vampbook-bench-"))
    os.environ["VAMPBOOK_CACHE"] = str(place / "cache")
    try:
        twenty = written(place / "lessons", 20)
        ran = seconds(lambda: [result for _, result in each(run_one, [(path,) for path in twenty])])
        packs = {jobs: seconds(lambda jobs=jobs: built(orders_for(twenty, place / "out"), jobs)) for jobs in (1, 2, 4)}
        command = [sys.executable, "-m", "jupyter", "nbconvert", "--to", "notebook", "--execute", "--output-dir",
                   str(place / "theirs")]
        theirs = seconds(lambda: [subprocess.run([*command, str(path)], check=True, capture_output=True)
                                  for path in twenty])
        print(f"20 lessons: nbconvert {theirs:.1f} s; we run them in {ran:.1f} s, {theirs / ran:.1f} times as fast, "
              f"and run them and build their packs in {packs[2]:.1f} s, {theirs / packs[2]:.1f} times (aim 8)")
        print("workers: " + ", ".join(f"{jobs} {packs[1] / packs[jobs]:.2f} times as fast" for jobs in packs))
        if not most:
            return
        for count in sorted({10, 100, most}):
            orders = orders_for(written(place / "lessons", count), place / "out")
            took = seconds(lambda orders=orders: built(orders))
            print(f"{count} lessons: {took:.1f} s, {took / count:.3f} s each", flush=True)
        print(f"{most} unchanged: looked through in {seconds(lambda: built(orders, force=False)):.2f} s")
        chance = Random(1)
        students = [Student(f"Student {number}", chance.choice(("", "drop D", "half step down")), chance.random() < 0.1,
                            key=chance.choice(KEYS), note_names=chance.choice(("english", "german", "solfege")))
                    for number in range(500)]
        roster = orders_for([ROOT / "lessons" / "slack-water.ipynb"], place / "roster", students)
        took = seconds(lambda: built(roster))
        print(f"a roster of 500: {took:.1f} s, {took / 500:.3f} s a pack")
    finally:
        shutil.rmtree(place)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
