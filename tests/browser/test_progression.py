"""The progression notebook in a real JupyterLab and Chromium: the teacher types, the panel follows."""

from __future__ import annotations

import pytest
from support.lab import open_notebook

pytestmark = pytest.mark.browser


def test_the_panel_follows_what_is_typed(lab: str) -> None:
    from playwright.sync_api import expect

    with open_notebook(lab, "progression.ipynb") as page:
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
