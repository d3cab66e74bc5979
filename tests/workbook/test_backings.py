"""A backing as a lesson's cell says it: its plan in text and drawn, what is refused, and the track of its pack.

Tracks are read back with mido (MIT); audio with soundfile (BSD-3).
"""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from support.short import short_lesson

from theorylib import Chart, VampError
from workbook.cells.backings import BackingTrack, backing
from workbook.checking.usable import check_usable
from workbook.cli import main
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import MUTE
from workbook.handouts.tracks import Sound, track_files
from workbook.lesson.lesson import Lesson
from workbook.mimes import BACKING_MIME
from workbook.play.backing import COMP, DRUMS
from workbook.play.band import USUAL, Band, band_of
from workbook.play.kept import kept_text, read_kept
from workbook.play.style_text import copied_text, read_style, style_named

FORM = "title: Gravel\ntempo: 120\nfeel: rock\n[A] | Am | F | C | G |\n[B] | F | G | Am | Am |"
MINE = copied_text("funk").replace("style: funk", "style: quarry")


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A teacher's own copy of a style in the folder of the lesson, which is where its cells run."""
    monkeypatch.chdir(tmp_path)
    Path("mine.txt").write_text(MINE, encoding="utf-8")
    return "mine.txt"


def lesson_with(*tracks: BackingTrack) -> Lesson:
    """A short lesson with a run cell for each of some backings."""
    notebook: dict[str, Any] = json.loads(short_lesson())
    for number, track in enumerate(tracks):
        data, about = track._repr_mimebundle_()
        output = {"output_type": "execute_result", "execution_count": 1, "data": data, "metadata": about}
        notebook["cells"].append({"cell_type": "code", "id": f"mine-{number}", "metadata": {}, "execution_count": 1,
                                  "source": "backing(chart)", "outputs": [output]})
    return Lesson.of(notebook)


def played(data: bytes) -> dict[str, int]:
    """The notes of each track of a MIDI file."""
    file = mido.MidiFile(file=io.BytesIO(data))
    return {track.name: sum(one.type == "note_on" for one in track) for track in file.tracks}


# -- the cell --------------------------------------------------------------------------------------------------------
def test_a_cell_says_the_plan_by_section() -> None:
    made = backing(FORM, density="light, stop, full", choruses=3, intro=2, tag=2, comp="funk", without="bass")
    said = repr(made).splitlines()
    # A bar of count-in and two of intro, three choruses of eight, two of tag, one to end: thirty of two seconds.
    assert said[0] == "Backing: Gravel, rock · comp funk · without bass · ♩ = 120 · 1:00"
    assert [row.split()[:3] for row in said[1:7]] == [
        ["bars", "1–2", "intro"], ["bars", "3–10", "A"], ["bars", "11–18", "A"], ["bars", "19–26", "A"],
        ["bars", "27–28", "tag"], ["bar", "29", "ending"]]
    assert [len(re.findall("[▁-█╎○]", row)) for row in said[1:7]] == [2, 8, 8, 8, 2, 1], "a sign a bar"
    assert {hit.part for hit in made.track.hits} == {DRUMS, COMP, "Click"}


def test_the_plan_is_drawn_with_a_sign_for_each_bar_and_told() -> None:
    picture = backing(FORM, choruses=3, without="comp").picture()
    root = ElementTree.fromstring(picture.svg)
    bars = [one for one in root.iter("{http://www.w3.org/2000/svg}rect") if float(one.get("height", "0")) < 30]
    assert len(bars) == 25
    assert "bars 17–24, A B, full, a crash in bar 17, a fill in bars 20, 24" in picture.alt
    assert picture.text.startswith("Backing: Gravel")


