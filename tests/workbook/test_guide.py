"""The guide: its pages run as they are shown, each is found by what it says, sheet and reference leave nothing out."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from workbook import kit
from workbook.cli import main
from workbook.guide.pages import GuideError
from workbook.guide.reference import _made_by
from workbook.kit import guide

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted((ROOT / "workbook" / "notebooks" / "guide").glob("*.ipynb"))


def test_the_guide_runs_and_compares_by_nbval(tmp_path: Path) -> None:
    """nbval (BSD-3), without flags, in a folder as a teacher gets it; then what the pages promise has been made."""
    assert CliRunner().invoke(main, ["start", str(tmp_path), "--no-lab", "-q"]).exit_code == 0
    pages = [str(tmp_path / "welcome.ipynb"), str(tmp_path / "workbook" / "guide")]
    done = subprocess.run([sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "--nbval", *pages], cwd=tmp_path,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    made = ["lessons/second-wind.ipynb", "build/second-wind/handout.pdf", "build/second-wind/lesson.html",
            "lessons/harbour-lights.ipynb", "build/first-light/backing.mp3", "build/ada/first-light/handout.pdf",
            "build/my-course/index.html", "heard.txt"]
    assert [name for name in made if not (tmp_path / name).is_file()] == []
    for lesson in (tmp_path / "lessons").iterdir():
        os.utime(lesson)  # as a service checks the folder out anew each night
    night = subprocess.run([sys.executable, "-m", "workbook", "course", "lessons/"], cwd=tmp_path, capture_output=True,
                           text=True, check=True).stdout
    assert night.count("  unchanged") == 2, night  # the lesson of the course, and the course


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.stem)
def test_a_page_is_short_and_ends_with_something_made(page: Path) -> None:
    cells = json.loads(page.read_text(encoding="utf-8"))["cells"]
    text = "".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
    assert len(text.split()) < 420
    assert re.search(r"\*\*(This is|These are) yours\*\*", text)
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert all(cell["execution_count"] for cell in code), "nbval passes what never ran"
    compared = [cell for cell in code if cell["outputs"]
                and "nbval-ignore-output" not in cell["metadata"].get("tags", ())]
    assert compared or page.stem in ("course", "listening"), "whose files and numbers are the machine's"


@pytest.mark.parametrize(("words", "page"), [
    ("roster", "course"), ("students", "course"), ("nightly", "course"), ("photograph", "your-own-lesson"),
    ("phrase", "your-own-lesson"), ("substitutes", "exploring"), ("neck", "exploring"), ("mp3", "backing-and-page"),
    ("recording", "listening"), ("take", "listening"), ("bend", "exploring"), ("ten minutes", "welcome")])
def test_words_find_their_page(words: str, page: str) -> None:
    assert re.search(rf"\(`(workbook/guide/)?{page}\.ipynb`\)", str(guide(words)).split("\n- `")[0])


def test_a_name_of_the_kit_is_told_in_full() -> None:
    told = str(guide("play_along"))
    assert "### `play_along(chart, …)`" in told
    assert "D9: x54555" in told
    with pytest.raises(GuideError, match="did you mean"):
        guide("rooster")


def text_of(pdf: Path) -> tuple[str, int]:
    """Its text by poppler, and how many pages it has."""
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    return text, text.count("\f")


def test_the_sheet_is_one_page_and_leaves_out_nothing(tmp_path: Path) -> None:
    for paper in ("a4", "letter"):
        sheet = tmp_path / f"{paper}.pdf"
        done = CliRunner().invoke(main, ["guide", "--sheet", str(sheet), "--paper", paper])
        assert done.exit_code == 0, done.output
        text, pages = text_of(sheet)
        assert pages == 1
    assert set(kit.__all__) <= set(re.findall(r"\w+", text))
    assert {f"vampbook {name}" for name in main.commands} <= set(re.findall(r"vampbook \w+", text))
    # Two chords in a bar of four share it; a slash holds the first for a beat (common practice, no source).
    assert re.search(r"\| Am7 D9 \| +Am7 2 +D9 2", text)
    assert re.search(r"\| Am7 / / D9 \| +Am7 3 +D9 1", text)
    for words in ("let ring", "tapped harmonic", "straight 16", "DADGAD", "Cm6/9"):
        assert words in text
    again = CliRunner().invoke(main, ["guide", "--sheet", str(sheet)])
    assert again.exit_code == 1, "a letter sheet is there, and this is A4"
    assert "exists" in again.output


def test_the_reference_shows_every_name(tmp_path: Path) -> None:
    path = tmp_path / "kit.ipynb"
    done = CliRunner().invoke(main, ["guide", "--reference", str(path), "-q"])
    assert done.exit_code == 0, done.output
    cells = {cell["id"]: cell for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]}
    assert set(kit.__all__) <= set(cells)
    shown = {name: {mime for output in cells.get(f"{name}-picture", {}).get("outputs", ()) for mime in output["data"]}
             for name in kit.__all__}
    pictured = {name for name, mimes in shown.items() if mimes & {"image/svg+xml", "text/html"}}
    assert len(pictured) >= 62, "the others are numbers, names, prose and tables"
    assert {"plot_neck", "arpeggio_drill", "grips", "Chord", "Line", "targets", "substitutes"} <= pictured
    (told,) = cells["Chord-example"]["outputs"]
    assert "'#9'" in "".join(told["data"]["text/plain"]), "what the example gives, of E7#9"


def test_an_example_that_does_not_stand_alone_has_no_picture() -> None:
    from doctest import DocTestParser

    examples = DocTestParser().get_examples(">>> [f(one) for one in (1, 2)]\n[1, 2]\n>>> two = 2\n>>> f(two).real\n2\n")
    assert _made_by("f", examples, {"f": abs}) == "[f(one) for one in (1, 2)]\ntwo = 2\nas_picture(f(two))"
    assert _made_by("g", examples, {"g": abs}) == ""
