"""A library of 200 unchanged lessons is looked through in under a second of work."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

import pytest

from workbook.library.library import build_library
from workbook.library.making import Made, put
from workbook.library.orders import How, orders_for
from workbook.library.records import digest
from workbook.library.stamps import beside_of

LESSON = Path(__file__).resolve().parents[2] / "lessons" / "slack-water.ipynb"
LESSONS, MOST_SECONDS = 200, 1.0


def test_two_hundred_unchanged_lessons(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                       capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    paths = [tmp_path / "lessons" / f"lesson-{number}.ipynb" for number in range(LESSONS)]
    paths[0].parent.mkdir()
    for path in paths:
        shutil.copyfile(LESSON, path)
    how, beside = How({}), beside_of(paths[0].parent)
    orders = orders_for(paths, tmp_path / "out")
    for order in orders:
        assert not put(order, Made({"lesson.html": "a pack"}, {}), digest(order, how, beside)).error
    seconds = []
    for _ in range(3):
        begun = time.process_time()
        found = list(build_library(orders, how))
        seconds.append(time.process_time() - begun)
        assert [one.path for one in found if one.unchanged] == paths
    with capsys.disabled():
        print(f"\n{LESSONS} unchanged lessons looked through in {min(seconds):.2f} s of work")
    assert min(seconds) < MOST_SECONDS
    # The same bytes have the same digest, changed ones another.
    with paths[7].open("a") as text:
        text.write("\n")
    assert digest(orders[7], how, beside) != digest(orders[6], how, beside) == digest(orders[8], how, beside)
