"""Substitute arpeggios: what else can be played over a chord, what each note becomes, where it comes from, how far out.

Conventions (common practice, no source)
----------------------------------------
Every kind of arpeggio on every root is a candidate, the chord's own plain arpeggio apart. The home scale is the key's,
or without a key the chord's first chord scale. An arpeggio is inside when all its notes lie in the home scale, colour
when they lie in some chord scale of the chord, outside otherwise. A note clashes when it lies a half step above a
chord tone and is no wanted tension. The score is the sum of few named parts, each times its weight; ties fall to the
name, so that the order never moves by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from operator import mul
from types import MappingProxyType

from .arpeggios import GROUPS, KINDS, Arpeggio, arpeggio, kind_masks, mask_of
from .chords import Chord, as_chord
from .chordscales import chord_scales, fits, function_of
from .errors import ChordError
from .harmony import Move, moves
from .scales import KINDS as SCALE_KINDS
from .scales import Scale, as_scale
from .spelling import Interval, NoteName, pretty_accidentals

# What each part of the score counts, and what one is worth. Change them by passing your own mapping.
WEIGHTS: Mapping[str, float] = MappingProxyType({
    "guide tones": 2.0,    # the chord's 3rd and 7th that the arpeggio states
    "colours": 1.0,        # tensions of a chord scale, at most three counted
    "clashes": -2.0,       # notes a half step above a chord tone that are no wanted tension
    "reach": 1.0,          # inside 2, colour 1, outside -5
    "resolution": 0.5,     # half-step moves into the next chord, at most three counted
    "familiar": 0.5,       # a triad, seventh or sixth: arpeggios that students know
    "far": -0.25,          # signatures between the source scale's parent and the home's
})
REACH_POINTS = {"inside": 2.0, "colour": 1.0, "outside": -5.0}
_FAMILIAR = ("triad", "seventh", "sixth")
_WANTED = frozenset({"b9", "#9", "b13", "b5"})  # altered tensions, over dominants
_GUIDES = frozenset({"3", "b3", "b7", "7", "bb7", "6"})
_ORDINALS = ("", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th")


@dataclass(frozen=True, slots=True)
class Source:
    """A scale that an arpeggio comes from: a chord scale, its parent, and the parent's degree on which it stands."""

    scale: Scale
    parent: Scale
    degree: int

    def __str__(self) -> str:
        place = f"{_ORDINALS[self.degree]}-degree arpeggio of {self.parent}"
        return place if self.parent == self.scale else f"{place}, {self.scale}'s parent"


