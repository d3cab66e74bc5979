"""Packs for students: a roster read or refused by row and column, and what each pack then holds."""

from __future__ import annotations

import re
import shutil
import subprocess
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from support.short import write_short

from workbook.cli import main
from workbook.lesson.lesson import Lesson
from workbook.library.personal import RosterError, Student, personal_lesson, read_roster
from workbook.running.bounds import Bounds

BRIEF = ("--minutes", "0.2")
ROSTER = """name,tuning,left-handed,large print,level,key,tempo,note names
Ada Berg,drop D,yes,,beginner,B,60-80,german
"Bo, the younger",,no,YES,,Bb,,solfege
<b>Cy</b>,,,,intermediate,,,
"""

pytestmark = pytest.mark.usefixtures("warm")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))


def roster(folder: Path, text: str) -> Path:
    path = folder / "students.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_roster_is_read(tmp_path: Path) -> None:
    ada, bo, cy = read_roster(roster(tmp_path, ROSTER))
    assert ada == Student("Ada Berg", "drop D", True, False, "beginner", "B", (60, 80), "german")
    assert bo == Student("Bo, the younger", large_print=True, key="Bb", note_names="solfege")
    assert cy.name == "<b>Cy</b>"
    spreadsheet = "\ufeffName;Key;Left_handed\r\nAda;A;x\r\n;;\r\n"
    assert read_roster(roster(tmp_path, spreadsheet)) == (Student("Ada", key="A", left_handed=True),)


REFUSED = {
    "unknown column": ("name,tunning\nAda,drop D\n", ("row 1", "did you mean tuning")),
    "no name column": ("tuning\ndrop D\n", ("row 1", "name")),
    "no name": ("name,key\n,A\n", ("row 2", "without a name")),
    "nobody": ("name\n", ("names nobody",)),
    "empty": ("", ("name",)),
    "neither yes nor no": ("name,left-handed\nAda,perhaps\n", ("row 2, left handed", "perhaps")),
    "a tuning": ("name,tuning\nAda,drop D\nBo,drop Q\n", ("row 3, tuning", "did you mean drop")),
    "a key": ("name,key\nAda,H minor\n", ("row 2, key", "H minor")),
    "a level": ("name,level\nAda,beginer\n", ("row 2, level", "did you mean beginner")),
    "a tempo": ("name,tempo\nAda,fast\n", ("row 2, tempo", "60-92")),
    "a tempo backwards": ("name,tempo\nAda,92-60\n", ("row 2, tempo", "slower first")),
    "a language": ("name,note names\nAda,klingon\n", ("row 2, note names", "german")),
    "too many cells": ("name,key\nBo, the younger,A\n", ("row 2", "quotes")),
    "one folder for two": ("name\nAda B\nada-b\n", ("row 3", "share a folder")),
    "a name of signs": ("name\n../..\n", ("row 2", "no file name")),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_bad_roster_is_refused_by_row_and_column(name: str, tmp_path: Path) -> None:
    text, words = REFUSED[name]
    with pytest.raises((RosterError, ValueError)) as caught:
        read_roster(roster(tmp_path, text))
    for word in words:
        assert word in str(caught.value), caught.value


def page_text(path: Path) -> str:
    html = path.read_text(encoding="utf-8")
    main_part = html[html.index('<main id="lesson"'):html.index("</main>")]
    return unescape(re.sub(r"<[^>]+>", " ", main_part))


def test_each_student_gets_their_own(tmp_path: Path) -> None:
    out = tmp_path / "out"
    who = str(roster(tmp_path, ROSTER))
    (tmp_path / "lessons").mkdir()
    command = ["personal", "--roster", who, *BRIEF, "--out", str(out),
               str(write_short(tmp_path / "lessons", "slack-water", "drill-words", "drill", "plan-words", "plan"))]
    done = CliRunner().invoke(main, command)
    assert done.exit_code == 0, done.output
    assert {path.name for path in out.iterdir()} == {"ada-berg", "bo-the-younger", "b-cy-b"}
    ada, bo, cy = (page_text(out / name / "slack-water" / "lesson.html") for name in
                   ("ada-berg", "bo-the-younger", "b-cy-b"))
    for words in ("For  Ada Berg", "Hm7", "H dorian", "E9", "♩ = 80", "tuning drop D"):
        assert words in ada, words
    assert re.search(r"1\s+60\s", ada), "the plan begins where her tempo range does"
    assert len(re.findall(r"☐ ☐", ada)) == 6
    for words in ("For  Bo, the younger", "Si♭m7", "Mi♭9", "Fa"):
        assert words in bo, words
    assert "For  <b>Cy</b>" in cy
    assert "Gm7" in cy
    assert "Am7" not in page_text(out / "b-cy-b" / "slack-water" / "lesson.html")
    names = [(out / name / "slack-water" / "lesson.html").read_text(encoding="utf-8")
             for name in ("ada-berg", "b-cy-b")]
    assert ['"left":true' in page for page in names] == [True, False]
    again = CliRunner().invoke(main, command)
    assert again.output.count("unchanged") == 3
    roster(tmp_path, ROSTER.replace("60-80", "60-84"))
    third = CliRunner().invoke(main, command)
    assert third.output.count("unchanged") == 2


def test_large_print_and_names_reach_the_handout(tmp_path: Path) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext on this machine")
    out = tmp_path / "out"
    lesson = str(write_short(tmp_path, "slack-water", "drill-words", "drill", "plan-words", "plan"))
    sizes, texts = {}, {}
    for name, options in {"Ann": [], "Ben": ["--large-print", "--note-names", "german", "--key", "Bb"]}.items():
        done = CliRunner().invoke(main, ["personal", "--name", name, *options, *BRIEF, "--out", str(out), lesson])
        assert done.exit_code == 0, done.output
        pdf = out / name.lower() / "slack-water" / "handout.pdf"
        read = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, check=True, text=True)
        texts[name] = read.stdout
        sizes[name] = texts[name].count("\f")
    assert sizes["Ben"] > sizes["Ann"]
    assert "For Ben" in texts["Ben"]
    assert "Bm7" in texts["Ben"]
    assert "Es9" in texts["Ben"]
    assert "Gm7" in texts["Ann"]


