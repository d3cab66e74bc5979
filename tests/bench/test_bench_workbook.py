"""Drawing, engraving and building: figures printed, each ratio against a named peer in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.music import arpeggio

from workbook.draw.neck import plot_neck
from workbook.draw.score import score
from workbook.exchange.musicxml import musicxml_text
from workbook.handouts.pdf import handout_pdf
from workbook.play.smf import midi_bytes

ROOT = Path(__file__).resolve().parents[2]


def median_ms(run, times: int = 7) -> float:
    run()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append((time.perf_counter() - start) * 1000)
    return statistics.median(found)


def test_figures(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from matplotlib.figure import Figure

    def plotted() -> None:
        figure = Figure()
        plot_neck("G dorian", over="Gm7", ax=figure.subplots())
        figure.savefig(tmp_path / "a.svg")

    lesson = ROOT / "lessons" / "lantern-stairs.ipynb"
    two, long = arpeggio("| Gm7 | C9 |", 3), arpeggio("| Gm7 | C9 | Fmaj7 | D7 |\n" * 16, 3)
    svg, plot = median_ms(lambda: plot_neck("G dorian", over="Gm7")), median_ms(plotted, 3)
    build = [sys.executable, "-m", "workbook.cli", "build", "--no-run", "-q", "--out", str(tmp_path), str(lesson)]
    cold = [sys.executable, "-c", "import sys; from workbook.cli import main; main(sys.argv[1:])", *build[3:]]
    start = time.perf_counter()
    subprocess.run(cold, cwd=ROOT, check=True)
    built = time.perf_counter() - start
    with capsys.disabled():
        print(f"\nneck: SVG {svg:.2f} ms, matplotlib {plot:.0f} ms: {plot / svg:.0f} times"
              f"\nscore: 2 bars {median_ms(lambda: score(two)):.0f} ms, "
              f"64 bars {median_ms(lambda: score(long), 3):.0f} ms"
              f"\nhandout: warm PDF of 4 pages {median_ms(lambda: handout_pdf(lesson)):.0f} ms (aim 150)"
              f"\nMIDI of 64 bars {median_ms(lambda: midi_bytes([long]), 3):.0f} ms, "
              f"MusicXML {median_ms(lambda: musicxml_text([long]), 3):.0f} ms"
              f"\ncold build from stored outputs {built:.2f} s (aim 1.5)")
