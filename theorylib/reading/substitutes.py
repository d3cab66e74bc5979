"""Substitute arpeggios: what else can be played over a chord, what each note becomes, where it comes from, how far out.

Conventions (common practice, no source)
----------------------------------------
Every kind of arpeggio on every root is a candidate, the chord's own plain arpeggio apart. A chord of the home is judged
in the home scale; a borrowed or applied chord, whose notes the home does not hold, in its own chord scale. An arpeggio
is inside when all its notes lie in that scale, colour when they lie in some other scale of the chord (see sources),
outside otherwise. A note clashes when it lies a half step above a chord tone and is no wanted tension, or is the 3rd
that a sus chord holds back. Roots take the spelling of the scale that the arpeggio is said to come from.

The score is the sum of few named parts, each times its weight. They follow what is taught: first the arpeggio that
carries the chord's own thirds on (from its 3rd, its 5th, or the 6th below its root), states its guide tones and adds a
colour or two. Ties fall to the nearer root and the plainer kind, so that the order is the same in every key.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from operator import mul
from types import MappingProxyType

from ..errors import ChordError
from ..limits import exact
from ..names.arpeggios import (
    GROUPS,
    KINDS,
    LEARNT,
    Arpeggio,
    arpeggio,
    as_arpeggio,
    kind_masks,
    kind_steps,
    mask_of,
)
from ..names.chords import Chord, as_chord
from ..names.scales import Scale, as_scale
from ..names.spelling import Interval, NoteName, pretty_accidentals
from .chordscales import function_of, is_altered
from .harmony import Move, moves
from .sources import Source, judging_scale, named, own_home, readable, source_of, source_scales

# What each part of the score counts, and what one is worth. Change them by passing your own mapping.
WEIGHTS: Mapping[str, float] = MappingProxyType({
    "guide tones": 2.0,    # the chord's guide tones that the arpeggio states
    "colours": 1.0,        # tensions, the chord symbol's own too, at most two counted
    "clashes": -3.0,       # notes that rub against a chord tone and are no wanted tension
    "reach": 1.0,          # inside 3, colour 0, outside -5
    "root": 1.0,           # 1 or 2 where it stands on a degree that is taught: see ROOT_POINTS
    "known": 1.25,         # 3 for plain triads and sevenths, down to 0 for what students rarely know: see LEARNT
    "resolution": 0.25,    # half-step moves into the next chord, at most two counted
    "far": -0.25,          # signatures between the source scale's parent and the judging scale's
})
REACH_POINTS = {"inside": 3.0, "colour": 0.0, "outside": -5.0}
# On which degree of the chord the arpeggios that are taught first stand, by the sort of chord.
ROOT_POINTS: Mapping[str, Mapping[str, float]] = MappingProxyType({
    "plain": {"b3": 2, "3": 2, "b5": 1, "5": 1},
    "no minor 7th": {"b3": 2, "3": 2, "b5": 1, "5": 1, "#5": 1, "6": 1, "13": 1, "bb7": 1},
    "suspended": {"b7": 2, "5": 1},
    "altered": {"b9": 2, "b5": 2, "b7": 2},
})
_WANTED = frozenset({"b9", "#9", "b13", "b5"})  # altered tensions, over dominants
_TENSIONS = frozenset({"b9", "9", "#9", "11", "#11", "b13", "13"})


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
        counts = task.counts(turned_masks()[self.kind][self.step], self.reach, self.kind, self.far, self.step)
        return tuple((name, round(worth * count, 3)) for name, worth, count
                     in zip(WEIGHTS, task.worth, counts, strict=True) if count)

    @property
    def arpeggio(self) -> Chord | Arpeggio:
        return arpeggio(self._task.root_name(self.step, self._mask(), self.reach), self.kind)

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
        """Every scale of the chord from which the arpeggio can come, the nearest to the judging scale first."""
        pitches = [(self._task.root + step) % 12 for step in self._steps()]
        return tuple(source_of(scale, pitches) for scale in self._task.holding(self._mask()))

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
        return [(step + self.step) % 12 for step in kind_steps()[self.kind]]

    def _named(self, mask: int) -> tuple[str, ...]:
        return tuple(self._task.functions[step] for step in self._steps() if mask >> step & 1)


def substitutes(
    chord: Chord | str,
    key: Scale | str | None = None,
    next_chord: Chord | str | None = None,
    *,
    scale: Scale | str | None = None,
    weights: Mapping[str, float] = WEIGHTS,
    reach: str | None = None,
) -> tuple[Substitute, ...]:
    """Every arpeggio over a chord, best first; `reach` keeps only "inside", "colour" or "outside".

    `scale` is the chord's own scale, as `harmony` reads it; it judges a chord whose notes the key does not hold.
    Without it the first chord scale is taken that the key and the next chord ask for.

    >>> [str(one.arpeggio) for one in substitutes("G7", key="C major", next_chord="Cmaj7")[:3]]
    ['Bm7b5', 'Bdim', 'Dm6']

    Raises ChordError for no chord, or for a weight or reach that does not exist.
    """
    chord = as_chord(chord)
    if chord.root is None:
        raise ChordError("no chord has no substitutes", value=str(chord), expected="a chord symbol")
    if not isinstance(weights, Mapping):
        raise ChordError("these are no weights", value=weights, expected=f"numbers for {', '.join(WEIGHTS)}")
    unknown = [name for name in weights if name not in WEIGHTS]
    if unknown or (reach is not None and reach not in tuple(REACH_POINTS)):
        wrong = ", ".join(map(str, unknown)) or reach
        raise ChordError(f"“{wrong}” is not known here", value=wrong,
                         expected=f"weights {', '.join(WEIGHTS)}; reach {', '.join(REACH_POINTS)}")
    for name, weight in weights.items():
        exact(weight, f"weight of {name}")
    home = own_home(chord) if key is None else as_scale(key)
    following = None if next_chord is None else as_chord(next_chord)
    frame = judging_scale(chord, home, following, None if scale is None else as_scale(scale))
    found = _search(chord, home, frame, following, tuple({**WEIGHTS, **weights}.items()))
    return found if reach is None else tuple(one for one in found if one.reach == reach)


@lru_cache(maxsize=512)
def _search(chord: Chord, home: Scale, frame: Scale, following: Chord | None,
            weights: tuple[tuple[str, float], ...]) -> tuple[Substitute, ...]:
    """Every candidate, best first; a chart asks for the same chord many times."""
    task = _Task(chord, home, frame, following, dict(weights))
    found = [one for step in range(12) for kind in KINDS if (one := task.judge(kind, step)) is not None]
    return tuple(sorted(found, key=lambda one: -one.score))  # a stable sort: ties keep the order of roots and kinds


def judge_one(value: Chord | Arpeggio | str, chord: Chord | str, key: Scale | str | None = None,
              scale: Scale | str | None = None) -> Substitute | None:
    """One arpeggio over one chord, judged as `substitutes` would; its own plain arpeggio counts too.

    `scale` is the chord's own. None for a kind that is not in the table of arpeggios, and for no chord.
    """
    value, chord = as_arpeggio(value), as_chord(chord)
    key, scale = None if key is None else as_scale(key), None if scale is None else as_scale(scale)
    kind = value.kind if isinstance(value, Arpeggio) else value.suffix
    if value.root is None or chord.root is None or kind not in GROUPS:
        return None
    task = _task(chord, key, scale)
    return task.judge(kind, (value.root.pitch_class - task.root) % 12, own=True)


@lru_cache(maxsize=256)
def _task(chord: Chord, key: Scale | None, scale: Scale | None = None) -> _Task:
    home = own_home(chord) if key is None else key
    return _Task(chord, home, judging_scale(chord, home, None, scale), None, WEIGHTS)


def candidate_count(chord: Chord | str) -> int:
    """How many arpeggios are judged over a chord: every kind on every root but the chord's own."""
    chord = as_chord(chord)
    if chord.root is None:
        raise ChordError("no chord has no substitutes", value=str(chord), expected="a chord symbol")
    own = mask_of(chord.without_bass())
    return sum(1 for mask in kind_masks().values() for step in range(12)
               if not (step == 0 and _turn(mask, chord.root.pitch_class) == own))


