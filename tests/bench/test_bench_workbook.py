"""Drawing, engraving and building: figures printed, each ratio against a named peer in the same run."""

from __future__ import annotations

import os
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
EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))  # more rounds, for figures to go by


def median_ms(run, times: int = 3 + EXPLORE * 4) -> float:
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
    with capsys.disabled():
        print(f"\nneck: SVG {svg:.2f} ms, matplotlib {plot:.0f} ms: {plot / svg:.0f} times"
              f"\nscore: 2 bars {median_ms(lambda: score(two)):.0f} ms, "
              f"64 bars {median_ms(lambda: score(long), 3):.0f} ms"
              f"\nhandout: warm PDF of 4 pages {median_ms(lambda: handout_pdf(lesson)):.0f} ms (aim 150)"
              f"\nMIDI of 64 bars {median_ms(lambda: midi_bytes([long]), 3):.0f} ms, "
              f"MusicXML {median_ms(lambda: musicxml_text([long]), 3):.0f} ms")


def test_a_pack_from_stored_outputs(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """One lesson's pack by the command, beside nbconvert's page of the same lesson, which plays nothing.

    nbconvert is spared the parser that would take half of its time (workbook/running/nbformat_quickly.py).
    Modules are compiled, as an installation has them, whatever the environment says of that. With an empty cache
    folder, and then with the sounds that the first build kept, as when words were mended.
    """
    lesson = str(ROOT / "lessons" / "slack-water.ipynb")
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}

    def seconds(name: str, *command: str) -> float:
        env = {**environment, "VAMPBOOK_CACHE": str(tmp_path / name)}
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", *command], cwd=ROOT, env=env, check=True, capture_output=True)
        return time.perf_counter() - start

    def build(out: str, cache: str) -> float:
        return seconds(cache, "workbook", "build", "--no-run", "-q", "--out", str(tmp_path / out), lesson)

    page = ("workbook.lab.server", "nbconvert", "--to", "html", "--output-dir", str(tmp_path / "page"), lesson)
    build("first", "first")
    seconds("page", *page)
    peer = min(seconds("page", *page) for _ in range(1 + EXPLORE * 2))
    cold = min(build(f"cold{number}", f"cache{number}") for number in range(1 + EXPLORE * 2))
    warm = min(build(f"warm{number}", "first") for number in range(1 + EXPLORE * 2))
    with capsys.disabled():
        print(f"\na pack from stored outputs: empty cache {cold:.2f} s (aim 1.5), sounds kept {warm:.2f} s; "
              f"nbconvert's page {peer:.2f} s: {peer / cold:.1f} and {peer / warm:.1f} times")
    assert (tmp_path / "warm0" / "slack-water" / "lesson.html").read_bytes() == (
        tmp_path / "cold0" / "slack-water" / "lesson.html").read_bytes()
