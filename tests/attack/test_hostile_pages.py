"""Texts that try to run, to load or to lead away, put where a lesson keeps text: refused, or shown and inert.

The pages are opened in a real Chromium that reports every request, dialog, navigation and call of the witness hit(). It
is told to ignore the page's security policy too: then the filter stands alone.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from support.lab import CHROMIUM, QUIET
from support.music import arpeggio

from theorylib.errors import VampError
from workbook.draw.score import score
from workbook.handouts import clean, practice
from workbook.handouts.clean import DEEPEST, DRAWING, LONGEST_CHAIN, clean_svg
from workbook.handouts.course_page import Entry, course_page
from workbook.handouts.page import lesson_page
from workbook.handouts.tree import HandoutError, slices
from workbook.mimes import LINE_MIME

SVG_MIME, PNG_MIME = "image/svg+xml", "image/png"
OPEN = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 10 10">'
PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


@dataclass(frozen=True, slots=True)
class Payload:
    """A hostile text: its class, the place of a lesson that it stands in, and what becomes of it."""

    kind: str
    place: str
    becomes: str
    text: str


def payloads() -> list[Payload]:
    found = tomllib.loads((Path(__file__).parent / "payloads.toml").read_text(encoding="utf-8"))["payload"]
    return [Payload(group["class"], group["place"], group["becomes"], text) for group in found
            for text in group["texts"]]


ALL = payloads()
KEPT = [one for one in ALL if one.becomes == "kept"]
FIELDS = ("title", "language", "student")  # of the whole lesson


# -- lessons ---------------------------------------------------------------------------------------------------------
def cell(kind: str, source: str, *outputs: dict[str, Any], tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"cell_type": kind, "metadata": {"tags": list(tags)}, "source": source} | (
        {"outputs": list(outputs)} if kind == "code" else {})


def figure(mime: str, data: str, **about: Any) -> dict[str, Any]:
    return cell("code", "1", {"output_type": "display_data", "data": {mime: data},
                              "metadata": {mime: {"alt": "a figure", "width_mm": 100} | about}})


def shown(mime: str, text: str) -> dict[str, Any]:
    return cell("code", "1", {"output_type": "execute_result", "data": {mime: text}, "metadata": {}})


@lru_cache(maxsize=1)
def drill() -> dict[str, Any]:
    """A bundle of data and metadata of a short quick drill."""
    data, about = score(arpeggio("tempo: 280\n| Gm7 | C9 |", 3))._repr_mimebundle_()
    return {"data": data, "metadata": about}


def drill_cell(**changes: Any) -> dict[str, Any]:
    bundle = drill()
    stored = bundle["data"][LINE_MIME]
    line = json.loads(stored) if isinstance(stored, str) else dict(stored)
    degree = changes.pop("degree", None)
    if degree is not None:
        line["notes"][0][6] = degree
    data = bundle["data"] | {LINE_MIME: json.dumps(line | changes)}
    return cell("code", "1", {"output_type": "execute_result", "data": data, "metadata": bundle["metadata"]})


MAKERS = {
    "svg": lambda text: figure(SVG_MIME, f"{OPEN}{text}<path id='a' d='M0 0h9v9z'/></svg>"),
    "drawing": lambda text: figure(SVG_MIME, text),
    "markdown": lambda text: cell("markdown", text),
    "alt": lambda text: figure(SVG_MIME, f"{OPEN}</svg>", alt=text),
    "caption": lambda text: figure(SVG_MIME, f"{OPEN}</svg>", caption=text),
    "png": lambda text: figure(PNG_MIME, text),
    "code": lambda text: cell("code", text, tags=("show-input",)),
    "plain output": lambda text: shown("text/plain", text),
    "html output": lambda text: cell("code", "1", {"output_type": "display_data", "data": {
        "text/html": text, "text/plain": "words", PNG_MIME: PIXEL}, "metadata": {PNG_MIME: {"alt": "a dot"}}}),
    "line title": lambda text: drill_cell(title=text),
    "degree": lambda text: drill_cell(degree=text),
}


def lesson(*found: Payload) -> dict[str, Any]:
    """The payloads, and after them the drill that has to stay playable."""
    about = {one.place: one.text for one in found if one.place in FIELDS}
    cells = [MAKERS[one.place](one.text) for one in found if one.place not in FIELDS]
    return {"cells": [cell("markdown", "# Attacked"), *cells, drill_cell()], "metadata": {"vampbook": about},
            "nbformat": 4, "nbformat_minor": 5}


@pytest.fixture
def _one_bank(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same notes are rendered once."""
    made: dict[Any, Any] = {}
    render = practice.bank_of

    def kept(lengths: dict[Any, float], **choices: Any) -> Any:
        key = tuple(sorted(lengths.items()))
        if key not in made:
            made[key] = render(lengths, **choices)
        return made[key]

    monkeypatch.setattr(practice, "bank_of", kept)


# -- what is refused, without a browser ------------------------------------------------------------------------------
def test_there_are_enough_of_them() -> None:
    assert len(ALL) > 107 * 2
    assert len({(one.place, one.text) for one in ALL}) == len(ALL)


