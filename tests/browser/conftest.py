"""One JupyterLab for all browser tests and a Chromium for each file.

Without a Chromium they are skipped, except in CI, where they must run.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from support.lab import CHROMIUM, chromium, lab_on_notebooks


@pytest.fixture(scope="module")  # not longer: what runs an event loop of its own cannot stand beside it
def browser() -> Iterator[Any]:
    if CHROMIUM is None and not os.environ.get("CI"):
        pytest.skip("no Chromium on this machine")
    with chromium() as found:
        yield found


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    if CHROMIUM is None and not os.environ.get("CI"):
        pytest.skip("no Chromium on this machine")
    with lab_on_notebooks(tmp_path_factory.mktemp("lab")) as address:
        yield address


@pytest.fixture(scope="session", autouse=True)
def _patient() -> None:
    """What is waited for may take as long as an action may, since the machine may have other things to do."""
    from playwright.sync_api import expect

    expect.set_options(timeout=30_000)