class _Task:
    """One search: what is worked out once for a chord and used for every candidate. Sets are bits above the root."""

    def __init__(self, chord: Chord, home: Scale, frame: Scale, following: Chord | None,
                 weights: Mapping[str, float]) -> None:
        assert chord.root is not None
        self.chord, self.home, self.frame, self.following = chord, home, frame, following
        self.worth = tuple(weights[name] for name in WEIGHTS)
        self.root = chord.root.pitch_class
        self.own = mask_of(chord.without_bass())
        self.functions = [function_of(chord, step) for step in range(12)]
        self.tones = tones = _turn(self.own, 12 - self.root)
        leads = chord.is_dominant or frame.kind == "phrygian dominant"  # the V of a minor chord, a triad too
        wanted = _WANTED if leads else frozenset()
        self.clashing = sum(1 << step for step in range(12) if not tones >> step & 1 and tones >> (step - 1) % 12 & 1
                            and self.functions[step] not in wanted)
        if "11" in chord.guide_degrees:
            self.clashing |= 1 << 4  # the 3rd that the 4th holds back
        known = 0
        near = frame.parent.tonic.fifths
        apart = [(_fifths_apart(scale.parent.tonic.fifths, near), scale) for scale in source_scales(chord)]
        apart.sort(key=lambda row: (row[1].mask != frame.mask, row[0]))
        self.scales = [scale for _, scale in apart]
        self.masks = [(_turn(scale.mask, 12 - self.root), distance) for distance, scale in apart]
        for mask, _ in self.masks:
            known |= mask
        self.colouring = known & ~tones & ~self.clashing
        self.guides = self._bits(chord.guide_degrees)
        self.colours = self.colouring | self._bits(_TENSIONS & set(chord.degrees)) & ~self.guides
        self.frame_mask = _turn(frame.mask, 12 - self.root)
        self.leading = self._leading()
        self.root_points = self._root_points()

    def judge(self, kind: str, step: int, own: bool = False) -> Substitute | None:
        """The arpeggio of a kind whose root lies `step` semitones above the chord's; None for its own, unless `own`."""
        mask = turned_masks()[kind][step]
        if not own and step == 0 and mask == self.tones:
            return None
        reach, far = "inside", 0
        if mask & ~self.frame_mask:
            apart = next((distance for scale, distance in self.masks if not mask & ~scale), -1)
            reach, far = ("colour", apart) if apart >= 0 else ("outside", 0)
        score = sum(map(mul, self.worth, self.counts(mask, reach, kind, far, step)))
        return Substitute(kind, step, reach, round(score, 3), far, self)

    def counts(self, mask: int, reach: str, kind: str, far: int, step: int) -> tuple[float, ...]:
        """What each part of the score counts, in the order of WEIGHTS."""
        return ((mask & self.guides).bit_count(), min(2, (mask & self.colours).bit_count()),
                (mask & self.clashing).bit_count(), REACH_POINTS[reach], self.root_points[step], LEARNT.get(kind, 0),
                min(2, (mask & self.leading).bit_count()), far)

    def holding(self, mask: int) -> tuple[Scale, ...]:
        return tuple(scale for scale in self.scales if not mask & ~scale.mask)

    def root_name(self, step: int, mask: int, reach: str) -> NoteName:
        """An arpeggio's root as the scale spells it that the arpeggio comes from; outside, as the home does."""
        pitch = (self.root + step) % 12
        if reach == "outside" and not self.home.mask >> pitch & 1:
            assert self.chord.root is not None
            degree = "b5" if step == 6 and self.chord.is_dominant else self.functions[step]
            return self.chord.root.up(Interval.of_degree(degree)).simple()
        scale = self.holding(mask)[0] if reach == "colour" else self.frame if reach == "inside" else self.home
        typed = scale == self.home != own_home(self.chord)  # a key that someone wrote keeps its own names
        name = named(scale if typed else readable(scale.parent, pitch), pitch)
        return name.simple() if abs(name.accidental) > 1 else name

    def _bits(self, degrees: Iterable[str]) -> int:
        return sum({1 << Interval.of_degree(degree).semitones % 12 for degree in degrees})

    def _root_points(self) -> list[float]:
        chord = self.chord
        sort = ("altered" if is_altered(chord) else "suspended" if "11" in chord.guide_degrees and chord.is_dominant
                else "plain" if "b7" in chord.degrees else "no minor 7th")
        points = ROOT_POINTS[sort]
        return [points.get(function, 0) for function in self.functions]

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
    first = one.sources[0] if one.sources else None
    if one.reach == "inside":
        says += f", all of it inside {task.frame.pretty}"
        if first is not None and first.scale == task.frame != task.home:
            says += _within(first)
    elif first is not None:
        says += f", {'the' if first.stacked else 'all of it'} {first.place} of {first.parent.pretty}"
        says += f", parent of {first.scale.pretty}" if first.parent.kind != first.scale.kind else ""
    else:
        says += ", outside every scale of the chord: a passing tension"
    if one.clashes:
        rub = " and ".join(map(pretty_accidentals, one.clashes))
        verb = "rubs" if len(one.clashes) == 1 else "rub"
        says += f"; the {rub} {verb} against a chord tone, for tension, not for rest"
    if one.half_steps and task.following is not None:
        ways = [f"{shown(move.from_name)} {'falls' if move.semitones < 0 else 'rises'} to {shown(move.to_name)}"
                for move in one.half_steps[:2]]
        says += f"; into {task.following.pretty}, {' and '.join(ways)} by a half step"
    return says + "."


def _within(source: Source) -> str:
    """What the arpeggio is in the chord's own scale or, for a mode, in its parent; nothing where there is no more."""
    if source.parent.kind != source.scale.kind:
        return f": {'the ' if source.stacked else ''}{source.place} of {source.parent.pretty}"
    return f": its {source.place}" if source.stacked else ""


def shown(name: NoteName) -> str:
    """A note as people read it, with the simple name beside a double accidental: “F♯♯ (G)”."""
    return name.pretty if abs(name.accidental) < 2 else f"{name.pretty} ({name.simple().pretty})"


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


