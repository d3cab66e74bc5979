"""Comping voicings: three or four voices a chord, led to the next by the smallest moves, by dynamic programming.

The bass plays the root, so a voicing keeps the third, the seventh and what colours the chord, then the fifth, then the
root. Altered dominants are voiced with their alterations. Close and drop-2 arrangements (the second voice from the top
an octave down), common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from theorylib.names.chords import Chord

Voicing = tuple[int, ...]  # MIDI numbers, lowest first
LOWEST, HIGHEST = 52, 76   # E3 to E5
VOICES = 4
# The order in which degrees are worth a voice: what names the chord, then its colours, then fifth and root.
_WORTH = ("3", "b3", "11", "b7", "7", "bb7", "6", "#9", "b9", "13", "b13", "#11", "b5", "#5", "9", "5", "1")
_LEAP = 5                  # semitones from which a single voice's move counts double


def led(chords: Sequence[Chord], *, around: bool = True) -> list[tuple[int, ...]]:
    """A voicing (MIDI numbers, lowest first) for each chord, total motion least; () for no chord.

    With `around` the last chord leads back to the first, as a form that repeats does. Exact over the candidates.
    """
    sounding = [index for index, chord in enumerate(chords) if chord.root is not None]
    found: list[tuple[int, ...]] = [()] * len(chords)
    if not sounding:
        return found
    kinds = {chord: candidates(chord) for chord in dict.fromkeys(chords[index] for index in sounding)}
    choices = [kinds[chords[index]] for index in sounding]
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


def candidates(chord: Chord) -> list[tuple[int, ...]]:
    """Every close and drop-2 voicing of the chord's worthiest notes in range."""
    degrees = sorted((tone.degree for tone in chord.tones), key=_WORTH.index)
    chosen = degrees[:VOICES]
    classes = [tone.name.pitch_class for tone in chord.tones if tone.degree in chosen]
    found = set()
    for low in range(LOWEST, HIGHEST + 1):
        if low % 12 not in classes:
            continue
        close = sorted(low + (pitch - low) % 12 for pitch in classes)
        arrangements = [close]
        if len(close) >= VOICES:
            arrangements.append(sorted([*close[:-2], close[-2] - 12, close[-1]]))
        for voicing in arrangements:
            if voicing[0] >= LOWEST and voicing[-1] <= HIGHEST and voicing[1] - voicing[0] > 1:
                found.add(tuple(voicing))
    return sorted(found) or [tuple(sorted(60 + pitch % 12 for pitch in classes))]


def mean_motion(voicings: Sequence[Sequence[int]]) -> float:
    """Mean semitones a voice moves from one voicing to the next."""
    steps = [abs(a - b) for one, two in pairwise([v for v in voicings if v])
             for a, b in zip(sorted(one)[::-1], sorted(two)[::-1], strict=False)]
    return sum(steps) / len(steps) if steps else 0.0
