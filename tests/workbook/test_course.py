"""Courses: course.toml read and refused, one PDF whose contents point to the right pages, index, only what changed."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.lab import ROOT
from support.short import BRIEF, write_short

from workbook.cli import main
from workbook.lesson.facts import TECHNIQUES, facts_of
from workbook.lesson.lesson import Lesson
from workbook.library.course import CourseError, check_course, read_course, unlisted
from workbook.library.course_build import build_course
from workbook.library.mark import MARK
from workbook.library.orders import How, Outcome

LESSONS = ROOT / "lessons"
HOW = How({"paper": "a4", "large_print": False, "sound": BRIEF}, run=False)
GOOD = """
title = "Three evenings"
about = "From <two> chords & on."

[[level]]
name = "first steps"
lessons = ["slack-water"]

[[level]]
name = "further"
lessons = ["lantern-stairs", "copper-kettle"]

[needs]
copper-kettle = ["slack-water", "lantern-stairs"]
"""

pytestmark = pytest.mark.usefixtures("warm")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    return three_lessons(tmp_path / "lessons")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the course made of them, to be read only."""
    place = tmp_path_factory.mktemp("course")
    folder = three_lessons(place / "lessons", "drill-words", "drill", "phrases-words", "phrases")
    assert not any(one.error for one in outcomes(folder, place / "out").values())
    return place / "out" / "three-evenings"


def three_lessons(place: Path, *more: str) -> Path:
    """A section of each, since what a course says of a lesson comes from its title, changes and metadata."""
    place.mkdir()
    for name in ("slack-water", "lantern-stairs", "copper-kettle"):
        write_short(place, name, *more)
    (place / "course.toml").write_text(GOOD, encoding="utf-8")
    return place


def test_a_course_is_read(folder: Path) -> None:
    course = read_course(folder)
    assert course.lessons == ("slack-water", "lantern-stairs", "copper-kettle")
    assert [level.name for level in course.levels] == ["first steps", "further"]
    assert unlisted(course) == []
    shutil.copy(folder / "slack-water.ipynb", folder / "more.ipynb")
    assert unlisted(course) == [folder / "more.ipynb"]


