"""What a practice page keeps: by the pack's own key, over a reload, in a file; whatever a browser gives back."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from support.lab import EXPLORE
from support.practice_pages import choose, notebook, opened, state, written

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def silent(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four bars, with its plan; its sounds are left out, its clicks are not."""
    return written(tmp_path_factory.mktemp("page"), notebook())


def test_ticks_and_days_are_the_packs_own(browser: Any, tmp_path: Path) -> None:
    """Two lessons of one title over other changes share nothing; a drill that was changed leaves the rest in place."""
    one = notebook()
    other = notebook("chain-ferry")
    other["metadata"]["vampbook"]["title"] = one["metadata"]["vampbook"]["title"]
    mended = copy.deepcopy(one)
    for cell in mended["cells"]:
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if "application/vnd.vampbook.line+json" in data:
                stored = data["application/vnd.vampbook.line+json"]
                text = stored if isinstance(stored, str) else json.dumps(stored)
                data["application/vnd.vampbook.line+json"] = text.replace("Continuous", "Mended")
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    try:
        with opened(browser, written(tmp_path, one, "one"), context=context) as page:
            page.evaluate("() => document.querySelectorAll('.read details').forEach((one) => { one.open = true; })")
            page.locator("input[data-tick]").first.check()
            choose(page, "p-typed", "60")
            choose(page, "p-theme", "dark")
        with opened(browser, written(tmp_path, other, "other"), context=context) as page:
            assert page.locator("input[data-tick]:checked").count() == 0
            assert page.locator("html[data-theme=dark]").count() == 0
        with opened(browser, written(tmp_path, mended, "mended"), context=context) as page:
            assert page.locator("input[data-tick]:checked").count() == 1
            assert page.locator("html[data-theme=dark]").count() == 1
            assert state(page)["tempo"] == 92, "another line begins anew"
        with opened(browser, tmp_path / "one.html", context=context) as page:
            assert state(page)["tempo"] == 60
    finally:
        context.close()


def test_the_log_goes_to_another_browser_and_nowhere_else(browser: Any, silent: Path, tmp_path: Path) -> None:
    with opened(browser, silent) as page:
        choose(page, "p-count", "0")
        page.locator("#p-play").click()
        page.wait_for_timeout(3300)
        page.locator("#p-play").click()
        assert page.locator("[data-minutes]").first.text_content() == "0.1 min"
        page.locator("summary", has_text="As a table").click()
        with page.expect_download() as waiting:
            page.locator("#p-save").click()
        file = tmp_path / "log.json"
        file.write_bytes(Path(waiting.value.path()).read_bytes())
        told = json.loads(file.read_text(encoding="utf-8"))
        assert told["title"] == "Slack water"
        (day,) = told["days"].values()
        assert 0.04 < next(iter(day.values()))["minutes"] < 0.2
    with opened(browser, silent) as page:
        page.locator("summary", has_text="As a table").click()
        assert page.locator("#p-days tr").count() == 0
        for wrong in ("{", "[]", json.dumps({**told, "vampbook": "another"})):
            page.locator("#p-read").set_input_files({"name": "a.json", "mimeType": "application/json",
                                                     "buffer": wrong.encode()})
            page.wait_for_function("() => document.getElementById('p-read-say').textContent.includes('not from')")
            assert page.locator("#p-days tr").count() == 0
        page.locator("#p-read").set_input_files(str(file))
        page.wait_for_function("() => document.querySelectorAll('#p-days tr').length === 1")
        assert page.locator("#p-days td").nth(1).text_content() == "0.1"
        page.evaluate("() => { document.getElementById('p-read-say').textContent = ''; }")
        page.locator("#p-read").set_input_files(str(file))
        page.wait_for_function("() => document.getElementById('p-read-say').textContent.includes('were added')")
        kept = page.evaluate("() => Object.values(localStorage).map((one) => JSON.parse(one).days)")
        assert kept == [told["days"]], "read twice, counted once"


@pytest.mark.parametrize("junk", [
    "null", "{", *(["[]", "7", '"words"'] if EXPLORE else []),
    '{"line": 5, "drills": [1], "levels": {"line": null}, "days": {"x": 1}}',
    '{"days": {"2026-01-01": {"a": {"minutes": 1e308, "best": "<b>"}}}, "look": {"theme": "evil"}, "ticks": {"a": 3}}',
    '{"days": {"2026-01-01": {"KEY": {"takes": [[1, 2], "x", [9, 9, 3, 1], [92, "<b>", 3, 1]]}}}, "delay": "<b>"}',
    '{"drills": {"KEY": {"tempo": -1, "loop": [9, 2], "loops": [{"name": "<img>", "bars": [0, 99]}, null, 4]}}}',
    '{"drills": {"KEY": {"step": 99, "ticks": "aaaa", "place": 1e9, "rise": null}}}',
])
def test_whatever_a_browser_kept_the_page_opens(browser: Any, silent: Path, junk: str) -> None:
    with opened(browser, silent) as page:
        page.evaluate("""(junk) => {
            const data = JSON.parse(document.getElementById("practice-data").textContent);
            localStorage.setItem(`vampbook:pack:${data.pack}`, junk.replace("KEY", data.lines[0].key));
        }""", junk)
        page.reload()
        page.wait_for_function("() => document.documentElement.dataset.ready")
        assert state(page)["tempo"] == 92
        assert state(page)["loop"] is None
        assert page.locator("#p-steps li").count() == 4
        page.locator("#p-play").click()
        page.wait_for_function("() => window.practice.state().beat > 0.3 || window.practice.state().counting")


def test_several_drills_each_keep_their_own(browser: Any, tmp_path: Path) -> None:
    with opened(browser, written(tmp_path, notebook("glass-lift"))) as page:
        assert page.locator("#p-line option").count() == 4
        choose(page, "p-typed", "60")
        page.evaluate("() => { const list = document.getElementById('p-line'); list.selectedIndex = 3;"
                      "list.dispatchEvent(new Event('change')); }")
        assert state(page)["tempo"] == 96
        assert page.locator("figure.music:visible").count() == 1
        assert "Tapped" in page.locator("figure.music:visible .picture").get_attribute("aria-label")
        page.evaluate("() => document.querySelectorAll('.read details').forEach((one) => { one.open = true; })")
        page.locator("[data-play]").first.click()
        assert state(page)["playing"]
        assert state(page)["tempo"] == 60
        assert page.locator("[data-play]").first.inner_text() == "Pause"
        page.locator("[data-play]").first.click()
        assert not state(page)["playing"]
