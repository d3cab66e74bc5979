"""Texts of a chart, a title or a label in a lesson's cells: written by the language as what they are, never as code."""

from __future__ import annotations

import ast
import doctest
import json
import unicodedata
from pathlib import Path
from typing import Any

import mistune
import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st

import workbook.lesson.cells
from theorylib import Chart
from theorylib.claims import marked
from theorylib.errors import VampError
from workbook.cli import main
from workbook.lesson.cells import as_markdown, block, code_cell, literal
from workbook.lesson.chosen import Choices
from workbook.lesson.door import LessonError
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson
from workbook.library.moving import Target, moved
from workbook.mimes import CHART_MIME
from workbook.running.run import run_notebook

SIGNS = st.characters(exclude_categories=()) | st.sampled_from("\"'\\{}#\n\r%`")  # lone surrogates too
LABELS = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp"), exclude_characters="|[]\ufffe\uffff")
                 | st.sampled_from("\"'\\{}#"), max_size=20)
KINDS = ("groove", "blues", "rock", "modern")
# What a lesson of each kind calls, read off the lessons that the kit ships.
CALLS = {"phrase_chorus", "phrase_position", "phrase_style", "said.score", "said.told",
         "lesson_chart", "play_along", "rhythm_part", "comping.score", "Tuning.parse", "best_position", "harmony",
         "moves", "necks", "plot_neck", "arpeggio_drill",
         "drill.score", "drill.plan", "two_chords", "target_degrees", "target_area", "pentatonic", "outline",
         "colour_of", "other_colours", "targets", "bends", "target_steps", "as_drill", "bend_drill", "approach_targets",
         "up.score", "line.score", "line.plan", "outline_sheet", "subdivision_ladder", "with_strokes", "sequence",
         "bursts", "steps.score", "run.score", "run.plan", "burst.score", "guide_tone_line", "held_vibrato",
         "tapped_arpeggio", "guides.score", "held.score", "taps.score", "taps.plan", "Fraction",
         "accents_across", "against.score", "against_substitute", "aim_at_changes", "area_scale", "areas", "bend_area",
         "burst.plan", "calls.score", "calls.told", "continuous_scale", "ear.answers", "ear_training", "held.plan",
         "land.score", "landings", "reading.score", "reading_line", "steady.plan", "steady.score", "steady_scale",
         "steps.plan", "continuous_arpeggio", "landed", "telling.score", "triads_over", "walking.score"}


def code_of(notebook: dict[str, Any]) -> dict[str, ast.Module]:
    return {cell["id"]: ast.parse("".join(cell["source"])) for cell in notebook["cells"]
            if cell["cell_type"] == "code"}


def calls(notebook: dict[str, Any]) -> set[str]:
    return {ast.unparse(node.func) for tree in code_of(notebook).values() for node in ast.walk(tree)
            if isinstance(node, ast.Call)}


def names(notebook: dict[str, Any]) -> set[str]:
    return {node.id for tree in code_of(notebook).values() for node in ast.walk(tree) if isinstance(node, ast.Name)}


@given(st.text(SIGNS))
@example('a """" b""\\"""')
@example("\ud800")
def test_a_literal_is_its_text(text: str) -> None:
    """Read back by the language itself, and never more than one constant."""
    for code in (literal(text), block(text)):
        tree = ast.parse(code, mode="eval")
        assert isinstance(tree.body, ast.Constant)
        assert tree.body.value == text
        code.encode()


def test_the_examples_of_the_docstrings() -> None:
    done = doctest.testmod(workbook.lesson.cells)
    assert done.failed == 0
    assert done.attempted >= 3


