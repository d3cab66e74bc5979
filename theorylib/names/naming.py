"""Names for sets of notes: every sensible chord that they spell, best first.

Conventions (common practice, no source): the bass note is the root if any name allows it; a perfect fifth may be
missing (said as no5), and so may the third of a chord with a 6th or 7th (no3); a note in the bass that no such name
explains stands after a slash. A triad over its own third is that triad (C E A is Am/C) before it is a sixth chord
without its 5th. Two notes are named by their interval: the fifth or the third that they are, upside down over a slash
(C F is F5/C, C A is Amno5/C), else the chord of which they are the frame (C B is Cmaj7no3no5). Simpler symbols come
first, ties are broken by the symbol itself. Roots take the spelling in which their note is given.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from ..errors import SpellingError, listed
from .chords import Chord
from .qualities import QUALITIES
from .spelling import NoteName

# Suffixes beyond the plain qualities that people write for chords.
_ALTERED = (
    "m7b5",
    "7b5",
    "7#5",
    "7b9",
    "7#9",
    "7#11",
    "7b13",
    "9#5",
    "9b5",
    "9#11",
    "13#11",
    "13b9",
    "7b9b13",
    "7#5#9",
    "7#5b9",
    "7b5b9",
    "7b5#9",
    "maj7b5",
    "maj7#5",
    "maj7#11",
    "maj9#11",
    "7sus4b9",
    "13sus4b9",
    "m7add11",
    "add9",
    "madd9",
    "add11",
    "madd11",
    "add#11",
    "m7#5",
    "7add13",
    "m9b5",
    "6/9#11",
    "dim7b13",
)
# Chords that two notes alone stand for, with their ranks among the symbols.
_OF_TWO = {
    "no5": 10,
    "mno5": 11,
    "7no3no5": 25,
    "maj7no3no5": 26,
    "dimno3": 30,
    "sus2no5": 45,
    "6no3no5": 65,
    "sus4no5": 65,
}
_MAJOR_THIRD, _FIFTH = 1 << 4, 1 << 7  # as bits above the root
# Added to a symbol's rank: each as much as that many rows of the table.
_NO_FIFTH, _SLASH, _OTHER_BASS = 20, 60, 40
_NO_THIRD, _SIXTH, _INVERTED_SIXTH = 25, 20, 10


def names_of(notes: Iterable[str] | str, bass: str | None = None) -> tuple[Chord, ...]:
    """To name notes that one holds: every sensible chord for “C E G”, best first.

    `bass` is the lowest note (None: the first).

    >>> str(names_of("E G C")[0])
    'C/E'

    Raises SpellingError for a name that is not a note. Fewer than two different notes have no chord name.
    """
    named = (
        notes.split()
        if isinstance(notes, str)
        else listed(notes, "list of notes", "such as C E G", SpellingError)
    )
    spelled = [NoteName(note) for note in named]
    if bass is not None:
        spelled.insert(0, NoteName(bass))
    if not spelled:
        raise SpellingError("no notes to name", value="", expected="two notes or more")
    by_class = {note.pitch_class: note for note in reversed(spelled)}
    low = spelled[0]
    mask = sum(1 << pitch for pitch in by_class)
    upper = mask & ~(1 << low.pitch_class)
    found: dict[Chord, int] = {}
    for pitch, root in by_class.items():
        root_in_bass = pitch == low.pitch_class
        for suffix, rank in _spelled_by(_turned(mask, pitch)):
            if root_in_bass:
                _keep(found, f"{root}{suffix}", rank)
            else:
                # An inverted sixth chord is heard as the seventh chord that it then is.
                is_sixth = suffix.startswith(("6", "m6"))
                inverted = _OTHER_BASS + (_INVERTED_SIXTH if is_sixth else 0)
                _keep(found, f"{root}{suffix}/{low}", rank + inverted)
        root_above_bass = upper >> pitch & 1
        for suffix, rank in _spelled_by(_turned(upper, pitch)) if root_above_bass else ():
            if suffix not in _OF_TWO:
                _keep(found, f"{root}{suffix}/{low}", rank + _SLASH)
    return tuple(sorted(found, key=lambda chord: (found[chord], str(chord))))


def _keep(found: dict[Chord, int], symbol: str, rank: int) -> None:
    chord = Chord.parse(symbol)
    found[chord] = min(rank, found.get(chord, rank))


def _turned(mask: int, root: int) -> int:
    """The set as seen from a root: bit 0 is the root."""
    return (mask >> root | mask << (12 - root)) & 0xFFF


def _spelled_by(mask: int) -> tuple[tuple[str, int], ...]:
    return _table().get(mask, ())


@lru_cache(maxsize=1)
def _table() -> dict[int, tuple[tuple[str, int], ...]]:
    """Pitch classes above the root as bits: (suffix, rank) of the chords that sound just these."""
    found: dict[int, list[tuple[str, int]]] = {}

    def keep(mask: int, suffix: str, rank: int) -> None:
        found.setdefault(mask, []).append((suffix, rank))

    for rank, suffix in enumerate([*QUALITIES, *_ALTERED]):
        mask, degrees = _sounding(suffix)
        keep(mask, suffix, rank)
        if "5" in degrees and len(degrees) > 3:
            bare_sixth = _SIXTH if suffix in ("6", "m6") else 0
            keep(mask & ~_FIFTH, f"{suffix}no5", rank + _NO_FIFTH + bare_sixth)
        if suffix in ("6", "7", "maj7"):
            keep(mask & ~_MAJOR_THIRD, f"{suffix}no3", rank + _NO_THIRD)
    for suffix, rank in _OF_TWO.items():
        keep(_sounding(suffix)[0], suffix, rank)
    return {mask: tuple(rows) for mask, rows in found.items()}


def _sounding(suffix: str) -> tuple[int, tuple[str, ...]]:
    """(pitch classes above the root as bits, degrees) of a chord."""
    chord = Chord.parse(f"C{suffix}")
    return sum(1 << pitch for pitch in chord.pitch_classes), chord.degrees
