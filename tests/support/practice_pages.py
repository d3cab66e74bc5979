"""A practice page in a real Chromium: opened from its file, every request and complaint noted."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from support.lab import ROOT

SIZES = {"desktop": (1280, 900), "phone": (390, 844)}
# What was really started on the audio clock, by hooks on the browser's own sources: [seconds, offset or hertz].
HOOK = """(() => {
  window.startedSounds = [];
  window.startedClicks = [];
  const play = AudioBufferSourceNode.prototype.start, click = OscillatorNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, offset, ...rest) {
    window.startedSounds.push([when, offset]);
    return play.call(this, when, offset, ...rest);
  };
  OscillatorNode.prototype.start = function (when) {
    window.startedClicks.push([when, this.frequency.value]);
    return click.call(this, when);
  };
})()"""


@contextmanager
def opened(browser: Any, path: Path, size: str | tuple[int, int] = "desktop", *, context: Any = None,
           **choices: Any) -> Iterator[Any]:
    """The page when it is ready; that it asked for nothing and complained of nothing is checked at the end.

    With a `context` of before the browser remembers what that kept.
    """
    asked: list[str] = []
    told: list[str] = []
    width, height = SIZES[size] if isinstance(size, str) else size
    mine = context or browser.new_context(viewport={"width": width, "height": height}, has_touch=width < 700, **choices)
    page = mine.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: told.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    page.add_init_script(HOOK)
    page.goto(path.as_uri())
    page.wait_for_function("() => document.documentElement.dataset.ready")
    try:
        yield page
        assert {url for url in asked if not url.startswith(("data:", "blob:"))} == {path.as_uri()}
        assert told == []
    finally:
        page.close()
        if context is None:
            mine.close()


def state(page: Any) -> dict[str, Any]:
    return dict(page.evaluate("() => window.practice.state()"))


def play(page: Any) -> None:
    page.locator("#p-play").click()
    page.wait_for_function("() => window.practice.state().time > 0.05")


def choose(page: Any, name: str, value: str) -> None:
    """Set a field of the sheet as its own event does, whether the sheet is open or not."""
    page.evaluate("""([name, value]) => {
        const field = document.getElementById(name);
        if (field.type === "checkbox") field.checked = value === "on"; else field.value = value;
        field.dispatchEvent(new Event(field.type === "range" ? "input" : "change", { bubbles: true }));
    }""", [name, value])


LINE = "application/vnd.vampbook.line+json"
BESIDE = ("ear", "ear-answers", "phrases-told")
# The drills that are kept, in the order of their page. A line of eighths comes first: what is tapped, lit and counted
# is tried on notes within a bar.
DRILLS = {"slack-water": ("drill",), "glass-lift": ("displaced", "against", "vibrato", "taps"), "chain-ferry": ("run",)}


def notebook(name: str = "slack-water") -> dict[str, Any]:
    """A shipped lesson as its file holds it, but for what stands beside its drills: few lines, of single notes."""
    lesson = dict(json.loads((ROOT / "lessons" / f"{name}.ipynb").read_text(encoding="utf-8")))
    drills = DRILLS[name]
    for cell in lesson["cells"]:
        if cell["id"] not in drills:
            kept = () if cell["id"] in BESIDE else cell.get("outputs", ())
            cell["outputs"] = [one for one in kept if LINE not in one.get("data", {})]
    named = {cell["id"]: cell for cell in lesson["cells"]}
    following = iter(drills)
    lesson["cells"] = [named[next(following)] if cell["id"] in drills else cell for cell in lesson["cells"]]
    return lesson


def written(folder: Path, lesson: dict[str, Any], name: str = "lesson", *, bank: bool = False) -> Path:
    """The lesson's page in a file, without its sounds unless they are asked for."""
    from workbook.handouts.page import lesson_page
    from workbook.handouts.practice import PageSound

    path = folder / f"{name}.html"
    path.write_text(lesson_page(lesson, PageSound(bank)), encoding="utf-8")
    return path
