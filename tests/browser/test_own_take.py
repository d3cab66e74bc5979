"""A take recorded on the page: what it hears is known, for the page's own clicks are led back into it.

A browser's microphone is replaced by a node of the page's own clock; the device's delay, which nobody knows on a page,
is then nothing, and what is saved can be compared with what was asked for. The file is read by soundfile.
"""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from support.practice_pages import choose, notebook, opened, state, written
from support.recordings import RATE, play_take
from support.track_lessons import edges, lesson_over

from workbook.handouts.own_track import page_track
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import PageSound
from workbook.lesson.lesson import Lesson
from workbook.listen.findings import findings, went_well
from workbook.listen.recording import of_samples
from workbook.listen.take import hear_take
from workbook.recorded.takes import expected_of

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
    apart = np.sort(np.abs(clicks - first - beat * beats))
    assert apart[:-2].max() < 0.001, "the first beat lies where it is said; a gap may cut a click off"
    assert set(range(-4, 20)) - {int(one) for one in beats} <= set(range(1, 20)), "but for what was lost"
    assert 20 <= len(clicks) <= 28, "five bars, the last of rest, and what rings on"
    assert how.startswith(f"vampbook take {download.value.suggested_filename} --lesson LESSON.ipynb --line ")
    assert how.endswith(f"--tempo 180 --first-beat {first:.3f}")
    after = len(audio) / rate - first - 20 * beat
    print(f"{after:.3f} s after the line")
    assert 0.75 < after < 2.5, "what rings at the end is kept, the block with which it ends too"


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


# -- what is told of it ------------------------------------------------------------------------------------------------
PLAYED = """([text, rate, begins]) => {
  const samples = new Float32Array(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer);
  const audio = window.heard.context, buffer = audio.createBuffer(1, samples.length, rate);
  buffer.copyToChannel(samples, 0);
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (when) { // with the first click that is counted in
    OscillatorNode.prototype.start = start;
    const source = new AudioBufferSourceNode(audio, { buffer });
    source.connect(window.heard);
    source.start(when + begins);
    return start.call(this, when);
  };
}"""
SILENT_CLICKS = LOOPED[:LOOPED.index("  const listen")] + "})()"  # nothing but the take is in the microphone
LATE, LEAD = 0.12, 1.5  # seconds: of the device; before the line in the file


def taken(page: Any, audio: np.ndarray, tempo: float, late: float = LATE) -> None:
    """Record a take that was played beforehand, as a microphone that is late would hear it."""
    mono = np.asarray(audio, np.float32).mean(axis=1)
    begins = 4 * 60 / tempo - LEAD + late
    page.evaluate(PLAYED, [base64.b64encode(mono.tobytes()).decode(), RATE, begins])
    page.locator("#p-take").click()
    page.wait_for_function("() => practice.take().seconds > 0", timeout=60_000)
    page.wait_for_function("() => !document.getElementById('p-take-heard').hidden", timeout=60_000)


def test_claps_tell_how_late_the_device_is(browser: Any, path: Path) -> None:
    """Noise 83 ms after each click; the same claps as the report reads them are in test_take_heard.py."""
    rng = np.random.default_rng(2)
    audio = 0.002 * rng.normal(size=(11 * RATE, 1))
    lates = 0.083 + rng.normal(0, 0.006, 12)
    for click, late in enumerate(lates):
        at = int((0.75 * click + late) * RATE)
        audio[at:at + 900, 0] = rng.normal(size=900) * np.exp(-np.arange(900) / 200) / 4
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.add_init_script(SILENT_CLICKS)
    with opened(browser, path, context=context) as page:
        page.locator("#p-take").click()
        page.wait_for_function("() => practice.take().state === 'ready'")
        page.evaluate(PLAYED, [base64.b64encode(audio[:, 0].astype(np.float32).tobytes()).decode(), RATE, 0])
        page.locator("#p-take-clap").click()
        assert page.locator("#p-take").is_disabled()
        page.wait_for_function("() => practice.take().state === 'ready'", timeout=60_000)
        said = page.locator("#p-take-say").inner_text()
        late = int(re.search(r"This device records (\d+) ms late", said)[1])
        assert abs(late - 1000 * lates.mean()) < 8, "strokes are heard some ms early, by their attack"
    with opened(browser, path, context=context) as page:
        assert page.locator("#p-take-early").input_value() == str(late), "it is kept"
    context.close()


