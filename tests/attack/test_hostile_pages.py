"""Texts that try to run, to load or to lead away, in pages opened in a real Chromium: shown and inert.

It reports every request, dialog, navigation and call of the witness hit(). It is told to ignore the page's security
policy too: then the filter stands alone. What is refused before a page is made: test_hostile_texts.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from support.lab import CHROMIUM, EXPLORE, QUIET
from support.payloads import ALL, FIELDS, KEPT, OPEN, lesson

from workbook.draw.screen import WIDTHS
from workbook.handouts import remembered
from workbook.handouts.course_page import Entry, course_page
from workbook.handouts.page import lesson_page

WITNESS = "window.hit = () => { console.log('HIT'); return 1; };"


@dataclass(slots=True)
class Watch:
    """A browser page, and all that happened in it beyond the page's own file."""

    page: Any
    home: str = ""
    happened: list[str] = field(default_factory=list)

    def open(self, path: Path) -> None:
        self.happened.clear()
        self.home = path.as_uri()
        self.page.goto(self.home)

    def asked(self, address: str) -> None:
        if not address.startswith(("data:", "blob:")) and address.partition("#")[0] != self.home:
            self.happened.append(f"asked for {address}")


@contextmanager
def watched(*, policy: bool) -> Iterator[Watch]:
    """A Chromium in which everything is noted; without `policy` it ignores the page's own."""
    from playwright.sync_api import sync_playwright

    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        context = browser.new_context(bypass_csp=not policy)
        context.add_init_script(WITNESS)
        context.route("http*://**/*", lambda route: route.fulfill(status=204))  # seen, and the page stays
        watch = Watch(context.new_page())
        context.on("request", lambda request: watch.asked(request.url))
        context.on("page", lambda page: watch.happened.append("opened a window"))
        watch.page.on("console", lambda told: watch.happened.append("ran") if told.text == "HIT" else None)
        watch.page.on("pageerror", lambda error: watch.happened.append(f"broke: {error}"))
        watch.page.on("dialog", lambda dialog: (watch.happened.append("asked in a dialog"), dialog.dismiss()))
        watch.page.on("download", lambda one: watch.happened.append("saved a file"))
        try:
            yield watch
        finally:
            browser.close()


