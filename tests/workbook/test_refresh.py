"""A lesson stays true when it is edited: each choice, on each kind of lesson, changed as a teacher would change it.

What a choice must reach is typed here, by cell; old and new words of the two sets of changes are common practice (no
source): Am7–D9 is i–IV of A dorian, Ebmaj7–Cm9–Fm7–Bb7 stands in E flat major.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from support.edited import OWN, TOUCHED, TWO, ids, lesson_on, saved, words
from support.generated import unrun
from support.lab import ROOT

from theorylib import Chart, Tuning
from theorylib.errors import VampError
from theorylib.practice.drills import continuous_arpeggio
from workbook.checking.current import check_current, stale_cells
from workbook.checking.findings import Finding
from workbook.cli import main
from workbook.kit import refresh
from workbook.lesson import derived
from workbook.lesson.care import practice_plan
from workbook.lesson.cells import code_cell, text_cell
from workbook.lesson.chosen import KINDS, Choices, has_choices, read_choices, with_choices, with_injected
from workbook.lesson.derived import best_position
from workbook.lesson.door import LessonError
from workbook.lesson.here import lesson_here
from workbook.lesson.lesson import Lesson
from workbook.lesson.refreshing import refreshed
from workbook.lesson.saved import Cell
from workbook.lesson.writing import new_lesson
from workbook.library.moving import Target, hand_shifts, moved

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SHIPPED = sorted((ROOT / "lessons").glob("*.ipynb"))
FOUR = "[A] |: Ebmaj7 | Cm9 | Fm7 | Bb7 :|"


# a choice: its new value, and the cells whose words name it (written out by hand).
HEAD = {"title", "aims"}
EDITS: dict[str, tuple[Any, set[str]]] = {
    "title": ("High tide", {"title"}), "level": ("advanced", {"title"}), "minutes": (55, {"title"}),
    "tempo": (121, HEAD), "feel": ("swing", {"title"}), "meter": ("3/4", {"changes-words"}),
    "position": (8, {"neck-words"}), "per_chord": (2, {"drill-words"}),
    "key": ("G major", {"home-words"}),
    "changes": ("| Gm7 | C7 | Fmaj7 | % |", {"changes-words", "home-words", "chords-words"}),
    "tuning": ("drop D", set()), "capo": (2, set()), "passes": (3, set()),
}


def in_the_cell(lesson: Lesson, name: str, value: Any) -> Lesson:
    return with_choices(lesson, {name: value})


def by_papermill(lesson: Lesson, name: str, value: Any) -> Lesson:
    """As papermill does (its documentation): a cell of values after the one tagged `parameters`."""
    return with_injected(lesson, {name: value})


def stale(lesson: Lesson, found: list[Finding]) -> set[str]:
    """The ids of the cells that a check finds; the metadata under their own name."""
    ids = {cell.number: cell.id for cell in lesson.cells}
    return {ids.get(one.cell, "metadata") for one in found}


WAYS = list(product(KINDS, [TWO, FOUR], [in_the_cell, by_papermill]))
SOME = [way for number, way in enumerate(WAYS) if number % 4 in (0, 3)]  # each kind on both, each way on both


def tried(kind: str, changes: str) -> list[str]:
    """The choices to edit: all in each kind of lesson, half of them on the one chart and half on the other."""
    first = (KINDS.index(kind) + (changes == FOUR)) % 2
    return [*EDITS] if EXPLORE else [*EDITS][first::2]


def test_every_choice_is_tried_in_every_kind() -> None:
    for kind in KINDS:
        assert {*tried(kind, TWO), *tried(kind, FOUR)} == EDITS.keys()


@pytest.mark.parametrize(("kind", "changes", "edit"), WAYS if EXPLORE else SOME)
def test_each_choice_is_found_and_cured(kind: str, changes: str, edit: Callable[[Lesson, str, Any], Lesson]) -> None:
    lesson = lesson_on(changes, kind)
    assert check_current(lesson) == []
    for name in tried(kind, changes):
        value, cells = EDITS[name]
        edited = edit(lesson, name, value)
        try:
            found = refreshed(edited)
        except VampError:
            assert name in ("capo", "tuning", "meter"), name  # on this neck or in this bar the kind has no such drill
            continue
        findings = check_current(edited)
        assert stale(edited, findings) >= cells, name
        assert all(str(one).endswith(f"vampbook refresh {edited.path}") for one in findings)
        assert check_current(found.lesson) == [], name
        assert [cell.source for cell in found.lesson.cells if cell.id in ("own", "moves-words")] == [TOUCHED, OWN]
        assert [by for _, by in found.touched] == ["moves-words"], name
        if name == "changes":
            assert "written for other choices: vampbook refresh" in stale_cells(edited)
            assert {cell.id for cell in found.lesson.cells} - {"own", "injected"} == {
                cell["id"] for cell in new_lesson(*read_choices(found.lesson))["cells"]}


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_of_the_old_changes_is_left(kind: str) -> None:
    new = refreshed(with_choices(lesson_on(TWO, kind), {"changes": FOUR, "tempo": 121, "feel": "swing"})).lesson
    assert not re.search(r"Am7|D9|\bA dorian|\b93\b|straight 8", words(new))
    for said in ("E♭maj7", "B♭7", "E♭ major", "♩ = 121", "swing"):
        assert said in words(new)
    assert "A dorian" not in str(new.metadata)
    assert (new.about.tempo, new.about.feel, new.about.home) == ("121", "swing", "Eb major")


@pytest.mark.parametrize("kind", KINDS)
def test_a_moved_lesson_is_one_whose_choices_were_changed(kind: str) -> None:
    """F sharp dorian's ii–V of E; a capo and a range of tempos too."""
    lesson = lesson_on(TWO, kind)
    target = Target("F# dorian", tempos=(60, 80))
    for frets in hand_shifts(lesson, target):
        new = moved(lesson, target, frets)
        try:
            _ = refreshed(new)
            break
        except VampError:
            continue
    assert check_current(new) == []
    assert "F♯m7" in words(new)
    assert not re.search(r"\bAm7|\bD9|A dorian", words(new))
    assert "♩ = 80" in words(new), "what the practice works up to"
    assert "♩ = 93" not in words(new)
    assert [cell.source for cell in new.cells if cell.id in ("own", "moves-words")] == [TOUCHED, OWN]


