"""A lesson over a recording made of numbers: clicks on beats that drift, over a tone, all of it known beforehand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from support.practice_pages import notebook

from workbook.lesson.lesson import Lesson
from workbook.media.grid_text import bars_text

RATE = 48_000
A4 = 440.0
BARS, BAR_BEATS = 9, 4


def click(rate: int) -> np.ndarray:
    time = np.arange(int(0.03 * rate)) / rate
    return np.cos(2 * np.pi * 3000 * time) * np.exp(-180 * time)


def clicked(seconds: float, times: np.ndarray, under: np.ndarray | None = None) -> np.ndarray:
    found = np.zeros(int(seconds * RATE)) if under is None else under.copy()
    shape = 0.5 * click(RATE)
    for one in times:
        at = round(one * RATE)
        found[at:at + len(shape)] += shape[:max(0, len(found) - at)]
    return found


def tone(seconds: float, *hertz: float) -> np.ndarray:
    time = np.arange(int(seconds * RATE)) / RATE
    return sum(np.sin(2 * np.pi * one * time) for one in hertz) * 0.3 / len(hertz)


def edges() -> np.ndarray:
    """Seconds at which bars begin: 92 a minute, drifting by 4 % to either side."""
    lengths = 60 / 92 * BAR_BEATS * (1 + 0.04 * np.sin(np.arange(BARS)))
    return 0.4 + np.concatenate([[0], np.cumsum(lengths)])


def beats() -> np.ndarray:
    return np.interp(np.arange(BARS * BAR_BEATS) / BAR_BEATS, np.arange(BARS + 1), edges())


def lesson_over(folder: Path) -> Lesson:
    """Four bars of a drill over two of changes, and a recording of nine bars of clicks over a tone."""
    audio = clicked(edges()[-1] + 0.3, beats(), tone(edges()[-1] + 0.3, A4))
    soundfile.write(folder / "ferry.wav", audio * 0.5, RATE)
    (folder / "ferry.grid.txt").write_text(f"| Gm7 | C9 |\n{bars_text(list(edges()))}", encoding="utf-8")
    book = notebook()
    for cell in book["cells"]:
        if cell["id"] == "choices":
            cell["source"] = "".join(cell["source"]) + '\ntrack = "ferry.wav"'
    return Lesson.of(book, folder / "ferry.ipynb")