@pytest.fixture
def _one_bank(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same notes are rendered once."""
    made: dict[Any, Any] = {}
    render = remembered.bank_of

    def kept(lengths: dict[Any, float], **choices: Any) -> Any:
        key = tuple(sorted(lengths.items()))
        if key not in made:
            made[key] = render(lengths, **choices)
        return made[key]

    monkeypatch.setattr(remembered, "bank_of", kept)


def plays(page: Any) -> None:
    """Press play with the mouse, and see the light move."""
    page.evaluate("() => { const count = document.getElementById('p-count'); count.value = '0'; "
                  "count.dispatchEvent(new Event('change')); }")
    page.click("#p-play")
    page.wait_for_function("() => window.practice.state().step >= 3 && document.querySelector('.light:not([hidden])')")
    page.click("#p-play")


def until(page: Any, holds: Callable[[], bool]) -> None:
    """Wait until something holds; what the browser tells is taken in meanwhile."""
    for _ in range(600):
        if holds():
            return
        page.wait_for_timeout(50)


UNFOLD = "() => { for (const one of document.querySelectorAll('details')) one.open = true; }"
# Whether the page is ready, its play buttons can be pressed where they stand, and playing begins.
BEGINS = """() => {
  const button = document.getElementById("p-play");
  if (!document.documentElement.dataset.ready || !button) return "not ready";
  for (const one of document.querySelectorAll("details")) one.open = true;
  const own = [...document.querySelectorAll("[data-play]")].at(-1);
  own.scrollIntoView({ block: "center" });
  for (const one of [button, own]) {
    const box = one.getBoundingClientRect();
    if (!one.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2))) return "covered";
  }
  if (!document.querySelector(".light:not([hidden])")) return "without a light";
  button.click();
  return window.practice.state().playing ? "" : "silent";
}"""


def saved(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.html"
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    return path


@pytest.mark.browser
def test_the_witness_sees_what_a_bare_page_does(tmp_path: Path) -> None:
    """Put into a page as they are, a good part of the texts do act: the watch is able to see it."""
    seen = set()
    chosen = [one for one in ALL if one.place in ("svg", "markdown")]
    with watched(policy=True) as watch:
        for number, one in enumerate(chosen if EXPLORE else chosen[::5]):
            text = f"{OPEN}{one.text}</svg>" if one.place == "svg" else one.text
            path = saved(tmp_path, str(number), f"<!DOCTYPE html><body>{text}<p>end</p>")
            try:
                watch.open(path)
                watch.page.wait_for_timeout(60)
            except Exception:
                watch.happened.append("led away")
            if watch.happened:
                seen.add(one)
    print(f"{len(seen)} of {len(chosen)} act in a bare page")
    assert len(seen) >= (40 if EXPLORE else 8), [one.text for one in seen]


@pytest.mark.browser
@pytest.mark.usefixtures("_one_bank")
@pytest.mark.parametrize("policy", [True, False], ids=["both walls", "the filter alone"])
def test_all_at_once(tmp_path: Path, policy: bool) -> None:
    """Nothing runs, loads or leads away, and the line plays; then every link that is left is clicked."""
    together = [one for one in KEPT if one.place not in FIELDS]
    path = saved(tmp_path, "all", lesson_page(lesson(*together)))
    with watched(policy=policy) as watch:
        watch.open(path)
        watch.page.wait_for_function("() => document.documentElement.dataset.ready")
        plays(watch.page)
        watch.page.wait_for_timeout(300)
        assert watch.happened == []
        assert watch.page.url.partition("#")[0] == path.as_uri()
        # Its figures and its words are all there: none was swallowed by another.
        assert watch.page.locator("#lesson figure").count() == sum(
            one.place in ("svg", "drawing", "alt", "caption", "html output", "line title")
            for one in together) + 1
        watch.page.evaluate(UNFOLD)
        links = watch.page.eval_on_selector_all("main a", "all => all.map(one => one.getAttribute('href'))")
        assert links
        assert {one.partition(":")[0] for one in links if ":" in one.split("/")[0]} <= {"http", "https", "mailto"}
        for index, address in enumerate(links):
            watch.page.locator("main a").nth(index).click(no_wait_after=True)
            if address.startswith("#"):
                assert watch.happened == []
                continue
            until(watch.page, lambda: bool(watch.happened))
            if address.startswith("http"):
                assert watch.happened == [f"asked for {address}"]
                watch.happened.clear()
            else:  # a file beside the page
                assert [one.startswith("asked for file:///") for one in watch.happened] == [True], watch.happened
                until(watch.page, lambda: watch.page.url.startswith("chrome-error:"))  # else it stands in the way
                watch.open(path)
                watch.page.evaluate(UNFOLD)


@pytest.mark.browser
@pytest.mark.usefixtures("_one_bank")
def test_each_alone(tmp_path: Path) -> None:
    """Each by itself before the drill, where it could swallow it; the page's policy is off.

    Every fourth of the drawings and the words that leave something open, a sixteenth of the rest; all when exploring.
    Drawn for one width of screen: what could swallow the drill stands before it once, whatever the widths.
    """
    open_ended = re.compile(r"plaintext|textarea|template|<!--|CDATA|</|<(title|style|form|base|meta)", re.IGNORECASE)
    chosen = [one for index, one in enumerate(KEPT) if EXPLORE or index % 16 == 0
              or (open_ended.search(one.text) and (index % 4 == 1 or one.place not in ("svg", "markdown")))]
    wrong = []
    with watched(policy=False) as watch:
        for number, one in enumerate(chosen):
            path = saved(tmp_path, str(number), lesson_page(lesson(one), widths=WIDTHS[-1:]))
            watch.open(path)
            fault = watch.page.evaluate(BEGINS)
            if fault:
                watch.happened.append(fault)
            if watch.happened:
                wrong.append((one.place, one.text, list(watch.happened)))
    assert wrong == []


# -- a course --------------------------------------------------------------------------------------------------------
def entry(number: int, text: str) -> Entry:
    facts = {"title": text, "level": text, "minutes": 30, "tempo": text, "feel": text, "key": text, "aims": [text],
             "techniques": [text], "chords": [text], "scales": [text]}
    return Entry(f"{number}{text}".replace("/", "∕").replace("\0", ""), text, facts, (f"{number - 1}",))


@pytest.mark.browser
def test_a_course_of_them(tmp_path: Path) -> None:
    texts = [one.text for one in ALL if one.place != "drawing"]
    swallowing = ["</title><plaintext>", "<textarea>", "<template>", "<!--", "</script><script>hit()</script>",
                  "javascript:hit()", "<base href='https://outside.example/'>"]
    with watched(policy=False) as watch:
        for number, some in enumerate([texts, *([one] for one in swallowing)]):
            entries = [entry(index, text) for index, text in enumerate(some)]
            path = saved(tmp_path, f"course-{number}", course_page(some[0], some[-1], entries))
            watch.open(path)
            count = watch.page.locator("[data-count]")
            assert count.text_content() == ("1 lesson" if len(some) == 1 else f"{len(some)} lessons")
            watch.page.fill("[data-words]", "no lesson says this")
            assert count.text_content() == "0 lessons"
            watch.page.click("button[type=reset]")
            watch.page.wait_for_function("() => !document.querySelector('[data-count]').textContent.startsWith('0')")
            watch.page.select_option("[data-facet=key]", some[0])
            same = some.count(some[0])
            assert count.text_content() == ("1 lesson" if same == 1 else f"{same} lessons")
            assert watch.happened == []
        # A lesson's file may be called anything: its link leads to a file beside the index, and nowhere else.
        name = "javascript:hit()"
        watch.open(saved(tmp_path, "link", course_page("a", "b", [Entry(name, "one", entry(0, "a").facts)])))
        watch.page.click("h3 a", no_wait_after=True)
        watch.page.wait_for_timeout(200)
        assert watch.happened == [f"asked for {tmp_path.as_uri()}/javascript%3Ahit%28%29/lesson.html"]
