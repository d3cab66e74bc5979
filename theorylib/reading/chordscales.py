"""Chord scales: which scales fit a chord, in which order, and what each scale note is over the chord.

Conventions (common practice, no source)
----------------------------------------
A scale fits a chord when it holds the chord's notes; the fifth of an altered dominant is optional, since the altered
scale has none, and so is a slash bass. Of the scales that fit, the one with the fewest notes outside the home scale
comes first, then the order of PREFERRED. A dominant with #9, b5 or #5 takes the altered scale first (the 7th mode of
the melodic minor a semitone above). An avoid note lies a half step above a chord tone; over a dominant the altered
tensions b9, #9 and b13 are wanted and are not avoid notes.
"""

from __future__ import annotations

from functools import lru_cache

from ..errors import ChordError, ScaleError, one_of
from ..limits import whole
from ..names.chords import Chord, as_chord
from ..names.scales import KINDS, Scale, as_scale
from ..names.spelling import NoteName, degree_of
from .kinds import (
    AUGMENTED,
    DIMINISHED,
    DOMINANT,
    HALF_DIMINISHED,
    MAJOR,
    MAJOR_7,
    MINOR,
    MINOR_6,
    POWER,
    SUSPENDED,
    kind_of,
)

# kind of chord: (usual scale kinds on its root, rare ones), in order of use.
PREFERRED: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    MAJOR: (
        ("major", "lydian", "mixolydian", "lydian augmented"),
        ("harmonic major", "major #5", "lydian #2"),
    ),
    MINOR: (
        ("dorian", "minor", "melodic minor", "phrygian", "harmonic minor"),
        ("dorian b2", "dorian #4", "lydian b3"),
    ),
    DOMINANT: (
        (
            "mixolydian",
            "lydian dominant",
            "phrygian dominant",
            "altered",
            "mixolydian b6",
            "half-whole diminished",
            "whole tone",
        ),
        ("mixolydian b2", "phrygian b4"),
    ),
    HALF_DIMINISHED: (("locrian", "locrian #2"), ("locrian 6", "dorian b5")),
    DIMINISHED: (
        ("diminished", "altered bb7"),
        ("locrian", "locrian #2", "locrian bb7", "locrian 6", "dorian b5"),
    ),
    AUGMENTED: (("lydian augmented", "whole tone", "major #5"), ("lydian augmented #2",)),
    SUSPENDED: (("mixolydian", "dorian", "major", "minor", "phrygian"), ("dorian b2", "lydian")),
    POWER: (("major", "minor", "mixolydian", "dorian"), ("phrygian", "lydian")),
}
_PLAIN = {MAJOR_7: MAJOR, MINOR_6: MINOR}  # kinds that choose among the same scales
_RARE = 2  # a rare scale counts as if two more of its notes lay outside the home
_ALTERING = frozenset({"#9", "b5", "#5"})
_ALTERED = frozenset({"b9", "#9", "b5", "#5", "b13"})
_WANTED_OVER_DOMINANTS = frozenset({"b9", "#9", "b13"})
# The name of a note over a chord, by its distance on the line of fifths from the root.
_TENSION_NUMBERS = {"2": "9", "4": "11", "6": "13"}
_COUNTED_TO_SEVEN = {tension: number for number, tension in _TENSION_NUMBERS.items()}
_SIXTH_OR_SEVENTH = frozenset({"6", "bb7", "b7", "7"})


def fits(scale: Scale, chord: Chord) -> bool:
    """Does the scale hold the chord's notes (the fifth of an altered dominant apart)?"""
    needed = _needed_mask(chord)
    return needed & ~scale.mask == 0


@lru_cache(maxsize=4096)
def _needed_mask(chord: Chord) -> int:
    free = {"5", "b5", "#5"} if chord.is_dominant and _ALTERED & set(chord.degrees) else set()
    return sum({1 << tone.name.pitch_class for tone in chord.tones if tone.degree not in free})


def is_altered(chord: Chord) -> bool:
    """True for a dominant whose tensions ask for the altered scale first."""
    degrees = set(chord.degrees)
    natural = {"9", "13", "#11"} & degrees
    return kind_of(chord) == DOMINANT and bool(_ALTERING & degrees) and not natural


def chord_scales(chord: Chord | str, home_mask: int = 0xFFF, prefer: str = "") -> tuple[Scale, ...]:
    """The scales on the chord's root that fit it, the first choice in a home with these pitch classes first.

    `prefer` is a kind that the chord's function asks for (a tritone substitute's lydian dominant); it comes first
    where it fits, unless the chord's own tensions ask for the altered scale.

    >>> [str(scale) for scale in chord_scales("Dm7")[:2]]
    ['D dorian', 'D minor']
    """
    if prefer != "":
        one_of(prefer, KINDS, "kind of scale", ScaleError)
    return _chord_scales(
        as_chord(chord), whole(home_mask, (0, 0xFFF), "set of pitch classes"), prefer
    )


