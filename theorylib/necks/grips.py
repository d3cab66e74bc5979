"""Chord grips: what a hand holds to sound a chord, with fingers and barre, the one that is taught first in front.

Conventions
-----------
Strings and frets as in `tunings`; finger 0 is an open string, 1 to 4 index to little finger. A barre is the index laid
across strings at one fret; the last finger may lie flat on the thinnest strings. Muted strings are outside the played
ones, but for one next to the bass, which the finger in the bass damps.

What a grip must sound and must not is said in `grip_search`. The order is judged by `Effort` below: open chords first,
roots in the bass, few fingers, near the nut.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

from ..errors import NeckError, as_text, one_of, shown
from ..levels import LEVELS, Level
from ..names.chords import Chord, as_chord
from .grip_fingers import Fingered, Frets, fingered
from .grip_search import Wanted, rows
from .tunings import STANDARD, Tuning, as_tuning

# level: frets from the lowest pressed to the highest, and their distance in mm (common practice, no source).
_CLEAR_MIDI = 52  # E3: below it, close voices blur
_LOW_MIDI = 48  # C3: below it, a 3rd over the bass blurs too
_PICKED = 4  # voices that are picked with the fingers; more are strummed
_STRUCTURES = ("triad", "shell", "drop 2", "drop 3", "quartal", "rootless")
_LITTLE_BARRE = 3  # where a barre begins that is learnt before the whole one
_SEVENTHS = {"b7", "7", "bb7", "6"}
_REACH = {"beginner": (2, 85.0), "intermediate": (3, 105.0), "advanced": (4, 125.0)}


@dataclass(frozen=True, slots=True)
class Effort:
    """What each thing counts against a grip, in points (all judgements of common practice, no source)."""

    finger: float = 1.25  # each that presses
    beside: float = 2.0  # each fret between a finger and its own fret
    barre: float = 1.25  # the index laid flat ...
    barre_string: float = 0.5  # ... and each string that it crosses
    flat: float = 5.0  # another finger laid flat
    stretch_mm: float = 0.12
    fret: float = 1.25  # each fret of the hand above the first
    # Each open string for each fret above the third that is pressed: it sticks out.
    open_above: float = 4.0
    thin_unused: float = 7.5  # each string thinner than the highest note, of a grip to strum
    thick_unused: float = 3.0  # each string thicker than the lowest note, of a grip to strum
    small: float = 12.0  # three or four voices to pick, of a chord that can be strummed
    damped: float = 4.0  # a string damped between the bass and the rest ...
    damped_strum: float = 16.0  # ... where more than four are strummed
    left_out: float = 2.0  # each tone of the chord that is not there ...
    left_out_fifth: float = 1.0  # ... its perfect 5th
    muddy: float = 5.0  # voices a minor 3rd or less apart, below E3
    low_third: float = 9.0  # a pressed root with the 3rd right above it, both below C3
    rubs: float = 3.0  # voices a semitone apart
    unison: float = 4.0  # one pitch on two strings
    high_bass: float = 18.0  # the bass of a slash chord, power chord or shell above E3
    # Open strings in a chord with a 7th and a tension: the movable grip is taught first.
    open_tension: float = 9.0
    rootless: float = 16.0
    inverted: float = 24.0  # another bass than the root, of a chord without a slash
    doubled: float = 2.5  # each tone twice, root and 5th aside


EFFORT = Effort()


@dataclass(frozen=True, slots=True, order=True)
class GripPlace:
    """One note of a grip: string, fret, the finger that presses it (0: open) and its degree of the chord."""

    string: int
    fret: int
    finger: int
    degree: str


@dataclass(frozen=True, slots=True, order=True)
class Barre:
    """The index across strings at one fret, from the thickest to the thinnest."""

    fret: int
    thickest: int
    thinnest: int


@dataclass(frozen=True, slots=True)
class ChordGrip:
    """A chord under the hand: its places from the thickest string up, the barre if there is one, and its kind.

    `effort` is what it costs to learn and to hold, in points of `Effort`; `midis` are its MIDI numbers, in the order of
    the places. `kind` is "open", "barre", "movable", "power", "triad", "shell", "drop 2", "drop 3", "quartal" or
    "rootless".
    """

    chord: Chord
    places: tuple[GripPlace, ...]
    barre: Barre | None
    kind: str
    midis: tuple[int, ...]
    effort: float = 0.0

    def frets(self, tuning: Tuning | str = STANDARD) -> tuple[int | None, ...]:
        """The fret of each string from the thickest to the thinnest; None is not played."""
        by_string = {place.string: place.fret for place in self.places}
        return tuple(by_string.get(string) for string in reversed(as_tuning(tuning).strings))

    @property
    def hand(self) -> int:
        """The lowest pressed fret, 1 where nothing is pressed."""
        return min((place.fret for place in self.places if place.fret), default=1)

    @property
    def top(self) -> str:
        """The degree of the highest note."""
        return max(zip(self.midis, self.places, strict=True))[1].degree

    @property
    def omitted(self) -> tuple[str, ...]:
        """The chord's degrees that the grip leaves out."""
        sounding = {place.degree for place in self.places}
        return tuple(tone.degree for tone in self.chord.tones if tone.degree not in sounding)

    def __str__(self) -> str:
        """Frets from the thickest string, as guitarists write a grip: x32010; frets above 9 in parentheses."""
        thickest = max(STANDARD.strings[-1], *(place.string for place in self.places))
        by_string = {place.string: place.fret for place in self.places}
        frets = [by_string.get(string) for string in range(thickest, 0, -1)]
        return "".join(
            "x" if fret is None else str(fret) if fret < 10 else f"({fret})" for fret in frets
        )


