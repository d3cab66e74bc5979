"""For tests that start many processes of ours."""

from __future__ import annotations

import pytest

from workbook.library.making import build_one
from workbook.running.workers import MANY, begin


@pytest.fixture(scope="session")
def warm() -> None:
    """The server of forks begins as it does for many tasks: each then finds loaded what takes half a second to load."""
    begin(MANY, build_one)
