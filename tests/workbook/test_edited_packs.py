"""From the edit of a cell to the pack in three commands: nothing of what the lesson was before is left in any file.

Read by other programs: the PDF by poppler's pdftotext where it is installed, MIDI by mido (MIT), MusicXML as XML.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from html import unescape
from pathlib import Path

import mido
import pytest
from click.testing import CliRunner

from theorylib import Chart
from workbook.cli import main
from workbook.lesson.chosen import KINDS, Choices, with_choices
from workbook.lesson.lesson import Lesson
from workbook.lesson.writing import new_lesson

SOME = KINDS if os.environ.get("VAMPBOOK_EXPLORE") else ("blues",)
OLD = re.compile(r"\bA(m7|\x20?dorian)|\bD9\b|Low tide|(tempo: |tempo = |♩ = )93\b|position 5\b")
EDITS = {"title": "High tide", "changes": "| Ebmaj7 | Cm9 | Fm7 | Bb7 |", "tempo": 121, "feel": "swing",
         "tuning": "half step down"}


def run(*given: str) -> str:
    done = CliRunner().invoke(main, [*given])
    assert done.exit_code == 0, done.output
    return done.output


def everything_said(lesson: Lesson) -> str:
    """Its cells, and what they show but for drawings."""
    shown = [output.text(mime) for output in lesson.outputs for mime in output.data
             if not mime.startswith(("image/", "text/html"))]
    return "\n".join([*(cell.source for cell in lesson.cells), *shown])


@pytest.mark.parametrize("kind", SOME)
def test_an_edited_lesson_gives_a_pack_without_the_old(kind: str, tmp_path: Path,
                                                       monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VAMPBOOK_CACHE", str(tmp_path / "cache"))
    path, out = tmp_path / "tide.ipynb", tmp_path / "build"
    chart = Chart.parse("| Am7 | D9 |", tempo=93)
    lesson = Lesson.of(new_lesson(chart, Choices("Low tide", kind=kind, per_chord=4)))
    with_choices(lesson, EDITS).with_path(path).write()
    assert CliRunner().invoke(main, ["check", "--no-run", str(path)]).exit_code == 1
    run("refresh", str(path))
    assert "nothing false found" in run("check", "--no-run", str(path))
    assert "written for other choices" not in run("build", "--no-run", "--minutes", "0.2", "--out", str(out), str(path))
    assert OLD.search(everything_said(Lesson.read(path))) is None
    pack = out / "tide"
    page = (pack / "lesson.html").read_text(encoding="utf-8")
    said = unescape(re.sub(r"<[^>]+>", " ", page[page.index('<main id="lesson"'):page.index("</main>")]))
    assert OLD.search(said) is None
    assert "♩ = 121" in said
    if shutil.which("pdftotext"):
        paper = subprocess.run(["pdftotext", "-layout", str(pack / "handout.pdf"), "-"], capture_output=True,
                               text=True, check=True).stdout
        assert OLD.search(paper) is None
        assert "E♭maj7" in paper
    for name in ("lesson.mid", "backing.mid"):
        messages = [message for track in mido.MidiFile(pack / name).tracks for message in track]
        tempos = [round(mido.tempo2bpm(message.tempo)) for message in messages if message.type == "set_tempo"]
        if name == "lesson.mid":
            assert set(tempos) - {80} == {121}, "but for the bends, whose drill has a slow tempo of its own"
        else:
            assert tempos[0] == 121
            assert tempos == sorted(tempos, reverse=True), "at its end a band may slow down"
        texts = " ".join(message.text for message in messages if message.type in ("marker", "text"))
        names = " ".join(message.name for message in messages if message.type == "track_name")
        assert OLD.search(f"{texts} {names}") is None
    score = ElementTree.parse(pack / "lesson.musicxml").getroot()
    roots = {node.text for node in score.iter("root-step")}
    assert roots == {"E", "C", "F", "B"}
    assert OLD.search(" ".join(filter(None, score.itertext()))) is None
    assert OLD.search(json.dumps(dict(Lesson.read(path).metadata), ensure_ascii=False)) is None