@settings(max_examples=25)
@given(st.text(SIGNS, min_size=1, max_size=30), LABELS, st.sampled_from(KINDS))
@example("a \udcff", "A", "groove")
def test_any_title_and_label_is_data(title: str, label: str, kind: str) -> None:
    """Every code cell calls what a lesson calls, and the chart in it is the chart that was given."""
    bars = f"[{label}] | Gm7 | C9 |"
    try:
        chart = Chart.parse(f"tempo: 90\n{bars}")
    except VampError:  # such as a label that reads as a comment
        return
    given_chart, choices = Chart(chart.bars, title=title, tempo=chart.tempo), Choices(title, kind=kind)
    if any(unicodedata.category(sign) in ("Cc", "Cs") or sign in "\ufffe\uffff" for sign in "".join(title.split())):
        with pytest.raises(LessonError, match="which nothing can print"):
            new_lesson(given_chart, choices)
        return
    notebook = new_lesson(given_chart, choices)
    assert calls(notebook) <= CALLS
    assert names(notebook) & {"__import__", "open", "eval", "exec", "print"} == set()
    space: dict[str, Any] = {}
    exec("from workbook.kit import *", space)
    for name in ("choices", "changes"):
        exec(compile(code_of(notebook)[name], name, "exec"), space)
    written = space["chart"]
    assert written.title == " ".join(title.split())
    assert written.bars == chart.bars
    assert written.tempo == 90


def payloads(witness: Path) -> list[str]:
    run = f"__import__('pathlib').Path({str(witness)!r}).touch()"
    return [f'""" + str({run}) + """', f'"""\n{run}\n"""', f'\\"""); {run} #', f"'''+{run}+'''", f"{{{run}}}",
            f'")\n{run}\n("', f"\\\"\"\"\n{run} #", f"\r{run}\r", f"\x0c{run}", f"\u2028{run}", f"\\N{{{run}}}", "\\"]


@pytest.mark.parametrize("kind", ["groove", "blues"])  # the second has a plan for a solo
def test_hostile_charts_never_run(kind: str, tmp_path: Path) -> None:
    """The cells with texts of the chart, run for real: nothing but the kit's functions runs."""
    witness = tmp_path / "ran"
    cells: list[dict[str, Any]] = [code_cell("kit", "from workbook.kit import *")]
    for number, text in enumerate(payloads(witness)):
        label = text.replace("|", "").replace("[", "(").replace("]", ")").split("\n")[0]
        for given_text in (f"title: {text}\n| Gm7 | C9 |", f"[{label}] | Gm7 | C9 |"):
            try:
                chart = Chart.parse(given_text)
                notebook = new_lesson(chart, Choices(text.replace("\x00", ""), kind=kind))
            except VampError:
                continue
            assert calls(notebook) <= CALLS, text
            cells += [cell | {"id": f"{cell['id']}-{number}-{len(cells)}"} for cell in notebook["cells"]
                      if cell["id"] in ("choices", "changes")]
    assert len(cells) > 10
    run_notebook({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}, tmp_path)
    assert not witness.exists()


def test_a_hostile_chart_file_becomes_a_lesson(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the file to the stored outputs, as a teacher makes it of a chart that somebody sent."""
    monkeypatch.chdir(tmp_path)
    Path("c.txt").write_text('title: """+open("ran","w").name+"""\n[""");open("ran","w")#] | Gm7 | C9 |\n',
                             encoding="utf-8")
    done = CliRunner().invoke(main, ["new", 'A "quoted" \\ {title} in naïve 日本語', "--chart", "c.txt"])
    assert done.exit_code == 0, done.output
    assert not Path("ran").exists()
    assert not Path("lessons/ran").exists()
    notebook = Lesson.read(next(Path("lessons").glob("*.ipynb"))).notebook
    assert 'open("ran","w")' in json.dumps(notebook["cells"], ensure_ascii=False).replace("\\", "")
    assert notebook["metadata"]["vampbook"]["title"] == 'A "quoted" \\ {title} in naïve 日本語'


