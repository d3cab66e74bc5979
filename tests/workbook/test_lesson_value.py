"""A lesson as a value: what a notebook written out here by hand says, and that nothing of it is lost or changed."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError
from fractions import Fraction
from pathlib import Path
from typing import Any

import nbformat
import pytest

from theorylib import Line, Scale
from theorylib.errors import VampError
from workbook.files import FileError
from workbook.lesson.cells import text_cell
from workbook.lesson.choices import names_set, parsed, values_set
from workbook.lesson.door import LessonError
from workbook.lesson.lesson import Lesson, as_lesson
from workbook.mimes import CHART_MIME, LINE_MIME

LESSONS = sorted((Path(__file__).resolve().parents[2] / "lessons").glob("*.ipynb"))
LINE = {"title": "Two notes", "chart": "title: Low tide\ntempo: 72\n| Gm7 |", "length_beats": "4", "position": 3,
        "tuning": {"strings": "E2 A2 D3 G3 B3 E4", "capo": 0, "frets": 22, "scale_length_mm": 648},
        "notes": [["G3", "0", "1", 4, 5, 3, "1", []], ["Bb3", "1", "1", 3, 3, 1, "b3", []]]}


def code(source: str, *outputs: dict[str, Any], count: int | None = 1, tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"cell_type": "code", "source": source, "metadata": {"tags": list(tags)} if tags else {},
            "outputs": list(outputs), "execution_count": count, "id": f"c{abs(hash(source)) % 10**8}"}


def shown(**data: Any) -> dict[str, Any]:
    return {"output_type": "display_data", "metadata": {}, "data": {key.replace("__", "/"): one
                                                                    for key, one in data.items()}}


def notebook() -> dict[str, Any]:
    chart = shown() | {"data": {CHART_MIME: ["title: Low tide\n", "tempo: 72\n", "| Gm7 |"]}}
    line = shown() | {"data": {LINE_MIME: LINE}}
    return {
        "cells": [
            {"cell_type": "markdown", "id": "title", "metadata": {"tags": ["page-break"]},
             "source": ["# Low tide\n", "\n", "{= Dm7b5 over E7 gives b7 b9 3 b13 =}"]},
            code('tuning = "drop D"\nposition = 3\nnear = position + 2', count=None, tags=("parameters",)),
            code("chart", chart, line, shown(text__markdown=["> **Care** rest"])),
            {"cell_type": "raw", "id": "note", "metadata": {}, "source": "for me"},
        ],
        "metadata": {"vampbook": {"title": "Low tide", "level": "beginner", "minutes": 20, "tempo": "72",
                                  "key": "F major", "home": "G dorian", "aims": ["Hear it."], "techniques": ["legato"],
                                  "mine": {"x": 1}},
                     "other": {"kept": [1, 2]}},
        "nbformat": 4, "nbformat_minor": 5,
    }


def lesson() -> Lesson:
    return Lesson.of(notebook(), Path("lessons/low-tide.ipynb"))


def test_its_cells_are_numbered_and_say_what_they_are() -> None:
    one = lesson()
    assert [(cell.number, cell.kind, cell.tags) for cell in one.cells] == [
        (1, "text", ("page-break",)), (2, "code", ("parameters",)), (3, "code", ()), (4, "raw", ())]
    assert one.cells[0].source == "# Low tide\n\n{= Dm7b5 over E7 gives b7 b9 3 b13 =}"
    assert (one.cells[0].id, one.cells[1].execution_count, one.cells[2].execution_count) == ("title", None, 1)
    assert [len(cell.outputs) for cell in one.cells] == [0, 0, 3, 0]
    assert one.was_run
    assert not Lesson.of({**notebook(), "cells": [code("1")]}).was_run
    assert Lesson.of({**notebook(), "cells": [code(" ")]}).was_run


def test_it_says_of_itself_what_its_metadata_say() -> None:
    about = lesson().about
    assert (about.title, about.level, about.minutes) == ("Low tide", "beginner", "20")
    assert (about.tempo, about.feel) == ("72", "")
    assert (about.aims, about.techniques, about.student, about.language) == (("Hear it.",), ("legato",), "", "")
    assert (about.tempo_bpm, about.key_scale, about.home_scale) == (
        Fraction(72), Scale.parse("F major"), Scale.parse("G dorian"))
    silent = Lesson.of({**notebook(), "metadata": {}}, Path("low-tide.ipynb"))
    assert (silent.title, silent.about.tempo_bpm, silent.about.home_scale) == ("Low tide", None, None)
    with pytest.raises(LessonError, match=r"metadata, vampbook, tempo: “fast” is no tempo.*20 to 400"):
        _ = lesson().with_about(tempo="fast").about.tempo_bpm
    with pytest.raises(LessonError, match="“500” is no tempo"):
        _ = lesson().with_about(tempo=500).about.tempo_bpm


def test_its_choices_are_literals_and_the_injected_ones_hold() -> None:
    one = lesson()
    assert dict(one.choices) == {"tuning": "drop D", "position": 3}
    assert one.parameters == ("tuning", "position", "near")
    injected = one.with_cell_after(2, code('tuning = "standard"\nmore = [1]', tags=("injected-parameters",)))
    assert dict(injected.choices) == {"tuning": "standard", "position": 3, "more": [1]}
    assert injected.parameters == one.parameters
    with pytest.raises(TypeError):
        one.choices["tuning"] = "E"  # type: ignore[index]


def test_code_is_read_and_never_run(tmp_path: Path) -> None:
    lines = (f'x = open({str(tmp_path / "ran")!r}, "w")', "x = 3", "y: int = -4", 'a = b = (1, "two")', "c: str",
             "d, e = 1, 2", "q = 1", "q = f()")
    fatal = "\n".join(lines)
    assert values_set(fatal) == {"x": 3, "y": -4, "a": (1, "two"), "b": (1, "two")}
    assert names_set(fatal) == ("x", "y", "a", "b", "q")
    assert not list(tmp_path.iterdir())
    assert values_set("%magic\nx = 1") == {}
    assert values_set("x = {[]: 1}") == {}
    assert parsed("def").body == []


def test_its_music_is_what_its_outputs_carry() -> None:
    one = lesson()
    [(number, line)] = one.lines
    assert (number, line.title, [str(note.pitch) for note in line.notes]) == (3, "Two notes", ["G3", "Bb3"])
    [(number, chart)] = one.charts
    assert (number, chart.title, chart.tempo) == (3, "Low tide", 72)


def test_a_fault_in_a_stored_line_is_told_at_its_cell_and_hides_no_other() -> None:
    book = notebook()
    book["cells"][2]["outputs"].insert(0, shown() | {"data": {LINE_MIME: {**LINE, "notes": [["H3"]]}}})
    one = Lesson.of(book)
    (first, fault), (second, line) = one.stored_lines
    assert (first, second) == (3, 3)
    assert isinstance(fault, VampError)
    assert fault.where.startswith("cell 3, note 1")
    assert isinstance(line, Line)
    with pytest.raises(VampError, match="cell 3, note 1"):
        _ = one.lines
    book["cells"][2]["outputs"] = [shown() | {"data": {CHART_MIME: "| Hm7 |"}}]
    with pytest.raises(VampError, match="cell 3"):
        _ = Lesson.of(book).charts


def test_each_line_is_parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    parsed_texts: list[str] = []
    read = Line.from_json
    monkeypatch.setattr(Line, "from_json", lambda text: parsed_texts.append(text) or read(text))
    one = lesson()
    assert one.lines == one.lines
    assert len(one.stored_lines) == len(parsed_texts) == 1


def test_its_words_and_claims_name_their_cells() -> None:
    one = lesson()
    assert [number for number, _ in one.prose] == [1]
    assert one.claims == ((1, 3, "Dm7b5 over E7 gives b7 b9 3 b13"),)
    assert "**Care**" in one.shown_prose
    assert "for me" not in one.shown_prose


def test_a_changed_copy_leaves_the_first_as_it_was() -> None:
    one, before = lesson(), notebook()
    new = one.with_sources({1: "# High tide", 3: "chart\n"})
    assert [cell.source for cell in new.cells][:3] == ["# High tide", before["cells"][1]["source"], "chart\n"]
    assert new.cells[0].raw["source"] == ["# High tide"]
    assert new.cells[0].tags == ("page-break",)
    assert len(new.cells[2].outputs) == 3
    said = one.with_about(key="G major", home=None, student="Ada")
    assert (said.about.key, said.about.home, said.about.student, said.about.title) == ("G major", "", "Ada", "Low tide")
    assert said.about.raw["mine"] == {"x": 1}
    more = one.with_cell_after(0, text_cell("first", "Hello"))
    assert [(cell.number, cell.id) for cell in more.cells][:2] == [(1, "first"), (2, "title")]
    answers = one.with_cells(cell.with_tags("answer") for cell in one.cells)
    assert {cell.tags for cell in answers.cells} == {("answer",)}
    assert one.with_metadata(jupytext={"a": 1}).metadata["other"] == {"kept": [1, 2]}
    assert one.with_sources({cell.number: cell.source for cell in one.cells}) == one, "what is the same stays as it is"
    assert one.notebook == before
    assert one == Lesson.of(before, one.path) != new


def test_nobody_can_change_it_by_what_it_was_made_from_or_gives() -> None:
    book = notebook()
    one = Lesson.of(book)
    book["cells"][0]["source"] = "other"
    given = one.notebook
    given["cells"].clear()
    given["metadata"]["other"]["kept"].append(3)
    assert one.notebook == notebook()
    with pytest.raises(FrozenInstanceError):
        one.path = Path("other.ipynb")  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        one.cells[0].source = "other"  # type: ignore[misc]
    assert {one: 1}[Lesson.of(notebook())] == 1
    assert pickle.loads(pickle.dumps(one)) == one


def test_what_is_written_is_what_jupyter_writes_and_reads_back_to_the_same(tmp_path: Path) -> None:
    for path in LESSONS:
        one = Lesson.read(path)
        assert one.text.encode() == path.read_bytes(), path.name
        assert one.with_cells(one.cells) == one
        assert one.with_sources({}) == one
        assert one.with_about().text == one.text
        assert one.text == nbformat.writes(nbformat.read(path, as_version=4)).rstrip("\n") + "\n", path.name
    one = lesson().with_path(tmp_path / "low-tide.ipynb")
    one.write()
    assert Lesson.read(one.path) == one


def test_the_writer_replaces_nothing_unasked(tmp_path: Path) -> None:
    one = lesson().with_path(tmp_path / "low-tide.ipynb")
    assert one.write() is None
    with pytest.raises(FileError):
        one.with_about(title="Other").write()
    assert Lesson.read(one.path) == one
    assert one.write(new=False, keep=True) is None  # nothing differs: nothing to keep
    kept = one.with_about(title="Other").write(new=False, keep=True)
    assert kept is not None
    assert kept.read_bytes() == one.text.encode()
    assert Lesson.read(one.path).title == "Other"
    assert one.write(new=False) is None
    assert Lesson.read(one.path) == one
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([one.path.name, kept.name])


def test_a_value_or_what_it_is_read_from(tmp_path: Path) -> None:
    one = lesson().with_path(tmp_path / "low-tide.ipynb")
    one.write()
    assert as_lesson(one) is one
    assert as_lesson(one.path) == one
    assert as_lesson(notebook()).notebook == notebook()
    with pytest.raises(FileError):
        Lesson.read(tmp_path / "none.ipynb")
    (tmp_path / "none.ipynb").write_text('{"cells": [{"cell_type": "poem"}]}')
    with pytest.raises(LessonError, match=r"none\.ipynb"):
        Lesson.read(tmp_path / "none.ipynb")