def test_a_chord_is_spelled_alike_in_the_kits_words_and_in_the_teachers() -> None:
    """A double accidental in a chord symbol is written simply in both: from E minor to G sharp minor D#7 becomes F##7
    by the interval, which a chart writes G7."""
    chart = Chart.parse("key: E minor\n| Em7 | D#7 | B7 | Em7 |", tempo=80)
    lesson = Lesson.of(new_lesson(chart, Choices("Tide", position=7)))
    lesson = lesson.with_cell_after(len(lesson.cells), text_cell("mine", "Lean on D♯7, then rest."))
    new = moved(lesson, Target("G#"), 4)
    chords = {event.chord.pretty for event in read_choices(new)[0].events}
    named = new.cells[-1].source.split()[2].rstrip(",")
    assert named == "G7"
    assert named in chords
    assert "♯♯7" not in words(new)


# -- what comes and goes ---------------------------------------------------------------------------------------------
def test_sections_come_and_go_with_their_need() -> None:
    lesson = lesson_on(TWO, "groove")
    assert "colours" in ids(lesson)
    without = refreshed(with_choices(lesson, {"substitutes": False})).lesson
    assert not {"colours", "colours-words", "colours-neck"} & set(ids(without))
    back = refreshed(with_choices(without, {"substitutes": True})).lesson
    assert ids(back) == ids(lesson), "in their places"
    blues = refreshed(with_choices(lesson, {"kind": "blues"})).lesson
    assert "bend-drill" in ids(blues)
    assert "colours" in ids(blues), "they were chosen"
    assert ids(blues).index("targets") < ids(blues).index("bend-drill") < ids(blues).index("plan")


