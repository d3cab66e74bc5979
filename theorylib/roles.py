"""What a chord does in its home, in plain words: diatonic, secondary dominant, borrowed, substitute and so on.

Common practice, no source. The order of the tests is the order in which a teacher would explain a chord: first by the
scale, then by where it goes, last by where it might be borrowed from.
"""

from __future__ import annotations

from .chords import Chord
from .keys import DIMINISHED, DOMINANT, HALF_DIMINISHED, MAJOR, MINOR, SUSPENDED, Home, facts_of, home_mask
from .scales import Scale
from .spelling import degree_of

_ROMAN = {"1": "I", "2": "II", "3": "III", "4": "IV", "5": "V", "6": "VI", "7": "VII"}


def role(chord: Chord, home: Scale, following: Chord | None = None, after: Chord | None = None) -> str:
    """The chord's role in its home scale; `following` and `after` are the chords that it leads to."""
    if chord.root is None:
        return "rest"
    facts = facts_of(chord)
    mask = home_mask(Home(home.tonic.pitch_class, home.kind)) if home.kind in ("blues",) else home.mask
    step = (chord.root.pitch_class - home.tonic.pitch_class) % 12
    if home.kind == "blues" and step in (0, 5, 7) and facts.kind == DOMINANT:
        return {0: "home", 5: "IV of the blues", 7: "V of the blues"}[step]
    if not facts.mask & ~mask:
        return "home" if step == 0 else "diatonic"
    minor = home.is_minor and home.kind != "blues"
    if minor and step == 7 and facts.kind in (DOMINANT, MAJOR, SUSPENDED):
        return "V of the minor key"
    if minor and step == 11 and facts.kind == DIMINISHED:
        return "leading-tone diminished of home"
    if step == 0 and facts.kind in (MINOR, MAJOR, DOMINANT):
        return "home in another colour"
    moved = None if following is None or following.root is None else (
        following.root.pitch_class - chord.root.pitch_class) % 12
    if following is not None and following.root is not None and moved is not None:
        aim = _degree(following, home)
        if facts.kind in (DOMINANT, SUSPENDED) or (facts.kind == MAJOR and moved == 5):
            if moved == 5:
                return "V of home" if aim == "I" else f"V of {aim}"
            if moved == 11 and facts.kind == DOMINANT:
                return f"tritone substitute for V of {'home' if aim == 'I' else aim}"
            if step == 10 and moved == 2 and facts.kind == DOMINANT:
                return "backdoor dominant"
        if facts.kind == DIMINISHED and moved == 1:
            return f"leading-tone diminished of {aim}"
        if facts.kind in (MINOR, HALF_DIMINISHED) and moved == 5 and after is not None and after.root is not None \
                and facts_of(following).kind == DOMINANT \
                and (after.root.pitch_class - following.root.pitch_class) % 12 == 5:
            return f"ii of {_degree(after, home)}"
    parallel = Scale(home.tonic, "major" if minor else "minor")
    if not facts.mask & ~parallel.mask:
        return f"borrowed from {parallel}"
    if facts.kind == DOMINANT:
        return "dominant that goes elsewhere"
    return "outside the key"


def _degree(chord: Chord, home: Scale) -> str:
    """The roman degree of a chord's root, small for a minor third: "ii", "bVI"."""
    assert chord.root is not None
    degree = degree_of(chord.root.fifths - home.tonic.fifths)
    roman = _ROMAN[degree[-1]]
    return degree[:-1] + (roman.lower() if chord.is_minor else roman)
