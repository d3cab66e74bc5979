"""The practice page in a real Chromium, opened from its file: sound clock and cursor, loop, speed, mute, keys, memory.

Accessibility by axe-core (MPL-2, through PyPI axe-playwright-python). The audio clock is the browser's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from support.lab import CHROMIUM, QUIET, ROOT

pytestmark = pytest.mark.browser
SIZES = {"desktop": (1280, 900), "phone": (390, 844)}
LESSON = "glass-lift"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from workbook.handouts.page import lesson_page

    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    path = tmp_path_factory.mktemp("page") / "lesson.html"
    path.write_text(lesson_page(ROOT / "lessons" / f"{LESSON}.ipynb"), encoding="utf-8")
    return path


@contextmanager
def opened(path: Path, size: str = "desktop") -> Iterator[Any]:
    """The page, with every request and every complaint recorded; both must be none at the end."""
    from playwright.sync_api import sync_playwright

    asked: list[str] = []
    told: list[str] = []
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=[
            *QUIET, "--autoplay-policy=no-user-gesture-required"])
        width, height = SIZES[size]
        context = browser.new_context(viewport={"width": width, "height": height}, has_touch=size == "phone")
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: told.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: told.append(str(error)))
        page.goto(path.as_uri())
        page.wait_for_function("() => document.documentElement.dataset.ready")
        try:
            yield page
            assert [url for url in asked if not url.startswith(("data:", "blob:"))] == [path.as_uri()] * sum(
                url == path.as_uri() for url in asked), "the page asks for nothing but itself"
            assert told == []
        finally:
            browser.close()


WATCH = """async (milliseconds) => {
  const found = [], end = performance.now() + milliseconds;
  while (performance.now() < end) {
    await new Promise(requestAnimationFrame);
    const state = window.practice.state();
    found.push([state.time, state.beat, state.count, state.shown, state.now.length]);
  }
  return found;
}"""


def state(page: Any) -> dict[str, Any]:
    return dict(page.evaluate("() => window.practice.state()"))


def play(page: Any) -> None:
    page.locator("#p-play").click()
    page.wait_for_function("() => window.practice.state().time > 0.05")


@pytest.mark.parametrize("size", SIZES)
def test_the_cursor_stands_on_the_note_that_sounds(built: Path, size: str, capsys: pytest.CaptureFixture[str]) -> None:
    with opened(built, size) as page:
        ready = float(page.evaluate("() => document.documentElement.dataset.ready"))
        page.locator("#p-count").uncheck()
        play(page)
        frames = page.evaluate(WATCH, 4000)
        steps = [beat for beat, _ in page.evaluate("() => window.practice.steps()")]
        rate = 96 / 60
        moving = [frame for frame in frames if frame[1] >= 0]
        wrong = []
        for time, beat, _, shown, lit in moving:
            expected = max(index for index, at in enumerate(steps) if at <= beat + 1e-6)
            late = min(abs(beat - steps[index]) / rate for index in (expected, min(expected + 1, len(steps) - 1)))
            if shown != expected and late > 0.040:
                wrong.append((time, beat, shown, expected))
            assert lit >= 1
        assert len({frame[3] for frame in moving}) >= 8
        assert not wrong, wrong[:5]
        # The beat itself follows the audio clock at the tempo of the line.
        (first, last) = moving[5], moving[-5]
        assert (last[1] - first[1]) / (last[0] - first[0]) == pytest.approx(rate, rel=0.02)
        with capsys.disabled():
            print(f"\npractice page, {size}: ready after {ready:.0f} ms (aim 1,000), {len(moving)} frames, "
                  f"{len({frame[3] for frame in moving})} notes lit")


def test_count_in_pause_and_keys(built: Path) -> None:
    with opened(built) as page:
        page.keyboard.press("Space")
        page.wait_for_function("() => window.practice.state().count === true")
        assert page.locator("#p-where").inner_text() == "count-in"
        assert page.locator("#p-care").is_visible(), "the caution stands at the first play"
        page.wait_for_function("() => window.practice.state().beat > 0.2 && !window.practice.state().count", timeout=8000)
        page.keyboard.press("Space")
        assert state(page)["playing"] is False
        page.keyboard.press("ArrowRight")
        assert page.locator("#p-where").inner_text() in ("bar 1", "bar 2")
        assert state(page)["place"] == 4
        page.keyboard.press("+")
        assert state(page)["speed"] == pytest.approx(1.05)
        page.keyboard.press("[")
        assert state(page)["loop"] == [4, 16]
        page.keyboard.press("]")
        assert state(page)["loop"] == [4, 8]
        page.keyboard.press("Escape")
        assert state(page)["loop"] is None


def test_dragging_over_bars_loops_them(built: Path) -> None:
    with opened(built) as page:
        figure = page.locator("figure.chosen")
        figure.scroll_into_view_if_needed()
        bars = figure.locator(".strip").first.locator("g.measure")
        one, two = bars.nth(0).bounding_box(), bars.nth(1).bounding_box()
        assert one
        assert two
        page.mouse.move(one["x"] + one["width"] * 0.7, one["y"] + 40)
        page.mouse.down()
        page.mouse.move(two["x"] + two["width"] * 0.5, two["y"] + 40, steps=6)
        page.mouse.up()
        assert state(page)["loop"] == [0, 8]
        assert page.locator("#p-loop-out").inner_text() == "bars 1 to 2"
        assert page.locator(".loop-bar").count() == 2
        page.locator("#p-count").uncheck()
        page.evaluate("() => { document.getElementById('p-speed').value = 150; "
                      "document.getElementById('p-speed').dispatchEvent(new Event('input')); }")
        play(page)
        frames = page.evaluate(WATCH, 4200)
        beats = [frame[1] for frame in frames]
        assert max(beats) < 8.05
        assert any(later < sooner - 4 for sooner, later in zip(beats, beats[1:], strict=False)), "it begins again"
        rate = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in zip(frames, frames[20:], strict=False) if b[1] > a[1]]
        assert sorted(rate)[len(rate) // 2] == pytest.approx(1.5 * 96 / 60, rel=0.03)


def test_mute_ladder_and_choice_of_line(built: Path) -> None:
    with opened(built) as page:
        play(page)
        for name, part in (("p-click", "click"), ("p-backing", "backing"), ("p-line-sound", "line")):
            page.locator(f"#{name}").uncheck()
            assert page.evaluate("() => window.practice.gains()")[part] == 0
            page.locator(f"#{name}").check()
            assert page.evaluate("() => window.practice.gains()")[part] == 1
        page.locator("#p-play").click()
        first = state(page)["line"]
        page.locator("[data-play]").nth(1).click()
        assert state(page)["line"] != first
        assert state(page)["playing"]
        page.locator("#p-count").uncheck()
        page.locator("#p-step").fill("10")
        page.locator("#p-step").dispatch_event("change")
        page.keyboard.press("Escape")
        page.locator("h1").click()
        page.keyboard.press("]")  # the first bar alone: short passes
        page.wait_for_function("() => window.practice.state().speed > 1.05", timeout=15_000)


def test_the_sound_is_there_and_loud_enough(built: Path) -> None:
    """The bank decodes to sounds that are neither silent nor clipped."""
    with opened(built) as page:
        peaks = page.evaluate("""async () => {
          const data = JSON.parse(document.getElementById('practice-data').textContent);
          const audio = new OfflineAudioContext(1, 48000, 48000);
          const bytes = Uint8Array.from(atob(data.bank), (sign) => sign.charCodeAt(0));
          const bank = await audio.decodeAudioData(bytes.buffer);
          const samples = bank.getChannelData(0);
          return data.samples.map(([start, length]) => {
            let peak = 0;
            for (let at = Math.round(start * bank.sampleRate); at < (start + length) * bank.sampleRate; at += 1)
              peak = Math.max(peak, Math.abs(samples[at] ?? 0));
            return peak;
          });
        }""")
        assert len(peaks) > 20
        assert min(peaks) > 0.005
        assert max(peaks) <= 1.0


def test_a_reload_keeps_what_was_ticked(built: Path) -> None:
    with opened(built) as page:
        box = page.locator("input[data-tick='line-5'], input[data-tick^='line-']").first
        name = box.get_attribute("data-tick")
        box.check()
        page.locator("#p-large").check()
        play(page)
        page.wait_for_timeout(1500)
        page.locator("#p-play").click()
        page.reload()
        page.wait_for_function("() => document.documentElement.dataset.ready")
        assert page.locator(f"input[data-tick='{name}']").is_checked()
        assert page.locator("html.large").count() == 1
        shown = page.locator("[data-minutes]").all_text_contents()
        assert any(text != "0.0 min" for text in shown) or state(page)["line"]
        with page.expect_download() as waiting:
            page.locator("#p-save").click()
        text = Path(waiting.value.path()).read_text(encoding="utf-8")
        assert text.startswith("Practice log: Glass lift")
        assert "practised" in text


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("look", ["light", "dark"])
def test_no_serious_accessibility_fault(built: Path, size: str, look: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    with opened(built, size) as page:
        box = page.locator("#p-dark")
        box.check() if look == "dark" else box.uncheck()
        found = Axe().run(page).response["violations"]
        bad = [(one["id"], one["impact"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found
               if one["impact"] in ("serious", "critical")]
        assert bad == []


def test_the_page_is_small(built: Path) -> None:
    assert built.stat().st_size < 6_000_000
