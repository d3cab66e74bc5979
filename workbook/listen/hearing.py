"""A recording heard: tempo, meter, beats, key, chords, sections, tuning, loudness, as suggestions with their rivals.

Nothing of it is sure until a person confirms it; what a person says (Wishes) is honoured and sharpens the rest. What
makes the recording hard to hear (no drums, a free tempo, speech) is said in `notes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from theorylib.changes.charts import Chart
from theorylib.changes.form import shaped
from theorylib.changes.meters import Meter
from theorylib.names.scales import Scale

from .changes import Changes, HeardChord, find_changes
from .grid import Grid, as_fraction, find_grid
from .recording import RATE, ListenError, Recording
from .sections import sections_of
from .spectra import FRAMES_A_SECOND, Flux, Notes, flux_of, notes_of
from .wishes import Wishes

SURE = 0.8                 # a confidence from which a chord is not asked about
STRIP = 1_500              # columns of the strip of levels
_WANDERS = 0.04            # a deviation of the beats' lengths beyond which the tempo is called free
_CLEAR_BEATS = 1.7         # how much more begins on beats than elsewhere in music with a plain pulse
_NO_CHORDS = 0.3           # a mean confidence under which it may be no music with chords: drums and speech lie by 0.22


@dataclass(frozen=True, slots=True)
class HeardSection:
    """A stretch of `bars` bars from bar `first_bar` (from 0)."""

    name: str
    first_bar: int
    bars: int
    start_seconds: float
    end_seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """What was heard of a recording; see Grid and Changes. `strip` is the level of STRIP columns, 0 to 1."""

    recording: Recording
    grid: Grid
    changes: Changes
    chart: Chart
    sections: tuple[HeardSection, ...]
    tuning_cents: float
    strip: tuple[float, ...]
    notes: tuple[str, ...]

    @property
    def tempo(self) -> float:
        """Quarter notes a minute."""
        return self.grid.tempo

    @property
    def meter(self) -> Meter:
        return self.grid.meter

    @property
    def keys(self) -> tuple[Scale, ...]:
        return self.changes.keys

    @property
    def chords(self) -> tuple[HeardChord, ...]:
        return self.changes.chords

    @property
    def first_bar_seconds(self) -> float:
        return float(self.grid.beats[self.grid.first])

    @property
    def unsure_bars(self) -> tuple[int, ...]:
        """Bars of the chart (from 0) in which a chord is not sure."""
        within = [one for one in self.chords if one.bar < self.chart.form_bars and one.confidence < SURE]
        return tuple(dict.fromkeys(one.bar for one in within))


@dataclass(frozen=True, slots=True, eq=False)
class Listened:
    """What of a recording is taken once, whatever is wished: what begins, and which notes sound."""

    recording: Recording
    flux: Flux
    notes: Notes


def listen_to(recording: Recording) -> Listened:
    return Listened(recording, flux_of(recording), notes_of(recording))


def hear_recording(recording: Recording, wished: Wishes | None = None) -> Heard:
    """Hear a recording; raises ListenError where it holds no music with a pulse."""
    return heard_as(listen_to(recording), wished or Wishes())


def heard_as(listened: Listened, wished: Wishes) -> Heard:
    """Hear again what was listened to, with other wishes; raises ListenError."""
    recording, flux, notes = listened.recording, listened.flux, listened.notes
    grid = find_grid(flux, notes, wished)
    if grid.bar_count < 1:
        raise ListenError(f"{recording.name} holds no whole bar of {grid.meter} after {grid.beats[grid.first]:.2f} s",
                          value=recording.name, expected="an earlier first bar, or another meter")
    changes = find_changes(notes, grid, wished)
    flat = _flat(changes)
    chart = _chart(changes, flat, wished)
    told = (*recording.notes, *_notes(recording, flux, changes))
    return Heard(recording, changes.grid, changes, chart, tuple(_sections(changes, wished)),
                 notes.tuning_cents, _strip(recording.samples), told)


def _flat(changes: Changes) -> Chart:
    """The whole recording bar for bar."""
    by_bar = [list(inside) for _, inside in groupby(changes.chords, key=lambda one: one.bar)]
    rows = " | ".join(bar_text(inside, changes.grid.pulses) for inside in by_bar)
    key = changes.keys[0] if changes.keys else None
    return Chart.parse(f"| {rows} |", key=key, meter=changes.grid.meter, tempo=as_fraction(changes.grid.tempo))


def bar_text(inside: Sequence[HeardChord], pulses: int) -> str:
    """The chords of a bar as a chart writes them, each on its pulse."""
    if len(inside) == 1:
        return str(inside[0].chord)
    starts = [round(one.share * pulses, 3) for one in inside]
    if len(inside) in (2, pulses) and all(abs(one - place * pulses / len(inside)) < 0.01
                                          for place, one in enumerate(starts)):
        return " ".join(str(one.chord) for one in inside)
    written = ["/"] * pulses
    for one, start in zip(inside, starts, strict=True):
        written[min(pulses - 1, round(start))] = str(one.chord)
    return " ".join(written)


def _chart(changes: Changes, flat: Chart, wished: Wishes) -> Chart:
    """One pass through the cycle, else the whole recording with its form; a sure chart stays as it was given."""
    from dataclasses import replace

    said = wished.chart
    if said is not None and not wished.unsure:
        return replace(said, tempo=flat.tempo, key=said.key or flat.key)
    if not changes.cycle or changes.cycle >= flat.form_bars:
        return shaped(flat)
    once = list(flat.bars[:changes.cycle])
    names = wished.form if wished.form else ()
    at = 0
    for name, bars in names:
        if name and at < len(once):
            once[at] = replace(once[at], section=name)
        at += bars
    if said is not None:
        for section in said.sections:
            bar = int(section.onset_beats / said.bar_beats)
            if section.name and bar < len(once):
                once[bar] = replace(once[bar], section=section.name)
    return replace(flat, bars=tuple(once))


def _sections(changes: Changes, wished: Wishes) -> Any:
    grid = changes.grid
    edges = grid.bar_edges
    named = list(sections_of(changes.likeness, changes.cycle))
    if wished.form:
        named = [(name or "A", bars) for name, bars in wished.form] * (1 + grid.bar_count // sum(
            bars for _, bars in wished.form))
    at = 0
    for name, bars in named:
        until = min(at + bars, grid.bar_count)
        if until > at:
            yield HeardSection(name, at, until - at, float(edges[at]), float(edges[until]))
        at = until


def _notes(recording: Recording, flux: Flux, changes: Changes) -> list[str]:
    beats = changes.grid.beats
    lengths = np.diff(beats)
    found = []
    wander = float(np.std(np.log(lengths / np.median(lengths)))) if len(lengths) > 3 else 0.0
    if wander > _WANDERS:
        found.append(f"The tempo is free: beats differ by {100 * wander:.0f} % from each other. Confirm bars by ear.")
    places = np.clip(np.round(beats * FRAMES_A_SECOND).astype(int), 2, len(flux.whole) - 3)
    on_beats = np.mean([flux.whole[places + step] for step in (-2, -1, 0, 1, 2)])
    if on_beats < _CLEAR_BEATS * flux.whole.mean():
        found.append("The beat is weak or free: little begins on it. Confirm tempo and first bar by ear.")
    heard = [one for one in changes.chords if not one.given]
    if heard and np.mean([one.confidence for one in heard]) < _NO_CHORDS:
        found.append("Hardly a chord is likely: this may be speech or drums alone.")
    if recording.seconds < 8:
        found.append("It is short: tempo and form rest on a few bars.")
    return found


def _strip(samples: Any) -> tuple[float, ...]:
    columns = min(STRIP, max(1, len(samples) // (RATE // 100)))
    parts = np.abs(samples[:len(samples) // columns * columns]).reshape(columns, -1).max(axis=1)
    return tuple(float(round(one, 4)) for one in parts / max(float(parts.max()), 1e-9))
