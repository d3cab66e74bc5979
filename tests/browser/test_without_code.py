"""The page without code, as `vampbook start --simple` serves it: by keyboard, and by touch on a narrow screen."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT, _end_with_parent

pytestmark = pytest.mark.browser
FINGER = 44  # CSS pixels (WCAG 2.2, 2.5.5)


@pytest.fixture(scope="module")
def served(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """The page's address, and the teacher's folder; nothing is served where no browser is."""
    place = tmp_path_factory.mktemp("simple")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = {name: str(place / name.lower()) for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR")}
    settings["JUPYTER_PATH"] = str(ROOT / "workbook" / "lab")  # the script as it is here, not as it was installed
    server = subprocess.Popen(
        [sys.executable, "-m", "workbook", "start", str(place / "mine"), "--simple", "--no-browser", f"--port={port}"],
        env=os.environ | settings | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        preexec_fn=_end_with_parent, start_new_session=True)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(240):
            try:
                urllib.request.urlopen(f"{address}/voila/static/voila.js", timeout=1).close()
                break
            except urllib.error.HTTPError:
                break
            except OSError:
                time.sleep(0.5)
        yield address, place / "mine"
    finally:
        os.killpg(server.pid, 2)
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(server.pid, 9)
            server.wait()


def opened(browser: Any, address: str, width: int, **how: bool) -> tuple[Any, list[str]]:
    """The page, ready to use; the addresses beyond this machine that it asked, and what errors our script logged."""
    page = browser.new_context(viewport={"width": width, "height": 800}, **how).new_page()
    elsewhere: list[str] = []
    page.on("request", lambda one: elsewhere.append(one.url)
            if not one.url.startswith((address, address.replace("http", "ws"), "data:", "blob:")) else None)
    page.on("console", lambda one: elsewhere.append(one.text)
            if one.type == "error" and "vampbook" in one.text else None)
    page.goto(address, timeout=90_000)
    page.get_by_role("button", name="Pin").first.wait_for(timeout=90_000)
    return page, elsewhere


def test_by_keyboard_on_a_wide_screen(browser: Any, served: tuple[str, Path]) -> None:
    page, elsewhere = opened(browser, served[0], 1280)
    page.get_by_label("Changes").first.focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("| Fm7 | Bb7 |")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Arpeggios over Fm7").wait_for()
    page.get_by_placeholder("Second wind").focus()
    page.keyboard.type("First light")
    for _ in range(4):
        page.keyboard.press("Tab")  # level, track, large print, the button
    page.keyboard.press("Enter")
    page.get_by_text("there is a lesson “first-light” already").wait_for(timeout=60_000)
    assert page.locator(".jp-InputArea-editor, .cm-editor").count() == 0, "no code is seen"
    assert elsewhere == []


def test_by_touch_on_a_phone(browser: Any, served: tuple[str, Path]) -> None:
    from playwright.sync_api import expect

    address, folder = served
    page, elsewhere = opened(browser, address, 390, has_touch=True, is_mobile=True)
    page.get_by_role("button", name="Pin").first.tap()
    page.get_by_placeholder("Second wind").tap()
    page.keyboard.type("Paper boat")
    page.get_by_text("with a backing track").tap()
    button = page.get_by_role("button", name="Make the pack")
    assert button.bounding_box()["height"] >= FINGER
    assert page.get_by_placeholder("Second wind").bounding_box()["height"] >= FINGER
    assert page.locator(".widget-checkbox label").last.bounding_box()["height"] >= FINGER
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    button.tap()
    expect(page.get_by_text("its pack built")).to_be_in_viewport()
    expect(page.get_by_role("button", name="Making the pack")).to_be_visible()
    expect(page.get_by_text("The pack is ready")).to_be_in_viewport(timeout=120_000)
    expect(button).to_be_visible()
    links = {one.get_attribute("href") for one in page.locator("[role=status] a").all()}
    assert {Path(link).name for link in links} >= {"handout.pdf", "lesson.html", "lesson.mid", "lesson.musicxml"}
    for link in links:
        name = Path(link).name
        given = page.request.get(address + link)
        assert given.status == 200
        assert given.body() == (folder / "build" / "paper-boat" / name).read_bytes()
    other = page.request.get(f"{address}/voila/files/lessons/paper-boat.ipynb")
    assert other.status == 403, "nothing but packs is handed out"
    lesson = (folder / "lessons" / "paper-boat.ipynb").read_text(encoding="utf-8")
    assert '"explored-1"' in lesson, "what was pinned is in the lesson"
    assert 'level = \\"beginner\\"' in lesson
    assert elsewhere == []


def test_the_explorer_answers_to_a_finger_where_no_notebook_is(browser: Any, served: tuple[str, Path]) -> None:
    from playwright.sync_api import expect

    page, _ = opened(browser, served[0], 1280, has_touch=True)
    view = page.locator(".vbx")
    view.locator("[data-f=chord-1]").tap()
    expect(view.locator(".read > b")).to_have_text("D7")
    expect(page.locator(".vbx-still")).to_be_hidden()
    sound = view.locator("[data-f=hear-arpeggio]")
    expect(sound).to_be_enabled()
    view.locator("[data-act=row]").nth(1).tap()
    expect(sound).to_have_attribute("aria-pressed", "true")
    sound.tap()
    expect(sound).to_have_attribute("aria-pressed", "false")
    expect(view.locator("[data-part=neck] h2")).to_contain_text(" over D7")
    for one in range(4):
        view.locator("[data-act=pin]").nth(one).tap()
    expect(view.locator(".pin-said")).to_have_count(3)
    expect(view.locator(".said")).to_contain_text("Three are pinned")
    view.locator("[data-f=reach-outside]").tap()
    reaches = view.locator("tbody .reach")
    expect(reaches.first).to_have_attribute("aria-label", "outside")
    view.locator("[data-f=undo]").tap()
    expect(reaches.first).to_have_attribute("aria-label", "inside")
    view.locator("[data-f=add]").tap()
    expect(view.locator(".said")).to_contain_text("Here only a file can be added to")
    # of a window that scrolls, one page would be printed, cut at its right
    assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) > 1