def grips(
    chord: Chord | str,
    tuning: Tuning | str = STANDARD,
    level: Level | None = None,
    top: str | None = None,
) -> tuple[ChordGrip, ...]:
    """To find chord grips that a hand can hold, the one that is taught first in front.

    Raises NeckError. `level` ("beginner", "intermediate", "advanced") bounds stretch, barres and what may be left to
    the bass player; without one all are given. `top` asks for a highest note: a degree of the chord ("3", "b7") or a
    note name.

    >>> str(grips("C")[0])
    'x32010'
    >>> str(grips("D7", level="beginner")[0])
    'xx0212'
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    if chord.root is None:
        raise NeckError("no chord has no grip", value=str(chord), expected="a chord such as Am7")
    if level is not None:
        one_of(level, LEVELS, "level", NeckError)
    found = [grip for grip in _every(chord, tuning) if level is None or _fits(grip, tuning, level)]
    if top is not None:
        wanted = _degree(chord, top)
        found = [grip for grip in found if grip.top == wanted]
    return tuple(found)


@lru_cache(maxsize=1024)
def _every(chord: Chord, tuning: Tuning) -> tuple[ChordGrip, ...]:
    """Every grip of a chord by what it costs to learn and to hold; of equals, the lower on the neck."""
    wanted = Wanted.by(chord)
    found = []
    for frets, midis in rows(wanted, tuning):
        hold = fingered(frets)
        if hold is not None and _span_mm(frets, tuning) <= _REACH["advanced"][1]:
            grip = _grip(chord, frets, midis, hold, wanted)
            found.append(replace(grip, effort=_effort(grip, hold, tuning)))
    return tuple(sorted(found, key=lambda grip: (grip.effort, grip.places)))


def _grip(
    chord: Chord, frets: Frets, midis: tuple[int, ...], hold: Fingered, wanted: Wanted
) -> ChordGrip:
    strings = range(len(frets), 0, -1)
    played = [
        (string, fret, finger)
        for string, fret, finger in zip(strings, frets, hold.fingers, strict=True)
        if fret is not None
    ]
    places = tuple(
        GripPlace(string, fret, finger, wanted.degrees[midi % 12])
        for (string, fret, finger), midi in zip(played, midis, strict=True)
    )
    barre = None
    if hold.barre is not None:
        first, last = hold.barre
        barre = Barre(min(fret for fret in frets if fret), strings[first], strings[last])
    return ChordGrip(chord, places, barre, _kind(places, midis, barre, wanted), midis)


def _kind(
    places: tuple[GripPlace, ...], midis: tuple[int, ...], barre: Barre | None, wanted: Wanted
) -> str:
    """What teachers call it: by its structure where it has one, else by how it is held."""
    degrees = {place.degree for place in places}
    pitches = sorted(midis)
    has_root = wanted.root in {midi % 12 for midi in midis}
    has_open_string = any(place.fret == 0 for place in places)
    is_in_fourths = len(pitches) > 2 and all(high - low in (5, 6) for low, high in pairwise(pitches))
    if len(wanted.degrees) == 2:
        return "power"
    if not has_root:
        return "rootless"
    if has_open_string and len(places) > 3:
        return "open"
    if is_in_fourths:
        return "quartal"
    if len(places) == 3:
        has_three_tones_of_a_triad = len(degrees) == 3 and not degrees & _SEVENTHS
        return "triad" if has_three_tones_of_a_triad else "shell"
    held = "barre" if barre else "movable"
    each_tone_once = len(places) == 4 == len(degrees)
    return (_dropped(pitches) or held) if each_tone_once else held


def _dropped(pitches: list[int]) -> str:
    """ "drop 2" or "drop 3" where raising the lowest of four voices an octave closes the chord, else empty."""
    raised = sorted([pitches[0] + 12, *pitches[1:]])
    if raised[-1] - raised[0] >= 12 or pitches[-1] - pitches[0] < 12:
        return ""
    return {2: "drop 2", 1: "drop 3"}.get(raised.index(pitches[0] + 12), "")


def _effort(grip: ChordGrip, hold: Fingered, tuning: Tuning) -> float:
    """Points against a grip: what the hand does, then what the ear misses."""
    return round(_by_hand(grip, hold, tuning) + _by_ear(grip), 3)


def _by_hand(grip: ChordGrip, hold: Fingered, tuning: Tuning) -> float:
    frets = grip.frets(tuning)
    crossed = 0 if grip.barre is None else grip.barre.thickest - grip.barre.thinnest
    barre = EFFORT.barre + EFFORT.barre_string * crossed if grip.barre else 0.0
    points = (
        EFFORT.finger * hold.used,
        EFFORT.beside * hold.beside,
        barre,
        EFFORT.flat * hold.flat,
        _damping(grip),
        EFFORT.stretch_mm * _span_mm(frets, tuning),
        EFFORT.fret * (grip.hand - 1),
        EFFORT.open_above * _sticks_out(grip),
    )
    return sum(points)


def _damping(grip: ChordGrip) -> float:
    voices = len(grip.places)
    if grip.places[0].string - grip.places[-1].string < voices:
        return 0.0
    picked = voices <= _PICKED and grip.kind != "open"
    return EFFORT.damped if picked else EFFORT.damped_strum


def _by_ear(grip: ChordGrip) -> float:
    degrees = [place.degree for place in grip.places]
    twice = [degree for degree in set(degrees) - {"1", "5", "bass"} if degrees.count(degree) > 1]
    others_left_out = len(set(grip.omitted) - {"5"})
    return (
        _thin(grip)
        + EFFORT.left_out_fifth * ("5" in grip.omitted)
        + EFFORT.left_out * others_left_out
        + EFFORT.doubled * len(twice)
        + _low_notes(grip)
    )


def _low_notes(grip: ChordGrip) -> float:
    """How well a grip stands on its bass, and how clear it is above it."""
    pitches = sorted(grip.midis)
    bass = min(zip(grip.midis, grip.places, strict=True))[1].degree
    muddy = sum(low < _CLEAR_MIDI and high - low <= 3 for low, high in pairwise(pitches))
    rubs = sum(high - low == 1 for low, high in pairwise(pitches))
    unison = len(pitches) - len(set(pitches))
    low_third = pitches[0] + 4 >= pitches[1] and pitches[1] < _LOW_MIDI and not _is_airy(grip)
    rootless = grip.kind == "rootless"
    inverted = not rootless and bass not in ("1", "bass")
    needs_bass = grip.chord.bass is not None or grip.kind in ("power", "shell")
    return (
        EFFORT.muddy * muddy
        + EFFORT.low_third * low_third
        + EFFORT.rubs * rubs
        + EFFORT.unison * unison
        + EFFORT.rootless * rootless
        + EFFORT.inverted * inverted
        + EFFORT.high_bass * (needs_bass and pitches[0] >= _CLEAR_MIDI)
    )


def _is_airy(grip: ChordGrip) -> bool:
    """Whether an open string rings in the low 3rd of a full grip, or half of all strings are open: what everybody
    learns so, however low."""
    frets = [place.fret for place in grip.places]
    return (0 in frets[:2] and len(frets) > _PICKED) or 2 * frets.count(0) >= len(frets)


def _thin(grip: ChordGrip) -> float:
    """What a grip to strum loses by the strings that it leaves out; a chord with tensions is picked anyway."""
    has_tension = len(grip.chord.tones) > _PICKED
    if has_tension:
        return EFFORT.open_tension * (grip.kind == "open") + EFFORT.small * (
            len(grip.places) < _PICKED
        )
    if grip.kind in _STRUCTURES and grip.chord.bass is None:
        return EFFORT.small
    thickest, thinnest = grip.places[0].string, grip.places[-1].string
    return EFFORT.thin_unused * (thinnest - 1) + EFFORT.thick_unused * max(0, 6 - thickest)


def _span_mm(frets: Frets, tuning: Tuning) -> float:
    pressed = [fret for fret in frets if fret]
    return tuning.span_mm(min(pressed), max(pressed)) if pressed else 0.0


def four_fingered(chord: Chord | str, tuning: Tuning | str = STANDARD) -> tuple[ChordGrip, ...]:
    """What a beginner holds of a chord without an easy grip near the nut: four fingers, or an index over three strings.

    Most m7b5 and dim7 chords and diminished triads are such: all of their tones are needed.

    >>> str(four_fingered("C#m7b5")[0])
    'x4545x'
    """
    tuning = as_tuning(tuning)
    found = []
    for grip in grips(chord, tuning, LEVELS[1]):
        few_voices = len(grip.places) <= _PICKED
        if few_voices and _is_easy(grip, strained=True):
            found.append(grip)
    return tuple(found)


def _fits(grip: ChordGrip, tuning: Tuning, level: Level) -> bool:
    """Whether a grip lies within what a level is asked to hold."""
    pressed = [place.fret for place in grip.places if place.fret]
    widest_frets, widest_mm = _REACH[level]
    span_frets = max(pressed, default=0) - min(pressed, default=0)
    if span_frets > widest_frets or _span_mm(tuple(pressed), tuning) > widest_mm:
        return False
    if level == "advanced":
        return True
    if grip.kind in ("rootless", "quartal"):
        return False
    return level == "intermediate" or _is_easy(grip)


def _is_easy(grip: ChordGrip, *, strained: bool = False) -> bool:
    """Whether a beginner can hold it and hears the chord's own bass.

    No whole barre, no finger but the index laid flat, four fingers near the nut only (anywhere if `strained`); a string
    is damped in a grip of few voices only, where the finger in the bass does it.
    """
    bass = min(zip(grip.midis, grip.places, strict=True))[1].degree
    lies_from = 0 if grip.barre is None else grip.barre.thickest
    if grip.barre is not None and strained:
        lies_from -= grip.barre.thinnest - 1
    whole_barre = lies_from > _LITTLE_BARRE
    pressing = [place.finger for place in grip.places if place.finger > 1]
    laid_flat = len(pressing) > len(set(pressing))
    damped = grip.places[0].string - grip.places[-1].string >= len(grip.places)
    has_open = any(place.fret == 0 for place in grip.places)
    fingers = len({place.finger for place in grip.places} - {0})
    far_and_full = fingers > 3 and grip.hand > 2 and not strained
    own_bass = grip.chord.bass is not None or bass == "1"  # a slash chord's bass is always the lowest
    too_much = whole_barre or laid_flat or far_and_full or (damped and has_open)
    return own_bass and not too_much and not _sticks_out(grip)


def _sticks_out(grip: ChordGrip) -> int:
    """How far open strings lie from the hand: their number times the pressed frets above the third."""
    frets = [place.fret for place in grip.places]
    return frets.count(0) * max(0, max(frets) - 3)


def _degree(chord: Chord, top: str) -> str:
    """The degree that a wanted highest note is: a degree as it stands, or a note by name; raises NeckError."""
    top = as_text(top, "highest note", f"a degree or a note of {chord}", NeckError)
    degrees = {tone.degree for tone in chord.tones} | ({"bass"} if chord.bass else set())
    by_name = {str(tone.name): tone.degree for tone in chord.tones}
    found = top if top in degrees else by_name.get(top)
    if found is None:
        raise NeckError(
            f"{chord} has no “{shown(top)}” to put on top",
            value=top,
            expected=", ".join((*(tone.degree for tone in chord.tones), *by_name)),
        )
    return found
