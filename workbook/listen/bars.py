"""Which beat is the first of its bar, and how many beats a bar has: what changes there, and what enters there.

Witnesses, one value a beat: how far the harmony before lies from the harmony after, the same of the bass, how much low
sound begins, whether a dominant arrives there. A bar length and a first beat are judged by how much more the witnesses
say on first beats than on others, in deviations, less what the best of so many first beats would reach by chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .chord_model import QUALITIES, folded, log_likelihoods, means, unit, values_of
from .spectra import FRAMES_A_SECOND, LOWEST_MIDI, SEMITONES, Flux, Notes

LENGTHS = (4, 3, 5, 7)             # beats in a bar that are looked for, the commonest first
_COMMON = {4: 3.0, 3: 0.5}         # deviations that a common length is given
# Of the witnesses: harmony, bass, what begins low, what begins high (the backbeat), dominants that arrive. Where every
# half bar has its chord the first two say nothing of which half is the first.
_SHARES = (1.0, 1.0, 0.7, -0.4, 0.7)
_HALF_BAR = 2                      # beats on either side in which a dominant and its goal are heard
_BEAT_SECONDS = 0.05               # around a beat, in which what begins belongs to it


@dataclass(frozen=True, slots=True)
class BarGuess:
    """A bar of `beats`, the first beginning on beat number `first`; `worth` in deviations."""

    beats: int
    first: int
    worth: float


def witnesses(notes: Notes, flux: Flux, beats: Any) -> Any:
    """What each beat says for being a first one, in deviations of its kind."""
    found = np.zeros(len(beats))
    parts = (_turning(notes.treble, beats), _turning(notes.bass, beats), _entering(flux.low, beats),
             _entering(flux.high, beats), _resolving(notes, beats))
    for share, part in zip(_SHARES, parts, strict=True):
        found += share * (part - part.mean()) / (part.std() + 1e-9)
    return found


def bar_guesses(spoken: Any, lengths: tuple[int, ...] = LENGTHS) -> tuple[BarGuess, ...]:
    """Every length with every first beat, best first; `spoken` is what witnesses() gave."""
    found = []
    for beats in lengths:
        if len(spoken) < 2 * beats:
            continue
        chance = np.sqrt(2 * np.log(beats)) * spoken.std()
        for first in range(beats):
            inside = np.zeros(len(spoken), dtype=bool)
            inside[first::beats] = True
            apart = spoken[inside].mean() - spoken[~inside].mean()
            size = np.sqrt(inside.sum() * (~inside).sum() / len(spoken))
            worth = (apart * size - chance) / (spoken.std() + 1e-9) + _COMMON.get(beats, 0.0)
            found.append(BarGuess(beats, first, float(worth)))
    return tuple(sorted(found, key=lambda one: -one.worth))


def _turning(strength: Any, beats: Any) -> Any:
    """How far the sound of the beat before a beat lies from that of the beat after: 0 is the same, 1 shares nothing."""
    length = np.diff(beats, append=beats[-1] + (beats[-1] - beats[-2]))
    whole = (LOWEST_MIDI, LOWEST_MIDI + SEMITONES)
    before = unit(folded(means(strength, beats - 1.5 * length, beats - 0.1 * length), whole))
    after = unit(folded(means(strength, beats + 0.1 * length, beats + 1.5 * length), whole))
    return 1 - (before * after).sum(axis=1)


def _resolving(notes: Notes, beats: Any) -> Any:
    """How likely a dominant seventh chord goes to a chord a fourth above it on each beat.

    V goes to I over the bar line (common practice, no source; of music that is written otherwise it says little).
    """
    length = np.diff(beats, append=beats[-1] + (beats[-1] - beats[-2]))
    reach = _HALF_BAR * length
    before, after = (np.exp(log_likelihoods(values_of(notes, starts, starts + reach, length)))
                     .reshape(len(beats), len(QUALITIES), 12) for starts in (beats - reach, beats))
    found = (before[:, QUALITIES.index("7")] * np.roll(after.sum(axis=1), -5, axis=1)).sum(axis=1)
    found[:1] = 0.0  # nothing comes before the first
    return found


def _entering(flux: Any, beats: Any) -> Any:
    reach = int(_BEAT_SECONDS * FRAMES_A_SECOND)
    middle = np.round(np.asarray(beats) * FRAMES_A_SECOND).astype(int)
    around = np.clip(middle[:, None] + np.arange(-reach, reach + 1), 0, len(flux) - 1)
    return flux[around].max(axis=1)
