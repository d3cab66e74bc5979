"""Tasks for the ear on a practice page in a real Chromium: heard on the audio clock, answered, revealed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT
from support.practice_pages import LINE, opened, written

from theorylib.practice.ear_text import EarTask, read_ear_text

pytestmark = pytest.mark.browser
EAR = "application/vnd.vampbook.ear+json"
SECONDS_A_BEAT = 60 / 72


@pytest.fixture(scope="module")
def tasks() -> tuple[EarTask, ...]:
    lesson = json.loads((ROOT / "lessons" / "harbour-lamp.ipynb").read_text(encoding="utf-8"))
    (stored,) = [output["data"][EAR] for cell in lesson["cells"] for output in cell.get("outputs", ())
                 if EAR in output.get("data", {})]
    return read_ear_text(stored if isinstance(stored, str) else json.dumps(stored))


@pytest.fixture(scope="module")
def page(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    lesson = json.loads((ROOT / "lessons" / "harbour-lamp.ipynb").read_text(encoding="utf-8"))
    drills = [cell for cell in lesson["cells"] if any(LINE in one.get("data", {}) for one in cell.get("outputs", ()))]
    for cell in drills[1:]:
        cell["outputs"] = []  # one drill is enough to give way
    file: Path = written(tmp_path_factory.mktemp("ear"), lesson, bank=True)
    with opened(browser, file) as found:
        found.evaluate("() => document.querySelectorAll('.read details').forEach((one) => { one.open = true; })")
        yield found


def task_at(page: Any, number: int) -> Any:
    return page.locator(f"[data-ear='{number}']")


def told(page: Any, number: int) -> str:
    return str(task_at(page, number).locator(".told").inner_text())


def test_what_is_asked_is_heard_in_its_time(page: Any, tasks: tuple[EarTask, ...]) -> None:
    """Each sound is started once, at its beat at 72 a minute; a drill that plays gives way."""
    assert page.locator("[data-ear]").count() == len(tasks)
    page.locator("#p-play").click()
    page.wait_for_function("() => window.practice.state().time > 0.1")
    number = next(index for index, task in enumerate(tasks) if task.kind == "degree")
    page.evaluate("() => { window.startedSounds = []; }")
    task_at(page, number).locator("[data-hear]").click()
    page.wait_for_function(f"() => window.startedSounds.length >= {len(tasks[number].sounds)}")
    assert page.evaluate("() => window.practice.state().playing") is False
    heard = [when for when, _ in page.evaluate("() => window.startedSounds")][-len(tasks[number].sounds):]
    wanted = [float(sound.onset_beats) * SECONDS_A_BEAT for sound in tasks[number].sounds]
    assert [when - heard[0] for when in heard] == pytest.approx(wanted, abs=0.002)


def test_an_answer_is_judged_and_the_first_one_counts(page: Any, tasks: tuple[EarTask, ...]) -> None:
    number = next(index for index, task in enumerate(tasks) if task.kind == "quality")
    task, box = tasks[number], task_at(page, number)
    assert task.answer not in box.locator("p").first.inner_text()
    right = task.choices.index(task.answer)
    wrong = next(index for index in range(len(task.choices)) if index != right)
    box.locator(f"[data-choice='{right}']").click()
    assert told(page, number) == "Hear it first."
    box.locator("[data-hear]").click()
    page.wait_for_function(f"() => window.practice.ear().heard[{number}] === 1")
    box.locator(f"[data-choice='{wrong}']").click()
    assert told(page, number) == "Not that one: hear it again."
    box.locator(f"[data-choice='{right}']").click()
    assert told(page, number) == f"Right: {task.answer}."
    assert page.evaluate("() => window.practice.ear()")["known"][number] is False, "not at the first answer"
    assert box.locator("[data-choice]:disabled").count() == len(task.choices)
    other = next(index for index, one in enumerate(tasks) if one.kind == "change")
    task_at(page, other).locator("[data-hear]").click()
    page.wait_for_function(f"() => window.practice.ear().heard[{other}] === 1")
    task_at(page, other).locator(f"[data-choice='{tasks[other].choices.index(tasks[other].answer)}']").click()
    assert page.evaluate("() => window.practice.ear()")["known"][other] is True
    asked = sum(bool(one.choices) for one in tasks)
    assert page.locator(".ear-count").inner_text() == f"1 of {asked} at the first answer"


def test_what_is_sung_is_revealed_and_heard(page: Any, tasks: tuple[EarTask, ...]) -> None:
    number = next(index for index, task in enumerate(tasks) if task.kind == "sing")
    assert told(page, number) == ""
    page.evaluate("() => { window.startedSounds = []; }")
    task_at(page, number).locator("[data-reveal]").click()
    page.wait_for_function(f"() => window.startedSounds.length >= {len(tasks[number].after)}")
    assert told(page, number) == tasks[number].answer