def test_what_the_teacher_took_out_stays_out() -> None:
    lesson = lesson_on(TWO, "groove")
    fewer = lesson.with_cells(cell for cell in lesson.cells if cell.id not in ("next-words", "moves"))
    assert check_current(fewer) == []
    new = refreshed(with_choices(fewer, {"tempo": 120}))
    assert not {"next-words", "moves"} & set(ids(new.lesson))
    everything = refreshed(fewer, every=True).lesson
    assert [name for name in ids(everything) if name != "own"] == [name for name in ids(lesson) if name != "own"]


def test_a_touched_cell_is_written_back_only_when_asked() -> None:
    lesson = lesson_on(TWO, "groove")
    assert TOUCHED in words(refreshed(lesson).lesson)
    new = refreshed(lesson, every=True)
    assert TOUCHED not in words(new.lesson)
    assert OWN in words(new.lesson), "a cell of the teacher's own is nobody else's"
    assert new.touched == ()


def test_a_touched_cell_that_is_no_longer_asked_for_stays_and_is_named() -> None:
    lesson = lesson_on(TWO, "groove")
    number = next(cell.number for cell in lesson.cells if cell.id == "colours-words")
    own = lesson.with_sources({number: "## My colours"})
    new = refreshed(with_choices(own, {"substitutes": False}))
    assert "## My colours" in words(new.lesson)
    assert "colours-words" in [by for _, by in new.touched]


def test_marks_lost_on_the_way_are_the_teachers() -> None:
    """As after a program that drops metadata of cells: nothing is overwritten, and what is as written is known."""
    lesson = lesson_on(TWO, "groove")
    bare = lesson.with_cells(Cell.of(cell.number, {**cell.raw, "metadata": {"tags": list(cell.tags)}})
                             for cell in lesson.cells)
    assert refreshed(bare).changes == ()
    edited = refreshed(with_choices(bare, {"tempo": 150}))
    assert "♩ = 93" in words(edited.lesson)
    assert {"title", "aims"} <= {by for _, by in edited.touched}


def test_a_copied_cell_follows_like_the_first() -> None:
    lesson = lesson_on(TWO, "groove")
    title = lesson.cells[0]
    twice = lesson.with_cell_after(3, {**title.raw, "id": "again"})
    new = refreshed(with_choices(twice, {"tempo": 150})).lesson
    assert [cell.source.count("♩ = 150") for cell in new.cells if cell.id in ("title", "again")] == [1, 1]


def test_aims_of_the_teachers_own_stay() -> None:
    lesson = lesson_on(TWO, "groove").with_about(aims=["Listen."])
    new = refreshed(with_choices(lesson, {"tempo": 150})).lesson
    assert new.about.aims == ("Listen.",)
    assert new.about.tempo == "150"


# -- choices that cannot be read -------------------------------------------------------------------------------------
@pytest.mark.parametrize(("line", "said"), [
    ('level = "beginer"', "beginner"), ("tempo = []", "a text or a number"), ("tempo = 9999", "20 to 400"),
    ('changes = "| Am7 | H9 |"', "H9"), ('kind = "bluse"', "blues"), ('feel = "swng"', "swing"),
    ('tuning = "drop Q"', "drop"), ("position = 0", "1 to 35"), ("minutes = 'many'", "whole number"),
    ("substitutes = 1", "True or False"), ('meter = "4/5"', "4/5"), ("title = 3", "text"), ('key = "H"', "H"),
    ("per_chord = 8.5", "whole number"),
])
def test_a_choice_that_cannot_be_is_named_by_cell_and_line(line: str, said: str) -> None:
    lesson = lesson_on(TWO, "groove")
    name = line.split(" ")[0]
    source = re.sub(rf"^{name} = .*$", line, lesson.cells[3].source, flags=re.MULTILINE)
    (found,) = check_current(lesson.with_sources({4: source}))
    assert found.cell == 4
    assert said in str(found)
    assert name in str(found) or name in ("level", "kind")


