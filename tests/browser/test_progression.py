"""The progression notebook in a real JupyterLab and Chromium: the teacher types, the panel follows."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM = next((found for name in BROWSERS if (found := shutil.which(name))), None)
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None and not os.environ.get("CI"), reason="no Chromium on this machine"),
]


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A JupyterLab of its own on a copy of the notebooks; gives its address."""
    folder = tmp_path_factory.mktemp("lab")
    shutil.copytree(ROOT / "workbook" / "notebooks", folder / "notebooks")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    places = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")
    settings = {name: str(folder / name.lower()) for name in places}
    server = subprocess.Popen(
        [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", f"--port={port}",
         "--IdentityProvider.token=", f"--ServerApp.root_dir={folder / 'notebooks'}",
         "--LabApp.expose_app_in_browser=True"],
        env=os.environ | settings | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/api/status", timeout=1).close()
                break
            except OSError:
                time.sleep(0.5)
        yield address
    finally:
        server.terminate()
        server.wait(20)


def test_the_panel_follows_what_is_typed(lab: str) -> None:
    from playwright.sync_api import expect, sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=[
            "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"])
        page = browser.new_page(viewport={"width": 1300, "height": 1600})
        page.goto(f"{lab}/doc/tree/progression.ipynb?reset")
        page.wait_for_function(
            "() => window.jupyterapp && window.jupyterapp.shell.currentWidget"
            " && window.jupyterapp.shell.currentWidget.sessionContext"
            " && window.jupyterapp.shell.currentWidget.sessionContext.session"
            " && window.jupyterapp.shell.currentWidget.sessionContext.session.kernel", timeout=60_000)
        page.evaluate("async () => { await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.info; }")
        page.evaluate("async () => { await window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
        panel = page.locator(".vb-panel").first
        expect(panel.locator("[data-part=harmony]")).to_contain_text("G dorian", timeout=60_000)
        assert panel.locator("[data-part=drill] img").get_attribute("alt")

        changes = panel.locator("[data-name=changes]")
        changes.fill("| Am7 | D7 |")
        expect(panel.locator("[data-part=harmony]")).to_contain_text("A dorian", timeout=20_000)

        before = page.locator(".jp-Cell").count()
        changes.press("End")
        changes.press("b")  # Lab's command for a new cell: it must reach the text and nothing else
        expect(panel.locator(".vb-problem")).to_be_visible(timeout=20_000)
        assert page.locator(".jp-Cell").count() == before
        assert "A dorian" in panel.locator("[data-part=harmony]").inner_text(), "the last good parts stay"

        changes.fill("| Cm7 | G7#9 |")
        panel.locator("[data-name=position]").fill("3")
        expect(panel.locator("[data-part=harmony]")).to_contain_text("G altered", timeout=20_000)
        expect(panel.locator(".vb-problem")).to_be_hidden(timeout=20_000)
        browser.close()