def test_a_lesson_above_the_student_is_said_and_one_student_needs_no_roster(tmp_path: Path) -> None:
    hard = write_short(tmp_path, "lantern-stairs")
    options = ["--name", "Ada", "--level", "beginner", *BRIEF, "--out", str(tmp_path / "out")]
    done = CliRunner().invoke(main, ["personal", *options, str(hard)])
    assert done.exit_code == 0
    assert "the lesson is intermediate, Ada is beginner" in done.output
    assert CliRunner().invoke(main, ["personal", str(hard)]).exit_code == 2
    assert CliRunner().invoke(main, ["personal", "--no-run", "--name", "Ada", str(hard)]).exit_code == 1


def test_two_keys_of_one_letter_do_not_share_a_folder(tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = CliRunner().invoke(main, ["build", "--key", "F", "--key", "F#", "--tuning", "drop D", *BRIEF, "--out",
                                     str(out), str(write_short(tmp_path))])
    assert done.exit_code == 0, done.output
    assert {path.name for path in out.iterdir()} == {
        "slack-water-in-f-tuned-drop-d", "slack-water-in-f-sharp-tuned-drop-d"}


def test_left_handed_necks_are_mirrored(tmp_path: Path) -> None:
    own = Lesson.read(write_short(tmp_path))
    necks = []
    for hand in (False, True):
        ran = personal_lesson(own, Student(left_handed=hand), Bounds())
        svg = next(cell for cell in ran.cells if cell.id == "neck").outputs[0].svg
        width = float(re.search(r'viewBox="[\d.-]+ [\d.-]+ ([\d.]+)', svg)[1])
        necks.append([float(x) / width for x in re.findall(r'<text x="([\d.]+)"[^>]*>[EADGB]</text>', svg)])
    right, left = necks
    assert len(right) == len(left) == 6, "the names of the strings stand at the nut's end"
    assert max(right) < 0.2
    assert min(left) > 0.8