REFUSED = {  # what is changed, what the message says
    "not TOML": ('title = "Three evenings"', "title = ", "line 2"),
    "no title": ('title = "Three evenings"', "", "no title"),
    "a word that means nothing": ("about =", "abuot =", "did you mean about"),
    "a lesson misspelled": ('lessons = ["slack-water"]', 'lessons = ["slak-water"]', "did you mean slack-water"),
    "a lesson twice": ('"copper-kettle"]', '"copper-kettle", "slack-water"]', "listed twice"),
    "a list that is none": ('lessons = ["slack-water"]', 'lessons = "slack-water"', "a list"),
    "numbers for lessons": ('lessons = ["slack-water"]', "lessons = [1]", "no list of lessons"),
    "two levels of one name": ('name = "further"', 'name = "first steps"', "two levels are called “first steps”"),
    "an unknown need": ('["slack-water", "lantern-stairs"]', '["slack-wate"]', "did you mean slack-water"),
    "needs what comes later": ("copper-kettle = [", "lantern-stairs = [\"copper-kettle\"]\n#", "comes after"),
    "needs in a circle": ("copper-kettle = [", 'slack-water = ["copper-kettle"]\ncopper-kettle = [',
                          "lessons need each other: "),
    "needs itself": ("copper-kettle = [", 'slack-water = ["slack-water"]\ncopper-kettle = [',
                     "slack-water needs slack-water"),
    "no lesson": (GOOD[GOOD.index("[[level]]"):], "", "no lesson"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_contradicts_is_refused(name: str, folder: Path) -> None:
    before, after, words = REFUSED[name]
    assert before in GOOD
    (folder / "course.toml").write_text(GOOD.replace(before, after), encoding="utf-8")
    with pytest.raises(CourseError) as caught:
        read_course(folder)
    assert words in str(caught.value)
    assert "course.toml" in str(caught.value)


def test_check_reads_the_course_too(folder: Path, tmp_path: Path) -> None:
    assert check_course(folder) == check_course(tmp_path) == []
    shutil.copy(folder / "slack-water.ipynb", folder / "more.ipynb")
    (found,) = check_course(folder)
    assert "more.ipynb stands in no level" in str(found)
    (folder / "course.toml").write_text(GOOD.replace('"lantern-stairs", "copper', '"lantern-stair", "copper'),
                                        encoding="utf-8")
    report = tmp_path / "out.xml"
    done = CliRunner().invoke(main, ["check", "--no-run", "--junit", str(report), str(folder)])
    assert done.exit_code == 1
    assert "did you mean lantern-stairs" in done.output
    assert "course.toml" in report.read_text(encoding="utf-8")


def outcomes(folder: Path, out: Path) -> dict[str, Outcome]:
    return {one.path.name: one for one in build_course(read_course(folder), out, HOW)}


def test_only_what_changed_is_built_again_and_a_failing_lesson_leaves_the_index(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert not any(one.error or one.unchanged for one in outcomes(folder, out).values())
    place = out / "three-evenings"
    first = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    assert all(one.unchanged for one in outcomes(folder, out).values())
    lesson = folder / "slack-water.ipynb"
    lesson.write_text(lesson.read_text(encoding="utf-8").replace("Slack water", "Low tide"), encoding="utf-8")
    again = outcomes(folder, out)
    assert {name for name, one in again.items() if not one.unchanged} == {"slack-water.ipynb", "course.toml"}
    assert "Low tide" in (place / "index.html").read_text(encoding="utf-8")
    lesson.write_text(lesson.read_text(encoding="utf-8").replace("Low tide", "Slack water"), encoding="utf-8")
    outcomes(folder, out)
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == first
    before = (place / "index.html").read_bytes()
    lesson.write_text("torn", encoding="utf-8")
    again = outcomes(folder, out)
    assert again["slack-water.ipynb"].error
    assert "wait for slack-water" in again["course.toml"].error
    assert again["copper-kettle.ipynb"].unchanged
    assert (place / "index.html").read_bytes() == before


def test_a_lesson_taken_out_takes_its_pack_along_and_nothing_else(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    outcomes(folder, out)
    place = out / "three-evenings"
    (place / "mine").mkdir()
    (place / "mine" / "words.txt").write_text("keep", encoding="utf-8")
    (place / "lantern-stairs" / "notes.txt").write_text("the teacher's own", encoding="utf-8")
    text = GOOD.replace('"lantern-stairs", "copper-kettle"', '"copper-kettle"').replace(', "lantern-stairs"', "")
    (folder / "course.toml").write_text(text.replace('["slack-water"]\n\n[[level]]', '[]\n\n[[level]]').replace(
        '["slack-water"]', "[]"), encoding="utf-8")
    assert not any(one.error for one in outcomes(folder, out).values())
    names = {path.name for path in place.iterdir()}
    assert names == {"index.html", "course.pdf", MARK, "mine", "copper-kettle", "lantern-stairs"}
    assert [path.name for path in (place / "lantern-stairs").iterdir()] == ["notes.txt"], "what is not ours stays"


def test_a_level_that_the_lesson_denies_is_refused(folder: Path, tmp_path: Path) -> None:
    (folder / "course.toml").write_text(GOOD.replace("first steps", "advanced"), encoding="utf-8")
    done = outcomes(folder, tmp_path / "out")
    assert "“slack-water” says that it is intermediate" in done["course.toml"].error


def pages(pdf: Path) -> list[str]:
    """The text of each page, by poppler's pdftotext."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, check=True, text=True).stdout
    return text.rstrip("\f").split("\f")


def test_the_contents_name_the_pages_on_which_lessons_begin(built: Path) -> None:
    found = pages(built / "course.pdf")
    contents = found[0]
    assert "From <two> chords & on." in contents
    titles = ["Slack water", "Lantern stairs", "Copper kettle"]
    for number, title in enumerate(titles, 1):
        said = re.search(rf"{number}\s+{title}\s+(\d+)", contents)
        assert said, contents
        assert f"{number}. {title}" in found[int(said[1]) - 1], (title, said[1])
    assert [f"{number} of {len(found)}" in page for number, page in enumerate(found, 1)] == [True] * len(found)
    said_there = " ".join(contents.split())
    assert "home scale G dorian" in said_there, "as the lesson itself says it"
    assert "after Slack water" in said_there
    second = int(re.search(r"2\s+Lantern stairs\s+(\d+)", contents)[1])
    assert "2. Lantern stairs" in found[second].splitlines()[-1], "each page names its lesson at the foot"


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if tag == "a":
            self.links.append(named["href"] or "")
        if named.get("id"):
            self.ids.append(named["id"] or "")


def test_every_link_of_the_index_leads_somewhere(built: Path) -> None:
    page = _Links()
    page.feed((built / "index.html").read_text(encoding="utf-8"))
    files = {f"{pack.name}/{file.name}" for pack in built.iterdir() if pack.is_dir() for file in pack.iterdir()}
    assert {name for name in files if not name.endswith(MARK)} <= set(page.links), "every file of every pack"
    for link in page.links:
        assert link[1:] in page.ids if link.startswith("#") else (built / link).is_file(), link


def test_facts_are_read_from_the_music() -> None:
    """What each of our lessons is about, by its own title and by ear of whoever wrote it."""
    found = {path.stem: facts_of(Lesson.read(path)) for path in LESSONS.glob("*.ipynb")}
    assert found["slack-water"]["chords"] == ["m7", "9"]
    assert found["slack-water"]["scales"] == ["dorian", "mixolydian"]
    assert "altered" in found["lantern-stairs"]["scales"]
    assert found["slack-water"]["techniques"] == ["arpeggios", "guide tones", "strumming", "vibrato"]
    assert {"bends", "swing"} <= set(found["gravel-drive"]["techniques"])
    assert {"sixteenths", "alternate picking"} <= set(found["chain-ferry"]["techniques"])
    assert {"tapping", "vibrato", "legato"} <= set(found["glass-lift"]["techniques"])
    assert all(set(one["techniques"]) <= set(TECHNIQUES) for one in found.values())
