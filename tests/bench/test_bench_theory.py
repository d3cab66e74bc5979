"""The theory benchmarks as a test: prints the table. Speed is never asserted, only that all was measured."""

from __future__ import annotations

from math import isfinite

import pytest
from bench import theory


@pytest.fixture(scope="module")
def figures():
    return theory.measure()


def test_every_figure_is_measured_and_every_aim_has_one(figures, capsys):
    with capsys.disabled():
        print("\n" + theory.table(figures))
    assert set(theory.AIMS) <= set(figures)
    assert all(isfinite(value) and value > 0 for value in figures.values())


def test_the_sixty_symbols_are_read_alike_by_the_three(figures):
    """What is timed is the same work: each text gives the same spelled notes."""
    import pychord
    from music21 import harmony

    from theorylib.names.chords import Chord

    texts = theory.symbols()
    assert len(texts) == 60
    for ours, theirs, other in texts:
        names = set(Chord.parse(ours).names)
        assert set(pychord.Chord(other).components()) == names
        assert {pitch.name.replace("-", "b") for pitch in harmony.ChordSymbol(theirs).pitches} == names
