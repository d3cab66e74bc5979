"""Judging arpeggios over a chord: what is worked out once for a chord, and the score of each candidate.

The score is the sum of few named parts, each times its weight (WEIGHTS). Sets of notes are bits above the chord's root.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from operator import mul
from types import MappingProxyType
from typing import Literal, NamedTuple

from ..names.arpeggios import LEARNT, kind_masks, mask_of
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import Interval, NoteName
from .chordscales import function_of, is_altered
from .sources import named, odd, own_home, readable, source_scales

# What each part of the score counts, and what one is worth. Change them by passing your own mapping.
WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "guide tones": 2.0,  # the chord's guide tones that the arpeggio states
        "colours": 1.0,  # tensions, the chord symbol's own too, at most two counted
        "clashes": -3.0,  # notes that rub against a chord tone and are no wanted tension
        "reach": 1.0,  # inside 3, colour 0, outside -5
        "root": 1.0,  # 1 or 2 where it stands on a degree that is taught: see ROOT_POINTS
        # 3 for plain triads and sevenths, down to 0 for what students rarely know: see LEARNT.
        "known": 1.25,
        "resolution": 0.25,  # half-step moves into the next chord, at most two counted
        "far": -0.25,  # signatures between the source scale's parent and the judging scale's
    }
)
Reach = Literal["inside", "colour", "outside"]
REACH_POINTS: dict[Reach, float] = {"inside": 3.0, "colour": 0.0, "outside": -5.0}
# On which degree of the chord the arpeggios that are taught first stand, by the sort of chord.
ROOT_POINTS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "plain": {"b3": 2, "3": 2, "b5": 1, "5": 1},
        "no minor 7th": {"b3": 2, "3": 2, "b5": 1, "5": 1, "#5": 1, "6": 1, "13": 1, "bb7": 1},
        "suspended": {"b7": 2, "5": 1},
        "altered": {"b9": 2, "b5": 2, "b7": 2},
    }
)
_WANTED = frozenset({"b9", "#9", "b13", "b5"})  # altered tensions, over dominants
_TENSIONS = frozenset({"b9", "9", "#9", "11", "#11", "b13", "13"})


class Verdict(NamedTuple):
    """How an arpeggio stands to a chord: its reach, its score, the signatures to its nearest source's parent."""

    reach: Reach
    score: float
    far: int


