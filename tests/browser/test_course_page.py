"""The index of a course in a real Chromium: its search, with and without scripts; accessibility by axe-core."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from workbook.handouts.course_page import Entry, course_page

pytestmark = pytest.mark.browser


def entry(title: str, part: str, key: str, chords: str, scales: str, techniques: str, *needs: str) -> Entry:
    facts = {"title": title, "level": part, "minutes": 30, "tempo": "92", "feel": "swing", "key": key,
             "aims": [f"Play {title}."], "techniques": techniques.split(", "), "chords": chords.split(), "scales":
             scales.split(", ")}
    return Entry(title.lower().replace(" ", "-"), part, facts, needs)


ENTRIES = [
    entry("Low tide", "beginner", "F major", "m7 9", "dorian, mixolydian", "arpeggios"),
    entry("High <i>tide</i>", "intermediate", "B♭ minor", "m7 ø7 7♯9", "natural minor, altered", "bends, arpeggios",
          "low-tide"),
    entry("Ebb", "advanced", "E♭ minor", "m9", "dorian", "tapping, vibrato"),
]


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("course") / "index.html"
    place.write_text(course_page("Tides & more", "About <b>water</b>.", ENTRIES), encoding="utf-8")
    return place


@pytest.fixture
def page(path: Path, browser: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    context = browser.new_context(**getattr(request, "param", {}))
    found = context.new_page()
    told: list[str] = []
    found.on("console", lambda message: told.append(message.text) if message.type == "error" else None)
    found.goto(path.as_uri())
    yield found
    context.close()
    assert told == []


def shown(page: Any) -> list[str]:
    return page.eval_on_selector_all(".lessons > li", "all => all.filter(one => one.offsetParent).map(one => "
                                     "one.querySelector('h3').textContent)")


def test_search(page: Any) -> None:
    assert page.locator("[data-count]").text_content() == "3 lessons"
    low, high, ebb = "1. Low tide", "2. High <i>tide</i>", "3. Ebb"
    for facet, value, titles in (("technique", "arpeggios", [low, high]), ("scale", "dorian", [low, ebb]),
                                 ("chord", "ø7", [high]), ("level", "advanced", [ebb]), ("key", "F major", [low])):
        page.select_option(f"[data-facet={facet}]", value)
        assert shown(page) == titles
        page.click("button[type=reset]")
        page.wait_for_function("() => document.querySelector('[data-count]').textContent === '3 lessons'")
    for words, titles in (("dominant", [low, high]), ("half-diminished", [high]), ("e minor", []), ("Eb minor", [ebb]),
                          ("minor", [low, high, ebb]), ("lydian", []), ("tap vib", [ebb])):
        page.fill("[data-words]", words)
        assert shown(page) == titles, words
    page.fill("[data-words]", "bb TIDE")
    assert shown(page) == [high]
    assert page.locator("[data-count]").text_content() == "1 lesson"
    page.select_option("[data-facet=scale]", "dorian")
    assert shown(page) == []
    assert page.locator("[data-part]:visible").count() == 0
    assert page.locator("h1").text_content() == "Tides & more"


@pytest.mark.parametrize("page", [{"java_script_enabled": False}], indirect=True)
def test_without_scripts_it_is_the_whole_list(page: Any) -> None:
    assert page.locator("form").is_hidden()
    assert page.locator(".lessons > li:visible").count() == 3
    page.click("a[href='#low-tide']")
    assert page.url.endswith("#low-tide")


@pytest.mark.parametrize("page", [{"color_scheme": "light"}, {"color_scheme": "dark", "viewport":
                                  {"width": 390, "height": 844}}], indirect=True, ids=["light", "dark phone"])
def test_no_serious_accessibility_fault(page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    serious = [one for one in Axe().run(page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_filters_are_folded_on_a_phone(path: Path, browser: Any) -> None:
    for width, is_open in ((390, False), (1280, True)):
        found = browser.new_page(viewport={"width": width, "height": 800})
        found.goto(path.as_uri())
        assert found.locator("[data-facet=key]").is_visible() is is_open
        assert found.locator("summary").bounding_box()["height"] >= 44
        found.close()


def test_a_lesson_shows_what_was_done_in_its_own_pack(path: Path, page: Any) -> None:
    page.evaluate("""() => {
      document.querySelector(".lessons > li").dataset.pack = "one";
      localStorage.setItem("vampbook:pack:one", JSON.stringify({
        ticks: { a: true, b: false }, days: { "2026-01-02": { x: { minutes: 12.4, best: 80 }, y: { minutes: 3 } } } }));
    }""")
    html = path.read_text(encoding="utf-8").replace('data-pack=""', 'data-pack="one"', 1)
    path.with_name("other.html").write_text(html, encoding="utf-8")
    page.goto(path.with_name("other.html").as_uri())
    said = page.locator("[data-progress]:visible")
    assert said.count() == 1
    assert said.text_content() == "15 min practised · 1 ✓"
