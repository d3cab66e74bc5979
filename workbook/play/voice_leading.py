"""Comping voicings: three or four voices a chord, led to the next by the smallest moves, by dynamic programming.

The bass plays the root, so a voicing keeps the third, the seventh and what colours the chord, then the fifth; a chord
of four notes or more leaves its root out. Altered dominants are voiced with their alterations. Close and drop-2
arrangements (the second voice from the top an octave down) between D3 and C5; no minor ninth between any two voices, no
semitone between the highest two, no #9 under the third. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations, pairwise

from theorylib.names.chords import Chord

Voicing = tuple[int, ...]  # MIDI numbers, lowest first
LOWEST, HIGHEST = 50, 72   # D3 to C5
VOICES = 4
# The order in which degrees are worth a voice: what names the chord, then its colours, then fifth and root.
_WORTH = ("3", "b3", "11", "b7", "7", "bb7", "6", "#9", "b9", "13", "b13", "#11", "b5", "#5", "9", "5", "1")
_LEAP = 5                  # semitones from which a single voice's move counts double
_MINOR_NINTH = 13
_ABOVE = {"9": 2, "13": 9}  # semitones over the root of the colours that a scale may add


def led(chords: Sequence[Chord], *, around: bool = True,
        colours: Sequence[tuple[str, ...]] | None = None) -> list[tuple[int, ...]]:
    """A voicing (MIDI numbers, lowest first) for each chord, total motion least; () for no chord.

    With `around` the last chord leads back to the first, as a form that repeats does. `colours` are of each chord the
    degrees that may be added to it ("9", "13"). Exact over the candidates.
    """
    added = colours or [()] * len(chords)
    sounding = [index for index, chord in enumerate(chords) if chord.root is not None]
    found: list[tuple[int, ...]] = [()] * len(chords)
    if not sounding:
        return found
    choices = [candidates(chords[index], added[index]) for index in sounding]
    if around and len(choices) > 1:
        ways = [_least(choices, [start], start) for start in choices[0]]
    else:
        ways = [_least(choices, choices[0], None)]
    _, path = min(ways)
    for index, voicing in zip(sounding, path, strict=True):
        found[index] = voicing
    return found


def _least(choices: Sequence[Sequence[Voicing]], first: Sequence[Voicing],
           back_to: Voicing | None) -> tuple[int, list[Voicing]]:
    """(motion, way) of the way of least motion through a voicing of each row; of equals, the first in order.

    A row's ways are ranked in order instead of being compared voicing by voicing, so that the time is linear.
    """
    ends = [(0, rank, voicing) for rank, voicing in enumerate(sorted(first))]  # cost, rank and last voicing of a way
    came_from: list[dict[Voicing, Voicing]] = []
    for row in choices[1:]:
        reached = []
        before: dict[Voicing, Voicing] = {}
        for voicing in row:
            cost, rank, before[voicing] = min((cost + _motion(last, voicing), rank, last) for cost, rank, last in ends)
            reached.append((rank, voicing, cost))
        came_from.append(before)
        ends = [(cost, rank, voicing) for rank, (_, voicing, cost) in enumerate(sorted(reached))]
    total, _, last = min((cost + (0 if back_to is None else _motion(last, back_to)), rank, last)
                         for cost, rank, last in ends)
    way = [last]
    for before in reversed(came_from):
        way.append(before[way[-1]])
    return total, way[::-1]


def motion(one: Sequence[int], two: Sequence[int]) -> int:
    """Semitones that the voices move, leaps counted double; a voice more or less counts as two semitones."""
    steps = [abs(a - b) for a, b in zip(sorted(one)[::-1], sorted(two)[::-1], strict=False)]
    return sum(step + max(0, step - _LEAP) for step in steps) + 2 * abs(len(one) - len(two))


@lru_cache(maxsize=100_000)
def _motion(one: Voicing, two: Voicing) -> int:
    return motion(one, two)


@lru_cache(maxsize=2048)
def candidates(chord: Chord, colours: tuple[str, ...] = ()) -> tuple[Voicing, ...]:
    """Every voicing of the chord's worthiest notes that keeps the rules; with fewer notes where none does."""
    for classes in _note_choices(chord, colours):
        found = {voicing for voicing in _arrangements(tuple(classes.values())) if _sounds_well(voicing, classes)}
        if found:
            return tuple(sorted(found))
    return ()


def _note_choices(chord: Chord, colours: tuple[str, ...]) -> Iterator[dict[str, int]]:
    """Of a chord the pitch classes to voice, by degree: the worthiest four first, then fewer."""
    assert chord.root is not None
    classes = {tone.degree: tone.name.pitch_class for tone in chord.tones}
    classes |= {degree: (chord.root.pitch_class + _ABOVE[degree]) % 12 for degree in colours if degree not in classes}
    ranked = sorted(classes, key=_WORTH.index)
    if len(ranked) >= VOICES and "1" in ranked:
        ranked.remove("1")
    for count in range(min(VOICES, len(ranked)), 0, -1):
        for chosen in combinations(ranked, count):
            yield {degree: classes[degree] for degree in chosen}


def _arrangements(classes: tuple[int, ...]) -> Iterator[Voicing]:
    """Close and drop-2 arrangements of some pitch classes in the range, each note once."""
    for low in range(LOWEST, HIGHEST + 1):
        if low % 12 not in classes:
            continue
        close = sorted({low + (pitch - low) % 12 for pitch in classes})
        found = [close]
        if len(close) >= 3:
            found.append(sorted([*close[:-2], close[-2] - 12, close[-1]]))
        yield from (tuple(one) for one in found if one[0] >= LOWEST and one[-1] <= HIGHEST)


def _sounds_well(voicing: Voicing, classes: dict[str, int]) -> bool:
    """No minor ninth, no semitone at the top or the bottom, no #9 under the third."""
    if any(two - one in (_MINOR_NINTH, _MINOR_NINTH + 12) for one, two in combinations(voicing, 2)):
        return False
    if len(voicing) > 1 and (voicing[-1] - voicing[-2] == 1 or voicing[1] - voicing[0] == 1):
        return False
    if {"#9", "3"} <= set(classes):
        sharp, third = (next(note for note in voicing if note % 12 == classes[degree]) for degree in ("#9", "3"))
        return sharp > third
    return True


def mean_motion(voicings: Sequence[Sequence[int]]) -> float:
    """Mean semitones a voice moves from one voicing to the next."""
    steps = [abs(a - b) for one, two in pairwise([v for v in voicings if v])
             for a, b in zip(sorted(one)[::-1], sorted(two)[::-1], strict=False)]
    return sum(steps) / len(steps) if steps else 0.0
