"""A take recorded on the page: what it hears is known, for the page's own clicks are led back into it.

A browser's microphone is replaced by a node of the page's own clock; the device's delay, which nobody knows on a page,
is then nothing, and what is saved can be compared with what was asked for. The file is read by soundfile.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from support.lab import CHROMIUM
from support.practice_pages import choose, chromium, notebook, opened, state, written

pytestmark = pytest.mark.browser
LOOPED = """(() => {
  navigator.mediaDevices.getUserMedia = async (asked) => {
    window.askedFor = asked;
    return new MediaStream();
  };
  AudioContext.prototype.createMediaStreamSource = function () { return (window.heard ??= this.createGain()); };
  const listen = EventTarget.prototype.addEventListener; // a browser that is busy lets the seventh block fall
  ScriptProcessorNode.prototype.addEventListener = function (name, act) {
    let count = 0;
    listen.call(this, name, (event) => { count += 1; if (count !== 7) act(event); });
  };
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (when) {
    if (window.heard) {
      const level = new GainNode(this.context, { gain: 0 });
      level.gain.setValueAtTime(0.5, when);
      level.gain.exponentialRampToValueAtTime(0.001, when + 0.04);
      this.connect(level).connect(window.heard);
    }
    return start.call(this, when);
  };
})()"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("page"), notebook())


def begun(audio: np.ndarray, rate: int) -> np.ndarray:
    """Seconds at which a click begins: what rises over a third of the highest after 50 ms of less."""
    loud = np.flatnonzero(np.abs(audio) > np.abs(audio).max() / 3)
    return loud[np.diff(loud, prepend=-rate) > 0.05 * rate] / rate


def test_a_take_is_recorded_saved_and_dropped(browser: Any, path: Path, tmp_path: Path) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    context.add_init_script(LOOPED)
    with opened(browser, path, context=context) as page:
        choose(page, "p-typed", "180")
        button, said = page.locator("#p-take"), page.locator("#p-take-say")
        assert not page.evaluate("() => window.askedFor"), "nothing is asked for before it is wanted"
        button.click()
        page.wait_for_function("() => practice.take().state === 'ready'")
        asked = page.evaluate("() => askedFor")
        assert asked == {"audio": {"echoCancellation": False, "noiseSuppression": False, "autoGainControl": False}}
        button.click()
        page.wait_for_function("() => practice.take().state === 'on'")
        assert button.inner_text() == "Stop"
        page.wait_for_function("() => practice.take().seconds > 0", timeout=30_000)  # the line ends it by itself
        assert not state(page)["playing"]
        assert "♩ = 180" in said.inner_text()
        lost = int(said.inner_text().split("busy: ")[1].split(" ms")[0])
        assert lost >= 340, "16,384 samples at 44,100 or 48,000 a second, and what a busy machine lost beside"
        first = page.evaluate("() => practice.take().first")
        how = page.locator("#p-take-how").inner_text()
        with page.expect_download() as download:
            page.locator("#p-take-save").click()
        download.value.save_as(tmp_path / "take.wav")
        page.locator("#p-take-hear").click()
        page.wait_for_function("() => practice.state().playing")
        page.locator("#p-take-hear").click()
        assert not state(page)["playing"]
        page.locator("#p-take-drop").click()
        assert page.locator("#p-taken").is_hidden()
        page.locator("#p-take-off").click()
        assert button.inner_text() == "Use the microphone"
    context.close()
    audio, rate = soundfile.read(tmp_path / "take.wav")
    assert soundfile.info(tmp_path / "take.wav").subtype == "PCM_16"
    beat = 60 / 180
    assert 4 * beat < first < 4 * beat + 0.5, "a bar is counted in"
    clicks = begun(audio, rate)
    beats = np.round((clicks - first) / beat)
    assert np.abs(clicks - first - beat * beats).max() < 0.001, "the first beat lies where it is said"
    assert set(range(-4, 16)) - {int(one) for one in beats} <= set(range(1, 16)), "but for what was lost"
    assert 16 <= len(clicks) <= 24
    assert how.startswith(f"vampbook take {download.value.suggested_filename} --lesson LESSON.ipynb --line ")
    assert how.endswith(f"--tempo 180 --first-beat {first:.3f}")
    assert 16 * beat + 0.5 < len(audio) / rate - first < 16 * beat + 2.5, "what rings at the end is kept"


def test_a_microphone_that_is_refused_is_told(browser: Any, path: Path) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_init_script("""navigator.mediaDevices.getUserMedia =
        () => Promise.reject(new DOMException('', 'NotAllowedError'));""")
    with opened(browser, path, context=context) as page:
        page.locator("#p-take").click()
        page.wait_for_function("() => document.getElementById('p-take-say').textContent.includes('not allowed')")
        assert page.locator("#p-take").inner_text() == "Use the microphone"
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    context.close()
