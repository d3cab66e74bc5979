"""The panel that confirms a recording, in a real Chromium, before its own kernel side: by keys, mouse and ear.

The page is bare and the notebook's part is played by a few lines here: what is asked goes to the panel's Python as it
would, so that a step is tried from the key to the file.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pytest
import soundfile
from support.practice_pages import HOOK
from support.track_lessons import BAR_BEATS, RATE, beats, clicked, edges, tone

from workbook.media.grid_text import bars_text, grid_path
from workbook.widgets.confirmer import Confirmer

pytestmark = pytest.mark.browser
MODEL = """() => {
  const heard = [], bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  window.stands = {};
  const model = {
    get: (name) => (name === "stands" ? window.stands : "place"),
    on: (name, act) => { if (name === "msg:custom") heard.push(act); },
    send: async (content) => {
      const [answer, sound] = JSON.parse(await window.asked(JSON.stringify(content)));
      for (const act of heard) act(answer, sound ? [bytes(sound)] : []);
    },
  };
  return [model];
}"""


@pytest.fixture(scope="module")
def panel(tmp_path_factory: pytest.TempPathFactory) -> Confirmer:
    """Over nine bars of clicks on a bare fifth, whose bars are stated but for what a person moves."""
    folder = tmp_path_factory.mktemp("confirm")
    sound = clicked(edges()[-1] + 0.3, beats(), tone(edges()[-1] + 0.3, 98.0, 146.83, 196.0))
    soundfile.write(folder / "ferry.wav", sound * 0.5, RATE)
    text = f"# ? bar 2: Gm\n| Gm7 | C9 | Gm7 |\n{bars_text(list(edges()))}"
    (folder / "ferry.grid.txt").write_text(text, encoding="utf-8")
    return Confirmer(folder / "ferry.wav")


def answered(panel: Confirmer, asked: str) -> str:
    found: list[Any] = []
    panel.send = lambda content, buffers=None: found.append((content, buffers))  # type: ignore[method-assign]
    content = json.loads(asked)
    if content["ask"] == "sound":
        panel._send_sound(content["number"])
    else:
        panel._asked(None, content, None)
    ((answer, buffers),) = found
    return json.dumps([answer, base64.b64encode(buffers[0]).decode() if buffers else None])


@pytest.fixture
def page(panel: Confirmer, browser: Any) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 1000, "height": 900})
    told: list[str] = []
    opened.on("pageerror", lambda error: told.append(str(error)))
    opened.add_init_script(HOOK)
    opened.expose_function("asked", lambda asked: answered(panel, asked))
    opened.goto("about:blank")
    opened.evaluate(f"(stands) => {{ window.model = ({MODEL})()[0]; window.stands = stands; }}", dict(panel.stands))
    opened.evaluate('() => { document.body.innerHTML = \'<div class="place"></div>\'; }')
    opened.add_style_tag(content=str(panel._css))
    source = str(panel._esm).replace("export default", "window.panel =")
    opened.add_script_tag(content=source + "\nwindow.panel.initialize({ model });")
    yield opened
    opened.close()
    assert told == []


def wait(page: Any, words: str) -> None:
    page.wait_for_function("(words) => document.querySelector('.vbc').innerText.includes(words)", arg=words)


def test_from_the_keys_to_the_file(page: Any, panel: Confirmer) -> None:
    root = page.locator(".vbc")
    assert page.locator(".vbc .bar").count() == 3
    root.focus()
    page.keyboard.press("n")
    assert page.locator(".vbc .here strong").inner_text() == "Bar 2"
    wait(page, "Next to confirm (1 bar)")
    offers = [one.inner_text() for one in page.locator(".vbc [data-act=choose]").all()]
    assert len(offers) == 3
    page.keyboard.press("2")
    wait(page, "All confirmed")
    assert page.locator(".vbc .bar").nth(1).inner_text().startswith(offers[1].removeprefix("2: "))
    field = page.locator(".vbc [data-enter=section]")
    field.fill("Turn")
    field.press("Enter")
    wait(page, "Turn")
    root.focus()
    page.keyboard.press(".")
    wait(page, f"Bar one at {edges()[0] + 0.01:.3f} s")
    line = page.locator(".vbc .bar-line[data-line='2']")
    line.focus()
    page.keyboard.press("ArrowRight")
    wait_for = f"{edges()[2] + 0.015:.3f} seconds"
    page.wait_for_function(f"() => document.querySelector('[data-line=\"2\"]').ariaValueText === '{wait_for}'")
    assert page.evaluate("() => document.activeElement.dataset.line") == "2", "the next press moves the same line"
    box = page.locator(".vbc .bar-line[data-line='4']").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 + 20, box["y"] + 60, steps=3)
    page.mouse.up()
    page.wait_for_function("() => !document.querySelector('.vbc').innerText.includes('Listening')")
    assert panel.stands["bars"][4] - edges()[4] == pytest.approx(0.01 + 20 / 1000 * 8 * 2.6, abs=0.06)
    root.focus()
    page.keyboard.press("z")
    page.wait_for_function(f"() => stands && document.querySelector('[data-line=\"4\"]').ariaValueText.startsWith("
                           f"'{edges()[4] + 0.01:.2f}')")
    assert "Saved" not in page.locator(".vbc [data-part=foot]").inner_text()
    page.keyboard.press("s")
    wait(page, "Kept in ferry.grid.txt")
    assert grid_path(panel.track).read_text(encoding="utf-8") == panel.text
    assert "[Turn]" in panel.text
    assert "# ?" not in panel.text


def test_it_is_heard_with_a_click_on_the_grid(page: Any, panel: Confirmer) -> None:
    page.locator(".vbc").focus()
    page.keyboard.press(" ")
    page.wait_for_function("() => startedClicks.length > 5")
    sounds, clicks = page.evaluate("startedSounds"), page.evaluate("startedClicks")
    page.keyboard.press(" ")
    bars = panel.stands["bars"]
    lengths = [late - early for early, late in pairwise(bars)]
    asked = [bars[bar] + lengths[bar] * beat / BAR_BEATS for bar in range(2) for beat in range(BAR_BEATS)]
    heard = [when - sounds[0][0] for when, _ in clicks[:6]]
    assert heard == pytest.approx(asked[:6], abs=0.001)
    assert [hertz for _, hertz in clicks[:5]] == [1600, 1100, 1100, 1100, 1600], "the first of a bar is higher"
    for _ in range(4):
        page.keyboard.press("t")
        page.wait_for_timeout(500)
    words = page.locator(".vbc [data-f=take]").inner_text()
    assert 100 < float(words.removeprefix("Take ")) < 125  # taps half a second apart
