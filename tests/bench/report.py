"""Prints the benchmark table: `python tests/bench/report.py` from anywhere in the tree."""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    here = Path(__file__).resolve()
    sys.path[:0] = [str(here.parents[2]), str(here.parents[1])]
    from bench import theory

    print(theory.table(theory.measure()))
