"""A folder of phrases: listed, searched, fitted to changes, checked; what fits was worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from theorylib import LineError
from workbook.checking.phrases import check_phrases
from workbook.cli import main
from workbook.kit import phrases
from workbook.lesson.facts import technique_named
from workbook.lesson.shelf import Wish, files_in, read_filed, search

FILES = {
    "dawn.txt": "title: Dawn walk\nover: | Am7 |\nlevel: beginner\ne A3 C4 E4 G4 h A4\n",
    "dusk.txt": "title: Dusk\nover: | Am7 | D9 |\nlevel: intermediate\ntechniques: target notes\n"
                "q 3/7[b2] 2/5 3/5 4/7 | h 3/7 2/7[~]\n",
    "tin-roof.txt": "over: | E7 |\n   q q q q\ne|---------|\nB|---------|\nG|---------|\n"
                    "D|-2-------|\nA|-----2---|\nE|-0-3---0-|\n",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "phrases").mkdir()
    for name, text in FILES.items():
        (tmp_path / "phrases" / name).write_text(text, encoding="utf-8")
    return tmp_path


def names(folder: Path, **asked: object) -> list[tuple[str, int]]:
    filed = [read_filed(path) for path in files_in(folder)]
    return [(one.filed.title, one.up) for one in search(filed, Wish(**asked))]  # type: ignore[arg-type]


def test_all_are_listed_with_what_they_train(folder: Path) -> None:
    assert names(folder) == [("Dawn walk", 0), ("Dusk", 0), ("Tin roof", 0)]
    dusk = read_filed(folder / "phrases" / "dusk.txt")
    assert dusk.techniques == ("bends", "target notes", "vibrato")
    assert (dusk.over, dusk.level) == ("Am7 D9", "intermediate")


@pytest.mark.parametrize(("asked", "wanted"), [
    ({"words": "dawn"}, ["Dawn walk"]), ({"words": "BENDS am7"}, ["Dusk"]), ({"level": "beginner"}, ["Dawn walk"]),
    ({"technique": "vibrato"}, ["Dusk"]), ({"words": "nothing"}, []),
    # Tin roof has open strings: no position holds it without them.
    ({"position": 5}, ["Dawn walk", "Dusk"]), ({"position": 19}, [])])
def test_they_are_searched(folder: Path, asked: dict, wanted: list[str]) -> None:
    assert [name for name, _ in names(folder, **asked)] == wanted


def test_they_are_fitted_to_changes(folder: Path) -> None:
    # A C E G A are chord tones of Am7; three half steps up C Eb G Bb C those of Cm7.
    assert ("Dawn walk", 0) in names(folder, over="| Am7 | D9 |")
    assert ("Dawn walk", 3) in names(folder, over="| Cm7 |")
    # Over Fmaj7 the same notes are 3 5 7 9 3: it fits as it is, beginning on a chord tone.
    assert ("Dawn walk", 0) in names(folder, over="key: F major\n| Fmaj7 |")
    # E G B are 3 5 7 of Cmaj7; over F#maj7 they hold b7 and b9, and moved to its root b3.
    assert ("Tin roof", 0) in names(folder, over="key: C major\n| Cmaj7 |")
    assert "Tin roof" not in [name for name, _ in names(folder, over="key: B major\n| F#maj7 |")]
    # Typed over E7, it fits every seventh chord of its kind, #9 and all.
    assert ("Tin roof", 2) in names(folder, over="key: B major\n| F#7 |")


def test_a_phrase_fits_what_it_was_typed_over_and_a_note_that_leads_on_at_once_forbids_nothing(folder: Path) -> None:
    # C hammered to C#, the third of A7, on the beat; F# lands on D7 as its third.
    (folder / "phrases" / "step.txt").write_text(
        "title: Step\nover: | A7 | D7 |\ne C4 C#4[h] q E4 G4 A4 | h F#4 r\n", encoding="utf-8")
    # The same note held for two beats: over A9 the phrase was not typed, and it does not resolve in time.
    (folder / "phrases" / "held.txt").write_text("title: Held\nover: | A7 |\nh C4 q C#4 E4\n", encoding="utf-8")
    assert ("Step", 0) in names(folder, over="| A7 | D7 |")
    assert ("Step", 3) in names(folder, over="| C7 | F7 |")
    assert ("Step", 0) in names(folder, over="| A9 | D9 |")
    assert ("Held", 0) in names(folder, over="| A7 |")
    assert "Held" not in [name for name, _ in names(folder, over="| A9 |")]


@pytest.mark.parametrize(("said", "meant"), [
    ("hammer-ons", "legato"), ("Pull-off", "legato"), ("hammer", "legato"), ("bend", "bends"), ("bends", "bends"),
    ("palm mutes", "palm muting"), ("harmonic", "harmonics"), ("slides", "slides")])
def test_a_technique_is_known_by_its_common_names(said: str, meant: str) -> None:
    assert technique_named(said) == meant


def test_what_cannot_be_read_is_shown_in_the_terminal_with_its_place(folder: Path) -> None:
    (folder / "phrases" / "wrong.txt").write_text("q A3 ZZ", encoding="utf-8")
    said = CliRunner().invoke(main, ["phrases", "--folder", str(folder)])
    assert said.exit_code == 1
    assert said.output.splitlines()[-2:] == ["    q A3 ZZ", "         ^"]


def test_the_command_and_the_kit_show_them(folder: Path) -> None:
    said = CliRunner().invoke(main, ["phrases", "bends", "--folder", str(folder), "--over", "| Am7 | D9 |"])
    assert said.exit_code == 0, said.output
    assert said.output.strip().endswith("dusk.txt  Dusk · over Am7 D9 · intermediate · bends, target notes, vibrato")
    assert CliRunner().invoke(main, ["phrases", "-q", "--folder", str(folder)]).output == ""
    assert "| Dusk | Am7 D9 | intermediate |" in phrases(folder=folder / "phrases").markdown
    assert phrases("no such", folder=folder).markdown == "No phrase fits."
    empty = CliRunner().invoke(main, ["phrases", "--folder", str(folder / "none")])
    assert empty.exit_code == 1
    assert "there are no phrases" in empty.output


@pytest.mark.parametrize(("text", "said"), [
    ("title: X\nlevel: beginer\nq A3", "did you mean beginner"), ("techniques: bendz\nq A3", "did you mean bends"),
    ("over: | Am7 |\nq A3 ZZ", "line 2, column 6"), ("q 1/22+6/1 r h r", "cannot be played")])
def test_check_finds_what_is_wrong_with_a_phrase(folder: Path, text: str, said: str) -> None:
    assert check_phrases(folder) == []
    (folder / "phrases" / "wrong.txt").write_text(text, encoding="utf-8")
    (finding,) = check_phrases(folder)
    assert finding.path.name == "wrong.txt"
    assert said in str(finding)


def test_a_file_that_cannot_be_read_is_named(folder: Path) -> None:
    path = folder / "phrases" / "wrong.txt"
    path.write_text("q A3 ZZ", encoding="utf-8")
    with pytest.raises(LineError, match=r"wrong\.txt: line 1, column 6"):
        read_filed(path)
