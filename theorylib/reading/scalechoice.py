"""Which scale a chord takes in its home: first by what it does there, then by what lies nearest to the home.

Conventions (chord-scale practice as jazz schools teach it, from memory; no single source)
------------------------------------------------------------------------------------------
- The symbol speaks first: altered tensions, #11, b9 with 13.
- A dominant follows its function: V of minor is phrygian dominant; a tritone substitute, a backdoor dominant and any
  other that goes elsewhere on II, IV or a lowered degree is lydian dominant; III7 and VII7 are V of a minor degree
  wherever they go. A V triad in minor, and an applied triad, choose like the seventh.
- V of ii keeps the home's 9th (mixolydian b6), unless its own iiø led to it, whose 5th is its b9.
- A chord whose notes lie in the home takes the home's own mode; a m7 before its V is dorian, except on I, III and VI.
- Borrowed major chords are lydian, a suspended dominant is mixolydian unless it is V of a minor home.
- Of two that serve, the one that holds the slash bass.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..names.chords import Chord
from ..names.scales import Scale
from .chordscales import chord_scales, fits, is_altered
from .functions import APPLIED, FUNCTIONS, SUBSTITUTE, Explanation
from .homes import MODES, scale_mask
from .kinds import (
    AUGMENTED,
    DIMINISHED,
    DOMINANT,
    HALF_DIMINISHED,
    MAJOR,
    MAJOR_7,
    MINOR,
    MINOR_6,
    PULLS,
    SUSPENDED,
    kind_of,
)
from .roles import explained, mode_of

_MIXOLYDIAN = ("mixolydian",)
_LYDIAN_DOMINANT = ("lydian dominant", "mixolydian")
_OF_MINOR = ("phrygian dominant", "mixolydian b6", "mixolydian")
# V of ii: the 9th and the 5th of the home stay, unless an iiø of its own led to it.
_OF_SECOND = ("mixolydian b6", "phrygian dominant", "mixolydian")
_LYDIAN = ("lydian", "major")
# A dominant that goes elsewhere, or a major triad outside the home, by its degree (semitones) in a major home.
_UNRESOLVED = {0: _MIXOLYDIAN, 7: _MIXOLYDIAN, 4: _OF_MINOR, 11: _OF_MINOR, 9: _OF_SECOND}
_TRIADS = {
    0: ("major", "lydian", "mixolydian"),
    2: _MIXOLYDIAN,
    5: _MIXOLYDIAN,
    7: _MIXOLYDIAN,
    9: _MIXOLYDIAN,
    4: _OF_MINOR,
    11: _OF_MINOR,
}
# What a chord of the home may take beside the home's own mode.
_BESIDE_OWN = {MINOR: ("dorian",), MAJOR: ("lydian",), MAJOR_7: ("lydian",)}
_MINOR_KINDS = (MINOR, MINOR_6, HALF_DIMINISHED)
_DIATONIC = frozenset({0, 2, 4, 5, 7, 9, 11})


@dataclass(frozen=True, slots=True)
class _Case:
    """A chord in its home with all that the choice of its scale looks at."""

    chord: Chord
    home: Scale
    following: Chord | None
    kind: str
    step: int  # semitones above the tonic
    why: Explanation
    own: str | None  # the home's own mode on the chord's root, where the chord lies in the home

    @property
    def in_minor(self) -> bool:
        return MODES[mode_of(self.home)].side == "minor"

    @property
    def falls_to(self) -> str | None:
        """The kind of the next chord, where it lies a fifth below."""
        if self.following is None or not _falls_a_fifth(self.chord, self.following):
            return None
        return kind_of(self.following)

    @property
    def has_altered_tensions(self) -> bool:
        return bool({"b9", "b13"} & set(self.chord.degrees))


def scales_for(
    chord: Chord,
    home: Scale,
    following: Chord | None = None,
    after: Chord | None = None,
    *,
    before: Chord | None = None,
) -> tuple[Scale, ...]:
    """The scales that fit a chord in its home, the one that its function asks for first."""
    if chord.root is None:
        return ()
    others = chord_scales(chord, scale_mask(home))
    wishes = _wishes(chord, home, following, after)
    if wishes is _OF_SECOND and _is_its_half_diminished_ii(before, chord):
        wishes = _OF_MINOR
    asked = [scale for kind in wishes if fits(scale := Scale(chord.root, kind), chord)]
    asked.sort(key=lambda scale: not _holds_bass(scale, chord))
    other_holds_bass = bool(others) and _holds_bass(others[0], chord)
    if asked and other_holds_bass and not _holds_bass(asked[0], chord):
        asked = []
    return tuple(dict.fromkeys([*asked[:1], *others, *asked[1:]]))


def _is_its_half_diminished_ii(before: Chord | None, chord: Chord) -> bool:
    """Whether the iiø of a dominant leads to it: its 5th is the dominant's b9, so that the 9th would contradict it."""
    if before is None or before.root is None:
        return False
    return _falls_a_fifth(before, chord) and kind_of(before) == HALF_DIMINISHED


def _falls_a_fifth(chord: Chord, following: Chord) -> bool:
    if chord.root is None or following.root is None:
        return False
    return (following.root.pitch_class - chord.root.pitch_class) % 12 == 5


def _holds_bass(scale: Scale, chord: Chord) -> bool:
    return chord.bass is None or chord.bass.pitch_class in scale.pitch_classes