@dataclass(frozen=True, slots=True)
class Substitute:
    """One arpeggio over a chord: its worth is known at once; names, sources and words are made when asked for."""

    kind: str
    step: int  # semitones from the chord's root up to the arpeggio's
    reach: str
    score: float
    far: int  # signatures between the nearest source's parent and the home's
    _task: _Task = field(repr=False)

    @property
    def parts(self) -> tuple[tuple[str, float], ...]:
        """The named parts whose sum is the score; parts that count nothing are left out."""
        task = self._task
        counts = task.counts(turned_masks()[self.kind][self.step], self.reach, self.kind, self.far)
        return tuple((name, round(worth * count, 3)) for name, worth, count
                     in zip(WEIGHTS, task.worth, counts, strict=True) if count)

    @property
    def arpeggio(self) -> Chord | Arpeggio:
        return arpeggio(self._task.roots[self.step], self.kind)

    @property
    def degrees(self) -> tuple[str, ...]:
        """What each note of the arpeggio is over the chord, in the arpeggio's own order."""
        return tuple(self._task.functions[step] for step in self._steps())

    @property
    def chord_tones(self) -> tuple[str, ...]:
        return tuple(degree for degree in self.degrees if degree in self._task.chord.degrees)

    @property
    def tensions(self) -> tuple[str, ...]:
        """The notes that colour the chord: in a chord scale, neither chord tones nor clashes."""
        return self._named(self._task.colouring)

    @property
    def clashes(self) -> tuple[str, ...]:
        """The notes a half step above a chord tone that are no wanted tension: for tension, not for rest."""
        return self._named(self._task.clashing)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Every scale of the chord from which the arpeggio can come, the usual ones first."""
        return tuple(self._task.source(scale, self._root_class()) for scale in self._task.holding(self._mask()))

    @property
    def shared_with_chord(self) -> int:
        return (self._mask() & self._task.own).bit_count()

    @property
    def shared_with_home(self) -> int:
        return (self._mask() & self._task.home.mask).bit_count()

    @property
    def resolutions(self) -> tuple[Move, ...]:
        """The smallest move of each note into the next chord; empty without one."""
        return () if self._task.following is None else moves(self.arpeggio, self._task.following)

    @property
    def half_steps(self) -> tuple[Move, ...]:
        return tuple(move for move in self.resolutions if abs(move.semitones) == 1)

    @property
    def reason(self) -> str:
        """One sentence that a teacher could read aloud."""
        return _reason(self, self._task)

    def _mask(self) -> int:
        return _turn(kind_masks()[self.kind], self._root_class())

    def _root_class(self) -> int:
        return (self._task.root + self.step) % 12

    def _steps(self) -> list[int]:
        return [(name.pitch_class - self._task.root) % 12 for name in self.arpeggio.names]

    def _named(self, mask: int) -> tuple[str, ...]:
        return tuple(self._task.functions[step] for step in self._steps() if mask >> step & 1)


def substitutes(
    chord: Chord | str,
    key: Scale | str | None = None,
    next_chord: Chord | str | None = None,
    *,
    weights: Mapping[str, float] = WEIGHTS,
    reach: str | None = None,
) -> tuple[Substitute, ...]:
    """Every arpeggio over a chord, best first; `reach` keeps only "inside", "colour" or "outside".

    Raises ChordError for no chord, or for a weight or reach that does not exist.
    """
    chord = as_chord(chord)
    if chord.root is None:
        raise ChordError("no chord has no substitutes", value=str(chord), expected="a chord symbol")
    if set(weights) - set(WEIGHTS) or (reach is not None and reach not in REACH_POINTS):
        wrong = reach if not set(weights) - set(WEIGHTS) else ", ".join(set(weights) - set(WEIGHTS))
        raise ChordError(f"“{wrong}” is not known here", value=wrong,
                         expected=f"weights {', '.join(WEIGHTS)}; reach {', '.join(REACH_POINTS)}")
    home = _task(chord, None).home if key is None else as_scale(key)
    following = None if next_chord is None else as_chord(next_chord)
    found = _search(chord, home, following, tuple({**WEIGHTS, **weights}.items()))
    return found if reach is None else tuple(one for one in found if one.reach == reach)


@lru_cache(maxsize=512)
def _search(chord: Chord, home: Scale, following: Chord | None,
            weights: tuple[tuple[str, float], ...]) -> tuple[Substitute, ...]:
    """Every candidate, best first; a chart asks for the same chord many times."""
    task = _Task(chord, home, following, dict(weights))
    found = [one for kind in KINDS for step in range(12) if (one := task.judge(kind, step)) is not None]
    # The name decides ties: root and kind, as str(arpeggio) writes them.
    return tuple(sorted(found, key=lambda one: (-one.score, task.roots[one.step], one.kind)))


def judge_one(value: Chord | Arpeggio, chord: Chord, key: Scale | None = None) -> Substitute | None:
    """One arpeggio over one chord, judged as `substitutes` would; its own plain arpeggio counts too.

    None for a kind that is not in the table of arpeggios, and for no chord.
    """
    kind = value.kind if isinstance(value, Arpeggio) else value.suffix
    if value.root is None or chord.root is None or kind not in GROUPS:
        return None
    task = _task(chord, key)
    return task.judge(kind, (value.root.pitch_class - task.root) % 12, own=True)


@lru_cache(maxsize=256)
def _task(chord: Chord, key: Scale | None) -> _Task:
    scales = chord_scales(chord)
    assert chord.root is not None
    home = key if key is not None else scales[0] if scales else Scale(chord.root, "major")
    return _Task(chord, home, None, WEIGHTS)


def candidate_count(chord: Chord) -> int:
    """How many arpeggios are judged over a chord: every kind on every root but the chord's own."""
    own = mask_of(chord.without_bass())
    assert chord.root is not None
    return sum(1 for mask in kind_masks().values() for step in range(12)
               if not (step == 0 and _turn(mask, chord.root.pitch_class) == own))


@lru_cache(maxsize=512)
def source_scales(chord: Chord) -> tuple[Scale, ...]:
    """Every scale of the catalogue with six notes or more that stands on the chord's root and fits it."""
    assert chord.root is not None
    return tuple(scale for kind in SCALE_KINDS.values() if len(kind.degrees) >= 6 and "blues" not in kind.name
                 and fits(scale := Scale(chord.root, kind.name), chord))


