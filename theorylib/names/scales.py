"""Scales: every mode of the parent scales in use, spelled from the parent.

Conventions
-----------
A scale is a tonic and a kind. A kind is one mode of a family; the family's first mode is the parent. Parents are
the major, melodic minor (ascending form), harmonic minor and harmonic major scales, the whole-tone scale, the two
diminished scales, the major pentatonic and the major blues scale. Symmetric scales are their own parent.
Degrees are written against the major scale of the tonic. "minor" is the natural minor (aeolian).
Names: common practice; the tests compare every kind with music21's or tonal's scale of that name.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

from ..errors import ScaleError, SpellingError, as_text, closest, listed, one_of, shown
from .spelling import Interval, NoteName, degree_of, plain, pretty_accidentals

# degrees of the first mode | modes in order; "=" before other names of a mode, "_" for one that nobody names.
_FAMILIES = (
    (
        "1 2 3 4 5 6 7     | major = ionian, dorian, phrygian, lydian, mixolydian, "
        "minor = aeolian = natural minor, locrian"
    ),
    (
        "1 2 b3 4 5 6 7    | melodic minor = jazz minor, dorian b2 = phrygian 6, lydian augmented = lydian #5, "
        "lydian dominant = lydian b7 = mixolydian #11, mixolydian b6 = mixolydian b13, "
        "locrian #2 = locrian natural 2 = locrian 2 = aeolian b5, altered = super locrian = superlocrian"
    ),
    (
        "1 2 b3 4 5 b6 7   | harmonic minor, locrian 6 = locrian natural 6, major #5 = ionian #5 = ionian augmented, "
        "dorian #4 = dorian #11, phrygian dominant = mixolydian b9 b13 = phrygian major, lydian #2 = lydian #9, "
        "altered bb7 = super locrian bb7"
    ),
    (
        "1 2 3 4 5 b6 7    | harmonic major, dorian b5, phrygian b4, lydian b3 = melodic minor #4, "
        "mixolydian b2 = mixolydian b9, lydian augmented #2 = lydian #2 #5, locrian bb7"
    ),
    "1 2 3 #4 #5 b7    | whole tone = whole-tone",
    "1 2 b3 4 b5 b6 6 7 | diminished = whole-half diminished = whole-half",
    "1 b2 #2 3 #4 5 6 b7 | half-whole diminished = half-whole = dominant diminished",
    (
        "1 2 3 5 6         | major pentatonic = pentatonic major, egyptian, blues minor pentatonic, "
        "blues major pentatonic, minor pentatonic = pentatonic minor = pentatonic"
    ),
    "1 2 b3 3 5 6      | major blues, _, _, _, _, blues = minor blues",
)
# Families whose modes all sound alike: each is its own parent, whichever note comes first.
SYMMETRIC = ("whole tone", "diminished", "half-whole diminished")


@dataclass(frozen=True, slots=True)
class Kind:
    """A row of the table: canonical name, family, number of the mode (1 is the parent) and degrees in order."""

    name: str
    family: str
    mode: int
    degrees: tuple[str, ...]
    other_names: tuple[str, ...] = ()


def _read_table() -> dict[str, Kind]:
    kinds: dict[str, Kind] = {}
    for row in _FAMILIES:
        degrees, names = (cell.strip() for cell in row.split("|"))
        fifths = [Interval.of_degree(degree).fifths for degree in degrees.split()]
        modes = [[name.strip() for name in mode.split("=")] for mode in names.split(",")]
        for index, (name, *others) in enumerate(modes):
            if name == "_":  # a mode that nobody names
                continue
            turned = [place - fifths[index] for place in fifths[index:] + fifths[:index]]
            kinds[name] = Kind(
                name, modes[0][0], index + 1, tuple(map(degree_of, turned)), tuple(others)
            )
    return kinds


KINDS: dict[str, Kind] = _read_table()
_READS: dict[str, str] = {
    word.lower(): kind.name for kind in KINDS.values() for word in (kind.name, *kind.other_names)
}


class _Facts:
    """What follows from a scale's two fields, worked out once: kept beside the value so that it stays frozen."""

    def __init__(self, tonic: NoteName, kind: Kind) -> None:
        self._tonic, self._kind = tonic, kind

    @cached_property
    def names(self) -> tuple[NoteName, ...]:
        return tuple(self._tonic.up(Interval.of_degree(degree)) for degree in self._kind.degrees)

    @cached_property
    def mask(self) -> int:
        return sum(1 << name.pitch_class for name in self.names)

    @cached_property
    def parent(self) -> Scale:
        if self._kind.mode == 1:
            return Scale(self._tonic, self._kind.name)
        first = KINDS[self._kind.family]
        up = Interval.of_degree(first.degrees[self._kind.mode - 1])
        return Scale(NoteName.at(self._tonic.fifths - up.fifths), first.name)


_A_SCALE = "a note name and a kind such as A dorian"


