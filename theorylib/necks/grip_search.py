"""Which frets sound a chord: every row of frets within a hand's reach that has what the chord's name needs.

A row stands from the thickest string to the thinnest: 0 is an open string, None one that is not played.

What must sound (common practice, no source): every tone that makes the name, but a perfect 5th in a chord of four tones
and more, and a natural 9 or 11 below a higher tension. The root may be left to the bass player where a 3rd, a 7th and a
tension remain. A slash bass is the lowest note; without one the root is, on more than four strings.

What must not sound (common practice, no source): a minor 9th between two voices, unless it is the b9 over the root that
the symbol asks for; a #9 below the 3rd; a semitone between the two highest voices.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product

from ..names.chords import Chord
from .grip_fingers import Frets
from .tunings import Tuning

WIDEST_FRETS = 4  # from the lowest pressed fret to the highest
HIGHEST_FRET = 12  # where the lowest pressed fret may lie: above it the neck repeats
FEWEST_VOICES, FEWEST_OF_A_POWER_CHORD = 3, 2
MOST_INVERTED = 4  # strings of a grip whose lowest note may be another than the root
_SEVENTHS = {"b7", "7", "bb7", "6"}
_THIRDS = {"3", "b3"}
_SUSPENDED = {"9", "11"}  # the 2nd or 4th that stands for a 3rd
_MINOR_NINTH = 13  # semitones


@dataclass(frozen=True, slots=True)
class Wanted:
    """The degree of each pitch class that may sound, those that must, the root, and the bass if a slash names one."""

    degrees: dict[int, str]
    needed: frozenset[int]
    root: int
    bass: int | None
    rootless: bool

    @property
    def lowest(self) -> int:
        """The pitch class that a firm bass has."""
        return self.root if self.bass is None else self.bass

    @classmethod
    def by(cls, chord: Chord) -> Wanted:
        """What a chord (not N.C.) asks of a grip."""
        assert chord.root is not None
        root = chord.root.pitch_class
        degrees = {tone.name.pitch_class: tone.degree for tone in chord.tones}
        bass = None if chord.bass is None else chord.bass.pitch_class
        if bass is not None:
            degrees = {bass: "bass"} | degrees
        spare = spare_degrees(chord.degrees)
        needed = frozenset(
            pitch for pitch, degree in degrees.items() if degree not in spare and pitch != root
        )
        return cls(degrees, needed, root, bass, bass is None and _names_itself(chord.degrees))


def spare_degrees(degrees: tuple[str, ...]) -> set[str]:
    """The degrees that a grip may leave out and still be called by the chord's name, the root not among them."""
    has = set(degrees)
    spare = {"5"} if len(degrees) > 3 else set()
    if not _SEVENTHS & has:
        return spare
    tensions = sorted(
        (degree for degree in degrees if degree.lstrip("b#") in ("9", "11", "13")),
        key=lambda degree: int(degree.lstrip("b#")),
    )
    lower = set(tensions[:-1]) & {"9", "11"}
    return spare | (lower if _THIRDS & has else lower - {"11"})


def _names_itself(degrees: tuple[str, ...]) -> bool:
    """Whether what is left without the root still tells the chord: a 3rd, a 7th and a tension beside them."""
    has = set(degrees)
    return bool(_THIRDS & has and _SEVENTHS & has) and len(degrees) > 4


def rows(wanted: Wanted, tuning: Tuning) -> Iterator[tuple[Frets, tuple[int, ...]]]:
    """(frets, MIDI numbers of the played strings) of each grip that sounds right, each once."""
    opened = [tuning.midi(string, 0) for string in reversed(tuning.strings)]
    for low in range(1, min(HIGHEST_FRET, tuning.last_fret) + 1):
        for frets in _within(wanted, tuning, low):
            begins_here = low in frets or (low == 1 and not any(frets))
            if not begins_here:
                continue
            midis = tuple(
                [
                    midi + fret
                    for midi, fret in zip(opened, frets, strict=True)
                    if fret is not None
                ]
            )
            if _sounds_right(midis, wanted):
                yield frets, midis


def _within(wanted: Wanted, tuning: Tuning, low: int) -> Iterator[Frets]:
    """Rows of chord tones from `low` on: neighbouring strings, but for one beside the bass that may be damped."""
    # Open strings, and as far as the hand reaches from its lowest fret.
    window = (0, *range(low, min(low + WIDEST_FRETS, tuning.last_fret) + 1))
    options: list[list[int]] = []
    basses: list[list[int]] = []
    for string in reversed(tuning.strings):
        opened = tuning.midi(string, 0)
        options.append([fret for fret in window if (opened + fret) % 12 in wanted.degrees])
        basses.append([fret for fret in options[-1] if (opened + fret) % 12 == wanted.lowest])
    fewest = FEWEST_OF_A_POWER_CHORD if len(wanted.degrees) == 2 else FEWEST_VOICES
    for first in range(len(options) - fewest + 1):
        for last in range(first + fewest - 1, len(options)):
            strings = last - first + 1
            firm = wanted.bass is not None or strings > MOST_INVERTED
            ways = [basses[first] if firm else options[first], *options[first + 1 : last + 1]]
            yield from _filled(ways, first, len(options) - last - 1, damped=False)
            if strings > fewest > FEWEST_OF_A_POWER_CHORD:  # a power chord's strings lie side by side
                yield from _filled(ways, first, len(options) - last - 1, damped=True)


def _filled(ways: list[list[int]], before: int, after: int, damped: bool) -> Iterator[Frets]:
    """Every row with one of its frets for each string, the second string damped or not."""
    silent: list[Sequence[int | None]] = [(None,)]
    sounding = [ways[0], *silent, *ways[2:]] if damped else ways
    return product(*silent * before, *sounding, *silent * after)


def _sounds_right(midis: tuple[int, ...], wanted: Wanted) -> bool:
    """Whether the notes are the chord, with the bass that it asks for, and clash nowhere."""
    sounding = {midi % 12 for midi in midis}
    lowest = min(midis)
    rooted = wanted.root in sounding
    if not wanted.needed <= sounding or not (rooted or wanted.rootless):
        return False
    if wanted.bass is not None and lowest % 12 != wanted.bass:
        return False
    return not _clashes(sorted(midis), wanted)


def _clashes(midis: list[int], wanted: Wanted) -> bool:
    """A minor 9th, a semitone on top, or a #9 below the 3rd."""
    if midis[-1] - midis[-2] == 1:
        return True
    for low, high in combinations(midis, 2):
        minor_ninth = high - low >= _MINOR_NINTH and (high - low) % 12 == 1
        asked_for = low % 12 == wanted.root and wanted.degrees[high % 12] == "b9"
        if minor_ninth and not asked_for:
            return True
    voices = [wanted.degrees[midi % 12] for midi in midis]
    return "#9" in voices and "3" in voices and voices.index("#9") < voices.index("3")
