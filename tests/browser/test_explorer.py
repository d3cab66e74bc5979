"""The explorer in a real JupyterLab and Chromium: by mouse and keys, what it keeps, how soon it is seen and heard.

One page serves all tests; each begins from the same changes. Accessibility by axe-core (MPL-2, through PyPI
axe-playwright-python). Latencies are printed, not judged: they are the machine's. The audio clock is the browser's own.
"""

from __future__ import annotations

import json
import statistics
from typing import Any

import pytest
from support.lab import EXPLORE, open_notebook

pytestmark = pytest.mark.browser

LINK = "vampbook-explorer?changes=%7C+Fm7+%7C+Bb7%239+%7C+Ebm7+%7C+Abm9+%7C&chord=1&hear=false"
CHANGES = "| Fm7 | Bb7#9 | Ebm7 | Abm9 |"
# Do something, then wait until what a selector finds has changed and was painted: milliseconds.
SEEN_MS = """async ([act, seen]) => {
  const place = document.querySelector(seen), start = performance.now();
  const changed = new Promise((done) => new MutationObserver((_, watch) => { watch.disconnect(); done(); })
    .observe(place, { childList: true, subtree: true, characterData: true }));
  const [selector, text] = act, element = document.querySelector(selector);
  if (text === undefined) element.click();
  else { element.value = text; element.dispatchEvent(new Event('input', { bubbles: true }));
    element.dispatchEvent(new KeyboardEvent('keydown', { key: 'Enter', bubbles: true })); }
  await changed;
  await new Promise(requestAnimationFrame);
  return performance.now() - start;
}"""
# Every sound that is started from now on: when it was asked for and when it sounds, on the audio clock.
LISTEN = """() => {
  window.heard = [];
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    window.heard.push({ at: when, asked: this.context.currentTime, page: performance.now(), from: rest[0] });
    return start.call(this, when, ...rest);
  };
}"""


@pytest.fixture(scope="module")
def page(browser: Any, lab: str) -> Any:
    opened = open_notebook(browser, lab, "explore.ipynb")
    opened.wait_for_selector(".vbx svg.neck", timeout=60_000)
    return opened


@pytest.fixture
def view(page: Any) -> Any:
    """The explorer, set to the same changes as ever.

    A link is read when nobody has typed for a moment; then the changes that it holds stand in its place.
    """
    from playwright.sync_api import expect

    view = page.locator(".vbx")
    text = view.locator("[data-part=text] input")
    text.fill(LINK)
    expect(text).to_have_value(CHANGES)
    expect(view.locator("[role=radio] b")).to_have_text(["Fm7", "B♭7♯9", "E♭m7", "A♭m9"])
    page.wait_for_selector(".vbx [data-chord='1'][aria-checked=true]")
    page.wait_for_selector(".vbx tr[data-row='6:7']")
    return view


def press(view: Any, key: str) -> None:
    view.locator(f"[data-f='{key}']").click()


