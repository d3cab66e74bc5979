"""The switch in a real JupyterLab that keeps packs current: two lessons at once, an edit, a page loaded anew, off."""

from __future__ import annotations

import json
from typing import Any

import pytest
from support.lab import lab_at_its_launcher
from support.short import short_lesson

pytestmark = pytest.mark.browser
TIDE, BUS = "kept/low-tide.ipynb", "kept/night bus ♯1.ipynb"
CURRENT = """() => document.querySelector(".jp-NotebookPanel:not(.lm-mod-hidden) .vampbook-said")
    ?.innerText.includes("%s")"""


@pytest.fixture(scope="module")
def page(browser: Any, lab: str) -> Any:
    return lab_at_its_launcher(browser, lab, dict.fromkeys((TIDE, BUS), json.loads(short_lesson())), "kept")


def show(page: Any, path: str) -> None:
    page.evaluate("async path => { await window.jupyterapp.commands.execute('docmanager:open', { path }); }", path)
    page.wait_for_function("""path => { const { context } = window.jupyterapp.shell.currentWidget ?? {};
        return context?.path === path && context.isReady; }""", arg=path, timeout=60_000)


def kept(page: Any) -> list[str]:
    """The lessons that the server keeps, by itself asked."""
    told: list[str] = page.evaluate("""async () => { const all = await (await fetch('/api/sessions')).json();
        return all.map((one) => one.path).filter((one) => one.includes('.vampbook-keeps-')).sort(); }""")
    return told


def saved(page: Any, words: str) -> None:
    """The second cell with these words at its end, saved."""
    page.evaluate("""async (words) => { const panel = window.jupyterapp.shell.currentWidget;
        const { sharedModel } = panel.content.widgets[1].model;
        sharedModel.setSource(sharedModel.source + words);
        await panel.context.save(); }""", words)


def test_packs_are_kept_current_through_a_reload_until_they_are_switched_off(page: Any) -> None:
    for path in (TIDE, BUS):
        show(page, path)
        page.click(".lm-MenuBar-item:has-text('Lesson')")
        page.click(".lm-Menu-item:has-text('Keep the pack current')")
        page.wait_for_function(CURRENT % "Nothing false found", timeout=180_000)
    assert kept(page) == ["kept/.vampbook-keeps-low-tide.ipynb", "kept/.vampbook-keeps-night bus ♯1.ipynb"]

    show(page, TIDE)
    page.click(".jp-NotebookPanel:not(.lm-mod-hidden) .vampbook-said button:has-text('lesson.html')")
    page.wait_for_selector(".jp-HTMLViewer iframe[sandbox*=allow-scripts]", state="attached", timeout=60_000)
    frame = page.frame_locator(".jp-HTMLViewer iframe")
    frame.get_by_role("button", name="Play", exact=True).wait_for(timeout=60_000)  # the page's own script runs
    show(page, TIDE)
    saved(page, "\n\nWhistle it at a tempo of 140.")
    page.wait_for_function(CURRENT % "1 problem found", timeout=120_000)
    page.wait_for_function("""() => [...window.jupyterapp.shell.widgets('main')].find((one) =>
        one.context?.path.endsWith('lesson.html')).context.model.toString().includes('Whistle it')""", timeout=90_000)
    page.click(".jp-NotebookPanel:not(.lm-mod-hidden) .vampbook-said button:has-text('the tempo is ♩ = 92')")
    assert page.evaluate("() => window.jupyterapp.shell.currentWidget.content.activeCellIndex") == 1

    page.reload()
    page.wait_for_selector(".jp-NotebookPanel", state="attached", timeout=60_000)  # any of the two: one hides the other
    show(page, TIDE)
    page.wait_for_function(CURRENT % "1 problem found", timeout=60_000)
    toggle = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .vampbook-said").get_by_role("switch")
    assert toggle.is_checked()
    toggle.uncheck()
    page.wait_for_function(CURRENT % "no longer kept current", timeout=90_000)
    assert not toggle.is_checked()
    page.wait_for_function("""async () => !(await (await fetch('/api/sessions')).text()).includes('keeps-low-tide')""")

    show(page, BUS)
    page.wait_for_function(CURRENT % "Nothing false found", timeout=60_000)
    page.evaluate("""async () => { for (const one of await (await fetch('/api/sessions')).json())
        if (one.path.includes('keeps-night')) await window.jupyterapp.serviceManager.sessions.shutdown(one.id); }""")
    page.wait_for_function(CURRENT % "no longer kept current: it was switched off elsewhere", timeout=90_000)
    assert kept(page) == []