def _wishes(
    chord: Chord, home: Scale, following: Chord | None, after: Chord | None
) -> tuple[str, ...]:
    """Kinds of scale in the order in which the chord's function asks for them; none where it asks for nothing."""
    assert chord.root is not None
    kind = kind_of(chord)
    if kind in (DOMINANT, MAJOR) and is_altered(chord):
        return ("altered", "whole tone")
    step = (chord.root.pitch_class - home.tonic.pitch_class) % 12
    why = explained(chord, home, following, after)
    case = _Case(chord, home, following, kind, step, why, _own_mode(chord, home, kind, step))
    if kind == DOMINANT:
        return _for_dominant(case)
    by_function = _by_function(case)
    if by_function:
        return by_function
    if case.own is not None:
        return (case.own, *_BESIDE_OWN.get(kind, ()))
    return _from_outside(case)


def _by_function(case: _Case) -> tuple[str, ...]:
    """What a chord other than a dominant asks for by what it does, whether or not it lies in the home."""
    kind, step = case.kind, case.step
    if kind == MAJOR and case.in_minor and step == 7:
        return _OF_MINOR
    if kind == MAJOR and case.own is None and case.why.name == APPLIED:
        return _for_applied(case)
    if kind == MINOR_6:
        is_tonic_of_minor = step == 0 and case.home.kind == "minor"
        raised_seventh = "7" in case.chord.degrees or case.own is None or is_tonic_of_minor
        return ("melodic minor", "dorian") if raised_seventh else ("dorian", "melodic minor")
    if kind == DIMINISHED:
        return ("diminished",)
    is_a_second = kind == MINOR and step not in (0, 4, 9) and case.falls_to == DOMINANT
    if is_a_second:
        return ("dorian", "minor")
    is_suspended_dominant = kind == SUSPENDED and "b7" in case.chord.degrees
    if is_suspended_dominant and not (case.in_minor and case.own):
        return ("mixolydian", "phrygian")
    return ()


def _from_outside(case: _Case) -> tuple[str, ...]:
    """What a chord asks for whose notes the home does not hold and that does nothing towards the next."""
    is_tonic = case.step == 0
    if case.kind == MAJOR:
        return _TRIADS.get(case.step, _LYDIAN)
    if case.kind == MAJOR_7:
        return ("major", "lydian") if is_tonic else _LYDIAN
    if case.kind == MINOR:
        return ("minor", "dorian") if is_tonic and not case.in_minor else ("dorian", "minor")
    if case.kind == AUGMENTED:
        is_fifth = case.step == 7
        return (
            ("whole tone", "lydian augmented") if is_fifth else ("lydian augmented", "whole tone")
        )
    return ()


def _own_mode(chord: Chord, home: Scale, kind: str, step: int) -> str | None:
    """The home's own mode on the chord's root, where the chord lies in the home; a blues lends its mixolydian's."""
    assert chord.root is not None
    scale = _seven_notes_of(home, kind, step)
    tones = sum(1 << tone.name.pitch_class for tone in chord.tones)
    if tones & ~scale.mask:
        return None
    mode = scale.mode_on(chord.root)
    return None if mode is None else mode.kind


def _seven_notes_of(home: Scale, kind: str, step: int) -> Scale:
    """The scale of seven notes that a chord of a home takes its notes from."""
    if home.kind == "phrygian dominant" and step != 0:  # its major third belongs to the tonic alone
        return Scale(home.tonic, "phrygian")
    if len(home.names) == 7:
        return home
    if home.is_minor and home.kind != "blues":
        return Scale(home.tonic, "minor")
    has_minor_seventh = kind in PULLS | {MAJOR}
    return Scale(home.tonic, "mixolydian" if has_minor_seventh else "major")


def _for_dominant(case: _Case) -> tuple[str, ...]:
    """The symbol first, then what the dominant does, then where it stands."""
    degrees = set(case.chord.degrees)
    if "#11" in degrees:
        return ("lydian dominant",)
    if "b9" in degrees and "13" in degrees:
        return ("half-whole diminished", "mixolydian b2")
    if case.home.kind == "phrygian dominant" and case.step == 0:
        return _OF_MINOR
    on_altered_degree = case.step not in _DIATONIC and case.why.name not in FUNCTIONS
    if case.why.name == SUBSTITUTE or (on_altered_degree and case.own is None):
        return _LYDIAN_DOMINANT
    if case.in_minor and case.step == 7:
        return _OF_MINOR
    goes_to_minor = case.falls_to in _MINOR_KINDS
    of_the_blues = case.home.kind == "blues" and case.step in (0, 5, 7)
    if of_the_blues and not case.has_altered_tensions and not goes_to_minor:
        return _MIXOLYDIAN
    if case.own is None and goes_to_minor:
        return _for_applied(case)
    if case.has_altered_tensions:
        return ("phrygian dominant", "mixolydian b6", "half-whole diminished")
    if case.own is not None or case.why.name == APPLIED or case.home.kind == "blues":
        return _MIXOLYDIAN
    # It goes elsewhere: its degree decides.
    return _LYDIAN_DOMINANT if case.in_minor else _UNRESOLVED.get(case.step, _LYDIAN_DOMINANT)


def _for_applied(case: _Case) -> tuple[str, ...]:
    """What an applied dominant takes: by whether it goes to a minor chord, and to which."""
    if case.following is None or kind_of(case.following) not in _MINOR_KINDS:
        return _MIXOLYDIAN
    to_second = case.step in (2, 9) and not case.in_minor
    return _OF_SECOND if to_second else _OF_MINOR
