"""Lessons written anew in rarer cases: one chord, no bends, files that change meanwhile, choices taken out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from support.edited import TWO, ids, lesson_on, saved, words

from workbook.checking.current import check_current
from workbook.lesson.chosen import has_choices, read_choices, with_choices
from workbook.lesson.derived import target_area
from workbook.lesson.lesson import Lesson
from workbook.lesson.refreshing import refreshed
from workbook.library import renewing
from workbook.library.moving import Target, moved


def test_one_chord_has_no_moves_to_another() -> None:
    assert "moves" in ids(lesson_on("| A7 | D7 |", "blues"))
    one = refreshed(with_choices(lesson_on("| A7 | D7 |", "blues"), {"changes": "| A7 |"}))
    assert "moves" not in ids(one.lesson)


def test_arrows_are_spoken_of_where_there_are_some() -> None:
    """Each area of a lesson on bends offers one: over Cm7 near fret 10 the F on string 3 bends a tone to G."""
    chord = target_area("Cm7", 10)
    assert (3, 10, 2, "5") in [(bend.string, bend.fret, bend.semitones, bend.degree) for bend in chord.bends]
    assert "The arrows show where each bend arrives." in words(lesson_on("| Cm7 | Fm7 |", "blues"))


def test_a_file_that_changes_meanwhile_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(tmp_path, with_choices(lesson_on(TWO, "groove"), {"tempo": 150}))

    def slow(lesson: Lesson, **more: Any) -> Lesson:
        path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")
        return lesson

    monkeypatch.setattr(renewing, "run_lesson", slow)
    assert "was changed while it was refreshed" in renewing.renew(path, renewing.Renewal()).error
    assert path.read_text(encoding="utf-8").endswith("\n\n")


def test_a_students_range_ends_where_the_lesson_goes() -> None:
    """The plan begins and ends with the range: header, aims and changes name its end, also from below it."""
    lesson = lesson_on(TWO, "groove")
    number = next(cell.number for cell in lesson.cells if cell.id == "own")
    lesson = lesson.with_sources({number: "Work up to ♩ = 93 from ♩ = 70; ♩ = 40 is a walk."})
    new = moved(lesson, Target(tempos=(60, 120)), 0)
    assert read_choices(new)[0].tempo == 120
    assert words(new).count("♩ = 120") == 4, "the header, two aims and the teacher's own"
    assert "Work up to ♩ = 120 from ♩ = 70; ♩ = 60 is a walk." in words(new)
    assert "♩ = 93" not in words(new)


def test_a_lesson_whose_choices_were_taken_out_is_left_alone() -> None:
    lesson = lesson_on(TWO, "groove")
    without = lesson.with_cells(cell for cell in lesson.cells if cell.id != "choices")
    assert not has_choices(without)
    assert check_current(without) == []
    assert refreshed(without).lesson == without


def test_a_check_names_what_is_no_longer_asked_for_and_what_is_missing() -> None:
    more = lesson_on(TWO, "groove")
    less = refreshed(with_choices(more, {"substitutes": False})).lesson
    gone = [str(one) for one in check_current(with_choices(more, {"substitutes": False}))]
    assert any("Another arpeggio over D9” was written for other choices, which no longer ask for it" in one
               for one in gone), gone
    asked = [str(one) for one in check_current(with_choices(less, {"substitutes": True}))]
    assert any("the choices ask for “Another arpeggio over D9”, which is missing" in one for one in asked), asked
