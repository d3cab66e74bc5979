"""From which scales an arpeggio over a chord comes, in which of them it is judged, and how these are named.

Conventions (common practice, no source): a scale is a source when it stands on the chord's root, holds its notes (the
5th of an altered dominant apart) and has its third. “The nth-degree arpeggio” of a scale is what its thirds stack up
to on that degree, and nothing else. Scales are named as people name them: D, not E double flat, melodic minor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..names.arpeggios import mask_of
from ..names.chords import Chord
from ..names.scales import KINDS, Scale
from ..names.spelling import NoteName
from .chordscales import chord_scales, fits
from .homes import Home, home_mask

_ORDINALS = ("", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th")


@dataclass(frozen=True, slots=True)
class Source:
    """A scale that an arpeggio comes from: a chord scale, its parent, and the parent's degree on which it stands.

    The parent has its simple name: D melodic minor for D flat altered. `stacked` is true where the scale's own thirds
    on that degree are the arpeggio; otherwise its notes lie in the scale, and that is all.
    """

    scale: Scale
    parent: Scale
    degree: int
    stacked: bool

    def __str__(self) -> str:
        mode = self.parent.kind != self.scale.kind
        return f"{self.place} of {self.parent}" + (f", {self.scale}'s parent" if mode else "")

    @property
    def place(self) -> str:
        """What the arpeggio is in the parent, in words: “6th-degree arpeggio” only where it is so, else “notes”."""
        return f"{_ORDINALS[self.degree]}-degree arpeggio" if self.stacked else "notes"


@lru_cache(maxsize=512)
def source_scales(chord: Chord) -> tuple[Scale, ...]:
    """Every scale of the catalogue with six notes or more that stands on the chord's root, fits it and has its third.

    The altered scale's flat fourth is heard as the third of a dominant.
    """
    assert chord.root is not None
    third = next((degree for degree in ("3", "b3") if degree in chord.degrees), None)
    found = []
    for kind in KINDS.values():
        is_whole_scale = len(kind.degrees) >= 6 and "blues" not in kind.name
        flat_fourth_for_third = chord.is_dominant and kind.name == "altered"
        has_third = third is None or third in kind.degrees or flat_fourth_for_third
        if not is_whole_scale or not has_third:
            continue
        scale = Scale(chord.root, kind.name)
        if fits(scale, chord):
            found.append(scale)
    return tuple(found)


def judging_scale(
    chord: Chord, home: Scale, following: Chord | None = None, own: Scale | None = None
) -> Scale:
    """The scale in which arpeggios over a chord are judged: the home where it holds the chord, else the chord's own."""
    outside = mask_of(chord.without_bass()) & ~home.mask
    if not outside:
        return home
    if own is not None:
        return own
    around = home_mask(Home(home.tonic.pitch_class, "blues")) if home.kind == "blues" else home.mask
    is_triad = chord.suffix == ""
    rises = _rises(chord, following)
    goes_to_minor = rises == 5 and following is not None and following.is_minor
    if goes_to_minor and (chord.is_dominant or is_triad):  # the V of a minor chord
        seventh = Chord.parse(f"{chord.root}7") if is_triad else chord
        scales = chord_scales(seventh, around, "phrygian dominant")
    else:
        is_tritone_substitute = rises == 11 and chord.is_dominant
        scales = chord_scales(chord, around, "lydian dominant" if is_tritone_substitute else "")
    return scales[0] if scales else home


def _rises(chord: Chord, following: Chord | None) -> int | None:
    """Semitones from one root up to the next, 0 to 11; None without a next chord."""
    if following is None or following.root is None or chord.root is None:
        return None
    return (following.root.pitch_class - chord.root.pitch_class) % 12


def own_home(chord: Chord) -> Scale:
    """The home of a chord that stands alone: its first chord scale."""
    assert chord.root is not None
    return next(iter(chord_scales(chord)), Scale(chord.root, "major"))


@lru_cache(maxsize=4096)
def readable(parent: Scale, root: int) -> Scale:
    """A parent as people name it (D, not E double flat, melodic minor), and so that `root` in it has no odd name."""
    enharmonic = parent.tonic.fifths + (12 if parent.tonic.fifths < 0 else -12)
    other = Scale(NoteName.at(enharmonic), parent.kind)

    def is_odd(scale: Scale) -> bool:
        return odd(scale.tonic) or odd(named(scale, root))

    return other if is_odd(parent) and not is_odd(other) else parent


def named(scale: Scale, pitch: int) -> NoteName:
    return next(name for name in scale.names if name.pitch_class == pitch)


def odd(name: NoteName) -> bool:
    """A name that has a simple one beside it: F double sharp, E sharp, C flat."""
    return name != name.simple()


def source_of(scale: Scale, pitches: Sequence[int], in_a_key: bool = False) -> Source:
    """Where an arpeggio with these pitch classes stands in a scale that holds it.

    In a key a parent keeps the name that it has there, if it is one that people use.
    """
    own = scale.parent
    parent = own if in_a_key and not odd(own.tonic) else readable(own, pitches[0])
    held = [name.pitch_class for name in parent.names]
    start = held.index(pitches[0])
    thirds = [held[(start + 2 * count) % len(held)] for count in range(len(pitches))]
    return Source(scale, parent, start + 1, len(held) == 7 and thirds == list(pitches))
