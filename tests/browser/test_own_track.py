"""A lesson over a recording, in a real Chromium: stretched in its own pitch, in time with bars that drift.

The recordings are made of numbers here: where each click and each tone lies is known before anything of ours runs.
Pitch is measured by the slope of the phase against a reference of 440 Hz, clicks by a filter matched to their shape.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.signal import butter, fftconvolve, find_peaks, hilbert, sosfiltfilt
from support.practice_pages import choose, opened, play
from support.track_lessons import A4, BAR_BEATS, BARS, RATE, beats, click, clicked, edges, lesson_over, tone

from workbook.browser.bundle import script
from workbook.handouts.own_track import page_track
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import PageSound

pytestmark = pytest.mark.browser
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SPEEDS = (0.5, 0.6, 0.75, 0.9, 1.1, 1.2, 1.3) if EXPLORE else (0.5, 0.9, 1.3)
# What is poured onto the audio clock: [second, samples of a channel], and its rate.
POURED = """(() => {
  const start = AudioBufferSourceNode.prototype.start;
  window.poured = [];
  AudioBufferSourceNode.prototype.start = function (when, offset, ...rest) {
    const { buffer } = this;
    if (offset === undefined) window.poured.push([when, Array.from(buffer.getChannelData(0)), buffer.sampleRate]);
    return start.call(this, when, offset, ...rest);
  };
})()"""


def clicks_in(audio: np.ndarray, rate: int) -> np.ndarray:
    """Seconds at which clicks begin."""
    high = sosfiltfilt(butter(4, 1800, "hp", fs=rate, output="sos"), audio)
    shape = click(rate)[:rate // 100]
    like = np.abs(hilbert(fftconvolve(high, shape[::-1])[len(shape) - 1:]))
    return find_peaks(like, height=0.3 * like.max(), distance=rate // 100)[0] / rate


def cents_off(audio: np.ndarray, rate: int) -> float:
    """How far the middle of a sound lies from 440 Hz, by the mean slope of its phase."""
    middle = audio[rate // 4:-rate // 4]
    turned = middle * np.exp(-2j * np.pi * A4 * np.arange(len(middle)) / rate)
    smooth = np.convolve(turned, np.hanning(rate // 10), "valid")
    phase = np.unwrap(np.angle(smooth))
    slope = np.polyfit(np.arange(len(phase)) / rate, phase, 1)[0]
    return float(1200 * np.log2(1 + slope / (2 * np.pi * A4)))


# -- the stretching itself -------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def bench(browser: Any) -> Iterator[Any]:
    page = browser.new_page()
    page.evaluate(script(Path(__file__).parents[1] / "support" / "stretch.js"))
    yield page
    page.close()


def stretched(bench: Any, audio: np.ndarray, speed: float) -> np.ndarray:
    sent = base64.b64encode(audio.astype(np.float32).tobytes()).decode()
    found = bench.evaluate("(all) => stretched(...all)", [sent, RATE, speed])
    return np.frombuffer(base64.b64decode(found), np.float32)


@pytest.mark.parametrize("speed", SPEEDS)
def test_pitch_stays_and_clicks_keep_their_place(bench: Any, speed: float) -> None:
    pure = stretched(bench, tone(3, A4), speed)
    assert abs(len(pure) - 3 * RATE / speed) <= 1
    assert abs(cents_off(pure, RATE)) < 2
    inner = pure[RATE // 10:-RATE // 10]
    loud = np.sqrt(np.convolve(inner ** 2, np.ones(480) / 480, "valid"))
    assert 20 * np.log10(loud.max() / loud.min()) < 1, "no join is heard in a tone"
    times = 0.3 + np.cumsum([0, 0.13, 0.25, 0.31, 0.17, 0.42, 0.2, 0.125, 0.125, 0.5])
    guitar = tone(3, 82.41, 123.47, 164.81, 207.65, 246.94, 329.63)  # an open chord of E
    for under in (None, guitar):
        found = clicks_in(stretched(bench, clicked(3, times, under), speed), RATE)
        assert len(found) == len(times), "no click is lost or heard twice"
        assert np.abs(found - times / speed).max() < 0.005


def test_a_low_note_under_a_cymbal_that_rings_is_an_attack(bench: Any) -> None:
    """Hiss that rings on hides from what changes quickest a bass of 82 Hz and a chord around 400."""
    time = np.arange(2 * RATE) / RATE
    audio = 0.1 * np.random.default_rng(6).normal(size=len(time))
    for at, hz, height in ((0.5, (82.4,), 0.6), (1.2, (392.0, 494.0), 0.4)):
        since = np.maximum(0, time - at)
        audio += sum(height * np.minimum(1, since / 0.004) * np.exp(-6 * since) * np.sin(2 * np.pi * one * since)
                     for one in hz)
    sent = base64.b64encode(audio.astype(np.float32).tobytes()).decode()
    found = np.array(bench.evaluate("([text, rate]) => attacks(text, rate)", [sent, RATE])) / RATE
    assert len(found) <= 4, "hiss begins once, if at all"
    assert all(np.abs(found - at).min() < 0.008 for at in (0.5, 1.2))


@pytest.mark.parametrize("speed", [0.5])
def test_a_stroke_that_dies_away_does_not_come_back(bench: Any, speed: float) -> None:
    """Strokes of noise, gone by a third in 5 ms, which no later moment is like: where the sound jumps back, it must not
    jump into the stroke. 3 ms at a time, nothing is much louder than what came before it."""
    rng, fading = np.random.default_rng(3), np.arange(RATE // 4) / RATE
    audio, strokes = 0.0005 * rng.normal(size=4 * RATE), 0.3 + 0.33 * np.arange(10)
    for one in strokes:
        at = round(one * RATE)
        audio[at:at + len(fading)] += 0.5 * rng.normal(size=len(fading)) * np.exp(-fading / 0.012)
    found, size = stretched(bench, audio, speed), 3 * RATE // 1000
    for one in strokes:
        begun = round(one / speed * RATE) + 2 * RATE // 1000
        loud = np.sqrt((found[begun:begun + 30 * size].reshape(30, size) ** 2).mean(axis=1))
        assert 20 * np.log10((loud[1:] / np.minimum.accumulate(loud)[:-1]).max()) < 12.5


def test_its_own_tempo_is_played_as_it_is(bench: Any) -> None:
    audio = clicked(1, np.array([0.2, 0.7]), tone(1, 97.0, 311.0)).astype(np.float32)
    assert np.array_equal(stretched(bench, audio, 1), audio)


# -- on the page -----------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Without the sounds of the line: the recording and clicks alone are heard."""
    folder = tmp_path_factory.mktemp("track")
    lesson = lesson_over(folder)
    path = folder / "lesson.html"
    path.write_text(lesson_page(lesson, PageSound(bank=False, under=page_track(lesson, sounds=True))), encoding="utf-8")
    return path


