"""Substitute arpeggios: what else can be played over a chord, what each note becomes, where it comes from, how far out.

Conventions (common practice, no source)
----------------------------------------
Every kind of arpeggio on every root is a candidate, the chord's own plain arpeggio apart. A chord of the home is judged
in the home scale; a borrowed or applied chord, whose notes the home does not hold, in its own chord scale. An arpeggio
is inside when all its notes lie in that scale, colour when they lie in some other scale of the chord (see sources),
outside otherwise. A note clashes when it lies a half step above a chord tone and is no wanted tension, or is the 3rd
that a sus chord holds back. Roots take the spelling of the scale that the arpeggio is said to come from,
save that a tritone substitute stands on the flat fifth.

The score is the sum of few named parts, each times its weight. They follow what is taught: first the arpeggio that
carries the chord's own thirds on (from its 3rd, its 5th, or the 6th below its root), states its guide tones and adds a
colour or two. Ties fall to the nearer root and the plainer kind, so that the order is the same in every key.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from ..errors import ChordError
from ..limits import exact
from ..names.arpeggios import (
    GROUPS,
    KINDS,
    Arpeggio,
    arpeggio,
    as_arpeggio,
    kind_masks,
    kind_steps,
)
from ..names.chords import Chord, as_chord
from ..names.scales import Scale, as_scale
from ..names.spelling import NoteName, pretty_accidentals
from .harmony import Move, moves
from .judging import REACH_POINTS, WEIGHTS, Judge, Reach, turn, turned_masks
from .sources import Source, judging_scale, own_home, source_of

_HALF_STEP_FIFTHS = (5, 7)  # along the line of fifths: a minor second and a chromatic half step


@dataclass(frozen=True, slots=True)
class Substitute:
    """One arpeggio over a chord: its worth is known at once; names, sources and words are made when asked for."""

    kind: str
    step: int  # semitones from the chord's root up to the arpeggio's
    reach: Reach
    score: float
    far: int  # signatures between the nearest source's parent and the home's
    _judge: Judge = field(repr=False)

    @property
    def parts(self) -> tuple[tuple[str, float], ...]:
        """The named parts whose sum is the score; parts that count nothing are left out."""
        judge = self._judge
        counts = judge.counts(
            turned_masks()[self.kind][self.step], self.reach, self.kind, self.far, self.step
        )
        return tuple(
            (name, round(worth * count, 3))
            for name, worth, count in zip(WEIGHTS, judge.worth, counts, strict=True)
            if count
        )

    @property
    def arpeggio(self) -> Chord | Arpeggio:
        return arpeggio(self._judge.root_name(self.step, self._mask(), self.reach), self.kind)

    @property
    def degrees(self) -> tuple[str, ...]:
        """What each note of the arpeggio is over the chord, in the arpeggio's own order."""
        return tuple(self._judge.functions[step] for step in self._steps())

    @property
    def chord_tones(self) -> tuple[str, ...]:
        return tuple(degree for degree in self.degrees if degree in self._judge.chord.degrees)

    @property
    def tensions(self) -> tuple[str, ...]:
        """The notes that colour the chord: in a chord scale, neither chord tones nor clashes."""
        return self._named(self._judge.colouring)

    @property
    def clashes(self) -> tuple[str, ...]:
        """The notes a half step above a chord tone that are no wanted tension: for tension, not for rest."""
        return self._named(self._judge.clashing)

    @property
    def sources(self) -> tuple[Source, ...]:
        """Every scale of the chord from which the arpeggio can come, the nearest to the judging scale first.

        In a key their parents have the names of that key, so that one lesson does not speak of C sharp and D flat.
        """
        return self._sources(self._judge.in_a_key)

    def _sources(self, in_a_key: bool) -> tuple[Source, ...]:
        judge = self._judge
        pitches = [(judge.root + step) % 12 for step in self._steps()]
        return tuple(source_of(scale, pitches, in_a_key) for scale in judge.holding(self._mask()))

    @property
    def shared_with_chord(self) -> int:
        return (self._mask() & self._judge.own).bit_count()

    @property
    def shared_with_home(self) -> int:
        return (self._mask() & self._judge.home.mask).bit_count()

    @property
    def resolutions(self) -> tuple[Move, ...]:
        """The smallest move of each note into the next chord, named as the key names it; empty without one.

        A half step that so would skip a letter (A sharp to C flat) has the arpeggio's own name, or the simple one.
        """
        return tuple(self._as_named(move) for move in self._resolutions())

    def _as_named(self, move: Move) -> Move:
        name = self._judge.spelled(move.from_name.pitch_class, move.from_name)
        return replace(move, from_name=_read_once(move, name))

    def _resolutions(self) -> tuple[Move, ...]:
        """The moves, each note named as the arpeggio by itself names it."""
        following = self._judge.following
        return () if following is None else moves(self.arpeggio, following)

    @property
    def half_steps(self) -> tuple[Move, ...]:
        return _half_steps(self.resolutions)

    @property
    def reason(self) -> str:
        """One sentence that a teacher could read aloud."""
        found = self.arpeggio
        assert found.root is not None
        here = self._judge.spelled(found.root.pitch_class, found.root)
        said = found.pretty if here == found.root else f"{found.pretty}, here from {here.pretty},"
        return _reason(self, said, self.sources, self.half_steps)

    @property
    def reason_by_itself(self) -> str:
        """The same with the arpeggio and its parents named as they are where there is no key."""
        return _reason(
            self, self.arpeggio.pretty, self._sources(False), _half_steps(self._resolutions())
        )

    def _mask(self) -> int:
        return turn(kind_masks()[self.kind], self._root_class())

    def _root_class(self) -> int:
        return (self._judge.root + self.step) % 12

    def _steps(self) -> list[int]:
        return [(step + self.step) % 12 for step in kind_steps()[self.kind]]

    def _named(self, mask: int) -> tuple[str, ...]:
        return tuple(self._judge.functions[step] for step in self._steps() if mask >> step & 1)


