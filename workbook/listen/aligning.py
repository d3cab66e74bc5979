"""Which stroke of a take is which note of the line: where the line begins, then one alignment by dynamic programming.

Notes and strokes keep their order. A pair costs by its distance in time and by how little the note's pitch was in the
stroke; leaving out a note or a stroke costs too, a strong stroke more. What begins before the line or after its end
costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from .chord_model import folded
from .expected import Expected, ExpectedNote
from .spectra import FRAMES_A_SECOND, LOWEST_MIDI, NOTES_RATE, SEMITONES, Flux, Notes
from .strikes import Strikes

MISSED, PITCH, EXTRA = 3.0, 3.0, 1.3      # what a note left out costs, a wrong pitch, a strong stroke left out
WEAK, SOFT = 1.8, 0.4                      # what the weakest stroke costs for a struck note, for a soft one
WIDE_SECONDS, NARROW_SECONDS = 0.09, 0.05  # deviations of a player's timing: before the trend is known, and after
FARTHEST_SECONDS = 0.28
STRUM_SECONDS = 0.04   # from the first string of a stroke to the last
_FINE_SECONDS = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """`pairs` holds for each group of notes that are struck together (group of indices, number of the stroke or None).

    A note's time in the take is `offset_seconds` + its onset, plus what the player's drift says (`trend`, by group).
    """

    offset_seconds: float
    groups: tuple[tuple[ExpectedNote, ...], ...]
    strokes: tuple[int | None, ...]
    trend: Any


def offset_of(expected: Expected, notes: Notes, flux: Flux) -> float:
    """Seconds into the take at which the line's first beat lies: by its pitches first, then by its strokes."""
    from scipy.signal import fftconvolve

    heard = folded(notes.treble, (LOWEST_MIDI, LOWEST_MIDI + SEMITONES))
    heard = heard / (np.linalg.norm(heard, axis=1, keepdims=True) + 0.3 * np.median(heard.sum(axis=1)) + 1e-9)
    frames = int(expected.seconds * NOTES_RATE) + 2
    wanted = np.zeros((frames, 12))
    for note in expected.notes:
        start, end = (int(one * NOTES_RATE) for one in (note.onset_seconds,
                                                        note.onset_seconds + note.length_seconds))
        for frame in range(start, max(end, start + 1)):  # a bent note sounds where it is bent to
            cents = note.cents_at(max(0.0, frame / NOTES_RATE - note.onset_seconds))
            wanted[frame, round(note.midi + cents / 100) % 12] = 1.0
    wanted -= wanted.mean(axis=1, keepdims=True)
    likeness = sum(fftconvolve(heard[:, one], wanted[::-1, one]) for one in range(12))
    coarse = (int(likeness.argmax()) - frames + 1) / NOTES_RATE
    return _by_strokes(expected, flux, coarse)


def _by_strokes(expected: Expected, flux: Flux, coarse: float) -> float:
    onsets = np.array(sorted({note.onset_seconds for note in expected.notes if note.struck}
                             or {note.onset_seconds for note in expected.notes}))
    from scipy.ndimage import gaussian_filter1d

    soft = gaussian_filter1d(flux.whole.astype(float), 0.012 * FRAMES_A_SECOND)
    tried = np.arange(coarse - _FINE_SECONDS, coarse + _FINE_SECONDS, 1 / FRAMES_A_SECOND)
    places = np.round((tried[:, None] + onsets) * FRAMES_A_SECOND).astype(int)
    inside = (places >= 0) & (places < len(soft))
    sums = np.where(inside, soft[np.clip(places, 0, len(soft) - 1)], 0).sum(axis=1)
    return float(tried[int(sums.argmax())])


def aligned(expected: Expected, strikes: Strikes, offset: float) -> Aligned:
    """Align twice: freely, then around the player's own slow drift."""
    groups = tuple(_struck_together(expected.notes))
    times = np.array([group[0].onset_seconds for group in groups]) + offset
    first = _pairs(groups, times, strikes, WIDE_SECONDS)
    trend = _trend(times, first, strikes)
    second = _pairs(groups, times + trend, strikes, NARROW_SECONDS)
    return Aligned(offset, groups, tuple(second), trend)


def _struck_together(notes: Sequence[ExpectedNote]) -> Iterator[tuple[ExpectedNote, ...]]:
    """The notes of one stroke together, the strings of a strum too."""
    group: list[ExpectedNote] = []
    for note in notes:
        if group and note.onset_seconds - group[0].onset_seconds > STRUM_SECONDS:
            yield tuple(group)
            group = []
        group.append(note)
    if group:
        yield tuple(group)


def _trend(times: Any, pairs: Sequence[int | None], strikes: Strikes) -> Any:
    """How late the player is at each group, slowly: a running median of what was paired."""
    found = [(time, strikes.seconds[stroke] - time) for time, stroke in zip(times, pairs, strict=True)
             if stroke is not None]
    if len(found) < 4:
        return np.full(len(times), np.median([late for _, late in found]) if found else 0.0)
    at, late = np.array(found).T
    near = [np.median(late[np.argsort(np.abs(at - time))[:9]]) for time in times]
    return np.array(near)


def _pairs(groups: Sequence[tuple[ExpectedNote, ...]], times: Any, strikes: Strikes,
           deviation: float) -> list[int | None]:
    count = len(strikes.seconds)
    inside = (strikes.seconds > times[0] - FARTHEST_SECONDS) & (strikes.seconds < times[-1] + FARTHEST_SECONDS)
    skips = np.concatenate([[0.0], np.cumsum(np.where(inside, 0.1 + EXTRA * strikes.strength, 0.0))])
    cost = skips.copy()  # of the strokes so far, with the notes so far
    steps = np.zeros((len(groups), count + 1), dtype=np.int8)  # 1: paired with the stroke, 2: note left out, 0: stroke
    for number, group in enumerate(groups):
        paired = np.full(count + 1, np.inf)
        paired[1:] = cost[:-1] + _pair_costs(group, times[number], strikes, deviation)
        missed = cost + MISSED
        here = np.minimum(paired, missed)
        steps[number] = np.where(paired <= missed, 1, 2)
        along = skips + np.minimum.accumulate(here - skips)
        steps[number][along < here - 1e-12] = 0
        cost = along
    return _walked(steps)


def _walked(steps: Any) -> list[int | None]:
    found: list[int | None] = [None] * len(steps)
    number, stroke = len(steps) - 1, steps.shape[1] - 1
    while number >= 0:
        step = steps[number, stroke]
        if step == 0 and stroke > 0:
            stroke -= 1
            continue
        if step == 1:
            found[number] = stroke - 1
            stroke -= 1
        number -= 1
    return found


def _pair_costs(group: tuple[ExpectedNote, ...], time: float, strikes: Strikes, deviation: float) -> Any:
    off = strikes.seconds - time
    shares = np.mean([_pitch_shares(note, off, strikes) for note in group], axis=0)
    weak = (WEAK if group[0].struck else SOFT) * (1 - strikes.strength)
    cost = 0.5 * (off / deviation) ** 2 + PITCH * (1 - shares) + weak
    return np.where(np.abs(off) < FARTHEST_SECONDS, cost, np.inf)


def _pitch_shares(note: ExpectedNote, off: Any, strikes: Strikes) -> Any:
    """How salient the note's pitch is in each stroke that is near; of a dead note every stroke will do."""
    if not note.pitched:
        return np.ones(len(off))
    midi = round(note.midi + note.cents_at(0.0) / 100)
    return np.array([strikes.share_of(stroke, midi) if abs(one) < FARTHEST_SECONDS else 0.0
                     for stroke, one in enumerate(off)])
