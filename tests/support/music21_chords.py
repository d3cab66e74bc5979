"""Pitch classes of our chords by music21's own intervals (BSD-3): an outside route from a symbol to its sound.

music21 reads several symbols wrongly (see the notes beside the chord tables), so each degree goes through its
`interval.Interval` from the root instead of through its chord symbols.
"""

from __future__ import annotations

from functools import lru_cache

from theorylib import Chord

# Degree: music21's name of the interval above the root (the major scale's own intervals, altered).
INTERVALS = {"1": "P1", "b9": "m2", "9": "M2", "#9": "A2", "b3": "m3", "3": "M3", "11": "P4", "#11": "A4", "b5": "d5",
             "5": "P5", "#5": "A5", "b13": "m6", "6": "M6", "13": "M6", "bb7": "d7", "b7": "m7", "7": "M7"}


@lru_cache(maxsize=256)
def pitch_classes(chord: Chord) -> frozenset[int]:
    from music21 import interval, pitch

    assert chord.root is not None
    root = pitch.Pitch(chord.root.replace("b", "-") + "4")
    return frozenset(interval.Interval(INTERVALS[degree]).transposePitch(root).pitchClass for degree in chord.degrees)
