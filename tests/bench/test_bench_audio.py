"""A backing track of two minutes from chart to encoded file; beside the renderer alone on the same MIDI.

Printed, never asserted. The aim is 25 times real time with the encoding, on two cores.
"""

from __future__ import annotations

import time

import pytest

from theorylib import Chart
from workbook.play import sound
from workbook.play.backing import backing, passes_in
from workbook.play.backing_midi import backing_midi
from workbook.play.sound import encoded, mixed, render_midi, renderer_name


def test_two_minutes(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    chart = Chart.parse("tempo: 112\nfeel: rock\n[A] | Am7 | Fmaj7 | Dm9 | E7#9 |\n[B] | Dm7 | G7 | Cmaj7 | E7b9 |")
    rows = []
    for name in ("SoundFont", "numpy"):
        if name == "SoundFont" and renderer_name() != name:
            continue
        if name == "numpy":
            monkeypatch.setattr(sound, "renderer_name", lambda soundfont=None: "numpy")
        start = time.perf_counter()
        track = backing(chart, passes=passes_in(chart, 2.0))
        made = time.perf_counter()
        audio = mixed(track)
        mix = time.perf_counter()
        data = encoded(audio, "ogg")
        end = time.perf_counter()
        rows.append(f"{name}: track {1000 * (made - start):.0f} ms, mix {track.seconds / (mix - made):.0f} × real "
                    f"time, with Ogg {track.seconds / (end - start):.0f} × (aim 25), {len(data) / 1e6:.1f} MB")
        if name == "SoundFont":
            midi = backing_midi(track)
            start = time.perf_counter()
            render_midi(midi)
            rows.append(f"the renderer alone: {track.seconds / (time.perf_counter() - start):.0f} × real time")
        assert abs(track.seconds - 120) < 15
    with capsys.disabled():
        print("\n" + "\n".join(rows))
