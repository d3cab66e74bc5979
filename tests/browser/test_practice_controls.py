"""What a student does on the practice page, by finger, mouse and keys: loops, keys, mix and plan."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from support.practice_pages import choose, notebook, opened, play, state, written

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def silent(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four bars, with its plan; its sounds are left out, its clicks are not."""
    return written(tmp_path_factory.mktemp("page"), notebook())


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("page"), notebook(), bank=True)


def bar(page: Any, number: int) -> Any:
    return page.locator(f".bar[data-bar='{number - 1}']").first


# -- the loop --------------------------------------------------------------------------------------------------------
def test_a_loop_by_two_taps_and_its_grips(browser: Any, silent: Path) -> None:
    with opened(browser, silent, "phone") as page:
        said = page.locator("#p-say")
        assert said.inner_text() == "5 bars, from bar 4 it goes back to the first; tap a note to begin there."
        page.locator("#p-loop").tap()
        assert said.inner_text() == "Tap the first bar of the loop."
        bar(page, 3).tap()
        assert state(page)["loop"] is None
        bar(page, 2).tap()  # in either order
        assert state(page)["loop"] == [1, 2]
        assert said.inner_text() == "Bars 2–3 repeat."
        assert page.locator("#p-loop-out").inner_text() == "2–3"
        assert page.locator(".bar.in").count() == 2
        end = page.locator(".grip.to")
        to = bar(page, 4).bounding_box()
        box = end.bounding_box()
        page.mouse.move(box["x"] + 22, box["y"] + 22)
        page.mouse.down()
        page.mouse.move(to["x"] + to["width"] - 20, to["y"] + to["height"] / 2, steps=4)
        page.mouse.up()
        assert state(page)["loop"] == [1, 3]
        page.locator(".grip.from").focus()
        page.keyboard.press("ArrowRight")
        assert state(page)["loop"] == [2, 3]
        assert page.locator(".grip.from").get_attribute("aria-valuetext") == "bar 3"
        page.locator("#p-loop").tap()
        assert state(page)["loop"] is None
        assert page.locator(".grip:visible").count() == 0
        page.locator("#p-loop").tap()
        assert state(page)["loop"] == [2, 3], "the last one comes back"


def test_words_that_stand_already_are_not_written_in_each_frame(browser: Any, silent: Path) -> None:
    """Each change of the row's words is one: else the whole row would be laid out sixty times a second."""
    with opened(browser, silent) as page:
        play(page)
        told = page.evaluate("""() => new Promise((done) => {
          const told = [], row = document.querySelector("#practice .row");
          new MutationObserver((found) => found.forEach(({ addedNodes, removedNodes }) => {
            told.push([removedNodes[0]?.textContent, addedNodes[0]?.textContent]);
          })).observe(row, { childList: true, subtree: true });
          setTimeout(() => done(told), 1500);
        })""")
        assert told, "a beat at least has passed"
        assert [was for was, now in told if was == now] == []


def test_the_same_bar_twice_is_a_loop_of_one_bar_and_escape_leaves(browser: Any, silent: Path) -> None:
    with opened(browser, silent) as page:
        page.keyboard.press("l")
        page.keyboard.press("Escape")
        bar(page, 2).click()
        assert state(page)["loop"] is None
        assert 4 <= state(page)["place"] < 8
        page.keyboard.press("l")
        bar(page, 2).click()
        bar(page, 2).click()
        assert state(page)["loop"] == [1, 1]
        page.keyboard.press("Escape")
        assert state(page)["loop"] is None


def test_a_mouse_drawn_over_bars_loops_them(browser: Any, silent: Path) -> None:
    with opened(browser, silent) as page:
        one, two = bar(page, 1).bounding_box(), bar(page, 2).bounding_box()
        page.mouse.move(one["x"] + one["width"] * 0.7, one["y"] + 40)
        page.mouse.down()
        page.mouse.move(two["x"] + two["width"] * 0.5, two["y"] + 40, steps=6)
        page.mouse.up()
        assert state(page)["loop"] == [0, 1]


def test_a_loop_repeats_at_its_tempo(browser: Any, built: Path) -> None:
    with opened(browser, built) as page:
        choose(page, "p-count", "0")
        choose(page, "p-typed", "184")
        assert state(page)["tempo"] == 184
        page.keyboard.press("]")
        assert state(page)["loop"] == [0, 0]
        play(page)
        first = page.evaluate("() => window.practice.notes()")["offsets"][0]
        page.wait_for_function("(first) => window.startedSounds.filter((one) => one[1] === first).length >= 3",
                               arg=first)
        begun = [when for when, offset in page.evaluate("() => window.startedSounds") if offset == first]
        beat = 60 / 184
        assert len(begun) >= 3
        assert begun[1] - begun[0] == pytest.approx(4 * beat, abs=2e-3)
        assert state(page)["beat"] < 4.01