class _Task:
    """One search: what is worked out once for a chord and used for every candidate. Sets are bits above the root."""

    def __init__(self, chord: Chord, home: Scale, following: Chord | None, weights: Mapping[str, float]) -> None:
        assert chord.root is not None
        self.chord, self.home, self.following = chord, home, following
        self.worth = tuple(weights[name] for name in WEIGHTS)
        self.root = chord.root.pitch_class
        self.own = mask_of(chord.without_bass())
        self.scales = source_scales(chord)
        self.functions = [function_of(chord, step) for step in range(12)]
        self.roots = [self._root_name(chord.root, step) for step in range(12)]
        self.tones = tones = _turn(self.own, 12 - self.root)
        wanted = _WANTED if chord.is_dominant else frozenset()
        self.clashing = sum(1 << step for step in range(12) if not tones >> step & 1 and tones >> (step - 1) % 12 & 1
                            and self.functions[step] not in wanted)
        known = 0
        for scale in self.scales:
            known |= _turn(scale.mask, 12 - self.root)
        self.colouring = known & ~tones & ~self.clashing
        self.guides = sum({1 << tone.interval.semitones % 12 for tone in chord.tones if tone.degree in _GUIDES})
        self.home_mask = _turn(home.mask, 12 - self.root)
        home_fifths = home.parent.tonic.fifths
        self.masks = [(_turn(scale.mask, 12 - self.root), _fifths_apart(scale.parent.tonic.fifths, home_fifths))
                      for scale in self.scales]
        self.leading = self._leading()

    def judge(self, kind: str, step: int, own: bool = False) -> Substitute | None:
        """The arpeggio of a kind whose root lies `step` semitones above the chord's; None for its own, unless `own`."""
        mask = turned_masks()[kind][step]
        if not own and step == 0 and mask == self.tones:
            return None
        apart = -1
        for scale, distance in self.masks:
            if not mask & ~scale and (apart < 0 or distance < apart):
                apart = distance
        reach = "inside" if not mask & ~self.home_mask else "colour" if apart >= 0 else "outside"
        far = apart if reach == "colour" else 0
        score = sum(map(mul, self.worth, self.counts(mask, reach, kind, far)))
        return Substitute(kind, step, reach, round(score, 3), far, self)

    def counts(self, mask: int, reach: str, kind: str, far: int) -> tuple[float, ...]:
        """What each part of the score counts, in the order of WEIGHTS."""
        return ((mask & self.guides).bit_count(), min(3, (mask & self.colouring).bit_count()),
                (mask & self.clashing).bit_count(), REACH_POINTS[reach], min(3, (mask & self.leading).bit_count()),
                GROUPS[kind] in _FAMILIAR, far)

    def holding(self, mask: int) -> tuple[Scale, ...]:
        return tuple(scale for scale in self.scales if not mask & ~scale.mask)

    def source(self, scale: Scale, root: int) -> Source:
        parent = scale.parent
        degree = next(index for index, name in enumerate(parent.names, 1) if name.pitch_class == root)
        return Source(scale, parent, degree)

    def _root_name(self, root: NoteName, step: int) -> NoteName:
        """A root spelled by its function over the chord (a tritone over a dominant as b5), simply where that is odd."""
        degree = "b5" if step == 6 and self.chord.is_dominant else self.functions[step]
        name = root.up(Interval.of_degree(degree))
        return name.simple() if abs(name.accidental) > 1 or name in ("E#", "B#", "Fb") else name

    def _leading(self) -> int:
        """The notes whose nearest tone of the next chord lies a half step away."""
        if self.following is None:
            return 0
        aims = mask_of(self.following.without_bass())
        found = 0
        for step in range(12):
            pitch = (self.root + step) % 12
            if not aims >> pitch & 1 and (aims >> (pitch + 1) % 12 & 1 or aims >> (pitch - 1) % 12 & 1):
                found |= 1 << step
        return found


def _reason(one: Substitute, task: _Task) -> str:
    found, chord = one.arpeggio, task.chord
    says = f"{found.pretty} over {chord.pretty} gives " + " ".join(map(pretty_accidentals, one.degrees))
    if one.reach == "inside":
        says += f", all of it inside {task.home.pretty}"
    elif one.sources:
        first = one.sources[0]
        says += f", the {_ORDINALS[first.degree]}-degree arpeggio of {first.parent.pretty}"
        says += f", parent of {first.scale.pretty}" if first.parent != first.scale else ""
    else:
        says += ", outside every scale of the chord: a passing tension"
    if one.clashes:
        rub = " and ".join(map(pretty_accidentals, one.clashes))
        verb = "rubs" if len(one.clashes) == 1 else "rub"
        says += f"; the {rub} {verb} against a chord tone, for tension, not for rest"
    if one.half_steps and task.following is not None:
        ways = [f"{move.from_name.pretty} {'falls' if move.semitones < 0 else 'rises'} to {move.to_name.pretty}"
                for move in one.half_steps[:2]]
        says += f"; into {task.following.pretty}, {' and '.join(ways)} by a half step"
    return says + "."


def _fifths_apart(one: int, two: int) -> int:
    """How many signatures lie between two parents, the shorter way round the circle."""
    return min((one - two) % 12, (two - one) % 12)


@lru_cache(maxsize=1)
def turned_masks() -> dict[str, tuple[int, ...]]:
    """Each kind of arpeggio on each of the twelve roots, as bits above the chord's root."""
    return {kind: tuple(_turn(mask, step) for step in range(12)) for kind, mask in kind_masks().items()}


def _turn(mask: int, root: int) -> int:
    """A set above C moved up to a root."""
    root %= 12
    return (mask << root | mask >> (12 - root)) & 0xFFF


