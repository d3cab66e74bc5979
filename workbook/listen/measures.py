"""A take in numbers: timing by bar and by place in the beat, drift, loudness, bends and vibrato together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from .take import MISSING, OK, WRONG, NoteHeard, Take

FEWEST_ON_AND_OFF, FEWEST_DRIFT = 3, 6  # notes of which these are told
NEAR_BEAT = 0.02  # of a quarter note: as near as that a note stands on its beat


@dataclass(frozen=True, slots=True)
class Timing:
    """Of some notes: how many, their mean (positive is late) and their deviation, in ms."""

    count: int
    mean_ms: float
    deviation_ms: float


@dataclass(frozen=True, slots=True)
class Measures:
    """`by_bar` and `by_place` (quarter notes within the bar) hold Timing; `drift_ms` is from beginning to end.

    `off_less_on_ms` is positive where off-beats come later than on-beats; None where one of them is missing.
    """

    counts: dict[str, int]
    whole: Timing
    by_bar: dict[float, Timing]
    by_place: dict[float, Timing]
    off_less_on_ms: float | None
    drift_ms: float
    loudness_deviation_db: float | None
    bend_off_cents: tuple[float, ...]
    length_share: float | None


def measured(take: Take) -> Measures:
    """The numbers of a take; timing is that of the notes which were found."""
    found = [one for one in take.notes if one.early_late_ms is not None]
    counts = {verdict: len(take.of(verdict)) for verdict in (OK, WRONG, MISSING)} | {"extra": len(take.extras)}
    on = [one for one in found if one.expected.beat % 1 < NEAR_BEAT]
    off = [one for one in found if one.expected.beat % 1 >= NEAR_BEAT]
    loud = [one.loudness_db for one in take.of(OK) if one.loudness_db is not None]
    shares = [one.length_seconds / one.expected.length_seconds for one in found if one.length_seconds is not None]
    both = min(len(on), len(off)) >= FEWEST_ON_AND_OFF
    return Measures(
        counts, timing_of(found), _grouped(found, lambda one: one.expected.bar),
        _grouped(found, lambda one: round(one.expected.beat, 3)),
        timing_of(off).mean_ms - timing_of(on).mean_ms if both else None, _drift(found),
        float(np.std(loud)) if len(loud) > 3 else None,
        tuple(bend.off_cents for one in found for bend in one.bends), float(np.median(shares)) if shares else None)


def timing_of(notes: Iterable[NoteHeard]) -> Timing:
    lates = [one.early_late_ms for one in notes if one.early_late_ms is not None]
    return Timing(len(lates), float(np.mean(lates)), float(np.std(lates))) if lates else Timing(0, 0.0, 0.0)


def _grouped(notes: list[NoteHeard], place: Callable[[NoteHeard], float]) -> dict[float, Timing]:
    return {one: timing_of(note for note in notes if place(note) == one) for one in sorted(set(map(place, notes)))}


def _drift(notes: list[NoteHeard]) -> float:
    """How much later the end comes than the beginning, by the median of all slopes (Theil and Sen)."""
    if len(notes) < FEWEST_DRIFT:
        return 0.0
    at = np.array([one.expected.onset_seconds for one in notes])
    late = np.array([float(one.early_late_ms or 0.0) for one in notes])
    first, second = np.triu_indices(len(at), 1)
    apart = at[second] - at[first]
    far = apart > 0.25 * (at[-1] - at[0])
    if not far.any():
        return 0.0
    return float(np.median((late[second] - late[first])[far] / apart[far]) * (at[-1] - at[0]))
