"""`vampbook check` on a teacher's own words: where a contradiction stands, whose words are judged, what is counted."""

from __future__ import annotations

import copy
import json
import os
import re
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner
from support.generated import LOOPS
from support.lab import ROOT
from support.short import write_short

from theorylib import Chart, Line, Tuning, VampError
from theorylib.levels import LEVELS
from workbook.checking.counts import Checked, Counts
from workbook.checking.findings import Finding
from workbook.checking.prose.judge import contradictions
from workbook.checking.prose.of_lesson import facts_of
from workbook.checking.said import belied, check_said
from workbook.checking.truth import check_truth
from workbook.cli import main
from workbook.lesson.chosen import KINDS, Choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson
from workbook.mimes import CHART_MIME

MORE = ("C Am F G", "Dm Bb F C", "E5 G5 A5 D5", "Bm7b5 E7b9 Am6 Am6", "C/E F G/B C", "Cmaj7 A7alt Dm7 G7")
TUNINGS = ("standard", "drop D", "seven-string", "half step down", "DADGAD", "bass", "standard capo 2")
METERS = ("4/4", "4/4", "3/4", "6/8", "5/4")


def written(seed: int) -> Lesson | None:
    """A new lesson of any kind, level, key, meter and tuning; None where a drill cannot be played so."""
    chance = Random(seed)
    rows = [f"| {' | '.join(chance.choice(LOOPS + MORE).split())} |" for _ in range(chance.choice((1, 1, 2)))]
    text = rows[0] if len(rows) == 1 else f"[A] {rows[0]}\n[B] {rows[1]}"
    feel = chance.choice(("straight 8", "swing", "shuffle", "funk", "rock", "waltz", "half-time"))
    chart = Chart.parse(text, tempo=chance.randrange(50, 170), feel=feel, meter=chance.choice(METERS))
    choices = Choices(f"Lesson {seed}", chance.choice(LEVELS), per_chord=chance.choice((4, 6, 8)),
                      substitutes=chance.random() < 0.5, kind=chance.choice(KINDS),
                      tuning=Tuning.parse(chance.choice(TUNINGS)))
    try:
        return Lesson.of(new_lesson(chart.transpose(chance.randrange(12)), choices))
    except VampError:
        return None


def with_text(text: str, lesson: Lesson) -> Lesson:
    cell = {"cell_type": "markdown", "id": "own", "metadata": {}, "source": text}
    return lesson.with_cell_after(len(lesson.cells), cell)


@pytest.fixture(scope="module")
def slack() -> Lesson:
    return Lesson.read(ROOT / "lessons" / "slack-water.ipynb")


def test_the_kits_own_words_are_true_by_the_same_rules() -> None:
    """Every text of new lessons, judged as if a teacher had written it: 14 of them, 200 with VAMPBOOK_EXPLORE=1."""
    judged, lessons = 0, list(filter(None, map(written, range(200 if os.environ.get("VAMPBOOK_EXPLORE") else 14))))
    for lesson in lessons:
        facts = facts_of(lesson)
        for number, text in lesson.prose:
            found = contradictions(text, facts)
            judged += found.judged
            assert [(number, one.words, one.sentence, one.right) for one in found.contradictions] == [], lesson.title
    assert judged > 5 * len(lessons) > 50


def test_the_shipped_lessons_are_true_by_the_same_rules() -> None:
    for path in sorted((ROOT / "lessons").glob("*.ipynb")):
        lesson = Lesson.read(path)
        facts = facts_of(lesson)
        found = [one for _, text in lesson.prose for one in contradictions(text, facts).contradictions]
        assert found == [], path.name


def test_a_contradiction_is_told_with_its_cell_and_line(slack: Lesson) -> None:
    lesson = with_text("## Tonight\n\nLean on the 3rd.\nThe Fm7 wants to fall.", slack)
    (found,) = check_said(lesson).findings
    assert (found.cell, found.line, found.is_fault) == (len(lesson.cells), 4, True)
    assert str(found) == (f"{lesson.path}: cell {found.cell}, line 4: “Fm7” contradicts the lesson: “The Fm7 wants to "
                          "fall.”; the changes hold Gm7 and C9, or tag the cell “aside” if it speaks of something "
                          "else")


def test_aims_of_the_teachers_own_are_judged(slack: Lesson) -> None:
    own = slack.with_about(aims=["Play the arpeggio of the Fm7 in time.", "Breathe."])
    (found,) = check_said(own).findings
    assert str(found) == (f"{slack.path}: the aims in the notebook's metadata: “Fm7” contradicts the lesson: “Play the "
                          "arpeggio of the Fm7 in time.”; the changes hold Gm7 and C9")
    assert (check_said(own).counts.judged, check_said(own).counts.unjudged) == (1, 1)


def test_a_cell_tagged_aside_is_not_judged(slack: Lesson) -> None:
    lesson = with_text("The Fm7 wants to fall. Tune to drop D.", slack)
    aside = lesson.with_cells([*lesson.cells[:-1], lesson.cells[-1].with_tags("aside")])
    assert check_said(aside).findings == ()
    before = check_said(slack).counts
    assert check_said(aside).counts == before + Counts(unjudged=2)


def test_what_the_kit_wrote_is_its_makers_to_judge_until_someone_changes_it() -> None:
    lesson = written(0)
    assert lesson is not None
    own = check_said(lesson)
    assert own.findings == ()
    assert own.counts.written > 20
    assert own.counts.judged == own.counts.unjudged == 0
    number, text = next((number, text) for number, text in lesson.prose if "Stay in position" in text)
    wrong = re.sub(r"Stay in position \d+", "Stay in position 19", text)
    touched = check_said(lesson.with_sources({number: wrong}))
    assert {one.cell for one in touched.findings} == {number}
    assert touched.counts.judged >= 1
    assert touched.counts.written + touched.counts.judged + touched.counts.unjudged == own.counts.written