@lru_cache(maxsize=4096)
def _chord_scales(chord: Chord, home_mask: int, prefer: str) -> tuple[Scale, ...]:
    if chord.root is None:
        return ()
    usual, rare = PREFERRED[_PLAIN.get(kind_of(chord), kind_of(chord))]
    order = usual + rare
    bass = 0 if chord.bass is None else 1 << chord.bass.pitch_class
    found = [scale for name in order if fits(scale := Scale(chord.root, name), chord)]

    def rank(scale: Scale) -> tuple[int, int, int]:
        asked = "altered" if is_altered(chord) else prefer
        asked_first = 0 if scale.kind == asked else 1
        missing_bass = 3 if bass & ~scale.mask else 0
        outside = (
            (scale.mask & ~home_mask).bit_count()
            + missing_bass
            + (_RARE if scale.kind in rare else 0)
        )
        return asked_first, outside, order.index(scale.kind)

    return tuple(sorted(found, key=rank))


def degree_over(chord: Chord, fifths: int, pitch_class: int) -> str:
    """What a note is over a chord: its chord degree if it sounds one, else 9 11 13 for 2 4 6, b9 for b2 and so on.

    `fifths` is the note's place on the line of fifths, so that the spelling decides between #9 and b3.
    """
    assert chord.root is not None
    for tone in chord.tones:
        if tone.name.pitch_class == pitch_class:
            return tone.degree
    degree = degree_of(fifths - chord.root.fifths)
    number = degree.lstrip("#b")
    if number in _TENSION_NUMBERS:
        degree = degree[: -len(number)] + _TENSION_NUMBERS[number]
    return _as_function(degree, chord)


def _as_function(degree: str, chord: Chord) -> str:
    """Over a chord with a major third, a b3 is heard as #9 and a b4 as the 3rd itself; a b6 is b13."""
    has_third = "3" in chord.degrees
    if has_third and degree == "b3":
        return "#9"
    if degree == "b11":
        return "3"
    if degree == "b5" and "5" in chord.degrees and has_third and not is_altered(chord):
        return "#11"
    if degree == "#5" and "5" in chord.degrees:
        return "b13"
    return degree


def function_of(chord: Chord, semitones: int) -> str:
    """What a note `semitones` above the root (0 to 11) is over the chord, whatever its spelling.

    A chord tone has its chord degree. Else the third decides between #9 and b3, and an altered dominant between b5
    and #11 and between b13 and #5 (common practice, no source).
    """
    for tone in chord.tones:
        if tone.interval.semitones % 12 == semitones:
            return tone.degree
    has_third, dominant = "3" in chord.degrees, chord.is_dominant
    choices = {
        0: "1",
        1: "b9",
        2: "9",
        3: "#9" if has_third else "b3",
        4: "3",
        5: "11",
        7: "5",
        9: "13",
        10: "b7",
        11: "7",
        6: "b5" if is_altered(chord) or chord.is_minor else "#11",
        8: "b13" if dominant or chord.is_minor or not has_third else "#5",
    }
    return choices[semitones]


def counted_degree(degree: str, chord: Chord) -> str:
    """How players count a degree over a chord: what is stacked in thirds up to a 7th goes on to 9, 11 and 13.

    Over a triad the scale counts 2, 4 and 6, and so does the tone of a sus chord that stands for its 3rd (common
    practice, no source).

    >>> [counted_degree("9", Chord.parse(text)) for text in ("G7", "G", "Gadd9", "Gsus2")]
    ['9', '2', '9', '2']
    """
    number = degree.lstrip("#b")
    if number not in _COUNTED_TO_SEVEN:
        return degree
    if degree in chord.degrees:
        counted_low = degree in chord.guide_degrees
    else:
        counted_low = not _SIXTH_OR_SEVENTH & set(chord.degrees)
    if not counted_low:
        return degree
    sign = degree[: -len(number)]
    return sign + _COUNTED_TO_SEVEN[number]


def scale_degrees(chord: Chord | str, scale: Scale | str) -> tuple[tuple[NoteName, str], ...]:
    """(note name, what it is over the chord) for each note of the scale, from the scale's tonic up."""
    chord, scale = as_chord(chord), as_scale(scale)
    if chord.root is None:
        raise ChordError("no chord has no degrees", value=str(chord), expected="a chord symbol")
    return tuple((name, degree_over(chord, name.fifths, name.pitch_class)) for name in scale.names)


def avoid_notes(chord: Chord | str, scale: Scale | str) -> tuple[NoteName, ...]:
    """Names of the scale notes that lie a half step above a chord tone and are not wanted tensions."""
    chord, scale = as_chord(chord), as_scale(scale)
    tones = {tone.name.pitch_class for tone in chord.tones}
    if not tones:
        return ()
    wanted = _WANTED_OVER_DOMINANTS if chord.is_dominant else frozenset()
    return tuple(
        name
        for name, degree in scale_degrees(chord, scale)
        if (pitch := name.pitch_class) not in tones
        and (pitch - 1) % 12 in tones
        and degree not in wanted
    )


def tensions(chord: Chord | str, scale: Scale | str) -> tuple[tuple[NoteName, str], ...]:
    """(name, degree) of the scale notes that colour the chord: neither chord tones nor avoid notes."""
    chord, scale = as_chord(chord), as_scale(scale)
    avoid = set(avoid_notes(chord, scale))
    tones = {tone.name.pitch_class for tone in chord.tones}
    return tuple(
        (name, degree)
        for name, degree in scale_degrees(chord, scale)
        if name.pitch_class not in tones and name not in avoid
    )