def test_a_choice_that_is_missing_is_named() -> None:
    lesson = lesson_on(TWO, "groove")
    source = lesson.cells[3].source.replace("capo = 0\n", "")
    with pytest.raises(LessonError, match="cell 4: the cell of choices sets no “capo”"):
        read_choices(lesson.with_sources({4: source}))


def test_choices_read_back_as_they_were_written() -> None:
    for kind, changes in product(KINDS, [TWO, FOUR, "title: Old walk\n| Am7 | D9 |\nkey: Eb major\n| Ebmaj7 | Bb7 |"]):
        chart = Chart.parse(changes, tempo="92.5", feel="swing", meter="4/4")
        choices = Choices("A \"title\"", "beginner", 20, 5, 4, 3, Tuning.parse("drop D", 2), True, kind)
        assert read_choices(Lesson.of(new_lesson(chart, choices))) == (chart, choices)


# -- files -----------------------------------------------------------------------------------------------------------
def run(*given: str) -> Any:
    return CliRunner().invoke(main, [*given])


def test_the_command_writes_words_shows_a_diff_and_names_what_is_yours(tmp_path: Path) -> None:
    path = saved(tmp_path, with_choices(lesson_on(TWO, "groove"), {"tempo": 150}))
    before = path.read_bytes()
    dry = run("refresh", "--dry-run", str(path))
    assert dry.exit_code == 0
    assert re.search(r"^-.*♩ = 93", dry.output, re.MULTILINE)
    assert re.search(r"^\+.*♩ = 150", dry.output, re.MULTILINE)
    assert path.read_bytes() == before
    done = run("refresh", "--no-run", str(path))
    assert done.exit_code == 0, done.output
    assert "moves-words" in done.output
    assert "♩ = 150" in words(Lesson.read(path))
    assert TOUCHED in words(Lesson.read(path))
    assert [one.name for one in tmp_path.iterdir()] == ["tide.ipynb"]
    again = run("refresh", "--no-run", "--all", str(path))
    assert again.exit_code == 0
    assert TOUCHED not in words(Lesson.read(path))
    assert TOUCHED in words(Lesson.read(path.rename(tmp_path / "new.ipynb"))) or \
        TOUCHED in words(Lesson.read((tmp_path / "tide.ipynb.1").rename(tmp_path / "old.ipynb")))


def test_what_cannot_be_refreshed_leaves_every_file_as_it_was(tmp_path: Path) -> None:
    lesson = lesson_on(TWO, "groove")
    bad = saved(tmp_path, lesson.with_sources({4: lesson.cells[3].source.replace("Am7", "Hm7")}), "bad.ipynb")
    raising = saved(tmp_path, with_choices(lesson, {"tempo": 99}).with_cell_after(
        len(lesson.cells), code_cell("mine", "1 / 0")), "raising.ipynb")
    other = saved(tmp_path, Lesson.of({"cells": [code_cell("one", "1")], "metadata": {}, "nbformat": 4,
                                       "nbformat_minor": 5}), "other.ipynb")
    before = {path: path.read_bytes() for path in (bad, raising, other)}
    done = run("refresh", str(tmp_path))
    assert done.exit_code == 1
    assert "Hm7" in done.output
    assert "ZeroDivisionError" in done.output
    assert "no cell of choices" in done.output
    assert {path: path.read_bytes() for path in before} == before


