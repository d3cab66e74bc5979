"""Free playing over changes, as a mirror and never a mark: which notes over which chord, what space, what returns.

Pitches are those that strokes most likely sound; a bend counts where it begins. Strong beats are every other pulse of
the bar from its first on (common practice, no source).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np

from theorylib.changes.charts import Chart
from theorylib.reading.chordscales import function_of

from .findings import note_name
from .recording import RATE, ListenError, Recording
from .spectra import flux_of
from .strikes import Strikes, strikes_of

SOUNDS = 0.2              # strength from which a stroke is a note
SILENT_DB = -32.0         # beside the loudest tenth of a second
_PLACE = Fraction(1, 8)   # of a beat: the grid on which a note stands
_NEAR = Fraction(1, 8)    # how near a strong beat a note must lie
_MOTIF = (3, 6)           # notes in a motif
_STEP = 0.02


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """A note as it was heard: `beat` in quarter notes from the line's beginning, `degree` over `chord`."""

    beat: Fraction
    midi: int
    chord: str
    degree: str
    is_chord_tone: bool
    is_strong: bool


@dataclass(frozen=True, slots=True)
class Mirror:
    """What was played. `space` is the silent share of the time, `motif` intervals and how often they came."""

    notes: tuple[PlayedNote, ...]
    bars: float
    space: float
    longest_silence_beats: float
    motif: tuple[tuple[int, ...], int]

    def degrees(self) -> dict[str, Counter[str]]:
        """How often each degree was played over each chord."""
        found: dict[str, Counter[str]] = {}
        for note in self.notes:
            found.setdefault(note.chord, Counter())[note.degree] += 1
        return found

    def words(self) -> list[str]:
        """A few lines, none of them a mark."""
        if not self.notes:
            return ["No notes were heard."]
        midis = [note.midi for note in self.notes]
        strong = [note for note in self.notes if note.is_strong]
        said = [(f"{len(self.notes)} notes in {self.bars:.0f} bars, from {note_name(min(midis))} to "
                 f"{note_name(max(midis))}; {100 * self.space:.0f} % of the time is space, "
                 f"the longest rest {self.longest_silence_beats:.1f} beats.")]
        said += [f"Over {chord}: " + ", ".join(f"{degree} ×{count}" for degree, count in counted.most_common(6)) + "."
                 for chord, counted in self.degrees().items()]
        if strong:
            tones = sum(note.is_chord_tone for note in strong)
            said.append(f"On strong beats {tones} of {len(strong)} notes are chord tones.")
        steps, times = self.motif
        if times > 1:
            said.append(f"A figure of {len(steps) + 1} notes ({' '.join(f'{step:+d}' for step in steps)} half steps) "
                        f"comes {times} times.")
        return said


def mirror_of(recording: Recording, chart: Chart, first_beat_seconds: float, tempo: float | None = None) -> Mirror:
    """What was played over the chart, its first beat at `first_beat_seconds`; raises ListenError where nothing is."""
    beat = 60 / float(tempo or chart.tempo)
    strikes = strikes_of(recording, flux_of(recording))
    notes = tuple(_notes(strikes, chart, first_beat_seconds, beat))
    if not notes:
        raise ListenError(f"no notes were heard in {recording.name} after {first_beat_seconds:.1f} s",
                          value=recording.name, expected="a take without its backing, or another first beat")
    silent = _silent(recording.samples, notes, first_beat_seconds, beat)
    longest = max((len(run) for run in "".join("s" if one else " " for one in silent).split()), default=0)
    return Mirror(notes, float(notes[-1].beat / chart.bar_beats) + 1, float(np.mean(silent)), longest * _STEP / beat,
                  _motif([note.midi for note in notes]))


def _notes(strikes: Strikes, chart: Chart, first: float, beat: float) -> Any:
    for number, second in enumerate(strikes.seconds):
        place = Fraction(round((second - first) / beat / _PLACE)) * _PLACE
        chord = chart.chord_at(place) if place >= 0 else None
        if strikes.strength[number] < SOUNDS or chord is None or chord.root is None:
            continue
        midi = strikes.heard(number)
        tones = {tone.name.pitch_class for tone in chord.tones}
        yield PlayedNote(place, midi, str(chord), function_of(chord, (midi - chord.root.pitch_class) % 12),
                         midi % 12 in tones, _strong(place, chart))


def _strong(beat: Fraction, chart: Chart) -> bool:
    step = 2 * chart.meter.pulse_beats
    inside = (beat % chart.bar_beats) % step
    return min(inside, step - inside) < _NEAR


def _silent(samples: Any, notes: Sequence[PlayedNote], first: float, beat: float) -> Any:
    start, end = (first + float(one.beat) * beat for one in (notes[0], notes[-1]))
    part = samples[max(0, int(start * RATE)):int((end + beat) * RATE)].astype(float)
    size = int(_STEP * RATE)
    levels = (part[:len(part) // size * size].reshape(-1, size) ** 2).mean(axis=1)
    loudest = np.quantile(levels, 0.98) if len(levels) else 1.0
    return 10 * np.log10(levels / max(float(loudest), 1e-12) + 1e-9) < SILENT_DB


def _motif(midis: Sequence[int]) -> tuple[tuple[int, ...], int]:
    """The row of intervals that comes most often for its length, and how often; one pitch repeated is none."""
    steps = [two - one for one, two in pairwise(midis)]
    best: tuple[tuple[int, ...], int] = ((), 0)
    for length in range(_MOTIF[0] - 1, _MOTIF[1]):
        counted = Counter(tuple(steps[at:at + length]) for at in range(len(steps) - length + 1))
        for row, times in counted.most_common(3):
            if len(set(row)) > 1 and times > 1 and times * len(row) > best[1] * len(best[0]):
                best = (row, times)
    return best
