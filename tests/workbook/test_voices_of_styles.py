"""Who plays a style, and how loud: brushes and sticks, the comper's instrument, the balance of the parts.

In CI two styles are rendered, all with VAMPBOOK_EXPLORE=1. Programs are General MIDI 1's, the brush set and its swirl
General MIDI 2's (program 41, key 40); loudness is ITU-R BS.1770 by pyloudnorm (MIT). Balances are common practice, no
source: bass and drums carry, comping lies behind them, a click is under everybody.
"""

from __future__ import annotations

import io
import json
import os
import re
from dataclasses import replace

import mido
import pytest
from support.band import CHARTS
from support.music import arpeggio

from theorylib import Chart
from workbook.draw.score import score
from workbook.handouts.page import lesson_page
from workbook.handouts.practice import MUTE
from workbook.play.backing import BASS, CLICK, COMP, DRUMS, backing
from workbook.play.backing_midi import backing_midi
from workbook.play.band import Band
from workbook.play.levels import loudness
from workbook.play.sound import mixed, renderer_name
from workbook.play.style import StyleError
from workbook.play.style_text import read_style, style_named, style_names, style_text

ALL = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SWIRL = 40
LEVELS = {DRUMS: (-9, -3), BASS: (-5.5, -1), COMP: (-10.5, -5.5), CLICK: (-16, -9.5)}  # LU under the three together


def programs(style: str) -> dict[int, list[int]]:
    """The programs that a style's MIDI file sets, by channel."""
    track = backing("| Am7 | D7 | Am7 | D7 |", Band(style=style), passes=2, click=True)
    found: dict[int, list[int]] = {}
    for message in mido.MidiFile(file=io.BytesIO(backing_midi(track))):
        if message.type == "program_change":
            found.setdefault(message.channel, []).append(message.program)
    return found


@pytest.mark.parametrize(("style", "kit", "comping"), [
    ("ballad", 40, 4), ("waltz", 40, 4), ("rock", 0, 27), ("swing", 0, 4), ("compound", 0, 16), ("half-time", 0, 89)])
def test_a_style_has_its_kit_and_its_comper(style: str, kit: int, comping: int) -> None:
    """The click, which has the drums' channel, sets up nothing there: once, and the drums' own."""
    found = programs(style)
    assert found[9] == [kit]
    assert found[11] == [comping]


def test_the_drums_of_another_style_keep_their_kit() -> None:
    track = backing("| Am7 | D7 |", Band(style="rock", drums="ballad"), passes=2)
    assert (track.voice(DRUMS), track.voice(COMP)) == ("Brushed drums", "Comping guitar")
    assert SWIRL in {hit.midi for hit in track.of(DRUMS)}


@pytest.mark.parametrize("style", ["ballad", "waltz"])
def test_brushes_sweep(style: str) -> None:
    meter = "3/4" if style == "waltz" else "4/4"
    chart = Chart.parse("[A] | Am7 | D7 | Am7 | D7 |", meter=meter)
    track = backing(chart, Band(style=style, density="main"), passes=4)
    swept = {hit.start_beats // track.chart.bar_beats for hit in track.of(DRUMS) if hit.midi == SWIRL}
    assert len(swept) >= 15, "in every bar of sixteen, but perhaps one that a fill takes"


def test_sticks_do_not_sweep() -> None:
    text = style_text(style_named("ballad"))
    with pytest.raises(StyleError, match=r"line \d+: a sweep with sticks; expected “kit: brushes”"):
        read_style(text.replace("kit: brushes\n", ""))
    with pytest.raises(StyleError, match="sticks, brushes"):
        read_style(text.replace("kit: brushes", "kit: broom"))


def test_the_page_has_brushes_for_a_waltz_and_its_hats_stop_each_other() -> None:
    def data(meter: str) -> dict[str, list[list[float]]]:
        drawn, about = score(arpeggio(f"meter: {meter}\n| Gm7 | C9 |", 3))._repr_mimebundle_()
        output = {"output_type": "execute_result", "data": drawn, "metadata": about}
        cells = [{"cell_type": "code", "metadata": {}, "source": "1", "outputs": [output]}]
        page = lesson_page({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}, MUTE)
        found = re.search(r'id="practice-data">(.*?)</script>', page)
        assert found is not None
        return dict(json.loads(found[1]))

    waltz, straight = data("3/4"), data("4/4")
    assert waltz["chokes"], "the pedal hat"
    assert straight["chokes"]
    assert len(waltz["samples"]) < 80


@pytest.mark.skipif(renderer_name() != "SoundFont", reason="no SoundFont renderer on this machine")
@pytest.mark.parametrize("style", style_names() if ALL else ("waltz", "funk"))
def test_the_parts_of_a_style_are_in_balance(style: str) -> None:
    chart = Chart.parse(CHARTS[5], meter={"waltz": "3/4", "compound": "12/8"}.get(style, "4/4"), tempo=110)
    feel = style if style not in ("waltz", "compound") else "straight 8"
    track = backing(replace(chart, feel=feel), Band(style=style, density="main"), passes=1, click=True)
    band = loudness(mixed(track, parts=[DRUMS, BASS, COMP], level=False))
    for part, (least, most) in LEVELS.items():
        under = loudness(mixed(track, parts=[part], level=False)) - band
        assert least <= under <= most, (part, round(under, 1))
