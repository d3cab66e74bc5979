"""A JupyterLab of its own and a Chromium for the browser tests."""

from __future__ import annotations

import ctypes
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
CHROMIUM = next((found for name in BROWSERS if (found := shutil.which(name))), None)
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))  # every size, theme and case, not the chosen ones
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
         "--autoplay-policy=no-user-gesture-required", "--font-render-hinting=none"]


def _end_with_parent() -> None:
    """On Linux: a test run that is killed leaves no server behind (prctl(2), PR_SET_PDEATHSIG)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # which its kernels see and end by themselves


@contextmanager
def lab_on_notebooks(folder: Path) -> Iterator[str]:
    """The address of a Lab that serves a copy of the interactive notebooks, with settings of its own."""
    shutil.copytree(ROOT / "workbook" / "notebooks", folder / "notebooks")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    places = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")
    settings = {name: str(folder / name.lower()) for name in places}
    server = subprocess.Popen(
        [sys.executable, "-m", "workbook.lab.server", "jupyterlab", "--no-browser", "--allow-root", f"--port={port}",
         "--IdentityProvider.token=", f"--ServerApp.root_dir={folder / 'notebooks'}",
         "--LabApp.expose_app_in_browser=True",
         f"--LabApp.extra_labextensions_path={ROOT / 'workbook/lab/labextensions'}"],
        env=os.environ | settings | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        preexec_fn=_end_with_parent)
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
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:  # on a busy machine, while it asks its kernels to end
            server.kill()
            server.wait()


@contextmanager
def chromium() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        try:
            yield browser
        finally:
            browser.close()


def open_notebook(browser: Any, address: str, name: str) -> Any:
    """A page with the notebook open and its cells running; the kernel comes first, or a dialog would stay open."""
    page = browser.new_page(viewport={"width": 1300, "height": 1600})
    page.goto(f"{address}/doc/tree/{name}?reset")
    page.wait_for_function("() => window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel",
                           timeout=60_000)
    page.evaluate("async () => { await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.info; }")
    page.evaluate("async () => { await window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
    return page


def lab_at_its_launcher(browser: Any, address: str, notebooks: dict[str, Any], folder: str = "") -> Any:
    """A page with Lab at its launcher; the notebooks lie in its folder, by their paths."""
    page = browser.new_page(viewport={"width": 1300, "height": 1000})
    page.goto(f"{address}/lab?reset")
    page.wait_for_selector(".jp-LauncherCard", timeout=60_000)
    page.evaluate(
        """async ([notebooks, folder]) => { const { contents } = window.jupyterapp.serviceManager;
        if (folder) await contents.save(folder, { type: 'directory' });
        for (const [path, content] of Object.entries(notebooks))
            await contents.save(path, { type: 'notebook', format: 'json', content }); }""", [notebooks, folder])
    return page
