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
_TRIADS = {0: ("major", "lydian", "mixolydian"), 2: _MIXOLYDIAN, 5: _MIXOLYDIAN, 7: _MIXOLYDIAN, 9: _MIXOLYDIAN,
           4: _OF_MINOR, 11: _OF_MINOR}
_DIATONIC = frozenset({0, 2, 4, 5, 7, 9, 11})


def scales_for(chord: Chord, home: Scale, following: Chord | None = None, after: Chord | None = None, *,
               before: Chord | None = None) -> tuple[Scale, ...]:
    """The scales that fit a chord in its home, the one that its function asks for first."""
    if chord.root is None:
        return ()
    others = chord_scales(chord, scale_mask(home))
    wishes = _wishes(chord, home, following, after)
    if wishes is _OF_SECOND and _is_its_half_diminished_ii(before, chord):
        wishes = _OF_MINOR
    asked = [scale for kind in wishes if fits(scale := Scale(chord.root, kind), chord)]
    if chord.bass is not None:
        asked.sort(key=lambda scale: chord.bass is not None and chord.bass.pitch_class not in scale.pitch_classes)
        if asked and not _holds_bass(asked[0], chord) and others and _holds_bass(others[0], chord):
            asked = []
    return tuple(dict.fromkeys([*asked[:1], *others, *asked[1:]]))


def _is_its_half_diminished_ii(before: Chord | None, chord: Chord) -> bool:
    """Whether the iiø of a dominant leads to it: its 5th is the dominant's b9, so that the 9th would contradict it."""
    if before is None or before.root is None or chord.root is None:
        return False
    falls_a_fifth = (chord.root.pitch_class - before.root.pitch_class) % 12 == 5
    return falls_a_fifth and kind_of(before) == HALF_DIMINISHED


def _holds_bass(scale: Scale, chord: Chord) -> bool:
    return chord.bass is None or chord.bass.pitch_class in scale.pitch_classes


def _wishes(chord: Chord, home: Scale, following: Chord | None, after: Chord | None) -> tuple[str, ...]:
    """Kinds of scale in the order in which the chord's function asks for them; none where it asks for nothing."""
    assert chord.root is not None
    kind, step = kind_of(chord), (chord.root.pitch_class - home.tonic.pitch_class) % 12
    why = explained(chord, home, following, after)
    own = _own_mode(chord, home, kind, step)
    minor = MODES[mode_of(home)].side == "minor"
    if kind in (DOMINANT, MAJOR) and is_altered(chord):
        return ("altered", "whole tone")
    if kind == DOMINANT:
        return _for_dominant(chord, home, why, step, following, own)
    if kind == MAJOR and minor and step == 7:
        return _OF_MINOR
    if kind == MAJOR and own is None and why.name == APPLIED:
        return _for_applied(home, step, following)
    if kind == MINOR_6:
        raised_seventh = "7" in chord.degrees or own is None or (step == 0 and home.kind == "minor")
        return ("melodic minor", "dorian") if raised_seventh else ("dorian", "melodic minor")
    if kind == DIMINISHED:
        return ("diminished",)
    if kind == MINOR and step not in (0, 4, 9) and _goes_to_dominant(chord, following):
        return ("dorian", "minor")
    if kind == SUSPENDED and "b7" in chord.degrees and not (minor and own):
        return ("mixolydian", "phrygian")
    if own is not None:
        return (own, *{MINOR: ("dorian",), MAJOR: ("lydian",), MAJOR_7: ("lydian",)}.get(kind, ()))
    if kind == MAJOR:
        return _TRIADS.get(step, _LYDIAN)
    if kind == MAJOR_7:
        return ("major", "lydian") if step == 0 else _LYDIAN
    if kind == MINOR:
        return ("minor", "dorian") if step == 0 and not minor else ("dorian", "minor")
    if kind == AUGMENTED:
        return ("whole tone", "lydian augmented") if step == 7 else ("lydian augmented", "whole tone")
    return ()


def _own_mode(chord: Chord, home: Scale, kind: str, step: int) -> str | None:
    """The home's own mode on the chord's root, where the chord lies in the home; a blues lends its mixolydian's."""
    assert chord.root is not None
    if home.kind == "phrygian dominant" and step != 0:
        home = Scale(home.tonic, "phrygian")
    elif len(home.names) != 7:
        from_major = kind not in PULLS | {MAJOR}
        home = Scale(home.tonic, "minor" if home.is_minor and home.kind != "blues" else
                     "major" if from_major else "mixolydian")
    if sum(1 << tone.name.pitch_class for tone in chord.tones) & ~home.mask:
        return None
    mode = home.mode_on(chord.root)
    return None if mode is None else mode.kind


def _for_dominant(chord: Chord, home: Scale, why: Explanation, step: int, following: Chord | None,
                  own: str | None) -> tuple[str, ...]:
    degrees = set(chord.degrees)
    minor = MODES[mode_of(home)].side == "minor"
    if "#11" in degrees:
        return ("lydian dominant",)
    if "b9" in degrees and "13" in degrees:
        return ("half-whole diminished", "mixolydian b2")
    if home.kind == "phrygian dominant" and step == 0:
        return _OF_MINOR
    if why.name == SUBSTITUTE or (step not in _DIATONIC and why.name not in FUNCTIONS and own is None):
        return _LYDIAN_DOMINANT
    if minor and step == 7:
        return _OF_MINOR
    if home.kind == "blues" and step in (0, 5, 7) and not {"b9", "b13"} & degrees and not _to_minor(chord, following):
        return _MIXOLYDIAN
    if own is None and _to_minor(chord, following):
        return _for_applied(home, step, following)
    if {"b9", "b13"} & degrees:
        return ("phrygian dominant", "mixolydian b6", "half-whole diminished")
    if own is not None or why.name == APPLIED:
        return _MIXOLYDIAN
    if home.kind == "blues":
        return _MIXOLYDIAN
    return _LYDIAN_DOMINANT if minor else _UNRESOLVED.get(step, _LYDIAN_DOMINANT)


def _for_applied(home: Scale, step: int, following: Chord | None) -> tuple[str, ...]:
    """What an applied dominant takes: by whether it goes to a minor chord, and to which."""
    if following is None or kind_of(following) not in (MINOR, MINOR_6, HALF_DIMINISHED):
        return _MIXOLYDIAN
    to_second = step in (2, 9) and MODES[mode_of(home)].side == "major"
    return _OF_SECOND if to_second else _OF_MINOR


def _to_minor(chord: Chord, following: Chord | None) -> bool:
    if following is None or following.root is None or chord.root is None:
        return False
    falls_a_fifth = (following.root.pitch_class - chord.root.pitch_class) % 12 == 5
    return falls_a_fifth and kind_of(following) in (MINOR, MINOR_6, HALF_DIMINISHED)


def _goes_to_dominant(chord: Chord, following: Chord | None) -> bool:
    if following is None or following.root is None or chord.root is None:
        return False
    falls_a_fifth = (following.root.pitch_class - chord.root.pitch_class) % 12 == 5
    return falls_a_fifth and kind_of(following) == DOMINANT