@pytest.mark.parametrize(("words", "expected"), [
    ({"stile": "funk"}, "did you mean style"), ({"style": "fnuk"}, "style=.*did you mean funk"),
    ({"comp": "wals"}, "comp=.*did you mean waltz"), ({"style": "mien.txt"}, "there is no mien.txt.*mine.txt"),
    ({"style": "mine"}, "did you mean mine.txt"),
    ({"style": "bad.txt"}, "bad.txt, line 2.*1 to 6"), ({"density": "lihgt"}, "did you mean light"),
    ({"density": "main, fulll"}, "did you mean full"), ({"density": None}, "row of choruses"),
    ({"choruses": 0}, "choruses of 0.*1 to 400"), ({"choruses": 2.5}, "choruses of 2.5"), ({"intro": 40}, "0 to 16"),
    ({"tag": -1}, "tag of -1"), ({"ending": "no"}, "True or False"), ({"loop": 1}, "True or False"),
    ({"without": "bas"}, "did you mean bass"), ({"without": "bass, drums, comp"}, "one part at least"),
    ({"without": 7}, "part"), ({"groups": "2+3"}, "2\\+3"), ({"choruses": 400}, "1 to 2000 bars"),
])
def test_what_cannot_be_played_is_refused_in_its_cell(mine: str, words: dict[str, Any], expected: str) -> None:
    Path("bad.txt").write_text("style: bad\nsteps: 9\n", encoding="utf-8")
    with pytest.raises(VampError, match=expected):
        backing(FORM, **words)


def test_of_a_short_form_eight_bars_make_a_chorus() -> None:
    """Two bars four times over; twelve bars are a chorus as they are."""
    assert backing("| Am7 | D7 |", choruses=3, ending=False).track.length_beats == 3 * 8 * 4
    twelve = "| A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7 |"
    assert backing(twelve, choruses=3, ending=False).track.length_beats == 3 * 12 * 4


def test_a_loop_leaves_out_what_is_not_a_chorus() -> None:
    track = backing(FORM, choruses=2, intro=2, tag=2, loop=True).track
    assert {slot.kind for slot in track.plan.slots} == {"chorus"}
    assert (track.count_in_beats, track.length_beats, track.seconds) == (0, 64, 32)


# -- what is kept ----------------------------------------------------------------------------------------------------
def test_what_an_output_keeps_reads_back(mine: str) -> None:
    band = band_of({"style": mine, "bass": "rock", "density": "main", "choruses": 2, "intro": 1, "ending": False,
                    "without": ["comp"]})
    chart, kept = read_kept(kept_text(Chart.parse(FORM), band))
    assert chart == Chart.parse(FORM)
    assert kept == band.settled()
    assert kept.style_for(chart) == read_style(MINE), "the file is no longer needed"
    assert json.loads(kept_text(chart, USUAL))["band"] == {}


@pytest.mark.parametrize("text", [
    "", "[]", "{}", '{"changes": 7, "band": {}}', '{"changes": "| Zz |", "band": {}}',
    '{"changes": "| Am |", "band": []}', '{"changes": "| Am |", "band": {"stile": "funk"}}',
    '{"changes": "| Am |", "band": {"style": "/tmp/any.txt"}}', '{"changes": "| Am |", "band": {"parts": 7}}',
    '{"changes": "| Am |", "band": {"style": ["rock"]}}', '{"changes": "| Am |", "band": {"choruses": "many"}}',
])
def test_what_no_backing_keeps_is_refused(text: str) -> None:
    with pytest.raises(VampError):
        read_kept(text)


def test_a_stored_backing_that_cannot_be_read_is_found_with_its_cell() -> None:
    lesson = lesson_with(backing(FORM))
    spoilt = json.loads(lesson.text)
    spoilt["cells"][-1]["outputs"][0]["data"][BACKING_MIME] = '{"changes": "| Am |", "band": {"density": "loud"}}'
    (finding,) = [one for one in check_usable(Lesson.of(spoilt)) if "pack does not build" in str(one)]
    assert re.search(f"cell {len(spoilt['cells'])}.*“loud”", str(finding))


# -- the pack --------------------------------------------------------------------------------------------------------
def test_a_pack_has_the_lessons_own_track(mine: str) -> None:
    own = backing(FORM, style=mine, choruses=2, without="bass", tag=2)
    files = track_files(lesson_with(own), Sound())
    assert list(files) == ["backing.mid"]
    notes = played(files["backing.mid"])
    assert {"Drums", "Comping"} <= set(notes)
    assert "Bass" not in notes
    usual = played(track_files(lesson_with(backing(FORM, choruses=2, tag=2)), Sound())["backing.mid"])
    assert notes["Drums"] != usual["Drums"]
    length = mido.MidiFile(file=io.BytesIO(files["backing.mid"])).length
    assert length == pytest.approx(own.track.seconds, abs=1)


