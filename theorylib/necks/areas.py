"""Areas of the neck: a scale, arpeggio or chord laid out in a position, a number of notes a string, or on few strings.

Conventions: see neck. Places carry their degree over the thing laid out (a scale's degrees from its tonic, a chord's
from its root). What a position is, `positions` says; a note that has no place under its four fingers takes a stretch.
Layers nest: triad, arpeggio, pentatonic, scale, each within the next where the scale allows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..errors import NeckError, ScaleError, VampError, shown
from ..limits import is_whole
from ..names.arpeggios import Arpeggio
from ..names.chords import Chord, as_chord
from ..names.scales import Scale, as_scale
from ..names.spelling import NoteName
from ..reading.chordscales import degree_over
from .positions import FIRST_POSITION, as_position, covered, open_strings, stretches
from .shapes import Target, as_targets
from .tunings import STANDARD, Tuning, as_fret, as_strings, as_tuning

# Pentatonic whose notes lie in a scale, by the scale's third and fifth (common practice, no source).
_PENTATONICS = ("minor pentatonic", "major pentatonic")


@dataclass(frozen=True, slots=True)
class Layer:
    """A named set of notes in an area, each with its degree."""

    name: str
    degrees: Mapping[int, str]  # pitch class to degree
    places: tuple[Target, ...]


def as_thing(value: Scale | Chord | str) -> Scale | Chord:
    """A scale or a chord, or the text of either: a scale ("A", "A dorian") where it reads as one."""
    if isinstance(value, Scale | Chord):
        return value
    if not isinstance(value, str):
        raise ScaleError(
            f"“{shown(value)}” is neither scale nor chord",
            value=value,
            expected="a scale such as A dorian or a chord such as Am7",
        )
    try:
        return as_scale(value)
    except VampError:
        if " " in value.strip():
            raise
        return as_chord(value)


def degrees_of(what: Scale | Chord | Arpeggio | str) -> dict[int, str]:
    """Pitch class to degree for the notes of a scale, chord or arpeggio.

    >>> degrees_of("Am7")
    {9: '1', 0: 'b3', 4: '5', 7: 'b7'}
    """
    thing = what if isinstance(what, Arpeggio) else as_thing(what)
    return {
        name.pitch_class: degree for name, degree in zip(thing.names, thing.degrees, strict=True)
    }


def in_position(
    what: Scale | Chord | Arpeggio | str | Mapping[int, str],
    position: int,
    tuning: Tuning | str = STANDARD,
    *,
    stretch: bool = True,
) -> tuple[Target, ...]:
    """Every place of the notes in a position, lowest pitch first; a stretch only for a pitch with no place in it.

    In the first position the open strings count, before any fret that sounds the same, and take the place of the fret
    beyond the fingers: a stretch fills a gap there, and goes no higher.

    >>> [(place.string, place.fret, place.degree) for place in in_position("A minor pentatonic", 5)[:3]]
    [(6, 5, '1'), (6, 8, 'b3'), (5, 5, '4')]
    """
    tuning = as_tuning(tuning)
    as_position(position, tuning)
    degrees = what if isinstance(what, Mapping) else degrees_of(what)
    found: dict[int, Target] = {}
    for string in reversed(tuning.strings):
        for fret in covered(position, tuning):
            midi = tuning.midi(string, fret)
            if midi % 12 in degrees:
                found[midi] = Target(string, fret, degrees[midi % 12])
    for string in open_strings(position, tuning):
        midi = tuning.midi(string, 0)
        if midi % 12 in degrees:
            found[midi] = Target(string, 0, degrees[midi % 12])
    highest = max(found, default=0) if position == FIRST_POSITION else tuning.highest_midi
    for fret in stretches(position, tuning) if stretch else ():
        for string in tuning.strings:
            midi = tuning.midi(string, fret)
            fills_a_gap = midi not in found and midi < highest
            if midi % 12 in degrees and fills_a_gap:
                found[midi] = Target(string, fret, degrees[midi % 12])
    return tuple(found[midi] for midi in sorted(found))


def per_string(
    what: Scale | Chord | Arpeggio | str,
    count: int = 3,
    fret: int = 3,
    tuning: Tuning | str = STANDARD,
    *,
    strings: Iterable[int] | None = None,
) -> tuple[Target, ...]:
    """`count` notes on each string, always on to the next note of the scale or chord, from `fret` on the lowest string.

    `strings` limits the strings used (lowest first is implied): one string, two strings, or every other one; over a
    skipped string the hand stays where it is and the notes between are left out. Raises NeckError where the neck ends.
    """
    tuning = as_tuning(tuning)
    degrees = degrees_of(what)
    if not degrees:
        raise NeckError("no chord has no notes", value=str(what), expected="a scale or a chord")
    if not is_whole(count, 1, 10**10):  # the neck's end is found on the way
        raise NeckError(f"{shown(count)} notes a string", value=count, expected="1 or more")
    as_fret(fret, tuning)
    chosen = sorted(as_strings(strings, tuning), reverse=True)
    found: list[Target] = []
    current = tuning.midi(chosen[0], fret) - 1
    for string in chosen:
        open_midi = tuning.midi(string, 0)
        current = max(current, open_midi - 1)
        # Strings are skipped: stay under the hand and leave notes out.
        if found and found[-1].string - string > 1:
            current = max(current, open_midi + found[-count].fret - 2)
        for _ in range(count):
            current = next(
                midi for midi in range(current + 1, current + 13) if midi % 12 in degrees
            )
            if current - open_midi > tuning.last_fret:
                raise NeckError(
                    f"{shown(count)} notes a string from fret {fret} run off the neck",
                    value=count,
                    where=f"string {string}",
                    expected="a lower fret or fewer notes",
                )
            found.append(Target(string, current - open_midi, degrees[current % 12]))
    return tuple(found)


def layers(
    chord: Chord | str, scale: Scale | str, position: int, tuning: Tuning | str = STANDARD
) -> tuple[Layer, ...]:
    """Triad, arpeggio, pentatonic and scale over a chord in one area, each within the next; degrees over the chord.

    The pentatonic is the one on the chord's root that lies in the scale and holds the triad; where there is none
    (an altered or diminished scale) that layer is left out.
    """
    chord, scale, tuning = as_chord(chord), as_scale(scale), as_tuning(tuning)
    if chord.root is None:
        raise NeckError("no chord has no layers", value=str(chord))
    triad = {
        tone.name.pitch_class: tone.degree
        for tone in chord.tones
        if tone.degree.lstrip("b#") in ("1", "3", "5")
        or ("sus" in chord.quality and tone.degree in ("9", "11"))
    }
    arpeggio = degrees_of(chord)
    whole = {
        name.pitch_class: degree_over(chord, name.fifths, name.pitch_class) for name in scale.names
    } | arpeggio
    found = [("triad", triad), ("arpeggio", arpeggio)]
    five = _pentatonic(chord.root, set(triad), set(whole))
    if five is not None:
        found.append(
            (five.kind, {pitch: whole[pitch] for pitch in five.pitch_classes | set(arpeggio)})
        )
    found.append((str(scale), whole))
    return tuple(
        Layer(name, degrees, in_position(degrees, position, tuning)) for name, degrees in found
    )


def _pentatonic(root: NoteName, triad: set[int], scale: set[int]) -> Scale | None:
    return next(
        (
            five
            for kind in _PENTATONICS
            if triad <= (five := Scale(root, kind)).pitch_classes and five.pitch_classes <= scale
        ),
        None,
    )


def nearest_tones(
    places: Iterable[Target], following: Chord | str, tuning: Tuning | str = STANDARD
) -> dict[Target, tuple[int, str]]:
    """For each place the nearest tone of the next chord: (semitones to go, its degree there); down where as near."""
    tuning = as_tuning(tuning)
    aims = degrees_of(as_chord(following))
    if not aims:
        raise NeckError("no chord has no tones", value=str(following), expected="a chord symbol")
    found = {}
    for place in as_targets(places):
        midi = tuning.midi(place.string, place.fret)
        step = min(
            (step for step in range(-6, 7) if (midi + step) % 12 in aims),
            key=lambda step: (abs(step), step),
        )
        found[place] = (step, aims[(midi + step) % 12])
    return found
