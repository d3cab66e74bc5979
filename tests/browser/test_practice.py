"""The practice page in a real Chromium, opened from its file: sound clock and cursor, loop, speed, mute, keys, memory.

Accessibility by axe-core (MPL-2, through PyPI axe-playwright-python). The audio clock is the browser's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
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
        page.add_init_script(HOOK)
        page.goto(path.as_uri())
        page.wait_for_function("() => document.documentElement.dataset.ready")
        try:
            yield page
            assert {url for url in asked if not url.startswith(("data:", "blob:"))} == {path.as_uri()}
            assert told == []
        finally:
            browser.close()


def test_a_left_handed_neck_is_mirrored(tmp_path: Path) -> None:
    from workbook.handouts.page import lesson_page
    from workbook.reader import Reader, read_by

    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    places = {}
    for hand in (False, True):
        with read_by(Reader(left_handed=hand)):
            path = tmp_path / f"{hand}.html"
            path.write_text(lesson_page(ROOT / "lessons" / "slack-water.ipynb"), encoding="utf-8")
        with opened(path) as page:
            page.click("[data-play]")
            page.wait_for_selector("#p-neck svg", state="attached")
            places[hand] = page.eval_on_selector_all("#p-neck .dot", """all => Object.fromEntries(all.map(one => [
                one.dataset.place, one.querySelector("circle").getBoundingClientRect().x]))""")
    right, left = places[False], places[True]
    assert right["1:3"] < right["1:6"]
    assert left["1:3"] > left["1:6"]


HOOK = """(() => {
  window.startedSounds = [];
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, offset, ...rest) {
    window.startedSounds.push([when, offset]);
    return start.call(this, when, offset, ...rest);
  };
})()"""
WATCH = """async (milliseconds) => {
  const found = [], end = performance.now() + milliseconds;
  while (performance.now() < end) {
    // Asked for between two frames, it comes after the page's own work on the frame, and sees what is painted.
    await new Promise((done) => setTimeout(() => requestAnimationFrame(done)));
    const state = window.practice.state(), floor = document.getElementById("practice").getBoundingClientRect().top;
    const seen = [...document.querySelectorAll(".cursor")].map((one) => one.getBoundingClientRect()).some((box) =>
      box.top >= 0 && box.bottom <= floor && box.left >= 0 && box.right <= innerWidth);
    found.push([state.heard, state.beat, state.shown, state.now.length, seen]);
  }
  return found;
}"""


def state(page: Any) -> dict[str, Any]:
    return dict(page.evaluate("() => window.practice.state()"))


def play(page: Any) -> None:
    page.locator("#p-play").click()
    page.wait_for_function("() => window.practice.state().time > 0.05")


def yellow(page: Any) -> int:
    """How many pixels of the window have the cursor's colour over white."""
    import io

    import numpy as np
    from PIL import Image

    shot = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)
    return int((np.abs(shot - (247, 212, 105)).max(axis=2) < 12).sum())


@pytest.mark.parametrize("size", SIZES)
def test_the_cursor_stands_on_the_note_that_sounds(built: Path, size: str, capsys: pytest.CaptureFixture[str]) -> None:
    with opened(built, size) as page:
        ready = float(page.evaluate("() => document.documentElement.dataset.ready"))
        page.evaluate("() => { document.getElementById('p-more').open = true; }")
        page.locator("#p-count").uncheck()
        play(page)
        frames = page.evaluate(WATCH, 4000)
        notes = page.evaluate("() => window.practice.notes()")
        assert yellow(page) > 200, "the cursor can be seen"
        # What was really started on the audio clock, by a hook on the browser's own sources, not by the page's word.
        started = page.evaluate("() => window.startedSounds")
        starts = sorted(when for when, offset in started if offset in notes["offsets"])
        wrong = []
        for heard, _, shown, lit, _ in frames:
            right = {sum(when <= heard + slack for when in starts) - 1 for slack in (-0.040, 0.0, 0.040)}
            if heard > starts[0] + 0.040 and shown not in right:
                wrong.append((heard, shown, right))
            assert lit >= 1
        assert len({frame[2] for frame in frames}) >= 8
        hidden = [frame for frame in frames if frame[0] > starts[0] and not frame[4]]
        assert not hidden, f"the cursor lies under the bar or beyond an edge: {hidden[:5]}"
        assert not wrong, wrong[:5]
        # The line's first eighths follow each other at its tempo on the audio clock.
        gaps = [later - sooner for sooner, later in pairwise(starts[:8])]
        written = [(b - a) * 60 / notes["tempo"] for a, b in pairwise(notes["starts"][:8])]
        assert gaps == pytest.approx(written, abs=1e-3)
        with capsys.disabled():
            print(f"\npractice page, {size}: ready after {ready:.0f} ms (aim 1,000), {len(frames)} frames, "
                  f"{len({frame[2] for frame in frames})} notes lit")


