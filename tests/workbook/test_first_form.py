"""Lessons of the kit's first form, kept as sources: they work as they are, and are carried over by a refresh."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support.generated import run_here
from support.lab import ROOT

from workbook.checking.current import check_current
from workbook.checking.truth import check_truth
from workbook.lesson.chosen import has_choices, read_choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.refreshing import refreshed
from workbook.lesson.writing import new_lesson
from workbook.library.moving import Target, moved

FIRST = json.loads((ROOT / "tests" / "support" / "first_form.json").read_text(encoding="utf-8"))
# name: kind, changes, notes a chord, passes, position; read off the old cells by hand.
CHOICES: dict[str, tuple[str, str, int, int, int]] = {
    "chain-ferry": ("rock", "| Em | % | C | D |", 8, 1, 2),
    "glass-lift": ("modern", "| F#m7 | Dmaj7 | Bm9 | C#7alt |", 8, 1, 2),
    "gravel-drive": ("blues", "| A7 | D7 | A7 | % |\n| D7 | % | A7 | % |\n| E7 | D7 | A7 | E7alt |", 4, 1, 5),
    "lantern-stairs": ("groove", "[A] | Cm7 | Cm7/Bb | Abmaj7 | Fm9 |\n[B] | Dm7b5 | Ebmaj7 | Abmaj7 | G7#9 |", 8, 1,
                       8),
    "slack-water": ("groove", "| Gm7 | C9 |", 8, 2, 3),
    "weathercock": ("groove", "[A] |: Ebm7 | Abm7 | Fm7b5 | Bb7#9 :|", 8, 1, 10),
}


def first(name: str) -> Lesson:
    return Lesson.of(json.loads(json.dumps(FIRST[name])), Path(f"{name}.ipynb"))


@pytest.mark.parametrize("name", CHOICES)
def test_a_lesson_is_carried_over_into_the_form_of_today(name: str) -> None:
    old = first(name)
    assert not has_choices(old)
    assert check_current(old) == [], "nobody asks an old lesson to change"
    found = refreshed(old)
    chart, choices = read_choices(found.lesson)
    kind, changes, per_chord, passes, position = CHOICES[name]
    assert (choices.kind, choices.per_chord, choices.passes) == (kind, per_chord, passes)
    assert choices.position in (None, position), "the hand stays where it was, by the kit's choice or written down"
    assert (choices.title, choices.level) == (old.about.title, old.about.level)
    assert "\n".join(str(chart).splitlines()[-changes.count("\n") - 1:]) == changes
    assert found.carried
    assert found.touched == ()
    assert check_current(found.lesson) == []
    same = ("tempo", "feel", "key", "home", "minutes")
    assert [getattr(found.lesson.about, word) for word in same] == [getattr(old.about, word) for word in same]
    new = Lesson.of(new_lesson(chart, choices))
    assert [(cell.id, cell.source) for cell in found.lesson.cells if cell.is_text] == [
        (cell.id, cell.source) for cell in new.cells if cell.is_text], "nothing of the old form is left"
    assert found.lesson.about.aims == new.about.aims


def test_what_the_teacher_wrote_is_carried_over_as_it_is() -> None:
    old = first("copper-kettle")
    found = refreshed(old)
    assert {by for _, by in found.touched} >= {"title", "aims", "changes-words", "drill"}
    kept = {cell.id: cell.source for cell in found.lesson.cells}
    for cell in old.cells:
        if cell.id not in ("choices", "changes", "plan-words"):  # the last is the kit's own
            assert kept[cell.id] == cell.source
    assert kept["choices"].endswith('near = 4\ndegrees = "1 9 6"'), "choices of the teacher's own"
    assert found.lesson.about.aims == old.about.aims
    number = next(cell.number for cell in old.cells if cell.id == "drill")
    uses = old.with_sources({number: "drill = arpeggio_drill(chart, position, tuning=tuning)"})
    assert read_choices(refreshed(uses.with_sources({4: 'tuning = "drop D"\nposition = 3'})).lesson)[1].position == 3


def test_a_position_of_the_teachers_choice_stays() -> None:
    """The kit itself would choose 3, under the root. What it wrote for 3 it cannot tell from the teacher's words: it
    names that."""
    own = changed(first("slack-water"), "choices", "position = 3", "position = 5")
    found = refreshed(own)
    assert read_choices(found.lesson)[1].position == 5
    assert {by for _, by in found.touched} == {"aims"}
    assert "Stay in position 3" in "".join(cell.source for cell in found.lesson.cells), "nobody's but the teacher's now"


def changed(lesson: Lesson, name: str, old: str, new: str) -> Lesson:
    (cell,) = (one for one in lesson.cells if one.id == name)
    assert old in cell.source
    return lesson.with_sources({cell.number: cell.source.replace(old, new)})


@pytest.mark.parametrize(("lesson", "name", "old", "new"), [
    ("slack-water", "drill", "position, tuning", "4, tuning"), ("gravel-drive", "aim", '"both"', '"below"'),
    ("gravel-drive", "solo", "one string", "two strings"), ("chain-ferry", "run", "groups of 4", "thirds"),
    ("slack-water", "neck-2", "position=position", "frets=(0, 12)"), ("slack-water", "title", "beginner", "easy"),
    ("slack-water", "harmony", "\nread", "\nread.homes"),
])
def test_a_cell_that_was_changed_then_stays(lesson: str, name: str, old: str, new: str) -> None:
    own = changed(first(lesson), name, old, new)
    found = refreshed(own).lesson
    assert [cell.source for cell in found.cells if cell.id == name] == [
        cell.source for cell in own.cells if cell.id == name]


def test_a_lesson_of_the_first_form_runs_is_true_and_moves() -> None:
    ran: dict[str, Any] = run_here(json.loads(json.dumps(FIRST["slack-water"])))
    lesson = Lesson.of(ran)
    assert check_truth(lesson).findings == ()
    new = moved(lesson, Target("A", tuning="half step down", tempos=(50, 70)), 3)
    text = "\n".join(cell.source for cell in new.cells)
    for words in ("| Am7 | D9 |", "tempo: 70", "**Am7** takes **A dorian**", "♩ = 70", "position = 6",
                  "# Slack water in A dorian", "'Eb2 Ab2 Db3 Gb3 Bb3 Eb4'"):
        assert words in text, words