def test_the_choices_say_what_is_so_before_the_lesson_is_run_again() -> None:
    lesson = written(0)
    assert lesson is not None
    own = with_text("The track runs at 90.", lesson)
    cell = next(cell for cell in own.cells if "parameters" in cell.tags)
    tempo = next(row for row in cell.source.splitlines() if row.startswith("tempo = "))
    assert len(check_said(own).findings) == 1
    assert check_said(own.with_sources({cell.number: cell.source.replace(tempo, "tempo = 90")})).findings == ()


def test_stale_outputs_do_not_hide_what_the_choices_changed(slack: Lesson) -> None:
    """The changes are edited and the lesson is not run: its charts and lines still show Gm7 | C9 in position 3."""
    cell = next(cell for cell in slack.cells if "parameters" in cell.tags)
    source = cell.source.replace("| Gm7 | C9 |", "| Dm7 | G9 |").replace("G dorian", "D dorian")
    edited = with_text("The Gm7 waits. We stay in position 3.", slack).with_sources(
        {cell.number: re.sub(r"position = \w+", "position = 5", source)})
    assert [one.right.partition(",")[0] for one in check_said(edited).findings] == [
        "the changes hold Dm7 and G9", "the lesson lies in position 5"]


def test_a_chart_of_the_teachers_own_counts_too(slack: Lesson) -> None:
    own = {"cell_type": "code", "id": "mine", "metadata": {}, "source": 'Chart.parse("| Fm7 | Bb7 |")',
           "execution_count": 1, "outputs": [{"output_type": "execute_result", "metadata": {}, "execution_count": 1,
                                              "data": {CHART_MIME: "| Fm7 | Bb7 |"}}]}
    assert check_said(with_text("The Fm7 waits.", slack.with_cell_after(3, own))).findings == ()


def test_the_counts_are_those_of_the_file(slack: Lesson) -> None:
    """Counted here from the notebook's own JSON."""
    lesson = with_text("{= A dorian is mode 2 of G major =} is so. Breathe. The Gm7 is home.", slack)
    raw = json.loads(lesson.text)
    lines = [output["data"][mime] for cell in raw["cells"] for output in cell.get("outputs", ())
             for mime in output.get("data", {}) if mime.endswith("line+json")]
    read = [line if isinstance(line, dict) else json.loads("".join(line)) for line in lines]
    notes = [note for line in read for note in line["notes"]]
    truth, said = check_truth(lesson).counts, check_said(lesson).counts
    assert (truth.lines, truth.places, truth.claims) == (len(lines), len(notes), 1)
    before = check_said(slack).counts
    assert (said.judged - before.judged, said.unjudged - before.unjudged) == (1, 2)


def test_a_line_that_cannot_be_read_is_not_counted(slack: Lesson) -> None:
    notebook: dict[str, Any] = copy.deepcopy(slack.notebook)
    for cell in notebook["cells"]:
        for output in cell.get("outputs", ()):
            for mime in output.get("data", {}):
                if mime.endswith("line+json"):
                    output["data"][mime] = "[]"
    assert check_truth(Lesson.of(notebook)).counts == Counts()


def test_counts_are_told_in_words() -> None:
    assert str(Counts(2, 96, 0, 7, 30, 1)) == (
        "2 lines with 96 places, no claims, 38 sentences: 1 of the kit's, 7 judged, 30 that it cannot judge")
    assert str(Counts(1, 1, 1, 0, 1)) == "1 line with 1 place, 1 claim, 1 sentence: 1 that it cannot judge"
    assert str(Counts()) == "no lines with no places, no claims, no sentences"
    one = Checked((Finding(Path("a"), 1, "b"),), Counts(1, 2, 3, 4, 5, 6))
    assert Checked.of([one, [Finding(Path("a"), 2, "c")], one]) == Checked(
        (*one.findings, Finding(Path("a"), 2, "c"), *one.findings), Counts(2, 4, 6, 8, 10, 12))


def test_a_build_says_how_much_contradicts_the_lesson(slack: Lesson) -> None:
    assert belied(slack) == ""
    assert belied(with_text("The Fm7 waits.", slack)) == (
        "1 thing in the prose contradicts the lesson: vampbook check names it")
    assert belied(with_text("The Fm7 waits. Tune to drop D.", slack)) == (
        "2 things in the prose contradict the lesson: vampbook check names them")


def test_vampbook_build_warns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with_text("The Fm7 waits.", Lesson.read(write_short(tmp_path))).with_path(Path("own.ipynb")).write()
    done = CliRunner().invoke(main, ["build", "--no-run", "--minutes", "0.2", "own.ipynb"])
    assert done.exit_code == 0, done.output
    assert "own.ipynb: 1 thing in the prose contradicts the lesson: vampbook check names it" in done.output


def test_the_facts_are_read_from_what_was_run(slack: Lesson) -> None:
    """Typed from the lesson's cells: Gm7 | C9 at 92 in position 3; its plan and its drill of two passes."""
    facts = facts_of(slack)
    assert list(map(str, facts.chords)) == ["Gm7", "C9"]
    assert facts.positions == {3}
    assert facts.longest >= 4
    assert sorted(facts.tempos)[-1] == 92
    assert len(facts.tempos) == 4
    assert str(facts.homes[0]) == "G dorian"
    assert isinstance(slack.lines[0][1], Line)
