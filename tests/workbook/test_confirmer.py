"""The panel that confirms a recording: every step as a person would ask it, and the text that is kept beside it.

The recording is a short one of the tests' own band; what is right is known from what was played.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from support.recordings import RATE, TRACKS, Played, play

from theorylib import Chart
from workbook.kit import confirm, hear
from workbook.listen.confirming import Confirming, confirming
from workbook.listen.hearing import Listened, listen_to
from workbook.listen.recording import ListenError, of_samples
from workbook.listen.wishes import wishes
from workbook.media.grid_text import grid_path, read_bars
from workbook.widgets.confirmer import Confirmer

TRACK = next(one for one in TRACKS if one.name == "minor groove")


@pytest.fixture(scope="module")
def played() -> Played:
    return play(replace(TRACK, passes=-(-12 // len(TRACK.changes.split("|")))))


@pytest.fixture(scope="module")
def listened(played: Played) -> Listened:
    return listen_to(of_samples(played.audio, RATE, "groove"))


@pytest.fixture(scope="module")
def begun(listened: Listened) -> Confirming:
    return confirming(listened).at_tempo(TRACK.tempo)


def first(begun: Confirming) -> tuple[int, float]:
    return begun.chords[0].bar, begun.chords[0].share


def test_a_picked_chord_stands_in_the_chart_and_is_asked_no_more(begun: Confirming) -> None:
    bar, share = first(begun)
    after = begun.picked(bar, share, "Bbmaj7")
    assert str(after.chart.chord_at(0)) == "Bbmaj7"
    assert bar not in after.unsure
    assert str(begun.chart.chord_at(0)) != "Bbmaj7", "a step changes nothing before it"
    again = confirming(after.listened, after.text)
    assert str(again.chart.chord_at(0)) == "Bbmaj7"
    assert again.edges == pytest.approx(after.edges, abs=0.001)
    assert set(again.unsure) <= set(after.unsure)
    with pytest.raises(ListenError, match="no chord begins"):
        begun.picked(bar, 0.37, "C")
    with pytest.raises(Exception, match="Xyz"):
        begun.picked(bar, share, "Xyz")


def test_a_bar_that_is_right_and_a_section_that_begins_there(begun: Confirming) -> None:
    every = begun
    for bar in range(begun.heard.chart.form_bars):
        every = every.confirmed(bar)
    assert every.unsure == ()
    assert "# ?" not in every.text
    marked = every.sectioned(0, " Verse  one ").sectioned(1, "Turn")
    assert [section.name for section in Chart.parse(marked.text).sections] == ["Verse one", "Turn"]
    assert "Turn" not in marked.sectioned(1, "").text
    with pytest.raises(ListenError, match="cannot name"):
        every.sectioned(0, "A | B")
    with pytest.raises(ListenError, match="no bar 9"):
        every.sectioned(8, "C")


def test_the_grid_moves_as_a_whole_and_by_one_line(begun: Confirming) -> None:
    bar, share = first(begun)
    before = np.array(begun.edges)
    after = begun.picked(bar, share, "Bbmaj7").shifted(0.01)
    assert np.array(after.edges) - before == pytest.approx(0.01, abs=1e-6)
    assert str(after.chart.chord_at(0)) == "Bbmaj7", "what was picked stays"
    line = begun.dragged(2, before[2] + 0.05)
    assert np.array(line.edges) - before == pytest.approx([0, 0, 0.05, *[0] * (len(before) - 3)], abs=1e-6)
    assert begun.dragged(2, before[3] + 9).edges[2] < before[3], "no line passes the next"
    assert begun.dragged(2, 0.0).edges[2] > before[1], "nor the one before"
    assert begun.dragged(len(before) - 1, before[-1] + 0.2).edges[-1] == pytest.approx(before[-1] + 0.2, abs=1e-6)
    with pytest.raises(ListenError, match="no bar line"):
        begun.dragged(len(before), 3.0)
    with pytest.raises(ListenError, match="before the recording"):
        begun.shifted(-before[0] - 0.01)


def test_tempo_meter_and_first_bar_are_heard_anew(begun: Confirming, played: Played) -> None:
    half = begun.at_tempo(begun.heard.tempo / 2)
    assert half.heard.tempo == pytest.approx(TRACK.tempo / 2, rel=0.02)
    beat = (begun.edges[1] - begun.edges[0]) / 4
    later = begun.first_at(begun.edges[0] + beat)
    assert later.edges[0] == pytest.approx(begun.edges[0] + beat, abs=0.03)
    assert str(begun.in_meter("3/4").heard.meter) == "3/4"
    assert str(begun.in_key("F minor").heard.keys[0]) == "F minor"
    assert begun.in_key("F minor").edges == pytest.approx(begun.edges, abs=1e-6)
    right = begun.first_at(played.downbeats[0])
    heard = np.array(right.edges[:-1])
    assert np.abs(heard - played.downbeats[:len(heard)]).max() < 0.03


# -- the panel and its file ------------------------------------------------------------------------------------------
@pytest.fixture
def panel(tmp_path: Path, played: Played) -> tuple[Confirmer, list[Any]]:
    soundfile.write(tmp_path / "groove.wav", played.audio, RATE)
    found = confirm(str(tmp_path / "groove.wav"))
    answers: list[Any] = []
    found.send = lambda content, buffers=None: answers.append((content, buffers))  # type: ignore[method-assign]
    return found, answers


def test_what_is_confirmed_is_kept_and_redone(panel: tuple[Confirmer, list[Any]]) -> None:
    found, answers = panel
    path = grid_path(found.track)

    def ask(kind: str, **about: Any) -> dict[str, Any]:
        found._asked(None, {"ask": kind, "number": len(answers), **about}, None)
        return dict(answers[-1][0])

    assert not path.exists(), "nothing is written unasked"
    edge = found.stands["bars"][0]
    told = ask("shift", seconds=0.012)["told"]
    assert told["bars"][0] == pytest.approx(edge + 0.012, abs=0.0011)
    ask("section", bar=0, name="Head")
    assert (found.stands["undo"], found.stands["saved"]) == (2, False)
    assert "no chord begins" in ask("chord", bar=99, share=0, chord="C")["problem"]["says"]
    assert "cannot be done" in ask("nonsense")["problem"]["says"]
    assert found.stands["undo"] == 2, "what was refused changes nothing"
    assert ask("save")["told"]["saved"]
    kept = path.read_text(encoding="utf-8")
    assert kept == found.text
    assert confirm(found.track).stands["sections"][0] == "Head"
    assert confirm(found.track).stands["bars"] == pytest.approx(found.stands["bars"], abs=0.001)
    assert wishes(chart=kept).bars == read_bars(kept), "hear takes the bars as they were confirmed"
    assert hear(found.track, chart=kept).heard.first_bar_seconds == pytest.approx(edge + 0.012, abs=0.002)
    assert ask("undo")["told"]["sections"][0] != "Head"
    ask("save")
    assert path.with_name("groove.grid.txt.1").read_text(encoding="utf-8") == kept, "what was there stays beside"
    found._send_sound(7)
    (said, (mp3,)) = answers[-1]
    assert said["told"]["seconds"] == pytest.approx(found.stands["seconds"], abs=0.01)
    assert len(mp3) > 10_000
