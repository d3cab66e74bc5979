"""One check of a lesson opens its file once and reads each stored line and chart once, whatever asks for them."""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from support.short import write_short

from theorylib import Chart, Line
from workbook.checking import check
from workbook.checking.check import check_lesson
from workbook.handouts.pack import BRIEF, pack_of
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import MUTE
from workbook.handouts.tracks import Sound
from workbook.lesson.lesson import Lesson
from workbook.library.making import make
from workbook.library.orders import How, Order
from workbook.mimes import CHART_MIME, LINE_MIME

LESSONS = Path(__file__).resolve().parents[2] / "lessons"
_opened: Counter[str] = Counter()
_counting: list[str] = []


def _hear(event: str, given: tuple[Any, ...]) -> None:
    if event == "open" and _counting and str(given[0]) in _counting:
        _opened[str(given[0])] += 1


sys.addaudithook(_hear)  # Python's own report of every file that is opened (PEP 578)


@contextmanager
def openings(path: Path) -> Iterator[Counter[str]]:
    _opened.clear()
    _counting[:] = [str(path)]
    try:
        yield _opened
    finally:
        _counting.clear()


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often each text was read as a line, and as a chart by itself."""
    found: Counter[str] = Counter()
    read_line, read_chart, inside = Line.from_json, Chart.parse, [0]

    def line(text: str) -> Line:
        found[f"line {text}"] += 1
        inside[0] += 1  # the chart in a line's text is read with it
        try:
            return read_line(text)
        finally:
            inside[0] -= 1

    def chart(text: str, **headers: Any) -> Chart:
        found[f"chart {text}"] += not inside[0]
        return read_chart(text, **headers)

    monkeypatch.setattr(Line, "from_json", line)
    monkeypatch.setattr(Chart, "parse", chart)
    return found


def stored_in(path: Path) -> Counter[str]:
    """The lines and charts that a lesson's outputs carry, as `parsed` names them."""
    outputs = list(Lesson.read(path).outputs)
    found = Counter(f"{kind} {one.text(mime)}" for mime, kind in ((LINE_MIME, "line"), (CHART_MIME, "chart"))
                    for one in outputs if one.text(mime))
    assert len(found) >= 2, "there is music to read"
    return found


@pytest.mark.parametrize("name", ["slack-water", "lantern-stairs"])
def test_a_check_reads_a_lesson_once(name: str, parsed: Counter[str], tmp_path: Path) -> None:
    """The one whole, the other a section of it."""
    path = LESSONS / f"{name}.ipynb" if name == "slack-water" else write_short(tmp_path, name)
    with openings(path) as opened:
        assert [one for one in check_lesson(path, run=False).findings if one.is_fault] == []
    assert opened == {str(path): 1}
    stored = stored_in(path)
    assert {text: count for text, count in parsed.items() if text in stored} == stored


def test_a_pack_reads_a_lesson_once(parsed: Counter[str], tmp_path: Path) -> None:
    path = write_short(tmp_path, "slack-water", "drill", "solo")
    how = How({"sound": Sound(minutes=0.1), "paging": BRIEF}, run=False, keep=True)
    with openings(path) as opened:
        assert make(Order(path, tmp_path), how).error == ""
    assert opened == {str(path): 1}
    stored = stored_in(path)
    assert {text: count for text, count in parsed.items() if text in stored} == stored


def test_a_check_draws_a_line_for_one_width_of_screen_and_a_pack_for_all(tmp_path: Path) -> None:
    lesson = Lesson.read(write_short(tmp_path))
    pages = str(pack_of(lesson, paging=BRIEF).files["lesson.html"]), lesson_page(lesson, MUTE)
    assert [set(re.findall(r'data-width="(\w+)"', page)) for page in pages] == [{"desk"}, {"large", "phone", "desk"}]


def test_a_second_reading_is_seen(monkeypatch: pytest.MonkeyPatch, parsed: Counter[str], tmp_path: Path) -> None:
    path = write_short(tmp_path)
    monkeypatch.setattr(check, "check_recorded", lambda lesson: list(Lesson.read(lesson.path).lines)[:0])
    with openings(path) as opened:
        check_lesson(path, run=False)
    assert opened == {str(path): 2}
    assert max(count for text, count in parsed.items() if text.startswith("line ")) == 2
