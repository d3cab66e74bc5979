"""The notebook's player and the audio of a pack, read back with soundfile (BSD-3)."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from support.lab import ROOT
from support.short import write_short

from theorylib import Chart
from workbook.cli import main
from workbook.handouts.tree import tree_of
from workbook.kit import arpeggio_drill, listen
from workbook.play.player import Player
from workbook.play.sound import SoundError

LESSON = ROOT / "lessons" / "gravel-drive.ipynb"


def heard(player: Player) -> tuple[np.ndarray, int]:
    audio, rate = soundfile.read(io.BytesIO(player.encoded("flac")), always_2d=True)
    return audio, rate


def test_a_chart_and_a_line_can_be_heard() -> None:
    chart = listen("tempo: 120\n| Am7 | D7 |")
    audio, rate = heard(chart)
    # A count-in bar, two passes of two bars, the ending's bar and two seconds to die away: 6 bars at 2 s, and 2 s.
    assert len(audio) / rate == pytest.approx(14, abs=0.05)
    assert chart.seconds == pytest.approx(14, abs=0.05)
    drill = arpeggio_drill("tempo: 120\n| Am7 | D7 |", 5)
    over, alone = drill.listen(), drill.listen(over_backing=False, click=False)
    assert len(heard(over)[0]) == len(heard(alone)[0])
    quick = drill.listen(tempo=240)
    assert quick.seconds - 2 == pytest.approx((over.seconds - 2) / 2, abs=0.05)
    assert np.abs(heard(alone)[0]).max() > 0.05


def test_what_a_cell_shows() -> None:
    bundle = listen(Chart.parse("title: Low tide\n| Am7 |"), passes=1)._repr_mimebundle_()
    html = bundle["text/html"]
    assert html.count("<audio controls") == 1
    assert "autoplay" not in html
    assert "Keep the volume moderate" in html
    data = base64.b64decode(html.split("base64,")[1].split('"')[0])
    assert len(soundfile.read(io.BytesIO(data))[0]) > 0
    assert "Low tide" in bundle["text/plain"]


def test_a_player_is_not_printed() -> None:
    bundle = listen("| Am7 |", passes=1)._repr_mimebundle_()
    output = {"output_type": "execute_result", "data": bundle, "metadata": {}, "execution_count": 1}
    notebook = {"metadata": {}, "nbformat": 4, "nbformat_minor": 5, "cells": [
        {"cell_type": "markdown", "id": "a", "metadata": {}, "source": "# Low tide"},
        {"cell_type": "code", "id": "b", "metadata": {}, "source": "listen(chart)", "outputs": [output],
         "execution_count": 1}]}
    assert "audio" not in str(tree_of(notebook))
    assert "Am7" not in str(tree_of(notebook))


def test_a_player_saves_its_file(tmp_path: Path) -> None:
    path = listen("| Am7 |", passes=1).save(tmp_path / "groove.wav")
    assert (soundfile.info(path).samplerate, soundfile.info(path).format) == (48_000, "WAV")


def test_a_file_is_in_the_form_that_its_ending_names(tmp_path: Path) -> None:
    player = listen("| Am7 |", passes=1)
    assert [soundfile.info(player.save(tmp_path / f"groove.{ending}")).format for ending in ("flac", "OGG", "mp3")] == [
        "FLAC", "OGG", "MP3"]
    with pytest.raises(SoundError, match=r"“m4a” is no ending of an audio file; expected wav, flac, ogg, mp3"):
        player.save(tmp_path / "groove.m4a")
    assert not (tmp_path / "groove.m4a").exists()


def test_build_renders_the_track_and_its_stems(tmp_path: Path) -> None:
    lesson = write_short(tmp_path)
    done = CliRunner().invoke(main, ["build", "--no-run", "--audio", "flac", "--minutes", "0.3", "--stems",
                                     "--tempo-step", "4", "--out", str(tmp_path), str(lesson)])
    assert done.exit_code == 0, done.output
    pack = tmp_path / lesson.stem
    names = {path.name for path in pack.glob("backing*")}
    assert names == {"backing.mid", "backing.flac", "backing-drums.flac", "backing-bass.flac", "backing-comping.flac",
                     "backing-click.flac"}
    lengths = {soundfile.info(path).frames for path in pack.glob("*.flac")}
    assert len(lengths) == 1, "stems lie over each other"


def test_a_soundfont_that_is_not_there_is_named(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["build", "--no-run", "--audio", "ogg", "--soundfont", "mine.sf2", "--out",
                                     str(tmp_path), str(LESSON)])
    assert done.exit_code == 1
    assert "mine.sf2" in done.output
    assert not list(tmp_path.iterdir())
