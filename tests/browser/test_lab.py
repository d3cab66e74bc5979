"""The menu, the card and the export formats in a real JupyterLab, and what its server makes of both formats."""

from __future__ import annotations

import json
import sys
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT, lab_at_its_launcher
from support.short import short_lesson

pytestmark = pytest.mark.browser
NAME = "low-tide.ipynb"


@pytest.fixture(scope="module")
def page(browser: Any, lab: str) -> Any:
    """Lab at its launcher; beside it lies a lesson whose second cell says what its tempo is not."""
    lesson = json.loads(short_lesson())
    aims = next(cell for cell in lesson["cells"] if cell["id"] == "aims")
    aims["source"] = "".join(aims["source"]) + "\n\nPlay it at a tempo of 140."
    return lab_at_its_launcher(browser, lab, {NAME: lesson})


@pytest.fixture
def lesson(page: Any) -> Any:
    page.evaluate(f"() => window.jupyterapp.commands.execute('docmanager:open', {{ path: '{NAME}' }})")
    page.wait_for_function(f"""() => {{ const {{ context }} = window.jupyterapp.shell.currentWidget;
        return context?.path === '{NAME}' && context.isReady; }}""", timeout=60_000)
    return page


def test_the_script_is_installed_where_lab_looks() -> None:
    """By pip, from this folder."""
    installed = Path(sys.prefix, "share/jupyter/labextensions/vampbook")
    told = json.loads((installed / "package.json").read_text(encoding="utf-8"))
    assert (installed / told["jupyterlab"]["_build"]["load"]).is_file()
    assert told == json.loads((ROOT / "workbook/lab/labextensions/vampbook/package.json").read_text(encoding="utf-8"))


def test_the_export_menu_offers_what_the_server_makes(lab: str, lesson: Any) -> None:
    lesson.click(".lm-MenuBar-item:has-text('File')")
    lesson.hover(".lm-Menu-item:has-text('Save and Export Notebook As')")
    lesson.wait_for_selector(".lm-Menu-item:has-text('Practice page (HTML)')", timeout=20_000)
    with lesson.context.expect_page() as opening:
        lesson.click(".lm-Menu-item:has-text('Lesson handout (PDF)')")
    opening.value.close()
    for name, start in (("lesson_handout", b"%PDF"), ("practice_page", b"<!DOCTYPE html>")):
        asked = urllib.request.Request(f"{lab}/nbconvert/{name}/{NAME}", headers={"Referer": f"{lab}/lab"})
        with urllib.request.urlopen(asked) as answer:
            assert answer.read(len(start)) == start


def test_a_check_is_shown_over_the_notebook_and_leads_to_its_cells(lesson: Any) -> None:
    lesson.click(".lm-MenuBar-item:has-text('Lesson')")
    lesson.click(".lm-Menu-item:has-text('Check this lesson')")
    lesson.wait_for_selector(".vampbook-said li button", timeout=120_000)
    inside = "e => e.closest('.vampbook-said').getBoundingClientRect().bottom >= e.getBoundingClientRect().bottom"
    assert lesson.locator(".vampbook-said li button").evaluate(inside), "nothing of it is cut off"
    lesson.click(".vampbook-said li button")
    assert "1 problem found" in lesson.inner_text(".vampbook-said")
    assert "the tempo is ♩ = 92" in lesson.inner_text(".vampbook-said")
    assert lesson.evaluate("() => window.jupyterapp.shell.currentWidget.content.activeCellIndex") == 1
    lesson.click(".vampbook-said button[aria-label=Close]")
    assert lesson.locator(".vampbook-said").count() == 0


def test_the_card_asks_until_a_lesson_can_be_written(page: Any) -> None:
    page.evaluate("() => { window.asked = window.jupyterapp.commands.execute('launcher:create'); }")
    page.click(".jp-LauncherCard:has-text('Lesson'):visible")
    page.fill(".jp-Dialog input[name=title]", "Morning ferry")
    page.fill(".jp-Dialog input[name=changes]", "| Gm7 | Xz9 |")
    page.click(".jp-Dialog .jp-mod-accept")
    page.wait_for_selector(".jp-Dialog [role=alert]", timeout=60_000)
    assert "line 1, column 9: “Xz9” is not a chord symbol" in page.inner_text(".jp-Dialog [role=alert]")
    assert page.input_value(".jp-Dialog input[name=title]") == "Morning ferry"
    page.click(".jp-Dialog .jp-mod-reject")