def substitutes(
    chord: Chord | str,
    key: Scale | str | None = None,
    next_chord: Chord | str | None = None,
    *,
    scale: Scale | str | None = None,
    weights: Mapping[str, float] | None = None,
    reach: Reach | None = None,
) -> tuple[Substitute, ...]:
    """What else can be played over a chord: every arpeggio, best first.

    `reach` keeps only "inside", "colour" or "outside". `scale` is the chord's own scale, as `harmony` reads it; it
    judges a chord whose notes the key does not hold. Without it the first chord scale is taken that the key and the
    next chord ask for. `weights` stand in the place of those of WEIGHTS that they name.

    >>> [str(one.arpeggio) for one in substitutes("G7", key="C major", next_chord="Cmaj7")[:3]]
    ['Bm7b5', 'Bdim', 'Dm6']

    Raises ChordError for no chord, or for a weight or reach that does not exist.
    """
    chord = as_chord(chord)
    if chord.root is None:
        raise ChordError("no chord has no substitutes", value=str(chord), expected="a chord symbol")
    weights = {} if weights is None else weights
    if not isinstance(weights, Mapping):
        raise ChordError(
            "these are no weights", value=weights, expected=f"numbers for {', '.join(WEIGHTS)}"
        )
    unknown = [name for name in weights if name not in WEIGHTS]
    if unknown or (reach is not None and reach not in tuple(REACH_POINTS)):
        wrong = ", ".join(map(str, unknown)) or reach
        raise ChordError(
            f"“{wrong}” is not known here",
            value=wrong,
            expected=f"weights {', '.join(WEIGHTS)}; reach {', '.join(REACH_POINTS)}",
        )
    for name, weight in weights.items():
        exact(weight, f"weight of {name}")
    home = own_home(chord) if key is None else as_scale(key)
    following = None if next_chord is None else as_chord(next_chord)
    frame = judging_scale(chord, home, following, None if scale is None else as_scale(scale))
    found = _search(chord, home, frame, following, tuple({**WEIGHTS, **weights}.items()))
    return found if reach is None else tuple(one for one in found if one.reach == reach)


def with_new_notes(found: Iterable[Substitute]) -> Iterator[Substitute]:
    """The substitutes without those whose notes all lie in one before: Em6 after C#m7b5 is the same four notes.

    >>> first = [one for one in substitutes("C7", "F minor", "Fm7") if one.kind in ("dim7", "dim", "m7b5")][:5]
    >>> [one.arpeggio.pretty for one in first], [one.arpeggio.pretty for one in with_new_notes(first)]
    (['E°7', 'E°', 'G°7', 'B♭ø7', 'D♭°7'], ['E°7', 'B♭ø7'])
    """
    masks: list[int] = []
    for one in found:
        mask = turned_masks()[one.kind][one.step]
        if all(mask & ~before for before in masks):
            masks.append(mask)
            yield one


@lru_cache(maxsize=512)
def _search(
    chord: Chord,
    home: Scale,
    frame: Scale,
    following: Chord | None,
    weights: tuple[tuple[str, float], ...],
) -> tuple[Substitute, ...]:
    """Every candidate, best first; a chart asks for the same chord many times."""
    judge = Judge(chord, home, frame, following, dict(weights))
    found = [
        _substitute(judge, kind, step)
        for step in range(12)
        for kind in KINDS
        if not judge.is_own(kind, step)
    ]
    # A stable sort: ties keep the order of roots and kinds.
    return tuple(sorted(found, key=lambda one: -one.score))


