"""A take held against the line that it plays: notes early or late, wrong, missing; bends, vibrato, length, loudness.

What can't be judged is said and not guessed: without a calibrated beginning no early or late in the mean, beside a
backing in the microphone no missing and no extra notes, of chords only when they are struck.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from .aligning import STRUM_SECONDS, Aligned, aligned, offset_of
from .expected import Expected, ExpectedNote
from .pitch_path import PitchPath, Vibrato, path_of, vibrato_in
from .recording import RATE, ListenError, Recording
from .spectra import flux_of, notes_of
from .strikes import Strikes, strikes_of

OK, WRONG, MISSING = "ok", "wrong", "missing"
WRONG_BELOW = 0.78       # of the most salient pitch: the written one was not what was struck
OCTAVES = (12, -12, 19, -19, 24, -24)
FEWEST, FEWEST_SHARE = 3, 0.15   # notes that must be found for a take to be the line's
STRAY_SHARE = 0.35      # strong strokes that are no notes, beside the notes: more is a backing in the microphone
EXTRA_STRENGTH = 0.45
_LEAST_BEND_SECONDS = 0.12


@dataclass(frozen=True, slots=True)
class Bend:
    """`level_cents` reached at the path's corner, over the fretted pitch; `wanted_cents` as written."""

    at_seconds: float
    wanted_cents: float
    level_cents: float

    @property
    def off_cents(self) -> float:
        return self.level_cents - self.wanted_cents


@dataclass(frozen=True, slots=True, eq=False)
class NoteHeard:
    """A note of the line and what became of it. `early_late_ms` is positive where late, None where it is missing.

    `heard_midi` is the pitch where it is wrong; `loudness_db` beside the take's mean; `length_seconds` as it sounded.
    """

    expected: ExpectedNote
    verdict: str
    early_late_ms: float | None = None
    heard_midi: int | None = None
    length_seconds: float | None = None
    loudness_db: float | None = None
    bends: tuple[Bend, ...] = ()
    vibrato: Vibrato | None = None
    path: PitchPath | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """`calibrated` says whether early and late are absolute; `extras` are seconds from the line's first beat.

    `bleeds` says that other sounds are in the microphone: which notes are missing is then not known. `unjudged` says
    in words what could not be judged.
    """

    recording: Recording
    expected: Expected
    notes: tuple[NoteHeard, ...]
    extras: tuple[float, ...]
    calibrated: bool
    offset_seconds: float
    unjudged: tuple[str, ...]
    bleeds: bool = False

    def of(self, verdict: str) -> tuple[NoteHeard, ...]:
        return tuple(one for one in self.notes if one.verdict == verdict)

    @property
    def known(self) -> tuple[NoteHeard, ...]:
        """The notes of which something can be told."""
        return tuple(one for one in self.notes if one.verdict != MISSING or not self.bleeds)


def hear_take(recording: Recording, expected: Expected, *, first_beat_seconds: float | None = None,
              latency_ms: float = 0.0, track_in_it: bool | None = None) -> Take:
    """Hold a take against a line.

    `first_beat_seconds` is where the line's first beat lies in the take, if that is known (from the backing in it, or
    because recorder and click began together), `latency_ms` how late the device records. Raises ListenError.
    """
    if not expected.notes:
        raise ListenError("the line has no notes", expected="a line with notes")
    flux, sounded = flux_of(recording), notes_of(recording)
    strikes = strikes_of(recording, flux)
    calibrated = first_beat_seconds is not None
    start = (first_beat_seconds or 0.0) + latency_ms / 1000 if calibrated else offset_of(expected, sounded, flux)
    found = aligned(expected, strikes, start)
    lates = _lates(found, strikes)
    paired = [late for late in lates if late is not None]
    if len(paired) < max(FEWEST, FEWEST_SHARE * len(found.groups)) and len(found.groups) > FEWEST:
        raise ListenError(f"only {len(paired)} of {len(found.groups)} notes of the line were found in {recording.name}",
                          value=recording.name, expected="a take of this line, at its tempo (or another, with --tempo)")
    middle = 0.0 if calibrated else float(np.median(paired))
    extras = _extras(found, strikes, start)
    bleeds = track_in_it if track_in_it is not None else len(extras) > STRAY_SHARE * len(found.groups)
    notes = tuple(note for number, group in enumerate(found.groups)
                  for note in _group(recording, strikes, found, number, group, middle))
    notes = _levelled(notes)
    if bleeds:
        extras = ()
    return Take(recording, expected, notes, extras, calibrated, start + middle,
                tuple(_unjudged(notes, bleeds, calibrated, recording)), bleeds)


def _lates(found: Aligned, strikes: Strikes) -> list[float | None]:
    """Seconds by which each group came late of the offset."""
    return [None if stroke is None else float(strikes.seconds[stroke]) - found.offset_seconds - group[0].onset_seconds
            for group, stroke in zip(found.groups, found.strokes, strict=True)]