@lru_cache(maxsize=4096)
def _facts(tonic: NoteName, kind: str) -> _Facts:
    return _Facts(tonic, KINDS[kind])


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale to draw, to play or to lay over a chord; `Scale.parse("A dorian")` reads its name.

    A tonic and a kind (a key of KINDS).

    >>> str(Scale.parse("A dorian").parent), Scale.parse("A dorian").parent_degree
    ('G major', 2)
    """

    tonic: NoteName
    kind: str

    def __post_init__(self) -> None:
        if type(self.tonic) is not NoteName:
            object.__setattr__(self, "tonic", NoteName(self.tonic))
        if type(self.kind) is not str or self.kind not in KINDS:
            one_of(self.kind, KINDS, "kind of scale", ScaleError)

    @classmethod
    def parse(cls, text: str) -> Scale:
        """Read "A dorian", "C minor", "Cm", "Bb" (major), "E altered"; raises ScaleError with the nearest names."""
        return _parse(as_text(text, "scale", _A_SCALE, ScaleError))

    @property
    def names(self) -> tuple[NoteName, ...]:
        """The notes from the tonic up, spelled as in the parent scale."""
        return _facts(self.tonic, self.kind).names

    @property
    def degrees(self) -> tuple[str, ...]:
        return KINDS[self.kind].degrees

    @property
    def parent(self) -> Scale:
        """The family's first mode with the same notes (G major for A dorian)."""
        return _facts(self.tonic, self.kind).parent

    @property
    def parent_degree(self) -> int:
        """Which degree of the parent the tonic is: 2 for A dorian."""
        return KINDS[self.kind].mode

    @property
    def family(self) -> str:
        return KINDS[self.kind].family

    @property
    def mask(self) -> int:
        """The pitch classes as bits, C the lowest: the fast form for look-ups."""
        return _facts(self.tonic, self.kind).mask

    @property
    def pitch_classes(self) -> frozenset[int]:
        return frozenset(name.pitch_class for name in self.names)

    @property
    def is_minor(self) -> bool:
        return "b3" in self.degrees and "3" not in self.degrees

    def mode(self, degree: int) -> Scale:
        """The mode of this scale's parent that starts on its `degree` (1 is the parent): raises if nobody names it."""
        parent = self.parent
        kind = next(
            (
                kind.name
                for kind in KINDS.values()
                if kind.family == parent.kind and kind.mode == degree
            ),
            None,
        )
        if kind is None:
            raise ScaleError(f"{parent} has no named mode on degree {degree}", value=degree)
        return Scale(parent.names[degree - 1], kind)

    def mode_on(self, tonic: NoteName) -> Scale | None:
        """The mode of this scale's parent whose tonic sounds as `tonic`, or None."""
        for degree, name in enumerate(self.parent.names, 1):
            if name.pitch_class == tonic.pitch_class:
                try:
                    return self.mode(degree)
                except ScaleError:
                    return None
        return None

    def up(self, interval: Interval) -> Scale:
        return Scale(self.tonic.up(interval), self.kind)

    def simple(self) -> Scale:
        """The same sounds with the fewest accidentals in the parent (G# major is Ab major)."""
        parent = self.parent
        if abs(parent.tonic.fifths) <= 6:
            return self
        shift = 12 if parent.tonic.fifths < 0 else -12
        return Scale(NoteName.at(self.tonic.fifths + shift), self.kind)

    def __str__(self) -> str:
        return f"{self.tonic} {self.kind}"

    @property
    def pretty(self) -> str:
        """As people read it: ♯ ♭, and the word natural where "minor" alone would be unclear."""
        return f"{self.tonic.pretty} {self.pretty_kind}"

    @property
    def pretty_kind(self) -> str:
        """The kind alone, as people read it."""
        kind = "natural minor" if self.kind == "minor" else self.kind
        return " ".join(
            pretty_accidentals(word) if word[:1] in "b#" and word[-1:].isdigit() else word
            for word in kind.split()
        )


@lru_cache(maxsize=4096)
def _parse(text: str) -> Scale:
    written = " ".join(plain(text).split())
    tonic_text, _, kind_text = written.partition(" ")
    if not kind_text and len(tonic_text) > 1 and tonic_text[-1] == "m":
        tonic_text, kind_text = tonic_text[:-1], "minor"
    try:
        tonic = NoteName(tonic_text)
    except SpellingError as error:
        raise ScaleError(
            f"“{text}” is not a scale", value=text, expected=_A_SCALE, nearest=error.nearest
        ) from error
    if abs(tonic.accidental) > 2:  # further out, the scale's own notes have no names left
        raise ScaleError(
            f"“{tonic}” is no tonic",
            value=text,
            expected="a note with at most two # or b",
            nearest=(str(tonic.simple()),),
        )
    kind = _READS.get(kind_text.lower().removesuffix(" scale")) if kind_text else "major"
    if kind is None:
        raise ScaleError(
            f"no scale is called “{kind_text}”",
            value=text,
            expected="a kind such as dorian or altered",
            nearest=[f"{tonic} {name}" for name in closest(kind_text.lower(), _READS)],
        )
    return Scale(tonic, kind)


def as_scale(value: Scale | str) -> Scale:
    return value if isinstance(value, Scale) else Scale.parse(value)


@lru_cache(maxsize=1)
def all_scales() -> tuple[Scale, ...]:
    """Every kind on twelve tonics, each spelled simply: the catalogue for look-ups."""
    return tuple(
        dict.fromkeys(
            Scale(NoteName.at(fifths), kind).simple() for kind in KINDS for fifths in range(-5, 7)
        )
    )


def scales_with(pitch_classes: frozenset[int]) -> tuple[Scale, ...]:
    """Every scale of the catalogue that holds all of `pitch_classes`."""
    found = listed(pitch_classes, "set of pitch classes", "numbers from 0 to 11", ScaleError)
    wrong = [one for one in found if type(one) is not int or not 0 <= one <= 11]
    if wrong:
        raise ScaleError(
            f"“{shown(wrong[0])}” is no pitch class", value=wrong[0], expected="0 (C) to 11 (B)"
        )
    return _holding(sum({1 << one for one in found}))


@lru_cache(maxsize=4096)  # as many as there are sets of pitch classes
def _holding(wanted: int) -> tuple[Scale, ...]:
    return tuple([scale for scale, missing in _catalogue() if not wanted & missing])


@lru_cache(maxsize=1)
def _catalogue() -> tuple[tuple[Scale, int], ...]:
    """Every scale beside the bits of the pitch classes that it does not hold."""
    return tuple((scale, ~scale.mask) for scale in all_scales())
