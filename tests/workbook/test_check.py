"""`vampbook check`: every planted error is found, clean lessons are left in peace, reports in three forms."""

from __future__ import annotations

import copy
import json
import os
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.generated import generated
from support.lab import ROOT
from support.planted import ON_FAST, PLANTED, RUN_PLANTED, drills_only

from workbook.checking.check import check_recorded, check_runs
from workbook.checking.findings import Finding
from workbook.checking.reports import as_json, as_junit
from workbook.checking.said import check_said
from workbook.checking.truth import check_truth
from workbook.checking.usable import check_usable
from workbook.cli import main
from workbook.lesson.lesson import Lesson

CLEAN = drills_only(json.loads((ROOT / "lessons" / "slack-water.ipynb").read_text(encoding="utf-8")))

FAST = json.loads((ROOT / "lessons" / "chain-ferry.ipynb").read_text(encoding="utf-8"))  # its drills need the caution


def planted(name: str, folder: Path) -> Path:
    clean = FAST if name in ON_FAST else CLEAN
    notebook = copy.deepcopy(clean)
    plant, _ = {**PLANTED, **RUN_PLANTED}[name]
    plant(notebook)
    assert notebook != clean, "the plant changes nothing"
    path = folder / f"planted-{sorted({**PLANTED, **RUN_PLANTED}).index(name)}.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


def checked(path: Path) -> list[Finding]:
    lesson = Lesson.read(path)
    found = [one for one in [*check_truth(lesson).findings, *check_said(lesson).findings, *check_recorded(lesson)]
             if not one.offer]
    return found + check_usable(lesson, builds=not found)


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_error_is_found(name: str, tmp_path: Path) -> None:
    found = checked(planted(name, tmp_path))
    assert any(PLANTED[name][1] in str(one) for one in found), found


def test_there_are_enough_of_them() -> None:
    assert len(PLANTED) + len(RUN_PLANTED) >= 60


def test_what_only_a_run_finds(tmp_path: Path) -> None:
    paths = {name: planted(name, tmp_path) for name in RUN_PLANTED}
    assert all(not checked(path) for path in paths.values()), "the stored music alone is clean"
    for name, path in paths.items():
        here = [str(one) for one in check_runs(Lesson.read(path)) if one.cell]
        assert any(RUN_PLANTED[name][1] in words for words in here), (name, here)


def test_generated_lessons_are_left_in_peace() -> None:
    """Six of them (two hundred with VAMPBOOK_EXPLORE=1); the pack of one in forty is built."""
    for seed in range(200 if os.environ.get("VAMPBOOK_EXPLORE") else 6):
        lesson = Lesson.of(generated(seed))
        found = [*check_truth(lesson).findings, *check_said(lesson).findings, *check_recorded(lesson),
                 *check_usable(lesson, builds=seed % 40 == 0)]
        assert [str(one) for one in found if not one.offer] == [], seed


def test_the_line_of_a_claim_is_named(tmp_path: Path) -> None:
    notebook = copy.deepcopy(CLEAN)
    text = "## More\n\nA word first.\n\n{= A dorian is mode 3 of G major =}"
    notebook["cells"].append({"cell_type": "markdown", "id": "more", "metadata": {}, "source": text})
    path = tmp_path / "one.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    (found,) = checked(path)
    assert (found.cell, found.line) == (len(notebook["cells"]), 5)
    assert str(found).endswith("true is: A dorian is mode 2 of G major")


def test_a_true_claim_is_printed_without_its_marks(tmp_path: Path) -> None:
    from workbook.handouts.page import lesson_page
    from workbook.handouts.practice import MUTE

    notebook = copy.deepcopy(CLEAN)
    text = "{= Dm7b5 over E7 gives b7 b9 3 b13 =} and {= A dorian is mode 2 of G major =}."
    notebook["cells"].append({"cell_type": "markdown", "id": "more", "metadata": {}, "source": text})
    path = tmp_path / "one.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    assert checked(path) == []
    page = lesson_page(notebook, MUTE)
    assert "Dm7b5 over E7 gives b7 b9 3 b13 and A dorian" in page
    assert "{=" not in page


def test_an_unmarked_claim_is_offered(tmp_path: Path) -> None:
    notebook = copy.deepcopy(CLEAN)
    notebook["cells"].append({"cell_type": "markdown", "id": "more", "metadata": {},
                              "source": "Here Dm7b5 over E7 gives b7 b9 3 b13."})
    path = tmp_path / "one.ipynb"
    path.write_text(json.dumps(notebook), encoding="utf-8")
    (offer,) = [one for one in check_truth(Lesson.read(path)).findings if one.offer]
    assert "{= Dm7b5 over E7 gives b7 b9 3 b13 =}" in offer.right
    assert checked(path) == []


def test_reports(tmp_path: Path) -> None:
    bad = planted("wrong mode number", tmp_path)
    good = tmp_path / "good.ipynb"
    good.write_text(json.dumps(CLEAN), encoding="utf-8")
    junit, stated = tmp_path / "out.xml", tmp_path / "out.json"
    done = CliRunner().invoke(main, ["check", "--no-run", "--junit", str(junit), "--json", str(stated), str(bad),
                                     str(good)])
    assert done.exit_code == 1
    suites = ElementTree.parse(junit).getroot()
    assert [suite.get("failures") for suite in suites] == ["1", "0"]
    cases = suites[0].findall("testcase")
    assert [case.get("name") for case in cases] == ["it runs", "it is true", "it can be used"]
    assert [case.find("failure") is not None for case in cases] == [False, True, False]
    data = json.loads(stated.read_text(encoding="utf-8"))
    assert data["lessons"] == [str(bad), str(good)]
    assert [row["layer"] for row in data["findings"]] == ["true"]
    assert data["findings"][0]["right"] == "true is: A dorian is mode 2 of G major"
    assert data["counts"][str(bad)]["claims"] == 1
    assert data["counts"][str(good)] | {"claims": 0, "lines": 4} == data["counts"][str(good)]
    said = {one.get("name"): one.get("value") for one in suites[1].iter("property")}
    assert said == {name: str(value) for name, value in data["counts"][str(good)].items()}


def test_reports_of_nothing() -> None:
    path = Path("one.ipynb")
    assert json.loads(as_json([path], []))["findings"] == []
    assert ElementTree.fromstring(as_junit([path], []).split("?>", 1)[1])[0].get("failures") == "0"
