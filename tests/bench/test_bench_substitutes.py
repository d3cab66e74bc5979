"""Substitutes: a full search for one chord against music21's own way of asking, in one run; and a 32-bar chart."""

from __future__ import annotations

import statistics
import time

import pytest

from theorylib import Chart, Chord, harmony, substitutes
from theorylib.names.arpeggios import KINDS
from theorylib.reading.sources import source_scales
from theorylib.reading.substitutes import _judge, _search


def median_ms(run, times: int = 9) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append((time.perf_counter() - start) * 1000)
    return statistics.median(found)


def fresh(symbol: str) -> None:
    """A search that remembers nothing of the chord."""
    source_scales.cache_clear()
    _judge.cache_clear()
    _search.cache_clear()
    substitutes(symbol)


def naive(symbol: str, kinds: int) -> int:
    """Ask music21 for each root and each of `kinds` arpeggios whether one scale holds it: pitches in, pitches out."""
    from music21 import chord, interval, pitch, scale

    shapes = [("P1", "M3", "P5"), ("P1", "m3", "P5"), ("P1", "m3", "d5", "m7"), ("P1", "M3", "P5", "m7")][:kinds]
    altered = scale.MelodicMinorScale("F")
    names = {one.pitchClass for one in altered.getPitches("F4", "F5", direction=scale.Direction.ASCENDING)}
    found = 0
    for step in range(12):
        root = pitch.Pitch(midi=60 + step)
        for shape in shapes:
            tones = chord.Chord([interval.Interval(word).transposePitch(root) for word in shape])
            found += {one.pitchClass for one in tones.pitches} <= names
    return found


def test_search(capsys: pytest.CaptureFixture[str]) -> None:
    changes = "| Fm7 | Bb7#9 | Ebm7 | Ab13 | Dbmaj7 | Gm7b5 | C7alt | Fm6 |\n" * 4
    naive("E7#9", 1)
    ours = median_ms(lambda: fresh("E7#9"))
    # music21 on 48 candidates and one scale; the whole search is KINDS x 12 candidates and every chord scale.
    share = len(KINDS) * 12 / 48 * len(source_scales(Chord.parse("E7#9")))
    theirs = median_ms(lambda: naive("E7#9", 4), 3) * share
    chart = Chart.parse(changes)

    def whole() -> None:
        _search.cache_clear()
        read = harmony(chart)
        for index, reading in enumerate(read.chords):
            substitutes(reading.chord, reading.home, read.chords[(index + 1) % len(read.chords)].chord)

    whole_ms = median_ms(whole, 5)
    with capsys.disabled():
        print(f"\nsubstitutes: one chord {ours:.1f} ms cold (aim 2); music21's way, scaled from 48 candidates, "
              f"{theirs:.0f} ms: {theirs / ours:.0f} times as long (aim 1,000); 32 bars {whole_ms:.0f} ms (aim 50)")