class Judge:
    """What is worked out once for a chord and used for every candidate."""

    def __init__(
        self,
        chord: Chord,
        home: Scale,
        frame: Scale,
        following: Chord | None,
        weights: Mapping[str, float],
    ) -> None:
        assert chord.root is not None
        self.chord, self.home, self.frame, self.following = chord, home, frame, following
        self.worth = tuple(weights[name] for name in WEIGHTS)
        self.root = chord.root.pitch_class
        self.own = mask_of(chord.without_bass())
        self.functions = [function_of(chord, step) for step in range(12)]
        self.tones = self._above_root(self.own)
        self.frame_mask = self._above_root(frame.mask)
        self.clashing = self._clashing()
        # The scales of the chord, the judging scale's own notes first, then the nearest signatures.
        near = frame.parent.tonic.fifths
        apart = [
            (_fifths_apart(scale.parent.tonic.fifths, near), scale)
            for scale in source_scales(chord)
        ]
        apart.sort(key=lambda row: (row[1].mask != frame.mask, row[0]))
        self.scales = [scale for _, scale in apart]
        self.masks = [(self._above_root(scale.mask), distance) for distance, scale in apart]
        in_some_scale = 0
        for mask, _ in self.masks:
            in_some_scale |= mask
        self.colouring = in_some_scale & ~self.tones & ~self.clashing
        self.guides = self._bits(chord.guide_degrees)
        own_tensions = self._bits(_TENSIONS & set(chord.degrees)) & ~self.guides
        self.colours = self.colouring | own_tensions
        self.leading = self._leading()
        self.root_points = self._root_points()

    def _above_root(self, mask: int) -> int:
        return turn(mask, 12 - self.root)

    def _clashing(self) -> int:
        """The notes a half step above a chord tone that are no wanted tension, and the 3rd that a 4th holds back."""
        # The V of a minor chord leads too, where it is a triad.
        leads = self.chord.is_dominant or self.frame.kind == "phrygian dominant"
        wanted = _WANTED if leads else frozenset()
        found = 0
        for step in range(12):
            is_tone = self.tones >> step & 1
            lies_above_one = self.tones >> (step - 1) % 12 & 1
            if lies_above_one and not is_tone and self.functions[step] not in wanted:
                found |= 1 << step
        if "11" in self.chord.guide_degrees:
            found |= 1 << 4
        return found

    def judge(self, kind: str, step: int) -> Verdict:
        """The arpeggio of a kind whose root lies `step` semitones above the chord's."""
        mask = turned_masks()[kind][step]
        reach: Reach = "inside"
        far = 0
        if mask & ~self.frame_mask:
            nearest = next((distance for scale, distance in self.masks if not mask & ~scale), None)
            reach, far = ("outside" if nearest is None else "colour"), nearest or 0
        score = sum(map(mul, self.worth, self.counts(mask, reach, kind, far, step)))
        return Verdict(reach, round(score, 3), far)

    def is_own(self, kind: str, step: int) -> bool:
        """Is it the chord's own arpeggio?"""
        return step == 0 and turned_masks()[kind][step] == self.tones

    def counts(self, mask: int, reach: Reach, kind: str, far: int, step: int) -> tuple[float, ...]:
        """What each part of the score counts, in the order of WEIGHTS."""
        return (
            (mask & self.guides).bit_count(),
            min(2, (mask & self.colours).bit_count()),
            (mask & self.clashing).bit_count(),
            REACH_POINTS[reach],
            self.root_points[step],
            LEARNT.get(kind, 0),
            min(2, (mask & self.leading).bit_count()),
            far,
        )

    def holding(self, mask: int) -> tuple[Scale, ...]:
        return tuple(scale for scale in self.scales if not mask & ~scale.mask)

    def root_name(self, step: int, mask: int, reach: Reach) -> NoteName:
        """An arpeggio's root as the scale spells it that the arpeggio comes from; outside, as the home does.

        On the chord's own root it has the chord's name: A flat half-diminished over A flat 7, not G sharp.
        """
        if step == 0:
            return self.chord.tones[0].name
        pitch = (self.root + step) % 12
        flat_fifth = step == 6 and self.chord.is_dominant
        if reach == "outside" and not self.home.mask >> pitch & 1:
            return self._above("b5" if flat_fifth else self.functions[step])
        # The tritone substitute is D flat 7 over G7, whatever scale holds it (common practice, no source).
        if reach == "colour" and flat_fifth and not turn(kind_masks()["7"], pitch) & ~mask:
            return self._above("b5")
        if reach == "colour":
            scale = self.holding(mask)[0]
        else:
            scale = self.frame if reach == "inside" else self.home
        somebody_wrote_it = scale == self.home and self.in_a_key
        spelling = scale if somebody_wrote_it else readable(scale.parent, pitch)
        name = named(spelling, pitch)
        name = self._readable_root(name, mask)
        if somebody_wrote_it:  # over an Emaj7 that stands in A flat minor: B, not C flat
            for own in self.chord.names:
                if own.pitch_class == pitch:
                    name = own
                    break
        return name.simple() if abs(name.accidental) > 1 else name

    def _readable_root(self, name: NoteName, mask: int) -> NoteName:
        """The key's own name of a root where the scale's would ask for double accidentals: E flat 7, not D sharp 7."""
        if not self.in_a_key:
            return name
        # D sharp, A sharp, E sharp major: their 3rd is F, C, G double sharp.
        is_far = name.fifths > 8
        triad = turn(kind_masks()[""], name.pitch_class)
        is_major = not triad & ~mask
        if not (is_far and is_major):
            return name
        for own in self.home.names:
            if own.pitch_class == name.pitch_class:
                return own
        return name

    def _above(self, degree: str) -> NoteName:
        assert self.chord.root is not None
        return self.chord.root.up(Interval.of_degree(degree)).simple()

    @property
    def in_a_key(self) -> bool:
        """Does the chord stand in a key that somebody gave, so that notes are named as that key names them?"""
        return self.home != own_home(self.chord)

    def spelled(self, pitch: int, otherwise: NoteName) -> NoteName:
        """A note as the chord, the key or the chord's scale names it, where there is a key; else `otherwise`.

        A name of the scale alone counts where people use it: E over B flat altered, not F flat.
        """
        if not self.in_a_key:
            return otherwise
        names = (
            *self.chord.names,
            *self.home.names,
            *(name for name in self.frame.names if not odd(name)),
        )
        plain = otherwise.simple() if abs(otherwise.accidental) > 1 else otherwise
        return next((name for name in names if name.pitch_class == pitch), plain)

    def _bits(self, degrees: Iterable[str]) -> int:
        return sum({1 << Interval.of_degree(degree).semitones % 12 for degree in degrees})

    def _root_points(self) -> list[float]:
        points = ROOT_POINTS[self._sort()]
        return [points.get(function, 0) for function in self.functions]

    def _sort(self) -> str:
        """The sort of chord, a key of ROOT_POINTS."""
        if is_altered(self.chord):
            return "altered"
        if self.chord.is_dominant and "11" in self.chord.guide_degrees:
            return "suspended"
        return "plain" if "b7" in self.chord.degrees else "no minor 7th"

    def _leading(self) -> int:
        """The notes whose nearest tone of the next chord lies a half step away."""
        if self.following is None:
            return 0
        aims = mask_of(self.following.without_bass())
        found = 0
        for step in range(12):
            pitch = (self.root + step) % 12
            is_common = aims >> pitch & 1
            above, below = aims >> (pitch + 1) % 12 & 1, aims >> (pitch - 1) % 12 & 1
            if not is_common and (above or below):
                found |= 1 << step
        return found


def _fifths_apart(one: int, two: int) -> int:
    """How many signatures lie between two parents, the shorter way round the circle."""
    return min((one - two) % 12, (two - one) % 12)


@lru_cache(maxsize=1)
def turned_masks() -> dict[str, tuple[int, ...]]:
    """Each kind of arpeggio on each of the twelve roots, as bits above the chord's root."""
    return {
        kind: tuple(turn(mask, step) for step in range(12)) for kind, mask in kind_masks().items()
    }


def turn(mask: int, root: int) -> int:
    """A set above C moved up to a root."""
    root %= 12
    return (mask << root | mask >> (12 - root)) & 0xFFF