def test_a_folder_of_lessons_is_current_after_one_command(tmp_path: Path) -> None:
    for number in range(200 if EXPLORE else 5):
        lesson = with_choices(Lesson.of(unrun(number)), {"tempo": 130})
        assert check_current(lesson), "there is something to refresh"
        saved(tmp_path, lesson, f"{number}.ipynb")
    done = run("refresh", "--no-run", "-q", str(tmp_path))
    assert done.exit_code == 0, done.output
    for path in tmp_path.glob("*.ipynb"):
        assert check_current(Lesson.read(path)) == []
        assert "♩ = 130" in words(Lesson.read(path))


def test_no_false_alarm() -> None:
    for number in range(200 if EXPLORE else 8):
        assert check_current(Lesson.of(unrun(number))) == []
    for path in SHIPPED:
        assert check_current(Lesson.read(path)) == []
        assert has_choices(Lesson.read(path))


# -- in a notebook ---------------------------------------------------------------------------------------------------
def test_a_cell_refreshes_its_notebook_where_jupyter_tells_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lesson = with_choices(lesson_on(TWO, "groove"), {"tempo": 150})
    path = saved(tmp_path, lesson.with_cell_after(len(lesson.cells), code_cell("call", "refresh()")))
    names = {"In": ["", "refresh()"], **lesson.choices}
    monkeypatch.delenv("JPY_SESSION_NAME", raising=False)
    with pytest.raises(LessonError, match="nothing tells which notebook"):
        lesson_here(names)
    monkeypatch.setenv("JPY_SESSION_NAME", str(path))
    assert lesson_here(names).path == path
    with pytest.raises(LessonError, match="does not hold this cell"):
        lesson_here({**names, "In": ["", "refresh(every=True)"]})
    with pytest.raises(LessonError, match="sets tempo to 150, and here it is 93"):
        lesson_here({**names, "tempo": 93})
    said = refresh(path).markdown
    assert "moves-words" in said
    assert "reload the notebook" in said
    assert "♩ = 150" in words(Lesson.read(path))
    assert refresh(str(path)).markdown.startswith("All that the kit wrote is current.")


@pytest.mark.parametrize("kind", ["groove", "modern"])
def test_a_lesson_on_another_neck_says_where_the_hand_is(kind: str) -> None:
    """A half step down everything lies a fret higher (equal temperament)."""
    lesson = with_choices(lesson_on(TWO, kind), {"capo": 0})
    target = Target(tuning="half step down")
    before = int(re.search(r"Stay in position (\d+)", words(lesson))[1])  # type: ignore[index]
    new = moved(lesson, target, hand_shifts(lesson, target)[0])
    assert f"Stay in position {before + 1}: the first finger belongs to fret {before + 1}." in words(new)
    assert read_choices(new)[1].tuning == Tuning.parse("half step down")
    assert check_current(new) == []


def test_a_position_left_out_holds_every_drill_of_the_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    def picky(read: Any, position: int, tuning: Tuning) -> Any:
        if position == 3:
            raise LessonError("no room there")
        yield from ()

    chart = Chart.parse("| Gm7 | C9 |", tempo=61)
    assert best_position(chart, "rock") == 3
    monkeypatch.setitem(derived._LINES, "rock", picky)
    derived._best_position.cache_clear()
    assert best_position(chart, "rock") != 3
    derived._best_position.cache_clear()


def test_the_plan_ends_at_the_tempo_that_the_lesson_names() -> None:
    """Three fifths of 92.5 is 55.5, of which a metronome's whole number is 56."""
    line = continuous_arpeggio(Chart.parse("| Gm7 | C9 |", tempo="92.5"), 8, 3)
    rows = re.findall(r"\| \d \| ([\d.]+) \|", practice_plan(line, line.chart.tempo))
    assert (rows[0], rows[-1]) == ("56", "92.5")
    lesson = with_choices(lesson_on(TWO, "groove"), {"tempo": "92.5"})
    assert "♩ = 92.5" in words(refreshed(lesson).lesson)