def test_named_loops_and_the_place_stay_over_a_reload(browser: Any, silent: Path) -> None:
    with opened(browser, silent) as page:
        page.keyboard.press("ArrowRight")
        page.keyboard.press("[")
        page.keyboard.press("]")
        page.locator("#p-more").click()
        page.locator("#t-loop").click()
        page.locator("#p-loop-name").fill("the turn <b>")
        page.locator("#p-keep-loop").click()
        page.locator("#p-unloop").click()
        assert state(page)["loop"] is None
        page.locator("#p-kept-loops button", has_text="the turn <b>: 2").click()
        assert state(page)["loop"] == [1, 1]
        choose(page, "p-typed", "70")
        page.reload()
        page.wait_for_function("() => document.documentElement.dataset.ready")
        assert state(page)["loop"] == [1, 1]
        assert state(page)["tempo"] == 70
        assert state(page)["place"] == 4
        assert page.locator("#p-kept-loops li").count() == 1
        page.locator("#p-more").click()
        page.locator("#t-loop").click()
        page.locator("#p-kept-loops button", has_text="Forget").click()
        assert page.locator("#p-kept-loops li").count() == 0


# -- keys, tempo, mix ------------------------------------------------------------------------------------------------
def test_keys_work_wherever_the_focus_is(browser: Any, silent: Path) -> None:
    with opened(browser, silent) as page:
        page.locator("#p-faster").click()  # it has the focus now, but was not reached by keyboard
        assert state(page)["tempo"] == 94
        page.keyboard.press("Space")
        assert state(page)["playing"]
        assert state(page)["tempo"] == 94, "Space is not given to the button"
        page.keyboard.press("Space")
        assert not state(page)["playing"]
        page.locator("#p-more").click()
        page.locator("input[type=range]").first.click()
        page.keyboard.press("ArrowRight")
        assert state(page)["place"] == 4, "a slider touched by mouse does not keep the arrows"
        page.locator("#t-tempo").click()
        page.locator("#p-typed").fill("8")
        page.keyboard.press("ArrowLeft")
        page.keyboard.type("1")
        assert page.locator("#p-typed").input_value() == "18"
        assert state(page)["place"] == 4, "what is typed is the field's"
        page.locator("#p-clean").focus()
        page.keyboard.press("Tab")
        page.keyboard.press("ArrowLeft")
        assert state(page)["place"] == 0
        page.keyboard.press("Space")
        assert not state(page)["playing"], "a button reached by keyboard keeps its own key"
        page.keyboard.press("Escape")
        assert page.locator("#p-sheet").is_hidden()
        page.locator("h1").click()
        for key, part in (("1", "line"), ("5", "click")):
            page.keyboard.press(key)
            assert page.locator(f"#p-chips [data-part={part}]").get_attribute("aria-pressed") == "false"
        choose(page, "p-keys-on", "off")
        page.keyboard.press("ArrowRight")
        assert state(page)["place"] == 0


def test_tempo_from_a_third_to_twice(browser: Any, silent: Path) -> None:
    with opened(browser, silent) as page:
        for typed, tempo in (("1", 28), ("800", 184), ("100", 100)):  # 30 and 200 % of 92
            choose(page, "p-typed", typed)
            assert state(page)["tempo"] == tempo
        page.locator("#p-slower").click()
        assert page.locator("#p-bpm-out").inner_text() == "98"
        page.locator("#p-slower").hover()
        page.mouse.down()
        page.wait_for_timeout(900)
        page.mouse.up()
        assert state(page)["tempo"] < 96
        held = state(page)["tempo"]
        page.wait_for_timeout(300)
        assert state(page)["tempo"] == held
        page.evaluate("() => document.getElementById('p-home').click()")
        assert state(page)["tempo"] == 92


