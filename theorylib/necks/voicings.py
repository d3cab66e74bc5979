"""Chord voicings found by search: which frets on which strings sound a chord and can be held by one hand.

Conventions: a voicing gives a fret for each string used, string numbers as everywhere (1 is the thinnest). Voices are
counted from the lowest. A drop-2 voicing is a close four-note voicing whose second voice from the top lies an octave
lower; drop-3 the same with the third. The fifth may be left out where it is perfect; root, third and seventh may not
(a shell holds just these three). The bass of a slash chord is the lowest note. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, product

from ..errors import NeckError, shown
from ..limits import is_whole
from ..names.chords import Chord, as_chord
from .shapes import Target
from .tunings import STANDARD, Tuning, as_fret, as_strings, as_tuning

MOST_FINGERS = 4
WIDEST_FRETS = 4  # highest fretted minus lowest: a stretch of five frets


@dataclass(frozen=True, slots=True)
class Voicing:
    """Places from the lowest voice up, the stretch in mm, the fingers needed (a barre counts once) and its kind."""

    places: tuple[Target, ...]
    stretch_mm: float
    fingers: int
    kind: str  # "close", "drop 2", "drop 3", "shell" or "open"

    @property
    def inversion(self) -> str:
        """The degree in the bass."""
        return self.places[0].degree

    def frets(self, tuning: Tuning) -> tuple[int | None, ...]:
        """Fret for each string from the lowest string to the highest; None is not played."""
        by_string = {place.string: place.fret for place in self.places}
        return tuple(by_string.get(string) for string in reversed(tuning.strings))


def voicings(chord: Chord | str, strings: Iterable[int] | None = None, tuning: Tuning | str = STANDARD, *,
             lowest_fret: int = 0, highest_fret: int = 12, widest_frets: int = WIDEST_FRETS,
             open_strings: bool = True) -> tuple[Voicing, ...]:
    """Every voicing of a chord on exactly these strings (None: all of them), easiest first.

    Each string sounds a chord tone, every tone but a perfect fifth is there, the frets lie within the span and no more
    than four fingers are needed. Ties break by the frets, so that the order never moves by itself.
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    if chord.root is None:
        raise NeckError("no chord has no voicing", value=str(chord))
    as_fret(lowest_fret, tuning)
    as_fret(highest_fret, tuning)
    as_fret(widest_frets, tuning)
    used = sorted(as_strings(strings, tuning), reverse=True)
    degrees = {tone.name.pitch_class: tone.degree for tone in chord.tones}
    bass = chord.root.pitch_class if chord.bass is None else chord.bass.pitch_class
    slash = chord.bass is not None
    if slash:
        degrees = {bass: degrees.get(bass, "bass")} | degrees
    needed = {pitch for pitch, degree in degrees.items() if degree != "5"}
    found = []
    for low in range(max(1, lowest_fret), highest_fret + 1):
        for frets in _choices(used, degrees, tuning, low, min(highest_fret, low + widest_frets), open_strings):
            midis = [tuning.midi(string, fret) for string, fret in zip(used, frets, strict=True)]
            sounding = {midi % 12 for midi in midis}
            if not needed <= sounding or (slash and min(midis) % 12 != bass):
                continue
            fingers = _fingers(frets)
            if fingers <= MOST_FINGERS:
                places = tuple(Target(string, fret, degrees[midi % 12]) for midi, string, fret
                               in sorted(zip(midis, used, frets, strict=True)))
                fretted = [fret for fret in frets if fret]
                stretch = tuning.span_mm(min(fretted), max(fretted)) if fretted else 0.0
                found.append(Voicing(places, stretch, fingers, _kind(sorted(midis), degrees)))
    return tuple(sorted(found, key=lambda one: (round(one.stretch_mm), one.fingers, one.places)))


def string_sets(count: int, tuning: Tuning | str = STANDARD, *,
                neighbouring: bool = True) -> tuple[tuple[int, ...], ...]:
    """The sets of `count` strings to voice a chord on, lowest strings first; all sets or only neighbouring ones."""
    strings = as_tuning(tuning).strings
    if not is_whole(count, 1, len(strings)):
        raise NeckError(f"sets of {shown(count)} strings", value=count, expected=f"1 to {len(strings)}")
    every = combinations(sorted(strings, reverse=True), count)
    return tuple(strings for strings in every if not neighbouring or strings[0] - strings[-1] == count - 1)


def _choices(used: list[int], degrees: dict[int, str], tuning: Tuning, low: int, high: int,
             open_strings: bool) -> Iterator[tuple[int, ...]]:
    """Fret choices whose lowest fretted note is at `low`, so that each comes once."""
    options: list[list[int]] = []
    for string in used:
        frets = [fret for fret in range(low, high + 1) if tuning.midi(string, fret) % 12 in degrees]
        if open_strings and tuning.midi(string, 0) % 12 in degrees:
            frets.insert(0, 0)
        options.append(frets)
    for chosen in product(*options):
        if min((fret for fret in chosen if fret), default=low) == low:
            yield chosen


def _fingers(frets: tuple[int, ...]) -> int:
    """Fingers needed: one for each fretted string, or a barre at the lowest fret when no open string lies under it."""
    fretted = [fret for fret in frets if fret]
    if not fretted:
        return 0
    low = min(fretted)
    at_low = [index for index, fret in enumerate(frets) if fret == low]
    flat = len(at_low) > 1 and 0 not in frets[at_low[0]:at_low[-1] + 1]
    return len(fretted) - (len(at_low) - 1 if flat else 0)


def _kind(midis: list[int], degrees: dict[int, str]) -> str:
    """What a voicing is called: by undoing a drop and seeing whether it becomes close."""
    named = {degrees[midi % 12] for midi in midis}
    if len(midis) == 3 and {"1"} < named and named & {"3", "b3"} and named & {"7", "b7", "6", "bb7"}:
        return "shell"
    if midis[-1] - midis[0] < 12:
        return "close"
    if len(midis) == 4:
        for drop, name in ((2, "drop 2"), (3, "drop 3")):
            raised = sorted([midis[0] + 12, *midis[1:]])
            if raised[-1] - raised[0] < 12 and raised.index(midis[0] + 12) == 4 - drop:
                return name
    return "open"