def test_two_backings_are_two_tracks() -> None:
    files = track_files(lesson_with(backing(FORM, choruses=1), backing("| Dm7 | G7 |", choruses=1)), Sound())
    assert list(files) == ["backing.mid", "backing-2.mid"]
    assert files["backing.mid"] != files["backing-2.mid"]


def test_what_the_command_says_stands_in_the_place_of_the_lesson() -> None:
    lesson = lesson_with(backing(FORM, style="funk", choruses=3, without="bass"))
    asked = Sound("flac", stems=True, band=band_of({"choruses": 1, "loop": True, "without": ("comp",)}))
    files = track_files(lesson, asked)
    assert list(files) == ["backing.mid", "backing.flac", "backing-drums.flac", "backing-bass.flac"]
    audio, rate = soundfile.read(io.BytesIO(files["backing.flac"]))
    assert len(audio) == round(16 * rate), "eight bars of two seconds, to the sample"
    parts = [soundfile.read(io.BytesIO(files[f"backing-{part}.flac"]))[0] for part in ("drums", "bass")]
    assert np.abs(audio - sum(parts)).max() < 1e-3
    assert Band(style="rock").over(Band(style="funk", intro=2)) == Band(style="rock", intro=2)


def test_minutes_that_the_command_asks_for_win() -> None:
    lesson = lesson_with(backing(FORM, choruses=3))
    lengths = [mido.MidiFile(file=io.BytesIO(track_files(lesson, Sound(minutes=minutes))["backing.mid"])).length
               for minutes in (None, 2.0)]
    assert lengths == [pytest.approx(3 * 16 + 4, abs=1), pytest.approx(120 + 4, abs=9)]


def test_the_page_plays_the_lessons_style() -> None:
    """The practice page's own backing under a drill: of a shuffle it hears another band than of rock."""
    def beats(lesson: Lesson) -> list[Any]:
        page = lesson_page(lesson, MUTE)
        data = re.search(r'id="practice-data">(.*?)</script>', page)
        assert data is not None
        return [row[:2] for line in json.loads(data[1])["lines"] for row in line["backing"]]

    assert beats(lesson_with(backing(FORM, style="shuffle"))) != beats(lesson_with(backing(FORM, style="rock")))


def test_the_command_lists_prints_and_reads_styles(mine: str) -> None:
    def said(*words: str) -> tuple[int, str]:
        done = CliRunner().invoke(main, ["styles", *words])
        return done.exit_code, done.output

    assert "latin straight" in said()[1].splitlines()
    assert said("rock") == (0, copied_text("rock"))
    assert said("mine.txt") == (0, "mine.txt: quarry, nothing wrong\n")
    assert said("rock", "--out", "own.txt") == (0, "own.txt\n")
    assert Path("own.txt").read_text(encoding="utf-8") == copied_text("rock")
    assert said("funk", "--out", "own.txt")[0] == 1, "what is there stays"
    assert read_style(Path("own.txt").read_text(encoding="utf-8")).name == "rock"
    assert said("funk", "--out", "own.mid")[0] == 2
    Path(mine).write_text(MINE.replace("steps: 4", "steps: 40"), encoding="utf-8")
    status, words = said("mine.txt")
    assert status == 1
    assert re.search(r"mine.txt, line \d+: “40” after “steps:”; expected a whole number from 1 to 6", words)


def test_a_command_takes_minutes_or_choruses(tmp_path: Path) -> None:
    (tmp_path / "any.ipynb").write_text(short_lesson(), encoding="utf-8")
    done = CliRunner().invoke(main, ["build", str(tmp_path), "--minutes", "2", "--choruses", "3"])
    assert (done.exit_code, "one of the two" in done.output) == (2, True)
    done = CliRunner().invoke(main, ["build", str(tmp_path), "--style", "fnuk"])
    assert (done.exit_code, "style=: “fnuk” is no style" in done.output, "funk" in done.output) == (1, True, True)


def test_a_copy_of_a_style_is_the_style_with_its_signs_told() -> None:
    text = copied_text("rock")
    assert read_style(text) == style_named("rock")
    assert "x a dead note" in text
    with pytest.raises(VampError, match="did you mean rock"):
        copied_text("rok")
