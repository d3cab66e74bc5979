"""Lessons in every key and other tunings: the same music moved, found true again, or refused with the reason."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from support.lab import ROOT
from support.short import short_lesson

from theorylib.names.scales import Scale
from theorylib.necks.tunings import Tuning
from workbook.lesson.cells import code_cell, text_cell
from workbook.lesson.chosen import with_injected
from workbook.lesson.door import LessonError
from workbook.lesson.lesson import Lesson
from workbook.library.moving import Target, all_keys, hand_shifts, interval_to, moved
from workbook.library.personal import RosterError, Student, personal_lesson
from workbook.running.bounds import Bounds

LESSONS = ROOT / "lessons"
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
NAMES = sorted(path.stem for path in LESSONS.glob("*.ipynb")) if EXPLORE else ["slack-water", "gravel-drive"]
KEYS = range(12) if EXPLORE else (1, 6, 11)


def lesson(name: str) -> dict[str, Any]:
    return Lesson.read(LESSONS / f"{name}.ipynb").notebook


def personal(notebook: dict[str, Any], **choices: Any) -> dict[str, Any]:
    return personal_lesson(Lesson.of(notebook, LESSONS / "one.ipynb"), Student(**choices), Bounds()).notebook


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("semitones", KEYS)
def test_every_lesson_in_every_key(name: str, semitones: int) -> None:
    """Chords are moved, drills keep their promise; personal_lesson itself refuses what check_truth() finds false."""
    own = lesson(name)
    key = all_keys(own)[semitones]
    ran = personal(own, key=key)
    for (_, one), (_, two) in zip(Lesson.of(own).charts, Lesson.of(ran).charts, strict=True):
        assert [(event.chord.root.pitch_class - other.chord.root.pitch_class) % 12 for event, other in
                zip(two.events, one.events, strict=True)] == [semitones] * len(one.events)
        assert [event.chord.suffix for event in two.events] == [event.chord.suffix for event in one.events]
    for (_, one), (_, two) in zip(Lesson.of(own).lines, Lesson.of(ran).lines, strict=True):
        assert two.problems() == ()
        if one.title.startswith("Bend"):
            continue  # a bar for each bend, and another place has others
        assert two.length_beats == one.length_beats
        if name != "slack-water" or one.is_rhythm_part:
            continue  # near the nut, and where fingers stretch, another position chooses other notes and other grips
        assert [note.degree for note in two.notes] == [note.degree for note in one.notes]
        assert {(new.pitch.midi - old.pitch.midi - semitones) % 12 for new, old in
                zip(two.notes, one.notes, strict=True)} == {0}
        assert [(new.string, new.fret - two.notes[0].fret) for new in two.notes] == [
            (old.string, old.fret - one.notes[0].fret) for old in one.notes], "the same shape under the hand"
    about = ran["metadata"]["vampbook"]
    assert Scale.parse(about["home"]).tonic.pitch_class == Scale.parse(key).tonic.pitch_class
    assert Scale.parse(about["home"]).pretty in "".join(ran["cells"][0]["source"])


@pytest.mark.parametrize("tuning", ["half step down", "drop D", "open G"])
def test_other_tunings(tuning: str) -> None:
    own = lesson("slack-water")
    ran = personal(own, tuning=tuning)
    for (_, one), (_, two) in zip(Lesson.of(own).lines, Lesson.of(ran).lines, strict=True):
        assert two.tuning.open_strings == Tuning.parse(tuning).open_strings
        assert two.problems() == ()
        if not one.is_rhythm_part:  # another neck has other grips
            assert {note.pitch.midi % 12 for note in two.notes} == {note.pitch.midi % 12 for note in one.notes}


def test_prose_and_code_follow() -> None:
    own = lesson("slack-water")
    new = moved(own, Target("A"), 2)
    text = "\n".join(cell.source for cell in new.cells)
    for words in ("**A dorian**, 2nd mode of G major", "Its notes are A B C D E F♯ G.",
                  "position = 5", "| Am7 | D9 |", 'key = "A dorian"', "Stay in position 5",
                  "# Slack water in A dorian",
                  'tuning = "standard"'):
        assert words in text, words
    assert "Gm7" not in text
    assert own == lesson("slack-water"), "the lesson itself is not touched"
    assert interval_to(own, "G dorian").semitones == interval_to(own, "F major").semitones == 0
    assert interval_to(own, "Ab").semitones == 1


def test_the_spelling_asked_for_is_kept_where_people_write_it() -> None:
    own = lesson("slack-water")
    assert [str(Scale.parse("G dorian").up(interval_to(own, key)).tonic) for key in ("Ab", "G#", "C#", "Db", "D#")] == [
        "Ab", "G#", "C#", "Db", "D#"]
    assert str(Scale.parse("G dorian").up(interval_to(own, "E#")).tonic) == "F", "D# major is no key that people write"
    assert all_keys(own) == ["G", "G#", "A", "Bb", "B", "C", "C#", "D", "Eb", "E", "F", "F#"]


def test_a_pitch_follows_the_hand() -> None:
    own = lesson("slack-water")
    own["cells"] += [code_cell("low", 'arpeggio_drill(chart, position, start="G2", tuning=tuning)'),
                     text_cell("said", "Begin on G2, type `start=\"G2\"`.")]
    up, down = moved(own, Target("A"), 2), moved(own, Target("F"), -2)
    assert ['start="A2"' in new.cells[-2].source for new in (up, down)] == [True, False]
    assert 'start="F2"' in down.cells[-2].source, "an octave below G2 and up a minor seventh"
    assert down.cells[-1].source == "Begin on F2, type `start=\"F2\"`."
    assert personal(own, key="F")["cells"][-2]["outputs"]


def test_tempo_range() -> None:
    new = moved(lesson("slack-water"), Target(tempos=(50, 70)), 0)
    text = "\n".join(cell.source for cell in new.cells)
    assert "♩ = 70" in text
    assert "tempo = 70" in text
    assert "92" not in text


def refused(notebook: dict[str, Any], **choices: Any) -> str:
    with pytest.raises((LessonError, RosterError)) as caught:
        personal(notebook, **choices)
    return str(caught.value)


def test_refusals_say_why() -> None:
    def own() -> dict[str, Any]:
        short: dict[str, Any] = json.loads(short_lesson("slack-water", "drill"))
        return short

    assert "cannot be moved to A minor" in refused(own(), key="A minor").replace("natural ", "")
    no_parameters = own()
    no_parameters["cells"] = [cell for cell in no_parameters["cells"] if cell["id"] != "choices"]
    assert "no parameter “tuning”" in refused(no_parameters, tuning="drop D")
    fixed = own()
    for cell in fixed["cells"]:
        cell["source"] = "".join(cell["source"]).replace("hand, tuning=neck, passes", "hand, passes")
    assert "does not follow the parameter “tuning”" in refused(fixed, tuning="drop D")
    placed = own()
    placed["cells"].append(text_cell("place", "Begin at string 6 fret 3."))
    assert "string 6 fret 3" in refused(placed, tuning="drop D")
    assert "A♭" in "".join(personal(placed, key="Ab")["cells"][0]["source"])
    wide = own()
    wide["cells"].append(text_cell("wide", "From string 6 fret 1 to string 1 fret 17."))
    assert "frets 1 to 17 cannot move" in refused(wide, key="A")
    wide["cells"].append(text_cell("high", "Up to the 19th fret."))
    assert personal(wide, name="Ada", tempos=(60, 80))["cells"][-1]["source"] == ["Up to the 19th fret."]
    bare = {"cells": [code_cell("one", "1")], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    assert "cannot be moved" in refused(bare, key="A")
    false = own()
    false["cells"].append(text_cell("claim", "{= A dorian is mode 3 of G major =}"))
    assert "is false" in refused(false, key="A")


def test_a_hand_goes_where_it_has_room() -> None:
    assert hand_shifts(lesson("gravel-drive"), Target("F"))[0] == -4, "down a third, not up a sixth"
    assert hand_shifts(lesson("harbour-lamp"), Target("Bb"))[0] == 6, "it stands beside the nut"
    assert hand_shifts(lesson("lantern-stairs"), Target("G"))[0] == 7, "near the nut there is no room below"
    assert hand_shifts(lesson("slack-water"), Target("A"))[0] == 2
    assert hand_shifts(lesson("slack-water"), Target(tuning="whole step down"))[0] == 2


def test_parameters_are_injected_as_papermill_does() -> None:
    """papermill (BSD-3): a cell tagged injected-parameters after the one tagged parameters (its documentation)."""
    own = Lesson.of(lesson("slack-water"))
    new = with_injected(own, {"position": 7})
    tags = [cell.tags for cell in new.cells]
    number = tags.index(("parameters",))
    assert tags[number + 1] == ("injected-parameters",)
    assert new.cells[number + 1].source == "# Parameters\nposition = 7"
    assert (own.choices["position"], new.choices["position"]) == (None, 7)
    with pytest.raises(LessonError, match="no parameter “no such choice”"):
        with_injected(own, {"no such choice": 2})


def test_without_parameters_a_cell_is_injected_after_the_kit() -> None:
    own = Lesson.of({"cells": [text_cell("title", "# T"), code_cell("kit", "from workbook.kit import *")],
                     "metadata": {}, "nbformat": 4, "nbformat_minor": 5})
    assert [cell.id for cell in with_injected(own, {}, "x").cells] == ["title", "kit", "injected"]
    bare = own.with_cells(own.cells[:1])
    assert [cell.id for cell in with_injected(bare, {}, "x").cells] == ["injected", "title"]


def test_formatting_of_code_survives(tmp_path: Path) -> None:
    own = lesson("slack-water")
    code = ("# über Gm7\nx = plot_neck('G dorian', over = \"Gm7\",  position=position)  # Gm7\n"
            "words = 'Gm7 und mehr', 'up', 5\nx")
    own["cells"].append(code_cell("own", code))
    new = moved(own, Target("A"), 2).cells[-1].source
    assert new == code.replace("'G dorian'", "'A dorian'").replace('"Gm7"', '"Am7"')
