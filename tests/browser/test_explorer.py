"""The neck explorer in a real JupyterLab and Chromium: picks, layers, keyboard, and how soon a change is seen."""

from __future__ import annotations

import statistics

import pytest
from support.lab import open_notebook

pytestmark = pytest.mark.browser

# Change a control, then wait until the board's own title has changed and been painted: milliseconds.
SEEN_MS = """async ([name, symbol]) => {
  const input = document.querySelector(`.vb-neck [data-name=${name}]`);
  const stage = document.querySelector('.vb-neck-stage');
  const painted = new Promise((done) => {
    const watch = new MutationObserver(() => {
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now()));
    });
    watch.observe(stage, { childList: true });
  });
  const start = performance.now();
  input.value = symbol;
  input.dispatchEvent(new Event('input', { bubbles: true }));
  return (await painted) - start;
}"""
CLICK_MS = """async (place) => {
  const start = performance.now();
  document.querySelector(`[data-place='${place}']`).dispatchEvent(new MouseEvent('click', { bubbles: true }));
  await new Promise(requestAnimationFrame);
  return performance.now() - start;
}"""


def test_picks_layers_and_keys(lab: str, capsys: pytest.CaptureFixture[str]) -> None:
    from playwright.sync_api import expect

    with open_notebook(lab, "neck.ipynb") as page:
        neck = page.locator(".vb-neck").first
        answer = neck.locator(".vb-neck-answer")
        expect(neck.locator("[data-place='6:3']")).to_be_visible(timeout=60_000)
        for place in ("6:3", "5:5", "4:3", "3:3"):
            neck.locator(f"[data-place='{place}']").click()
        # G D F Bb is Gm7 (common practice, no source)
        expect(answer).to_contain_text("Gm7", timeout=20_000)
        expect(answer).to_contain_text("1, 5, ♭7, ♭3")
        assert neck.locator("[aria-pressed=true]").count() == 4
        assert "E|-3-------" in answer.locator("pre").inner_text()
        assert "A|---5-----" in answer.locator("pre").inner_text()

        before = neck.locator(".label").count()
        neck.get_by_role("checkbox", name="G dorian").uncheck()
        assert neck.locator(".label").count() < before
        neck.get_by_role("checkbox", name="note names").check()
        assert "B♭" in neck.locator(".label").all_text_contents()

        neck.get_by_role("button", name="Clear picks").click()
        neck.locator("[data-place='6:3']").focus()
        cells = page.locator(".jp-Cell").count()
        for key in ("ArrowUp", "ArrowRight", "ArrowRight", "Enter"):
            page.keyboard.press(key)
        assert neck.locator("[aria-pressed=true]").get_attribute("data-place") == "5:5"
        assert page.locator(".jp-Cell").count() == cells, "Lab's keys stay out"

        moves = [page.evaluate(SEEN_MS, ["position", str(5 + index % 2)]) for index in range(12)]
        tunings = []
        for index in range(12):
            tunings.append(page.evaluate(SEEN_MS, ["tuning", ["drop D", "standard"][index % 2]]))
            page.wait_for_timeout(150)  # the boards of the other positions follow
        clicks = [page.evaluate(CLICK_MS, "4:7") for _ in range(12)]
        with capsys.disabled():
            print(f"\nexplorer: a new position is seen after {statistics.median(moves):.0f} ms (median of 12; aim "
                  f"50), a new tuning, asked of the kernel, after {statistics.median(tunings):.0f} ms, "
                  f"a click after {statistics.median(clicks):.0f} ms (a frame is 17)")

        neck.locator("[data-name=chord]").fill("H7")
        expect(neck.locator(".vb-neck-problem")).to_contain_text("is not a chord symbol", timeout=20_000)
        assert neck.locator("svg").count() == 1, "the last good neck stays"
