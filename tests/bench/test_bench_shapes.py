"""Target-note shapes on a whole neck, against music21 naming the places alone in the same run."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

from theorylib import Chord, Tuning, target_shapes

CHORDS = ("G7", "C9", "Bbm7", "F#m7b5")
WANTED = ("1", "9", "6")


def best_ms(run: Callable[[], object], count: int = 5) -> float:
    found = []
    for _ in range(count):
        start = time.perf_counter()
        run()
        found.append((time.perf_counter() - start) * 1000)
    return min(found)


def test_target_shapes_on_24_frets(capsys: pytest.CaptureFixture[str]) -> None:
    from music21.pitch import Pitch

    neck = Tuning.parse("standard", frets=24)

    def every_place() -> list[object]:
        return [Pitch(str(string)).transpose(fret) for string in neck.open_strings for fret in range(25)]

    shapes = {name: target_shapes(Chord.parse(name), WANTED, neck) for name in CHORDS}
    assert all(shapes.values())
    ours = {name: best_ms(lambda name=name: target_shapes(Chord.parse(name), WANTED, neck)) for name in CHORDS}
    peer = best_ms(every_place)
    with capsys.disabled():
        print(f"\ntarget shapes on 24 frets: {max(ours.values()):.1f} ms at worst (aim 5), "
              f"{max(map(len, shapes.values()))} shapes; "
              f"music21 takes {peer / max(ours.values()):.1f} times as long to name the places alone")
