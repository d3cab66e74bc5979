"""What a level's hand is at ease with, and the one shape in which power chords are moved: limits, not weights.

A grip outside them is taken for a chord that has no other. All rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from ..levels import LEVELS
from ..names.chords import Chord
from .grip_fingers import fingered
from .grips import ChordGrip, grips
from .tunings import Tuning

_UNDER_A_BARRE = 2  # frets from it to the highest pressed
_WIDE = 3  # frets that take a finger each, and no string damped between
_LITTLE_BARRE = 3  # strings: one that lies on so many leaves the bass to another finger
_LITTLE = 4  # finger
_CROWD = 3  # fingers on one fret
_FIFTH, _FOURTH = 7, 5  # semitones: root, 5th and octave on three strings under one finger


def comfortable(grip: ChordGrip, tuning: Tuning, level: str) -> bool:
    """Whether a hand of a level holds a grip at ease.

    A beginner's grips have limits of their own (see `grips`), and an advanced hand is asked for all that four fingers
    can. Between them: a barre holds the bass, and the other fingers stay within two frets of it. Three fingers on one
    fret stand side by side, and the little finger lies flat on two strings at most. Three frets take a finger each.
    """
    if level != LEVELS[1]:
        return True
    pressed = [place.fret for place in grip.places if place.fret]
    span = max(pressed, default=0) - min(pressed, default=0)
    if grip.barre and span > _UNDER_A_BARRE:
        return False
    if span >= _WIDE and (_damps(grip) or _stands_beside(grip, tuning)):
        return False
    return _holds_its_bass(grip) and not _crowded(grip) and not _little_flat(grip)


def _damps(grip: ChordGrip) -> bool:
    """Is a string silent between two that sound?"""
    return grip.places[0].string - grip.places[-1].string >= len(grip.places)


def _stands_beside(grip: ChordGrip, tuning: Tuning) -> bool:
    """Does a finger stand on another fret than its own?"""
    hold = fingered(grip.frets(tuning))
    return hold is None or hold.beside > 0


def _holds_its_bass(grip: ChordGrip) -> bool:
    """Does a whole barre lie under the bass, and damp nothing? A little one leaves it to another finger."""
    if grip.barre is None:
        return True
    crossed = grip.barre.thickest - grip.barre.thinnest + 1
    if crossed <= _LITTLE_BARRE and grip.barre.thickest <= _LITTLE_BARRE:
        return True
    bass = grip.places[0]
    return bass.string == grip.barre.thickest and not _damps(grip)


def _crowded(grip: ChordGrip) -> bool:
    """Do three fingers stand on one fret with a string between them that is pressed elsewhere?"""
    strings: dict[int, dict[int, int]] = {}
    for place in grip.places:
        if place.finger:
            strings.setdefault(place.fret, {})[place.finger] = place.string
    for fret, by_finger in strings.items():
        thinnest = min(by_finger.values())
        thickest = max(by_finger.values())
        elsewhere = [
            place
            for place in grip.places
            if thinnest < place.string < thickest and place.fret not in (0, fret)
        ]
        if elsewhere and len(by_finger) >= _CROWD:
            return True
    return False


def _little_flat(grip: ChordGrip) -> bool:
    """Does the little finger lie across more than two strings?"""
    return sum(place.finger == _LITTLE for place in grip.places) > 2


def power_shapes(chord: Chord, tuning: Tuning) -> list[ChordGrip]:
    """The grips of a power chord in the one shape that is moved along the neck: root, 5th and octave.

    Under one finger on the thickest three strings that are tuned so, as in drop D; else with the root on one of the
    two thickest strings. Empty where there is none, and for other chords.

    >>> from .tunings import STANDARD
    >>> [str(grip) for grip in power_shapes(Chord.parse("G5"), STANDARD)]
    ['355xxx', 'x(10)(12)(12)xx']
    """
    if set(chord.degrees) != {"1", "5"} or chord.bass is not None:
        return []
    whole = [
        grip
        for grip in grips(chord, tuning)
        if _is_root_fifth_octave(grip)
    ]
    thickest = _tuned_so(tuning)
    if thickest:
        return [
            grip
            for grip in whole
            if grip.places[0].string == thickest and _is_flat(grip)
        ]
    lowest = len(tuning.open_strings)
    return [
        grip
        for grip in whole
        if grip.places[0].string >= lowest - 1
    ]


def _is_flat(grip: ChordGrip) -> bool:
    """Does one finger hold it, or none?"""
    frets = {place.fret for place in grip.places}
    return len(frets) == 1


def _is_root_fifth_octave(grip: ChordGrip) -> bool:
    side_by_side = not _damps(grip)
    steps = [midi - grip.midis[0] for midi in grip.midis]
    return side_by_side and steps == [0, _FIFTH, _FIFTH + _FOURTH]


def _tuned_so(tuning: Tuning) -> int:
    """The thickest of three neighbouring strings tuned a 5th and a 4th apart, of the thicker half; 0 without any."""
    lowest = len(tuning.open_strings)
    for thickest in range(lowest, lowest // 2 + 1, -1):
        if _steps(tuning, range(thickest, thickest - 3, -1)) == [_FIFTH, _FOURTH]:
            return thickest
    return 0


def _steps(tuning: Tuning, strings: Iterable[int]) -> list[int]:
    """Semitones from each of some strings to the next, all open."""
    midis = [tuning.midi(string, 0) for string in strings]
    return [high - low for low, high in pairwise(midis)]