def test_a_chord_is_chosen_and_everything_follows(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    cells = page.locator(".jp-Cell").count()
    press(view, "chord-2")
    expect(view.locator(".read")).to_contain_text("E♭m7")
    page.keyboard.press("ArrowLeft")
    expect(view.locator(".read")).to_contain_text("V7♯9, V of the minor key")
    page.keyboard.press("b")  # a notebook's key for a new cell
    page.keyboard.press("Shift+ArrowRight")
    expect(view.locator(".bar.stretch")).to_have_count(2)
    page.keyboard.press("Control+z")
    expect(view.locator(".bar.stretch")).to_have_count(0)
    assert page.locator(".jp-Cell").count() == cells, "a notebook's own keys stay out"
    press(view, "group-all")
    expect(view.locator("[data-part=filters] h2")).to_contain_text("348 of 348")


def test_a_notebook_that_takes_its_keys_first_leaves_these(page: Any, view: Any) -> None:
    """As Notebook 7 does, where an arrow moved its own cells and C copied one."""
    from playwright.sync_api import expect

    cells = page.locator(".jp-Cell").count()
    page.evaluate("""() => { window.first = (event) => window.jupyterapp.commands.processKeydownEvent(event);
      document.addEventListener('keydown', window.first, true); }""")
    press(view, "chord-1")
    for key in ("ArrowRight", "b"):
        page.keyboard.press(key)
    expect(view.locator(".read > b")).to_have_text("E♭m7")
    page.evaluate("document.removeEventListener('keydown', window.first, true)")
    assert page.locator(".jp-Cell").count() == cells


def test_a_row_shows_its_notes_its_reason_and_its_way(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    press(view, "row-10:m7b5")
    expect(view.locator("[data-part=neck] h2")).to_have_text("G♯ø7 over B♭7♯9")
    # the half-diminished chord on the b7 of an altered dominant gives b7 b9 3 b13 (common practice, no source)
    expect(view.locator(".why")).to_contain_text("gives ♭7 ♭9 3 ♭13")
    names = view.locator(".place[aria-label*=' of B♭7♯9']").evaluate_all("all => all.map((one) => one.ariaLabel)")
    assert {name.split(", ")[3] for name in names} == {f"{degree} of B♭7♯9" for degree in ("♭7", "♭9", "3", "♭13")}
    view.locator("[data-place='3:7']").hover()
    expect(view.locator(".linked")).to_contain_text("3 over B♭7♯9; goes down a half step to D♭, ♭7 of E♭m7")
    assert view.locator(".tone.lit").inner_text().split() == ["3", "D"]
    press(view, "row-10:m7b5")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("p")
    expect(view.locator(".pin-said")).to_have_count(1)
    expect(view.locator(".made")).to_contain_text(" = ")


def test_a_press_counts_though_its_row_is_painted_anew(page: Any, view: Any) -> None:
    """And a press that is let go elsewhere does not, nor does one click count twice."""
    from playwright.sync_api import expect

    def pressed(key: str, let_go: str) -> None:
        view.locator(f"[data-f='{key}']").hover()
        page.mouse.down()
        view.locator("[data-part=rows]").evaluate("(part) => { part.innerHTML = part.innerHTML; }")
        view.locator(f"[data-f='{let_go}']").hover()
        page.mouse.up()

    pressed("pin-10:m7b5", "pin-6:7")
    pressed("pin-10:m7b5", "pin-10:m7b5")
    expect(view.locator(".pin-said")).to_have_count(1)
    press(view, "pin-10:m7b5")
    expect(view.locator(".pin-said")).to_have_count(0)
    pressed("row-10:m7b5", "row-10:m7b5")
    expect(view.locator("[data-part=neck] h2")).to_have_text("G♯ø7 over B♭7♯9")


def test_a_row_of_the_last_chord_is_not_taken_for_the_next_ones(page: Any, view: Any) -> None:
    """While the kernel is asked for a chord, the list of the one before rests."""
    view.locator("[data-part=text] input").fill("| Cmaj7 | F#7b9 | Bm7b5 |")
    page.wait_for_selector(".vbx [data-chord='0'] b:text('Cmaj7')")
    rested = page.evaluate("""async () => {
      document.querySelector('.vbx [data-chord="2"]').click();
      const list = document.querySelector('.vbx [data-part=rows]'), at_once = list.inert;
      while (list.inert) await new Promise(requestAnimationFrame);
      return [at_once, document.querySelector('.vbx .read b').textContent];
    }""")
    assert rested == [True, "Bø7"]


# Types changes, one text after the other without a pause, and chooses a chord of those that still stand.
TYPED_AND_CHOSEN = """([texts, chord]) => {
  const text = document.querySelector('.vbx [data-part=text] input');
  for (const one of texts) { text.value = one; text.dispatchEvent(new Event('input', { bubbles: true })); }
  if (chord !== null) document.querySelector(`.vbx [data-chord="${chord}"]`).click();
}"""


def test_a_chord_chosen_while_changes_are_read_is_chosen_in_those(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    page.evaluate(TYPED_AND_CHOSEN, [["| Cmaj7 | F#7b9 | Bm7b5 |"], 2])
    expect(view.locator("[role=radio] b")).to_have_text(["Cmaj7", "F♯7♭9", "Bø7"])
    expect(view.locator("[role=radio][aria-checked=true] b")).to_have_text("Bø7")
    expect(view.locator(".read > b")).to_have_text("Bø7")
    page.evaluate(TYPED_AND_CHOSEN, [["| Am7 | D7 |"], 0])  # which is of both
    expect(view.locator(".read > b")).to_have_text("Am7")
    page.evaluate(TYPED_AND_CHOSEN, [["| Am7 | H7 |"], 1])  # of which nothing can be read
    expect(view.locator(".read > b")).to_have_text("D7")


def test_of_changes_typed_fast_the_last_that_can_be_read_stand(page: Any, view: Any) -> None:
    """What is shown and what the kernel answers about are the same changes, whatever was typed after them."""
    from playwright.sync_api import expect

    page.evaluate(TYPED_AND_CHOSEN, [["| Cmaj7 | F#7b9 |", "| Cmaj7 | F#7b9 | H |"], None])
    expect(view.locator(".problem")).to_contain_text("column 19")
    expect(view.locator("[role=radio] b")).to_have_text(["Cmaj7", "F♯7♭9"])
    press(view, "chord-0")
    expect(view.locator(".read > b")).to_have_text("Cmaj7")


def test_filters_sort_and_map_are_the_browsers_own(view: Any) -> None:
    from playwright.sync_api import expect

    press(view, "reach-colour")
    reaches = view.locator("tbody .reach").evaluate_all("all => all.map((one) => one.ariaLabel)")
    assert set(reaches[:10]) == {"colour"}
    press(view, "reach-all")
    press(view, "sort-name")
    roots = view.locator("tr[data-row]").evaluate_all("all => all.map((one) => Number.parseInt(one.dataset.row, 10))")
    assert roots == sorted(roots)
    press(view, "only-half")
    assert "0 into E♭m7" not in view.locator("[data-part=rows]").inner_text()
    view.locator("[data-f='cell-10:m7b5']").click()
    expect(view.locator("[data-part=neck] h2")).to_have_text("G♯ø7 over B♭7♯9")
    view.locator("[data-f='cell-10:m7b5']").press("ArrowUp")
    expect(view.locator("[data-part=neck] h2")).to_contain_text("7 over B♭7♯9")


def test_changes_are_typed_with_offers_and_placed_errors(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    text = view.locator("[data-part=text] input")
    text.fill("| Am7 | H7 |")
    expect(view.locator(".problem")).to_contain_text("line 1, column 9")
    expect(view.locator("[role=radio] b")).to_have_text(["Fm7", "B♭7♯9", "E♭m7", "A♭m9"])
    view.get_by_role("button", name="Take B7").click()
    expect(view.locator("[role=radio] b")).to_have_text(["Am7", "B7"])
    text.fill("| Am7 | Dm7")
    page.keyboard.type("b")
    expect(view.get_by_role("button", name="Dm7b5", exact=True)).to_be_visible()
    page.keyboard.press("Tab")
    assert text.input_value() == "| Am7 | Dm7b5"
    expect(view.locator("[role=radio] b")).to_have_text(["Am7", "Dø7"])
    assert text.evaluate("(one) => one.selectionStart") == len("| Am7 | Dm7b5"), "the caret stays where one types"


def test_shapes_picks_and_the_other_way_round(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    press(view, "mode-targets")
    expect(view.locator("path.bend").first).to_be_visible()
    before = view.locator(".place[aria-label*=' of B♭7♯9']").evaluate_all("all => all.map((one) => one.dataset.place)")
    view.get_by_role("button", name="Same shape, next strings").click()
    after = view.locator(".place[aria-label*=' of B♭7♯9']").evaluate_all("all => all.map((one) => one.dataset.place)")
    assert {place[0] for place in before} != {place[0] for place in after}
    press(view, "mode-arpeggio")
    for place in ("4:8", "3:7", "2:7"):
        view.locator(f"[data-place='{place}']").click()
    view.locator("[data-place='2:7']").press("ArrowRight")
    page.keyboard.press("Enter")
    expect(view.locator(".picks")).to_contain_text("4 clicked: B♭ D G♭ G")
    view.locator("[data-place='2:8']").press("Enter")
    expect(view.locator(".picks")).to_contain_text("as a chord B♭+")
    view.get_by_role("button", name="Where do they fit?").click()
    expect(view.locator("[data-part=uses]")).to_contain_text("B♭+ in these changes")


def test_what_is_set_is_taken_along(page: Any, view: Any) -> None:
    from playwright.sync_api import expect

    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    press(view, "row-10:m7b5")
    code = 'plot_neck(arpeggio("G#m7b5"), over="Bb7#9", next_chord="Ebm7", position=5)'
    press(view, "fold-take")
    expect(view.locator(".code")).to_contain_text(code)
    press(view, "copy")
    expect(view.locator(".said")).to_contain_text("Copied")
    assert code in page.evaluate("navigator.clipboard.readText()")
    cells = page.locator(".jp-Cell").count()
    press(view, "add")
    expect(page.locator(".jp-Cell")).to_have_count(cells + 2)
    sources = page.evaluate("[...window.jupyterapp.shell.currentWidget.content.model.cells].map((one) => "
                            "one.sharedModel.getSource())")
    assert sources[2] == code
    assert sources[3].startswith("as_drill(superimposed_arpeggio(")


def test_everything_sounds_soon(page: Any, view: Any, capsys: pytest.CaptureFixture[str]) -> None:
    page.wait_for_function("!document.querySelector('.vbx [data-f=hear-chord]').disabled", timeout=60_000)
    page.evaluate(LISTEN)
    press(view, "row-10:m7b5")
    waits = []
    for name in ("chord", "arpeggio", "into", "scale", "line", "changes"):
        page.keyboard.press("Escape")
        page.evaluate("window.heard = []; document.querySelector('.vbx').addEventListener('click', () => { "
                      "window.pressed = performance.now(); }, { once: true, capture: true })")
        press(view, f"hear-{name}")
        page.wait_for_function("window.heard.length > 0")
        first = page.evaluate("window.heard[0].page - window.pressed + 1000 * (Math.min(...window.heard.map((one) => "
                              "one.at)) - window.heard[0].asked)")
        waits.append(first)
        assert view.locator(f"[data-f='hear-{name}']").get_attribute("aria-pressed") == "true"
    page.keyboard.press("Escape")
    assert view.locator("[data-part=hear] [data-act=hear][aria-pressed=true]").count() == 0
    with capsys.disabled():
        print(f"\nexplorer: from a press to the sound {', '.join(f'{wait:.0f}' for wait in waits)} ms (aim 50)")


def test_a_chord_that_is_chosen_sounds_itself(page: Any, view: Any) -> None:
    """Also at its first press, when it is not told yet and the chord before is still at hand."""
    page.wait_for_function("!document.querySelector('.vbx [data-f=hear-chord]').disabled", timeout=60_000)
    page.evaluate(LISTEN)
    view.locator("[data-part=text] input").fill("| Cmaj7 | F#7b9 | Bm7b5 |")
    view.locator("[data-f=hearing]").click()
    sounds = page.evaluate("""async () => {
      const chord = (place) => document.querySelector(`.vbx [data-chord="${place}"]`), heard = [];
      while (chord(0).textContent.slice(0, 5) !== 'Cmaj7') await new Promise(requestAnimationFrame);
      for (const place of [2, 2, 0]) {
        window.heard = [];
        chord(place).click();
        while (!window.heard.length) await new Promise(requestAnimationFrame);
        heard.push(window.heard.map((one) => one.from).toSorted().join());
        document.querySelector('.vbx').dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }));
        await new Promise((done) => setTimeout(done, 100));
      }
      return heard;
    }""")
    assert sounds[0] == sounds[1] != sounds[2]


@pytest.mark.skipif(not EXPLORE, reason="it measures and judges nothing")
def test_how_soon_it_is_seen(page: Any, view: Any, capsys: pytest.CaptureFixture[str]) -> None:
    def median(acts: list[list[str]], seen: str) -> float:
        return statistics.median(page.evaluate(SEEN_MS, [act, seen]) for act in acts)

    text = ".vbx [data-part=text] input"
    rows = median([[f"[data-f='row-{row}']"] for row in ("10:m7b5", "6:7", "1:mMaj7", "10:m7b5", "6:7")],
                  ".vbx [data-part=neck]")
    chords = median([[f"[data-f='chord-{place}']"] for place in (2, 3, 0, 1, 2, 3)], ".vbx [data-part=rows]")
    turns = median([["[data-f=up]"], ["[data-f=down]"], ["[data-f=layer-scale]"]] * 2, ".vbx [data-part=neck]")
    changes = median([[text, f"| {root}m7 | {root}7#9 | C9 |"] for root in ("A", "B", "D", "E", "G")],
                     ".vbx [data-part=chart]")
    long = " | ".join(["Fm7", "Bb7#9", "Ebm7", "Abm9"] * 15)
    form = median([[text, f"| {root}m7 | {long} | Gm7 | C7 | Fm7 |"] for root in ("A", "B", "D")],
                  ".vbx [data-part=chart]")
    with capsys.disabled():
        print(f"\nexplorer: a row {rows:.0f} ms, a chord {chords:.0f} ms, a turn of the neck {turns:.0f} ms, new "
              f"changes {changes:.0f} ms, of 64 bars {form:.0f} ms (medians, key to picture)")


@pytest.mark.parametrize(("theme", "width"), [
    ("JupyterLab Light", 1300), ("JupyterLab Dark", 360), *([("JupyterLab Dark", 1300)] if EXPLORE else [])])
def test_for_every_eye(page: Any, view: Any, theme: str, width: int) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page.evaluate("(theme) => window.jupyterapp.commands.execute('apputils:change-theme', { theme })", theme)
    page.set_viewport_size({"width": width, "height": 1600})
    press(view, "row-10:m7b5")
    press(view, "pin-6:7")
    page.wait_for_timeout(300)
    found = Axe().run(page, context=".vbx", options={"resultTypes": ["violations"]}).response["violations"]
    assert [(one["id"], [node["html"][:120] for node in one["nodes"][:3]]) for one in found] == []
    small = view.locator("button:visible, select:visible, input:visible").evaluate_all(
        "all => all.filter((one) => !one.closest('.map') && one.offsetHeight < 44).map((one) => one.outerHTML)")
    assert small == []
    assert view.evaluate("(one) => one.scrollWidth <= one.clientWidth + 1"), "nothing hangs over the side"
    page.emulate_media(media="print")
    assert view.evaluate("(one) => getComputedStyle(one).backgroundColor") == "rgb(255, 255, 255)", "paper is light"
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1300, "height": 1600})
    page.evaluate("() => window.jupyterapp.commands.execute('apputils:change-theme', { theme: 'JupyterLab Light' })")


def test_it_is_kept_with_a_kernel_and_without(page: Any, view: Any, lab: str) -> None:
    from playwright.sync_api import expect

    press(view, "row-10:m7b5")
    press(view, "pin-6:7")
    page.wait_for_timeout(1500)  # the plain page is made when nobody turns anything
    page.evaluate("() => window.jupyterapp.commands.execute('docmanager:save')")
    page.wait_for_timeout(500)
    saved = page.evaluate("async () => (await (await fetch('/api/contents/explore.ipynb')).json()).content")
    (cell,) = [one for one in saved["cells"] if one["id"] == "explore"]
    assert "nbval-ignore-output" in cell["metadata"]["tags"], "what was set by hand is no output to compare"
    html = "".join("".join(output["data"]["text/html"]) for output in cell["outputs"])
    assert "G♯ø7" in html
    assert "widget-view" not in json.dumps(cell), "no reader meets a panel that cannot be found"
    page.reload()
    expect(page.locator(".vbx [data-part=neck] h2")).to_have_text("G♯ø7 over B♭7♯9", timeout=60_000)
    expect(page.locator(".vbx .pin-said")).to_have_count(1)
    expect(page.locator(".vbx-still")).to_be_hidden()
    page.evaluate("async () => { const { session } = window.jupyterapp.shell.currentWidget.sessionContext; "
                  "await session.shutdown(); }")
    page.goto(f"{lab}/doc/tree/explore.ipynb?reset")
    expect(page.locator(".vbx-still table caption")).to_contain_text("Arpeggios over B♭7♯9", timeout=60_000)
    expect(page.locator(".vbx-still img").first).to_be_visible()
    page.wait_for_function("() => window.jupyterapp.shell.currentWidget.sessionContext.session?.kernel")
    page.evaluate("async () => { await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.info; "
                  "await window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
    expect(page.locator(".vbx [data-part=neck] h2")).to_have_text("G♯ø7 over B♭7♯9", timeout=60_000)