def judge_one(
    value: Chord | Arpeggio | str,
    chord: Chord | str,
    key: Scale | str | None = None,
    scale: Scale | str | None = None,
) -> Substitute | None:
    """One arpeggio over one chord, judged as `substitutes` would; its own plain arpeggio counts too.

    `scale` is the chord's own. None for a kind that is not in the table of arpeggios, and for no chord.
    """
    value, chord = as_arpeggio(value), as_chord(chord)
    key, scale = None if key is None else as_scale(key), None if scale is None else as_scale(scale)
    kind = value.kind if isinstance(value, Arpeggio) else value.suffix
    if value.root is None or chord.root is None or kind not in GROUPS:
        return None
    judge = _judge(chord, key, scale)
    return _substitute(judge, kind, (value.root.pitch_class - judge.root) % 12)


def _substitute(judge: Judge, kind: str, step: int) -> Substitute:
    verdict = judge.judge(kind, step)
    return Substitute(kind, step, verdict.reach, verdict.score, verdict.far, judge)


@lru_cache(maxsize=256)
def _judge(chord: Chord, key: Scale | None, scale: Scale | None = None) -> Judge:
    home = own_home(chord) if key is None else key
    return Judge(chord, home, judging_scale(chord, home, None, scale), None, WEIGHTS)


def candidate_count(chord: Chord | str) -> int:
    """How many arpeggios are judged over a chord: every kind on every root but the chord's own."""
    chord = as_chord(chord)
    if chord.root is None:
        raise ChordError("no chord has no substitutes", value=str(chord), expected="a chord symbol")
    judge = _judge(chord, None)
    return sum(not judge.is_own(kind, step) for kind in KINDS for step in range(12))


def _read_once(move: Move, wanted: NoteName) -> NoteName:
    """The name wanted for a move's first note; another where it and the second would be read as farther apart."""
    if abs(move.semitones) != 1:
        return wanted
    plain = move.from_name.simple()
    around = 12 if plain.fifths < 0 else -12
    other = plain.at(plain.fifths + around)
    for name in (wanted, move.from_name, plain, other):
        if _is_half_step(name, move.to_name):
            return name
    return wanted


def _is_half_step(one: NoteName, two: NoteName) -> bool:
    """Is a half step written as one, on a letter and its neighbour or on one letter?"""
    return abs(one.fifths - two.fifths) in _HALF_STEP_FIFTHS


def _half_steps(found: Iterable[Move]) -> tuple[Move, ...]:
    return tuple(move for move in found if abs(move.semitones) == 1)


def _reason(
    one: Substitute, said: str, sources: Sequence[Source], half_steps: Sequence[Move]
) -> str:
    judge = one._judge
    degrees = " ".join(map(pretty_accidentals, one.degrees))
    says = f"{said} over {judge.chord.pretty} gives {degrees}{_where_from(one, sources)}"
    clashes = one.clashes
    if clashes:
        rub = " and ".join(map(pretty_accidentals, clashes))
        verb = "rubs" if len(clashes) == 1 else "rub"
        says += f"; the {rub} {verb} against a chord tone, for tension, not for rest"
    if half_steps and judge.following is not None:
        ways = " and ".join(map(_way, half_steps[:2]))
        says += f"; into {judge.following.pretty}, {ways} by a half step"
    return says + "."


def _where_from(one: Substitute, sources: Sequence[Source]) -> str:
    judge = one._judge
    first = sources[0] if sources else None
    if one.reach == "inside":
        says = f", all of it inside {judge.frame.pretty}"
        frame_is_its_own = (
            judge.frame != judge.home and first is not None and first.scale == judge.frame
        )
        return says + _within(first) if first is not None and frame_is_its_own else says
    if first is None:
        return ", outside every scale of the chord: a passing tension"
    says = f", {'the' if first.stacked else 'all'} {first.place} of {first.parent.pretty}"
    is_mode = first.parent.kind != first.scale.kind
    return says + (f", parent of {first.scale.pretty}" if is_mode else "")


def _way(move: Move) -> str:
    verb = "falls" if move.semitones < 0 else "rises"
    return f"{shown(move.from_name)} {verb} to {shown(move.to_name)}"


def _within(source: Source) -> str:
    """What the arpeggio is in the chord's own scale or, for a mode, in its parent; nothing where there is no more."""
    if source.parent.kind != source.scale.kind:
        return f": {'the ' if source.stacked else ''}{source.place} of {source.parent.pretty}"
    return f": its {source.place}" if source.stacked else ""


def shown(name: NoteName) -> str:
    """A note as people read it, with the simple name beside a double accidental: “F♯♯ (G)”."""
    return name.pretty if abs(name.accidental) < 2 else f"{name.pretty} ({name.simple().pretty})"