def test_parts_one_alone_and_volumes(browser: Any, built: Path) -> None:
    with opened(browser, built) as page:
        choose(page, "p-count", "0")
        play(page)
        page.locator("#p-more").click()
        page.locator("#t-parts").click()
        parts = ("line", "chords", "bass", "drums", "click")
        assert state(page)["gains"] == dict.fromkeys(parts, 1)
        page.locator("#p-chips [data-part=bass]").click()
        assert state(page)["gains"]["bass"] == 0
        page.get_by_role("button", name="Click alone").click()
        assert state(page)["gains"] == dict.fromkeys(parts, 0) | {"click": 1}
        page.get_by_role("button", name="Click alone").click()
        assert state(page)["gains"]["bass"] == 0, "as it was before"
        page.get_by_label("Drums volume").fill("50")
        assert 0 < state(page)["gains"]["drums"] < 1
        page.reload()
        page.wait_for_function("() => document.documentElement.dataset.ready")
        play(page)
        assert state(page)["gains"]["bass"] == 0
        assert 0 < state(page)["gains"]["drums"] < 1


# -- the plan --------------------------------------------------------------------------------------------------------
def passes(page: Any, count: int) -> None:
    """Play the line from its first bar so often, and pause."""
    page.keyboard.press("Home")
    page.locator("#p-play").click()
    page.wait_for_function("""(count) => {
        window.seenPasses ??= 0; const state = window.practice.state();
        if (window.lastBeat > state.beat + 1 && !state.counting) window.seenPasses += 1;
        window.lastBeat = state.beat; return window.seenPasses >= count; }""", arg=count, timeout=60_000)
    page.locator("#p-play").click()
    page.evaluate("() => { window.seenPasses = 0; window.lastBeat = -9; }")


def quick(folder: Path) -> Path:
    """The lesson's first two bars at 200 a minute, so that a pass lasts little; its plan goes from 240 to 400."""
    lesson = notebook()
    for cell in lesson["cells"]:
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if "application/vnd.vampbook.line+json" in data:
                stored = data["application/vnd.vampbook.line+json"]
                text = stored if isinstance(stored, str) else json.dumps(stored)
                line = json.loads(text.replace("tempo: 92", "tempo: 200"))
                line |= {"length_beats": "8", "notes": [one for one in line["notes"] if Fraction(one[1]) < 8]}
                data["application/vnd.vampbook.line+json"] = json.dumps(line)
            if "text/markdown" in data and "| Step |" in "".join(data["text/markdown"]):
                rows = "".join(f"| {step} | {tempo} | 1 | |\n" for step, tempo in enumerate((240, 300, 360, 400), 1))
                head = "| Step | Tempo (♩ a minute) | Notes a second | Clean passes |\n|---|---|---|---|\n"
                data["text/markdown"] = head + rows
    return written(folder, lesson, "quick")


def test_the_plan_counts_whole_passes_and_nothing_else(browser: Any, tmp_path: Path) -> None:
    path = quick(tmp_path)
    with opened(browser, path) as page:
        choose(page, "p-count", "0")
        assert page.locator("#p-steps li").count() == 4
        assert "♩ 240" in page.locator("#p-steps li").first.inner_text()
        page.locator("#p-clean").click()
        assert page.locator("#p-plan-say").inner_text() == "Play the whole line first."
        passes(page, 1)  # at 200: slower than the step
        page.locator("#p-clean").click()
        assert "counts at ♩ = 240" in page.locator("#p-plan-say").inner_text()
        page.locator("#p-steps button").first.click()
        assert state(page)["tempo"] == 240
        for _ in range(2):
            passes(page, 1)
            page.locator("#p-clean").click()
        assert "done" in page.locator("#p-steps li").first.inner_text()
        assert state(page)["tempo"] == 300, "the next step's tempo"
        assert "best clean ♩ = 240" in page.locator("#p-log-say").inner_text()
        for _ in range(2):
            passes(page, 1)
            page.keyboard.press("x")
        assert state(page)["tempo"] == 240, "two failed tries go back one"
        page.keyboard.press("]")
        page.locator("#p-play").click()
        page.wait_for_timeout(2500)  # more than two of its bars, which are as long as the line
        page.locator("#p-play").click()
        page.locator("#p-clean").click()
        assert page.locator("#p-plan-say").inner_text() == "Play the whole line first.", "a loop is no pass"


def test_a_strip_asks_where_the_plan_cannot_be_seen(browser: Any, tmp_path: Path) -> None:
    with opened(browser, quick(tmp_path), (390, 560)) as page:
        choose(page, "p-count", "0")
        page.locator("#p-steps button").first.evaluate("(one) => one.click()")
        page.evaluate("() => scrollTo(0, 0)")
        passes(page, 1)
        assert page.locator("#p-asked").inner_text() == "1 pass at ♩ 240"
        page.locator("#p-ask button", has_text="Clean pass").click()
        assert page.locator("#p-ask").is_hidden()
        assert "●○" in page.locator("#p-steps li").first.text_content()