def _extras(found: Aligned, strikes: Strikes, start: float) -> tuple[float, ...]:
    """Strong strokes within the line that are none of its notes."""
    used = {stroke for stroke in found.strokes if stroke is not None}
    first, last = found.groups[0][0], found.groups[-1][0]
    low, high = start + first.onset_seconds - 0.05, start + last.onset_seconds + min(0.5, last.length_seconds)
    sounding = [note for group in found.groups for note in group if note.vibrato_seconds is not None or note.path]
    return tuple(float(second) - start for number, second in enumerate(strikes.seconds)
                 if number not in used and low < second < high and strikes.strength[number] > EXTRA_STRENGTH
                 and not any(0 < second - start - note.onset_seconds < note.length_seconds for note in sounding))


def _group(recording: Recording, strikes: Strikes, found: Aligned, number: int, group: tuple[ExpectedNote, ...],
           middle: float) -> Any:
    stroke = found.strokes[number]
    if stroke is None:
        yield from (NoteHeard(note, MISSING) for note in group)
        return
    second = float(strikes.seconds[stroke])
    late = 1000 * (second - found.offset_seconds - group[0].onset_seconds - middle)
    for note in group:
        if len(group) > 1:  # of a chord nothing but when it is struck
            yield NoteHeard(note, OK, late)
            continue
        wanted = round(note.midi + note.cents_at(0.0) / 100)
        heard = strikes.heard(stroke)
        wrong = note.pitched and strikes.share_of(stroke, wanted) < WRONG_BELOW and heard - wanted not in OCTAVES
        if wrong:
            near = strikes.heard_near(stroke, wanted)
            yield NoteHeard(note, WRONG, late, near, loudness_db=_level(recording, second))
        else:
            yield _sounding(recording, note, second, late)


def _sounding(recording: Recording, note: ExpectedNote, second: float, late: float) -> NoteHeard:
    found = NoteHeard(note, OK, late, length_seconds=_length(recording, second, note),
                      loudness_db=_level(recording, second))
    if not note.pitched or (not note.path and note.vibrato_seconds is None):
        return found
    path = path_of(recording.samples, second, note.length_seconds, note.midi)
    bends = tuple(_bends(note, path))
    wave = None if note.vibrato_seconds is None else vibrato_in(path, max(0.03, note.vibrato_seconds - 0.05),
                                                                note.length_seconds - 0.03)
    return replace(found, bends=bends, vibrato=wave, path=path)


def _bends(note: ExpectedNote, path: PitchPath) -> Any:
    """The level held after each corner of the path, where it is held long enough to be heard."""
    corners = [*note.path, (note.length_seconds, note.path[-1][1] if note.path else 0.0)]
    for (start, level), (end, following) in pairwise(corners):
        if note.vibrato_seconds is not None:
            end = min(end, note.vibrato_seconds)
        if level != following or end - start < _LEAST_BEND_SECONDS:
            continue
        if level == 0.0:
            continue
        begin = start + 0.25 * (end - start)
        held = path.level(max(begin, 0.03), end - 0.15 * (end - start))
        if held is not None:
            yield Bend(start, level, held)


def _level(recording: Recording, second: float) -> float:
    """Decibels of the tenth of a second after a stroke."""
    part = recording.samples[int(second * RATE):int((second + 0.1) * RATE)]
    return float(10 * np.log10(np.mean(part.astype(float) ** 2) + 1e-12)) if len(part) else -120.0


def _length(recording: Recording, second: float, note: ExpectedNote) -> float:
    """How long it sounds: until it has fallen by 20 dB, or to its written end and a little beyond."""
    most = note.length_seconds * 1.25
    part = recording.samples[int(second * RATE):int((second + most) * RATE)].astype(float)
    step = int(0.01 * RATE)
    rows = len(part) // step
    if rows < 3:
        return most
    levels = (part[:rows * step].reshape(rows, step) ** 2).mean(axis=1)
    quiet = np.flatnonzero(levels < 0.01 * levels[:6].max())
    return float((quiet[0] if len(quiet) else rows) * 0.01)


def _levelled(notes: tuple[NoteHeard, ...]) -> tuple[NoteHeard, ...]:
    known = [one.loudness_db for one in notes if one.loudness_db is not None]
    if not known:
        return notes
    mean = float(np.mean(known))
    return tuple(one if one.loudness_db is None else replace(one, loudness_db=one.loudness_db - mean) for one in notes)


def _unjudged(notes: tuple[NoteHeard, ...], bleeds: bool, calibrated: bool, recording: Recording) -> Any:
    if not calibrated:
        yield ("Whether you play early or late on the whole: the take does not say where its beat lies. Differences "
               "between notes are judged.")
    if bleeds:
        yield "Missing and extra notes: a backing or another sound is in the microphone. Record with headphones."
    onsets = [note.expected.onset_seconds for note in notes]
    if any(later - one <= STRUM_SECONDS for one, later in pairwise(onsets)):
        yield "The notes of chords: only when they are struck."
    if any("overdriven" in note for note in recording.notes):
        yield "Loudness, and short notes: the recording is overdriven."
