"""Shared settings: property tests draw the same examples each run; VAMPBOOK_EXPLORE=1 draws new and more ones."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

os.environ.setdefault("VAMPBOOK_CACHE", tempfile.mkdtemp(prefix="vampbook-cache-"))  # not the user's own
settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.register_profile("explore", deadline=None, database=None, max_examples=3000)
settings.load_profile("explore" if os.environ.get("VAMPBOOK_EXPLORE") else "steady")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Side by side (pytest -n) a file's tests stay together, and all that drive a browser: they share set-up."""
    if config.pluginmanager.hasplugin("xdist"):
        for item in items:
            browser = item.get_closest_marker("browser") is not None
            item.add_marker(pytest.mark.xdist_group("browser" if browser else str(item.path)))


@pytest.fixture(scope="session", autouse=True)
def _no_kernel_left() -> Iterator[None]:
    """A kernel kept warm by this process (where its threads forbid a fork) ends with the session."""
    yield
    if "workbook.running.kernel" in sys.modules:
        from workbook.running.kernel import stop

        stop()
