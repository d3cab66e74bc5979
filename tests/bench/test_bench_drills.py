"""Every drill over 32 bars with its fingering, and the engraving of 32 bars; beside what music21 and Verovio take.

Printed, never asserted. The peers in the same run: music21 building the same notes as a stream, and Verovio alone
engraving the MEI (the rest is our own writing, reading back and overlay).
"""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from support.drills import BLUES, DRILLS, MINOR

from theorylib import Chart, Scale, Tuning, finger
from workbook.draw.engrave import toolkit
from workbook.draw.mei import mei_of
from workbook.draw.score import score


def best_ms(run: Callable[[], object], count: int = 3) -> float:
    found = []
    for _ in range(count):
        start = time.perf_counter()
        run()
        found.append((time.perf_counter() - start) * 1000)
    return min(found)


def thirty_two_bars() -> Chart:
    bars = " | ".join([MINOR.strip("| ")] * 5 + [BLUES.strip("| ")])
    return Chart.parse(f"key: C minor\ntempo: 96\n| {bars} |")


def test_drills_and_engraving(capsys: pytest.CaptureFixture[str]) -> None:
    from music21 import note as m21_note
    from music21 import stream

    chart, scale, tuning = thirty_two_bars(), Scale.parse("C minor pentatonic"), Tuning.parse("standard")
    assert len(chart.order) == 32
    rows = []
    for name, make in DRILLS.items():
        def run(make=make):
            line = make(chart, scale, tuning)
            return finger(line, tuning, line.position)

        rows.append((best_ms(run), name, len(run().notes)))
    line = finger(DRILLS["continuous arpeggio"](chart, scale, tuning), tuning, 5)

    def build() -> object:
        part = stream.Part()
        for one in line.notes:
            made = m21_note.Note(one.pitch.midi, quarterLength=one.duration_beats)
            part.insert(one.onset_beats, made)
        return part

    ours, theirs = best_ms(lambda: score(line)), None
    music = mei_of(line)

    def verovio() -> object:
        engraver = toolkit()
        engraver.loadData(music.text)
        return engraver.renderToSVG(1)

    theirs = best_ms(verovio)
    rows.sort(reverse=True)
    peer = best_ms(build)
    with capsys.disabled():
        print(f"\n32 bars with fingering: slowest {rows[0][1]} {rows[0][0]:.0f} ms ({rows[0][2]} notes; aim 100), "
              f"median {rows[len(rows) // 2][0]:.0f} ms; music21 takes {peer:.0f} ms to build {len(line.notes)} notes")
        print(f"engraving 32 bars of eighths: {ours:.0f} ms (aim 500), {ours / theirs:.2f} times Verovio alone")
