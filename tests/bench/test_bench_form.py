"""Form finding: how its time grows from 1,000 bars to 10,000 (linear is 10)."""

from __future__ import annotations

import random
import time

import pytest

from theorylib.changes.form import describe


def seconds(count: int) -> float:
    chance = random.Random(3)
    bars = [chance.choice("ABCD") if chance.random() < 0.2 else "ABCA"[index % 4] for index in range(count)]
    start = time.perf_counter()
    items = describe(bars)
    taken = time.perf_counter() - start
    assert sum(item.covers for item in items) == count
    return taken


def test_growth(capsys: pytest.CaptureFixture[str]) -> None:
    short, long = min(seconds(1_000) for _ in range(3)), seconds(10_000)
    with capsys.disabled():
        print(f"\nform: 1,000 bars {short * 1000:.0f} ms, 10,000 bars {long * 1000:.0f} ms, "
              f"{long / short:.1f} times as long (aim: near 10, under 1,000 ms)")
