"""What key finding hears of a chord: a root, one of ten kinds, and whether another chord tone lies in the bass.

Conventions
-----------
Tensions say nothing of a key, so C9, C13 and C7alt are all a dominant; sixths, triads and added notes are one kind, so
that a chord which only changes its colour (C, C6, Cadd9) stays one chord. A major triad over the tone above its root
(F/G) and a minor seventh over its fourth (Dm7/G) are that bass suspended: that is how players read them. Common
practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from ..names.chords import Chord

(
    MAJOR,
    MAJOR_7,
    MINOR,
    MINOR_6,
    DOMINANT,
    HALF_DIMINISHED,
    DIMINISHED,
    AUGMENTED,
    SUSPENDED,
    POWER,
) = KINDS = (
    "major",
    "major 7",
    "minor",
    "minor 6",
    "dominant",
    "half-diminished",
    "diminished",
    "augmented",
    "suspended",
    "power",
)
PULLS = frozenset({DOMINANT, SUSPENDED})  # what leads down a fifth by its kind alone
_TONE_ABOVE, _FOURTH = 2, 5


class Sound(NamedTuple):
    """A chord as key finding hears it; `root` is 0 (C) to 11, or the distance from another root."""

    root: int
    kind: str
    inverted: bool = False

    def over(self, root: int) -> Sound:
        """The same sound with its root counted from another root."""
        return Sound((self.root - root) % 12, self.kind, self.inverted)


def kind_of(chord: Chord) -> str:
    """The chord's kind by its degrees, whatever its bass."""
    degrees = set(chord.degrees)
    if "b3" in degrees:
        if "b5" in degrees and "5" not in degrees:
            return HALF_DIMINISHED if "b7" in degrees else DIMINISHED
        return MINOR_6 if {"6", "7"} & degrees else MINOR
    if "3" in degrees:
        if "b7" in degrees:
            return DOMINANT
        if "#5" in degrees and "5" not in degrees:
            return AUGMENTED
        return MAJOR_7 if "7" in degrees else MAJOR
    if "11" in degrees:
        return SUSPENDED
    if "b7" in degrees:
        return DOMINANT
    return SUSPENDED if "9" in degrees else POWER


@lru_cache(maxsize=4096)
def sound_of(chord: Chord) -> Sound:
    """Root and kind of a chord that has a root, suspended slash chords on their bass."""
    if chord.root is None:
        raise ValueError("no chord has no sound")
    root, kind = chord.root.pitch_class, kind_of(chord)
    if chord.bass is None:
        return Sound(root, kind)
    over = (chord.bass.pitch_class - root) % 12
    if over == _TONE_ABOVE and kind in (MAJOR, MAJOR_7):
        return Sound((root + over) % 12, SUSPENDED)
    if over == _FOURTH and kind == MINOR and "b7" in chord.degrees:
        return Sound((root + over) % 12, SUSPENDED)
    return Sound(root, kind, kind in (MAJOR, MAJOR_7, MINOR, MINOR_6))