@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_played_under_the_bar(built: Path, size: str) -> None:
    """The bar grows while the line plays: print gets large, the window gets smaller."""
    with opened(built, size) as page:
        page.evaluate("() => { document.getElementById('p-more').open = true; }")
        page.locator("#p-count").uncheck()
        play(page)
        page.wait_for_function("() => window.practice.state().beat > 0.1")
        page.evaluate("() => document.getElementById('p-large').click()")
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height - 60})
        page.wait_for_timeout(1000)  # to the next note at least
        frames = page.evaluate(WATCH, 1500)
        assert len({frame[2] for frame in frames}) >= 3
        assert all(frame[4] for frame in frames), [frame for frame in frames if not frame[4]][:5]


def test_count_in_pause_and_keys(built: Path) -> None:
    with opened(built) as page:
        page.keyboard.press("Space")
        page.wait_for_function("() => window.practice.state().count === true")
        assert page.locator("#p-where").inner_text() == "count-in"
        assert page.locator("#p-care").is_visible(), "the caution stands at the first play"
        page.wait_for_function("() => { const now = window.practice.state(); return now.beat > 0.2 && !now.count; }",
                               timeout=8000)
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
        page.locator("#p-from").fill("2")
        page.locator("#p-from").blur()
        assert state(page)["loop"] == [4, 8]
        page.locator("#p-from").fill("1")
        page.locator("#p-from").blur()
        page.locator("#p-count").uncheck()
        page.evaluate("() => { document.getElementById('p-speed').value = 150; "
                      "document.getElementById('p-speed').dispatchEvent(new Event('input')); }")
        play(page)
        frames = page.evaluate(WATCH, 4200)
        beats = [frame[1] for frame in frames]
        assert max(beats) < 8.05
        assert any(later < sooner - 4 for sooner, later in pairwise(beats)), "it begins again"
        rate = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in zip(frames, frames[20:], strict=False) if b[1] > a[1]]
        assert sorted(rate)[len(rate) // 2] == pytest.approx(1.5 * 96 / 60, rel=0.03)


def test_mute_ladder_and_choice_of_line(built: Path) -> None:
    with opened(built) as page:
        play(page)
        for name, part in (("p-click", "click"), ("p-backing", "bass"), ("p-backing", "drums"),
                           ("p-backing", "chords"), ("p-line-sound", "line")):
            page.locator(f"#{name}").uncheck()
            assert page.evaluate("() => window.practice.state()")["gains"][part] == 0
            page.locator(f"#{name}").check()
            assert page.evaluate("() => window.practice.state()")["gains"][part] == 1
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
        page.locator("#p-page summary").click()
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
        page.locator("#p-page summary").click()
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
        page.evaluate("() => document.querySelectorAll('#practice details').forEach((one) => { one.open = true; })")
        box = page.locator("#p-dark")
        box.check() if look == "dark" else box.uncheck()
        found = Axe().run(page).response["violations"]
        bad = [(one["id"], one["impact"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found
               if one["impact"] in ("serious", "critical")]
        assert bad == []


def test_the_page_is_small(built: Path) -> None:
    assert built.stat().st_size < 6_000_000