def test_over_a_recording_the_beat_is_where_its_bars_are(browser: Any, tmp_path: Path) -> None:
    """A recording that drifts by 4 %: who plays with it is even, though 90 ms off an even tempo."""
    lesson = lesson_over(tmp_path)
    path = tmp_path / "ferry.html"
    path.write_text(lesson_page(lesson, PageSound(bank=False, under=page_track(lesson, sounds=True))), encoding="utf-8")
    line = next(one for _, one in lesson.lines)
    tempo, bars = 91, np.arange(len(edges()))
    even = expected_of(line, tempo).notes
    at = [float(np.interp(one.onset_seconds * tempo / 240, bars, edges() - edges()[0])) for one in even]
    with_it = [replace(one, onset_seconds=second) for one, second in zip(even, at, strict=True)]
    assert max(abs(one - two.onset_seconds) for one, two in zip(at, even, strict=True)) > 0.09
    found = play_take(with_it, 5, spread_ms=6, slips=0)
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_init_script(SILENT_CLICKS)
    with opened(browser, path, context=context) as page:
        choose(page, "p-typed", str(tempo))
        page.locator("#p-take").click()
        page.wait_for_function("() => practice.take().state === 'ready'")
        taken(page, found.audio, 240 / (edges()[1] - edges()[0]))
        words = page.locator("#p-take-words li").all_inner_texts()
        assert int(re.search(r"in time to within (\d+) ms", words[0])[1]) <= 9
    context.close()


def test_what_went_well_and_what_did_not_is_told_on_the_page(browser: Any, path: Path, tmp_path: Path) -> None:
    """What the page saves goes through the report too: the same verdicts and sentences, and a score in the day's log.

    Where a busy machine let a part of the take fall, the page must say so and count no missing notes.
    """
    line = next(one for _, one in Lesson.of(notebook(), path).lines)
    tempo = float(line.chart.tempo)
    found = play_take(expected_of(line).notes, 5, spread_ms=20)
    context = browser.new_context(viewport={"width": 390, "height": 844}, accept_downloads=True)
    context.add_init_script(SILENT_CLICKS)
    with opened(browser, path, context=context) as page:
        page.locator("#p-take").click()
        page.wait_for_function("() => practice.take().state === 'ready'")
        taken(page, found.audio, tempo)
        with page.expect_download() as download:
            page.locator("#p-take-save").click()
        download.value.save_as(tmp_path / "take.wav")
        audio, rate = soundfile.read(tmp_path / "take.wav", dtype="float32")
        report = hear_take(of_samples(audio, rate), expected_of(line))
        lost = re.search(r"busy: (\d+) ms", page.locator("#p-take-say").inner_text())
        has_gaps = bool(lost) and int(lost[1]) > 50
        right, missing, wrong = (len(report.of(verdict)) for verdict in ("ok", "missing", "wrong"))
        words = page.locator("#p-take-words li").all_inner_texts()
        count = len(report.notes) - (missing if has_gaps else 0)
        assert words[0].startswith(f"{right} of {count} notes are right")
        assert words[0].partition("right")[2] == went_well(report).partition("right")[2]
        told = [one.words for one in findings(report) if not (has_gaps and one.kind == "missing")]
        assert 2 <= len(words) <= 3
        assert all(any(one in each for each in words) for one in told[:len(words) - 1])
        signs = page.locator(".music .sign").all_inner_texts()
        assert (signs.count("○"), signs.count("✕")) == (0 if has_gaps else missing, wrong)
        picture = page.locator("#p-take-picture svg")
        assert picture.locator(".s-wrong").count() == wrong >= 1
        beat = report.of("wrong")[0].expected
        said = picture.get_attribute("aria-label")
        assert f"(bar {beat.bar + 1} beat {beat.beat + 1:g}" in said[said.index("another note"):]
        unjudged = page.locator("#p-take-unjudged").text_content()
        assert "how late this device records" in unjudged
        assert ("What is missing" in unjudged) == has_gaps
        score = f"♩ {tempo:g}: {right} of {len(report.notes)}, ±"
        assert score in page.locator("#p-days").text_content()
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
        for button in page.locator(".take button:visible, .take summary:visible").all():
            assert button.bounding_box()["height"] >= 44
        page.locator("#p-take-drop").click()
        assert page.locator(".music .sign").count() == 0
        assert page.locator("#p-take-heard").is_hidden()
    with opened(browser, path, context=context) as page:
        assert score in page.locator("#p-days").text_content(), "it is kept"
    context.close()
