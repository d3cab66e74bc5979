"""Shared settings: property tests draw the same examples each run; VAMPBOOK_EXPLORE=1 draws new and more ones."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

os.environ.setdefault("VAMPBOOK_CACHE", tempfile.mkdtemp(prefix="vampbook-cache-"))  # not the user's own
settings.register_profile("steady", derandomize=True, deadline=None, database=None, max_examples=50)
settings.register_profile("explore", deadline=None, database=None, max_examples=3000)
settings.load_profile("explore" if os.environ.get("VAMPBOOK_EXPLORE") else "steady")


# What takes longest, half a minute and more: given out first, so that no process is left alone with it at the end.
LONGEST = ("browser", "test_cluster.py", "test_library.py", "test_hostile_lessons.py", "test_lessons.py",
           "test_guide.py", "test_growth.py", "test_notebooks.py", "test_faults.py", "test_hangs.py", "test_outlive.py",
           "test_isolation.py", "test_writers.py", "test_course.py", "test_refresh.py", "test_stale.py",
           "test_project.py", "test_run.py", "test_texts.py", "test_hostile_pages.py", "test_every_drill.py",
           "test_musicxml_back.py", "test_check.py")


def pytest_configure(config: pytest.Config) -> None:
    if config.pluginmanager.hasplugin("xdist"):
        config.option.loadscopereorder = False  # which would begin with the files of most tests


@pytest.hookimpl(tryfirst=True)  # before the process's own hook, which reads the groups
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Side by side (pytest -n) a file's tests stay together, and all that drive a browser: they share set-up."""
    if not config.pluginmanager.hasplugin("xdist"):
        return
    ranks = {}
    for item in items:
        browser = item.get_closest_marker("browser") is not None
        item.add_marker(pytest.mark.xdist_group("browser" if browser else str(item.path)))
        name = "browser" if browser else item.path.name
        ranks[item] = LONGEST.index(name) if name in LONGEST else len(LONGEST)
    if hasattr(config, "workerinput"):  # one process of several
        items.sort(key=ranks.__getitem__)


@pytest.fixture(scope="session", autouse=True)
def _no_kernel_left() -> Iterator[None]:
    """A kernel kept warm by this process (where its threads forbid a fork) ends with the session."""
    yield
    if "workbook.running.kernel" in sys.modules:
        from workbook.running.kernel import stop

        stop()
