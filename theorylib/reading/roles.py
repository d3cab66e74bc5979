"""What a chord does in its home, in plain words: diatonic, secondary dominant, borrowed, substitute and so on.

The words come from the explanation by which the key was found (see functions), so that key and role never contradict
each other. Common practice, no source.
"""

from __future__ import annotations

from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import NoteName
from .functions import (
    APPLIED,
    FUNCTIONS,
    RELATED,
    RELATED_TO_SUBSTITUTE,
    SUBSTITUTE,
    Explanation,
    explain,
    purpose,
)
from .homes import MODES, OWN, place_of, scale_mask
from .kinds import (
    AUGMENTED,
    DIMINISHED,
    DOMINANT,
    HALF_DIMINISHED,
    MAJOR,
    MINOR,
    SUSPENDED,
    Sound,
    kind_of,
    sound_of,
)
from .numerals import degree_in, roman

_BLUES = {0: "home", 5: "IV of the blues", 7: "V of the blues"}
# Tensions do not speak against a key.
_COLOUR = frozenset({"b9", "9", "#9", "11", "#11", "b13", "13"})


def explained(
    chord: Chord, home: Scale, following: Chord | None = None, after: Chord | None = None
) -> Explanation:
    """The explanation of a chord in a home scale, with the chords that it leads to."""
    sound = sound_of(chord)
    leads_to = _onward(sound, following)
    later = _onward(sound, after) if leads_to is not None else None
    mode = mode_of(home)
    step = (sound.root - home.tonic.pitch_class) % 12
    foreign = place_of(mode, sound.kind, step).grade != OWN
    # Chords that are known in many places are told by where they lead, not by where they stand.
    is_everywhere = sound.kind == DIMINISHED or (
        foreign and sound.kind in (DOMINANT, HALF_DIMINISHED)
    )
    if is_everywhere and leads_to is not None:
        does = purpose(mode, step, sound.kind, leads_to, later)
        if does is not None:
            return does
    return explain(mode, step, sound.kind, leads_to, later)


def mode_of(home: Scale) -> str:
    """The mode of homes in which a scale is read: its own, or plain major or minor."""
    if home.kind in MODES:
        return home.kind
    return "minor" if home.is_minor else "major"


def role(
    chord: Chord, home: Scale, following: Chord | None = None, after: Chord | None = None
) -> str:
    """The chord's role in its home scale; `following` and `after` are the chords that it leads to."""
    if chord.root is None:
        return "rest"
    at_home = _at_home(chord, home)
    if at_home:
        return at_home
    why = explained(chord, home, following, after)
    if why.name in FUNCTIONS:
        return _by_function(why, chord, home, following, after)
    return _elsewhere(chord, home, following)


def _at_home(chord: Chord, home: Scale) -> str:
    """The role of a chord that belongs to its home, the raised 7th of a minor home counted; empty for others."""
    kind, step = kind_of(chord), _root_above(chord, home)
    if home.kind == "blues" and step in _BLUES and kind == DOMINANT:
        return _BLUES[step]
    if lies_in(chord, scale_mask(home)):
        return "home" if step == 0 else "diatonic"
    if not _is_minor(home):
        return ""
    if step == 7 and kind in (DOMINANT, MAJOR, SUSPENDED, AUGMENTED):
        return "V of the minor key"
    if step == 11 and kind == DIMINISHED:
        return "leading-tone diminished of home"
    return ""


def _elsewhere(chord: Chord, home: Scale, following: Chord | None) -> str:
    """The role of a chord from outside the home that leads nowhere."""
    kind, step = kind_of(chord), _root_above(chord, home)
    if step == 0 and kind != DIMINISHED:
        return "home in another colour"
    goes_home = _root_above(following, home) == 0
    if step == 10 and kind == DOMINANT and goes_home:
        return "backdoor dominant"
    parallel = Scale(home.tonic, "major" if _is_minor(home) else "minor")
    if lies_in(chord, parallel.mask):
        return f"borrowed from {parallel}"
    if kind == DOMINANT:
        return "dominant that goes elsewhere"
    return "outside the key"


def _is_minor(home: Scale) -> bool:
    return MODES[mode_of(home)].side == "minor"


def lies_in(chord: Chord, mask: int) -> bool:
    """Do the chord's essential notes lie in these pitch classes? Tensions and an altered fifth are left out."""
    free = _COLOUR if kind_of(chord) != SUSPENDED else _COLOUR - {"11"}
    if chord.is_dominant:
        free = free | {"5", "b5", "#5"}
    essential = {1 << tone.name.pitch_class for tone in chord.tones if tone.degree not in free}
    outside = sum(essential) & ~mask
    return not outside


def _by_function(
    why: Explanation, chord: Chord, home: Scale, following: Chord | None, after: Chord | None
) -> str:
    aimed = _aimed_at(why, home, following, after)
    if why.name == APPLIED:
        return f"V of {aimed}"
    if why.name == SUBSTITUTE:
        return f"tritone substitute for V of {aimed}"
    if why.name == RELATED:
        return f"ii of {aimed}"
    if why.name == RELATED_TO_SUBSTITUTE:
        return f"ii of the tritone substitute for V of {aimed}"
    here, there = _root_above(chord, home), _root_above(following, home)
    rises_a_semitone = here is not None and there == (here + 1) % 12
    return (
        f"leading-tone diminished of {aimed}"
        if rises_a_semitone
        else f"passing diminished to {aimed}"
    )


def _aimed_at(why: Explanation, home: Scale, following: Chord | None, after: Chord | None) -> str:
    """The degree aimed at, as the chord that stands there is spelled: "ii", "bVI", "home"."""
    if why.aim == 0:
        return "home"
    for chord in (following, after):
        if chord is not None and chord.root is not None and _root_above(chord, home) == why.aim:
            return roman(degree_in(chord.root, home), small=chord.is_minor)
    # The chord aimed at never comes: its own triad in the home says whether it is small.
    minor = place_of(mode_of(home), MINOR, why.aim).grade == OWN
    aimed = NoteName.at((home.tonic.pitch_class + why.aim) * 7 % 12)
    return roman(degree_in(aimed, home), small=minor)


def _root_above(chord: Chord | None, home: Scale) -> int | None:
    if chord is None or chord.root is None:
        return None
    return (chord.root.pitch_class - home.tonic.pitch_class) % 12


def _onward(sound: Sound, chord: Chord | None) -> Sound | None:
    return None if chord is None or chord.root is None else sound_of(chord).over(sound.root)
