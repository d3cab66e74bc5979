"""Roman numerals and the names of keys: how a reading is spelled.

Conventions
-----------
Numerals are written against the major scale of the key's tonic (bVI in minor too), small for a minor third; after a
slash stands the bass as a degree of the key. The degree follows the chord's own spelling where that names one in use,
else the sound: never a double accidental, and passing diminished chords keep the trade's #i°7, biii°7, #iv°7. A tonic
is spelled as the chart spells it; where it does not, with the simplest signature near the chords. Common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..names.chords import Chord, as_chord
from ..names.scales import Scale, as_scale
from ..names.spelling import NoteName, degree_of
from .homes import MODES, Home
from .kinds import DIMINISHED, HALF_DIMINISHED, kind_of

ROMAN = {"1": "I", "2": "II", "3": "III", "4": "IV", "5": "V", "6": "VI", "7": "VII"}
_USUAL = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")  # by semitones
_AS_SPELLED = frozenset(_USUAL) | {"b5"}
_RAISED = frozenset({"#1", "#2", "#5"})  # where something leads up: a diminished chord, a bass line


def numeral(chord: Chord | str, key: Scale | str) -> str:
    """The chord's roman numeral in a key: "ii7", "V7alt", "bVImaj7", "viiø7"."""
    chord, key = as_chord(chord), as_scale(key)
    if chord.root is None:
        return ""
    degree = degree_in(chord.root, key, raised=kind_of(chord) in (DIMINISHED, HALF_DIMINISHED))
    suffix = chord.pretty_suffix
    if chord.is_minor and suffix.startswith("m") and not suffix.startswith("maj"):
        suffix = suffix[1:]
    suffix = suffix.replace("♯", "#").replace("♭", "b")
    bass = "" if chord.bass is None else "/" + degree_in(chord.bass, key, raised=True)
    return roman(degree, small=chord.is_minor) + suffix + bass


def roman(degree: str, *, small: bool) -> str:
    """ "b6" as bVI or bvi."""
    word = ROMAN[degree[-1]]
    return degree[:-1] + (word.lower() if small else word)


def degree_in(name: NoteName, key: Scale, *, raised: bool = False) -> str:
    """The degree of a note in a key, against the tonic's major scale, with one accidental at most."""
    degree = degree_of(name.fifths - key.tonic.fifths)
    if degree in _AS_SPELLED or (raised and degree in _RAISED):
        return degree
    return _USUAL[(name.pitch_class - key.tonic.pitch_class) % 12]


def spelled(
    home: Home, inside: Sequence[Chord], everywhere: Sequence[Chord], given: Scale | None
) -> Scale:
    """The home as a scale: its tonic as the key given, else as its own chords, else the chart's, else simply."""
    if given is not None and given.tonic.pitch_class == home.tonic:
        return Scale(given.tonic, home.mode)
    for chords in (inside, everywhere):
        same = [
            chord.root
            for chord in chords
            if chord.root is not None and chord.root.pitch_class == home.tonic
        ]
        if same:
            return Scale(max(dict.fromkeys(same), key=same.count), home.mode)
    near = sum(chord.root.fifths for chord in inside if chord.root is not None) / len(inside)

    def plainness(name: NoteName) -> tuple[bool, float]:
        signature = signature_of(Scale(name, home.mode))
        return abs(signature) > 6, abs(name.fifths - near)

    choices = [NoteName.at((home.tonic * 7) % 12 + shift) for shift in (-12, 0, 12)]
    return Scale(min(choices, key=plainness), home.mode)


def signature_of(home: Scale) -> int:
    """Sharps (positive) or flats (negative) of the staff on which a home is written."""
    if home.family == "major":
        return home.parent.tonic.fifths
    if home.family == "harmonic minor":
        return home.parent.tonic.fifths - 3
    return home.tonic.fifths - (3 if home.is_minor else 0)


def key_of(home: Scale) -> Scale:
    """The major or minor key of a home's tonic, in which numerals are written."""
    if home.kind in ("major", "minor"):
        return home
    side = MODES[home.kind].side if home.kind in MODES else "minor" if home.is_minor else "major"
    return Scale(home.tonic, side)
