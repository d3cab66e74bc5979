"""Chords of the model as the theory kit has them: spelled in a key, and the keys in which a row of them is heard."""

from __future__ import annotations

from collections.abc import Sequence

from theorylib.changes.charts import chart_of
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName
from theorylib.reading.hearing import readings
from theorylib.reading.numerals import signature_of

from .chord_model import QUALITIES

MOST_CHORDS = 96  # of a row, from which a key is read
_BELOW_MAJOR, _BELOW_MINOR = 5, 3  # names taken, in fifths under the signature's tonic
_FEWEST_SIGNS = (-5, 6)


def spelled(chord: int, key: Scale | None = None) -> Chord:
    """A class of the model as a chord, its root named as the key has it."""
    return Chord.parse(f"{name_in(chord % 12, key)}{QUALITIES[chord // 12]}")


def name_in(pitch: int, key: Scale | None) -> NoteName:
    """A pitch class named in a key: as its scale has it, else by the nearest of the names around its signature."""
    if key is None:
        return NoteName.at(_between(pitch, _FEWEST_SIGNS[0]))
    own = next((name for name in key.names if name.pitch_class == pitch), None)
    if own is not None:
        return own
    return NoteName.at(_between(pitch, signature_of(key) - (_BELOW_MINOR if key.is_minor else _BELOW_MAJOR)))


def keys_of(chords: Sequence[int]) -> tuple[Scale, ...]:
    """The homes in which the chords of the half bars may be heard, the likeliest first."""
    if not chords:
        return ()
    few = chords[:MOST_CHORDS]
    first = readings(chart_of(spelled(chord) for chord in few))[0].home
    first = Scale(_plain(first) or first.tonic, first.kind)
    # The rivals are named from chords that are spelled as the first key has them.
    return tuple(reading.home for reading in readings(chart_of(spelled(chord, first) for chord in few)))


def class_of(chord: Chord) -> int | None:
    """The class of the model that stands for a chord; None for no chord."""
    if chord.root is None:
        return None
    held = {(tone.name.pitch_class - chord.root.pitch_class) % 12 for tone in chord.tones}
    minor, sixth_half = 3 in held and 4 not in held, 6 in held and 7 not in held
    if minor and sixth_half:
        quality = "m7b5"
    elif minor:
        quality = "m7" if 10 in held else "m"
    elif 11 in held:
        quality = "maj7"
    else:
        quality = "7" if 10 in held else ""
    return QUALITIES.index(quality) * 12 + chord.root.pitch_class


def _plain(home: Scale) -> NoteName | None:
    """The tonic's other name, where that has fewer signs in its signature."""
    other = NoteName.at(home.tonic.fifths + (12 if home.tonic.fifths < 0 else -12))
    return other if abs(signature_of(Scale(other, home.kind))) < abs(signature_of(home)) else None


def _between(pitch: int, lowest: int) -> int:
    """Fifths from C of the name of a pitch class that lies in the twelve from `lowest` on."""
    return lowest + (pitch * 7 - lowest) % 12