# -- Markdown --------------------------------------------------------------------------------------------------------
TITLES = ("Blues *in* A", "**loud**", "_low_ tide", "a [link](http://x.example)", "<b>bold</b>", "<script>x</script>",
          "`code`", "~~gone~~", "$x^2$", "&lt; and &#60;", "C #", "# C", "http://x.example", "me@x.example",
          "www.x.example", "![a](b)", "{= Am7 over D7 gives 1 =}", "back\\slash", "\\*", "a = b", "F# blues", "Q & A",
          "a_b_c", "1. one", "[x] done", "<http://x.example>", "[^1]", "two  #", "日本語 *夜*")


@pytest.mark.parametrize("title", TITLES)
def test_a_title_is_no_markup(title: str) -> None:
    """By mistune (BSD-3) with its plugins on: a heading with one run of text, which is the title."""
    source = "".join(new_lesson(Chart.parse("| Gm7 | C9 |"), Choices(title))["cells"][0]["source"])
    parse = mistune.create_markdown(renderer="ast", plugins=["strikethrough", "footnotes", "url", "math", "table"])
    heading = parse(source)[0]
    assert heading["type"] == "heading"
    assert {piece["type"] for piece in heading["children"]} == {"text"}, source
    assert "".join(piece["raw"] for piece in heading["children"]) == " ".join(title.split())
    assert list(marked(source)) == []


@settings(max_examples=40)
@given(st.text(max_size=40))
def test_no_text_is_a_claim(text: str) -> None:
    assert list(marked(as_markdown("{=" + text + "=}"))) == []
    assert list(marked(f"# {as_markdown(text + '{=')}\n\nWords =}}")) == []


# -- moved to another key --------------------------------------------------------------------------------------------
MOVED = {  # source: what a move up by a tone must make of it
    "'Gm7'": "'Am7'", '"Gm7"': '"Am7"', 'r"Gm7"': '"Am7"', "f'Gm7'": "'Am7'", "f'{x:G}'": "f'{x:G}'",
    "f'{g(\"Gm7\")} on'": "f'{g(\"Am7\")} on'", "f'{x} Gm7'": "f'{x} Gm7'", '"G" "m7"': '"Am7"',
    "'title: say \"x\"\\n| Gm7 |'": None,
    '"""title: \\"\\"\\" + x + \\"\\"\\"\n| Gm7 |"""': None,
    "'''title: it's \"\"\"\n| Gm7 |'''": None, "'title: back\\\\slash {x}\\n| Gm7 |'": None,
}


@pytest.mark.parametrize("source", MOVED)
def test_a_moved_text_is_one_text(source: str) -> None:
    lesson = new_lesson(Chart.parse("key: G dorian\n| Gm7 | C9 |"), Choices("Low tide"))
    lesson["cells"][5]["outputs"] = [{"output_type": "display_data", "metadata": {}, "data": {
        CHART_MIME: "key: G dorian\n| Gm7 | C9 |"}}]
    lesson["cells"].append(code_cell("own", f"x = 1\n{source}"))
    new = ast.parse(moved(lesson, Target("A"), 2).cells[-1].source).body[-1]
    assert isinstance(new, ast.Expr)
    if MOVED[source] is not None:
        assert ast.dump(new) == ast.dump(ast.parse(MOVED[source]).body[0])
        return
    old = Chart.parse(ast.literal_eval(source))
    assert isinstance(new.value, ast.Constant)
    assert Chart.parse(new.value.value) == old.transpose(2)
    assert Chart.parse(new.value.value).title == old.title


@pytest.mark.parametrize(("title", "heading"), [("Song in F#", "# Song in G♯ in A dorian"),
                                                ("Wave #", "# Wave \\# in A dorian")])
def test_a_moved_heading_keeps_its_signs(title: str, heading: str) -> None:
    lesson = new_lesson(Chart.parse("key: G dorian\n| Gm7 | C9 |"), Choices(title))
    lesson["cells"][5]["outputs"] = [{"output_type": "display_data", "metadata": {}, "data": {
        CHART_MIME: "key: G dorian\n| Gm7 | C9 |"}}]
    said = moved(lesson, Target("A"), 2).cells[0].source.split("\n")[0]
    assert said == heading
