"""Arpeggios: the kinds that can be laid over a chord, from one table, on any root.

Kinds that have a chord symbol are chords; quartal stacks and pentatonics, which have none, are `Arpeggio` values with
the same face (root, tones, names, pretty, str). To add a kind, add a row.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from ..errors import ChordError, closest, shown
from .chords import Chord, Tone
from .spelling import Interval, NoteName, pretty_accidentals

# group: kinds by chord suffix. Common practice, no source.
_CHORD_KINDS = {
    "triad": ("", "m", "dim", "aug", "sus2", "sus4"),
    "seventh": (
        "maj7",
        "m7",
        "7",
        "m7b5",
        "dim7",
        "mMaj7",
        "maj7#5",
        "maj7b5",
        "7#5",
        "7b5",
        "7sus4",
    ),
    "sixth": ("6", "m6"),
    "added ninth": ("add9", "madd9"),
}
# kind without a chord symbol: (group, degrees from its root). Common practice, no source.
_OTHER_KINDS: dict[str, tuple[str, str]] = {
    "quartal triad": ("quartal", "1 11 b7"),
    "quartal stack": ("quartal", "1 11 b7 b3"),
    "major pentatonic": ("pentatonic", "1 9 3 5 6"),
    "minor pentatonic": ("pentatonic", "1 b3 11 5 b7"),
    "minor 6 pentatonic": ("pentatonic", "1 b3 11 5 6"),
    "minor b5 pentatonic": ("pentatonic", "1 b3 11 b5 b7"),
    "major b6 pentatonic": ("pentatonic", "1 9 3 5 b13"),
    "dominant pentatonic": ("pentatonic", "1 9 3 5 b7"),
}
GROUPS: dict[str, str] = {
    suffix: group for group, suffixes in _CHORD_KINDS.items() for suffix in suffixes
} | {kind: group for kind, (group, _) in _OTHER_KINDS.items()}
KINDS: tuple[str, ...] = tuple(GROUPS)
# How soon a student learns a kind, 3 the soonest; altered pentatonics and quartal stacks, not named, come last (0).
LEARNT: dict[str, int] = {
    kind: points
    for points, kinds in (
        (3, ("", "m", "dim", "maj7", "m7", "7", "m7b5", "dim7")),
        (2, ("aug", "6", "m6", "mMaj7")),
        (
            1,
            (
                "sus2",
                "sus4",
                "7sus4",
                "add9",
                "madd9",
                "maj7#5",
                "maj7b5",
                "7#5",
                "7b5",
                "major pentatonic",
                "minor pentatonic",
            ),
        ),
    )
    for kind in kinds
}


@dataclass(frozen=True, slots=True)
class Arpeggio:
    """A kind without a chord symbol on a root: "D quartal triad", "G minor pentatonic"."""

    root: NoteName
    kind: str

    @property
    def tones(self) -> tuple[Tone, ...]:
        intervals = (
            (degree, Interval.of_degree(degree)) for degree in _OTHER_KINDS[self.kind][1].split()
        )
        return tuple(
            Tone(self.root.up(interval), degree, interval) for degree, interval in intervals
        )

    @property
    def names(self) -> tuple[NoteName, ...]:
        return tuple(tone.name for tone in self.tones)

    @property
    def degrees(self) -> tuple[str, ...]:
        return tuple(tone.degree for tone in self.tones)

    @property
    def pitch_classes(self) -> frozenset[int]:
        return frozenset(name.pitch_class for name in self.names)

    def __str__(self) -> str:
        return f"{self.root} {self.kind}"

    @property
    def pretty(self) -> str:
        return f"{self.root.pretty} " + " ".join(
            pretty_accidentals(word) if word[:1] == "b" and word[1:].isdigit() else word
            for word in self.kind.split()
        )


def arpeggio(root: NoteName, kind: str) -> Chord | Arpeggio:
    """A kind of KINDS on a root, as a Chord where it has a symbol."""
    return Arpeggio(root, kind) if kind in _OTHER_KINDS else Chord.parse(_symbol(root, kind))


def as_arpeggio(value: Chord | Arpeggio | str) -> Chord | Arpeggio:
    """A chord, or the text of one or of a kind with a root ("D quartal triad"); raises ChordError with the nearest."""
    if isinstance(value, Chord | Arpeggio):
        return value
    if not isinstance(value, str):
        raise ChordError(
            f"“{shown(value)}” is no arpeggio",
            value=value,
            expected="a chord symbol, or a root and a kind such as D quartal triad",
        )
    root, _, kind = value.strip().partition(" ")
    if not kind:
        return Chord.parse(value)
    if kind not in _OTHER_KINDS:
        raise ChordError(
            f"“{kind}” is not a kind of arpeggio",
            value=value,
            expected=f"one of {', '.join(_OTHER_KINDS)}",
            nearest=closest(kind, _OTHER_KINDS),
        )
    return Arpeggio(NoteName(root), kind)


def group_of(value: Chord | Arpeggio) -> str:
    """triad, seventh, sixth, added ninth, quartal or pentatonic; "chord" for a symbol outside the table."""
    return GROUPS.get(value.kind if isinstance(value, Arpeggio) else value.suffix, "chord")


def mask_of(value: Chord | Arpeggio) -> int:
    """Pitch classes as bits, C the lowest."""
    return sum({1 << name.pitch_class for name in value.names})


@lru_cache(maxsize=1)
def kind_masks() -> dict[str, int]:
    """Each kind's pitch classes above its root as bits."""
    return {kind: mask_of(arpeggio(NoteName("C"), kind)) for kind in KINDS}


@lru_cache(maxsize=1)
def kind_steps() -> dict[str, tuple[int, ...]]:
    """Each kind's notes in its own order, as semitones above its root (0 to 11)."""
    return {
        kind: tuple(name.pitch_class for name in arpeggio(NoteName("C"), kind).names)
        for kind in KINDS
    }


def _symbol(root: NoteName, suffix: str) -> str:
    return f"{root}({suffix})" if suffix[:1] in ("b", "#") else f"{root}{suffix}"