def test_a_ladder_rises_to_its_goal_and_falls_after_a_miss(browser: Any, tmp_path: Path) -> None:
    with opened(browser, quick(tmp_path)) as page:
        choose(page, "p-count", "0")
        choose(page, "p-typed", "394")
        choose(page, "p-rise", "4")
        choose(page, "p-goal", "400")
        page.locator("#p-play").click()
        page.wait_for_function("() => window.practice.state().tempo === 398")
        page.wait_for_function("() => window.practice.state().tempo === 400")
        page.wait_for_timeout(1500)  # a pass and more
        assert state(page)["tempo"] == 400
        page.locator("#p-play").click()
        page.keyboard.press("x")
        assert state(page)["tempo"] == 396


# -- two fingers -----------------------------------------------------------------------------------------------------
def pinched(page: Any, at: tuple[float, float], apart: tuple[float, ...]) -> None:
    """Two fingers around a place, so many px apart one after the other, as the screen itself tells it."""
    wire = page.context.new_cdp_session(page)
    x, y = at
    for number, px in enumerate(apart):
        fingers = [{"x": x - px / 2, "y": y, "id": 0}, {"x": x + px / 2, "y": y, "id": 1}]
        wire.send("Input.dispatchTouchEvent", {"type": "touchMove" if number else "touchStart", "touchPoints": fingers})
    wire.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(100)


def test_two_fingers_over_the_music_change_its_size_and_not_the_pages(browser: Any, silent: Path) -> None:
    zoom = "visualViewport.scale"
    with opened(browser, silent, "phone", is_mobile=True) as page:
        box = page.locator(".music:visible .over").bounding_box()
        over = (box["x"] + box["width"] / 2, box["y"] + 40)
        bars, large = page.locator(".music:visible"), page.locator("#p-large")
        assert bars.get_attribute("data-shown") == "phone"
        pinched(page, over, (80, 84, 82, 80))
        assert not large.is_checked(), "fingers that rest"
        pinched(page, over, (80, 90, 110, 140, 100, 60))
        assert large.is_checked()
        assert bars.get_attribute("data-shown") == "large", "one step a gesture, whatever follows"
        assert page.evaluate(zoom) == 1
        page.reload()
        page.wait_for_function("document.documentElement.dataset.ready")
        assert large.is_checked(), "and it is kept"
        pinched(page, over, (140, 130, 100, 70))
        assert not large.is_checked()
        assert bars.get_attribute("data-shown") == "phone"
        assert page.evaluate(zoom) == 1
        assert state(page)["loop"] is None
        pinched(page, (180, 40), (80, 100, 130, 170, 200))
        assert not large.is_checked(), "over the title they are the browser's own"
        assert page.evaluate(zoom) > 1.2
        pinched(page, over, (80, 100, 130, 170))
        assert not large.is_checked(), "a page that is zoomed is moved by the browser"


def test_in_large_print_two_fingers_go_on_to_the_browsers_zoom(browser: Any, silent: Path) -> None:
    with opened(browser, silent, "phone", is_mobile=True) as page:
        page.locator("#p-more").click()
        page.locator("[role=tab]", has_text="Look").click()
        page.locator("#p-large").check()
        page.locator("#p-close").click()
        box = page.locator(".music:visible .over").bounding_box()
        pinched(page, (box["x"] + box["width"] / 2, box["y"] + 40), (80, 100, 130, 170, 200))
        assert page.locator("#p-large").is_checked()
        assert page.evaluate("visualViewport.scale") > 1.2


def test_in_large_print_on_a_phone_no_chord_is_broken(browser: Any, silent: Path) -> None:
    four = """() => {
      const box = document.getElementById("p-changes"), cells = ["Gmaj7", "F♯7alt", "B♭13sus4 B♭7", "D♯m9"];
      box.style.setProperty("--across", 4);
      box.replaceChildren(...cells.map((symbols) => {
        const cell = document.createElement("button");
        cell.append(...symbols.split(" ").map((textContent) =>
          Object.assign(document.createElement("span"), { textContent })));
        return cell;
      }));
    }"""
    broken = """() => [...document.querySelectorAll("#p-changes span")].filter((one) =>
      one.offsetHeight > 1.7 * parseFloat(getComputedStyle(one).fontSize)).map((one) => one.textContent)"""
    for width in (360, 390):
        with opened(browser, silent, (width, 800)) as page:
            for look in ("off", "on"):
                choose(page, "p-large", look)
                page.evaluate(four)
                assert page.locator("#p-changes span", has_text="B♭13sus4").count() == 1
                assert page.evaluate(broken) == [], (width, look)
                assert page.evaluate("document.documentElement.scrollWidth") == width