@pytest.mark.parametrize("kind", dict.fromkeys(one.kind for one in ALL))
def test_what_is_refused_and_what_is_kept(kind: str) -> None:
    wrong = []
    for one in ALL:
        if one.kind != kind:
            continue
        try:
            lesson_page(lesson(one), bank=False)
            became = "kept"
        except VampError:
            became = "refused"
        if became != one.becomes:
            wrong.append((one.text, became))
    assert wrong == []


def nested(depth: int) -> str:
    return f"{OPEN}{'<g>' * depth}<path/>{'</g>' * depth}</svg>"


def test_a_drawing_that_would_grow_is_refused() -> None:
    assert clean_svg(nested(DEEPEST - 2), "f").count("<g>") == DEEPEST - 2
    for depth in (DEEPEST - 1, 600, 100_000):
        with pytest.raises(HandoutError, match="deep, one in another"):
            clean_svg(nested(depth), "f")
    with pytest.raises(HandoutError, match="deep, one in another"):  # cut between systems, too
        slices(nested(600), [5.0])
    with pytest.raises(HandoutError, match="declares entities"):
        clean_svg('<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + f"{OPEN}<text>&b;</text></svg>", "f")
    # Each group draws the one before it ten times: 10, 100, 1,000 … elements out of a few.
    groups = "".join(f"<g id='g{number}'>" + f"<use href='#g{number - 1}'/>" * 10 + "</g>" for number in range(1, 7))
    with pytest.raises(HandoutError, match=r"draws \d+ elements"):
        clean_svg(f"{OPEN}<defs><path id='g0'/>{groups}</defs></svg>", "f")


def test_use_of_a_use_has_an_end() -> None:
    def chained(count: int) -> str:
        links = "".join(f"<g id='g{number}'><use href='#g{number + 1}'/></g>" for number in range(count))
        return f"{OPEN}{links}<path id='g{count}'/></svg>"

    assert clean_svg(chained(LONGEST_CHAIN), "f").count("<use") == LONGEST_CHAIN
    for count in (LONGEST_CHAIN + 1, 5000):
        with pytest.raises(HandoutError, match="points at another"):
            clean_svg(chained(count), "f")
    with pytest.raises(HandoutError, match="points at another"):
        clean_svg(f"{OPEN}<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g></svg>", "f")


class Tags(HTMLParser):
    """The elements and attributes that a text of HTML opens."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.attributes: set[str] = set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}


def test_the_second_reading_stands_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """If the first reading let everything through, the second would still keep nothing but what draws."""
    text = ""
    monkeypatch.setattr(clean, "_write", lambda root, figure, written: written.append(text))
    for one in ALL:
        if one.place == "svg":
            text = f"{OPEN}{one.text}</svg>"
            left = Tags(clean_svg(OPEN + "</svg>", "f"))
            assert left.names <= {name.lower() for name in DRAWING}, one.text
            assert not any(name.startswith("on") or name in ("src", "srcdoc", "action") for name in left.attributes)


# -- in Chromium -----------------------------------------------------------------------------------------------------
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
        browser = play.chromium.launch(executable_path=CHROMIUM, args=[
            *QUIET, "--autoplay-policy=no-user-gesture-required"])
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


def plays(page: Any) -> None:
    """Press play with the mouse, and see the light move."""
    page.evaluate("() => { const count = document.getElementById('p-count'); count.value = '0'; "
                  "count.dispatchEvent(new Event('change')); }")
    page.click("#p-play", timeout=3000)
    page.wait_for_function("() => window.practice.state().step >= 3 && document.querySelector('.light:not([hidden])')",
                           timeout=5000)
    page.click("#p-play", timeout=3000)


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
        watch.page.wait_for_function("() => document.documentElement.dataset.ready", timeout=10_000)
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
            watch.page.locator("main a").nth(index).click(no_wait_after=True, timeout=3000)
            if address.startswith("#"):
                assert watch.happened == []
                continue
            for _ in range(40):
                if watch.happened:
                    break
                watch.page.wait_for_timeout(50)
            if address.startswith("http"):
                assert watch.happened == [f"asked for {address}"]
                watch.happened.clear()
            else:  # a file beside the page
                assert [one.startswith("asked for file:///") for one in watch.happened] == [True], watch.happened
                watch.page.wait_for_url("chrome-error://**")
                watch.open(path)
                watch.page.evaluate(UNFOLD)


@pytest.mark.browser
@pytest.mark.usefixtures("_one_bank")
def test_each_alone(tmp_path: Path) -> None:
    """Each by itself before the drill, where it could swallow it; the page's policy is off.

    Every second of the drawings and the words that leave something open, one in eight of the rest; all when exploring.
    """
    open_ended = re.compile(r"plaintext|textarea|template|<!--|CDATA|</|<(title|style|form|base|meta)", re.IGNORECASE)
    chosen = [one for index, one in enumerate(KEPT) if EXPLORE or index % 8 == 0
              or (open_ended.search(one.text) and (index % 2 or one.place not in ("svg", "markdown")))]
    wrong = []
    with watched(policy=False) as watch:
        for number, one in enumerate(chosen):
            path = saved(tmp_path, str(number), lesson_page(lesson(one)))
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