def poured(page: Any) -> tuple[float, np.ndarray, int]:
    """(second at which it begins, its samples, their rate) of what one stretch of playing poured, without a gap."""
    pieces = page.evaluate("poured")
    rate = int(pieces[0][2])
    begun = round(pieces[0][0] * rate)
    samples = np.concatenate([np.array(one[1]) for one in pieces])
    at = np.cumsum([0, *(len(one[1]) for one in pieces)])[:-1]
    assert [round(one[0] * rate) - begun for one in pieces] == at.tolist(), "each piece begins where the last ended"
    return begun / rate, samples, rate


def played(page: Any, tempo: int, seconds: float) -> tuple[float, np.ndarray, int, list[Any]]:
    page.evaluate("() => { poured.length = 0; startedClicks.length = 0; }")
    choose(page, "p-typed", str(tempo))
    play(page)
    page.wait_for_function(f"() => practice.state().beat > {seconds} && !practice.state().counting")
    page.locator("#p-play").click()
    page.keyboard.press("Home")
    return *poured(page), page.evaluate("startedClicks")


@pytest.mark.parametrize("tempo", [46, 91, 118] if EXPLORE else [46, 118])
def test_the_recording_plays_with_its_bars_under_the_line(browser: Any, page_file: Path, tempo: int) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_init_script(POURED)
    with opened(browser, page_file, context=context) as page:
        begun, audio, rate, clicks = played(page, tempo, 4.2)
    context.close()
    own = 60 * BAR_BEATS * BARS / (edges()[-1] - edges()[0])
    assert round(own) == 91
    speed = 1 if tempo == 91 else tempo / own
    counted = np.array([when for when, _ in clicks[:BAR_BEATS + 1]])
    first_beat = (edges()[1] - edges()[0]) / BAR_BEATS / speed
    assert np.diff(counted) == pytest.approx(first_beat, abs=0.001), "counted in at the tempo of its first bar"
    one = counted[-1]  # where the line begins
    assert 0.005 < one - begun < 0.02
    heard = begun + clicks_in(audio, rate)
    asked = one + (beats() - edges()[0]) / speed
    asked = asked[asked < heard[-1] + 0.01]
    assert len(heard) == len(asked) >= 5
    assert np.abs(heard - asked).max() < 0.005
    line = np.array([when for when, _ in clicks[BAR_BEATS:]])[:len(asked)]
    assert np.abs(line - asked[:len(line)]).max() < 0.001, "the click follows the drift"
    low = sosfiltfilt(butter(4, 900, "lp", fs=rate, output="sos"), audio)
    assert abs(cents_off(low, rate)) < 2


def test_the_line_goes_on_through_the_recording(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        choose(page, "p-count", "0")
        for _ in range(3):
            page.keyboard.press("ArrowRight")
        play(page)
        # After four bars of nine the fifth, and not the first again: the third time that two bars of changes begin.
        page.wait_for_function("() => document.getElementById('p-turn').value === '2'", timeout=15_000)
        page.wait_for_function("() => practice.state().bar === 4", timeout=2_000)


def test_a_line_on_other_changes_is_played_without_the_recording(browser: Any, tmp_path: Path) -> None:
    lesson = lesson_over(tmp_path)
    path = tmp_path / "lesson.html"
    without = {**page_track(lesson, sounds=True), "others": [1]}
    path.write_text(lesson_page(lesson, PageSound(bank=False, under=without)), encoding="utf-8")
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_init_script(POURED)
    with opened(browser, path, context=context) as page:
        choose(page, "p-typed", "180")
        assert page.evaluate("() => practice.state().tempo") == 180, "faster than the recording could go"
        choose(page, "p-count", "0")
        play(page)
        page.wait_for_function("() => startedClicks.length > 3")
        assert page.evaluate("poured") == []
        assert page.locator("#p-along").is_hidden()
    context.close()
