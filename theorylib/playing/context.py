"""A note in its place in the changes: the chord under it, its degree there, and how it is spelled.

A tone of the chord has the chord's name; any other the name that the chord's scale gives it, then the key's, then the
simplest.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from ..changes.charts import Chart
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import NoteName, Pitch
from ..reading.chordscales import degree_over
from ..reading.harmony import harmony
from .lines import Line, Note


class Context:
    """What sounds at each moment of a chart that goes round and round."""

    __slots__ = ("_names", "chart")

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self._names = _names_by_onset(chart)

    def chord_at(self, beat: Fraction) -> Chord | None:
        """The chord at a beat; None where there is none to stand over (N.C.)."""
        chord = self.chart.chord_at(beat)
        return None if chord is None or chord.root is None else chord

    def pitch(self, midi: int, beat: Fraction) -> Pitch:
        """A MIDI number as a pitch, spelled as the changes ask at a beat."""
        event = self.chart.event_at(beat)
        names = {} if event is None else self._names.get(event.onset_beats, {})
        return Pitch.of_midi(midi, names.get(midi % 12))

    def degree(self, pitch: Pitch, beat: Fraction) -> str:
        """What a pitch is over the chord at a beat ("b3"); empty without a chord."""
        chord = self.chord_at(beat)
        return "" if chord is None else degree_over(chord, pitch.name.fifths, pitch.midi % 12)


@lru_cache(maxsize=32)
def context_of(chart: Chart) -> Context:
    """The chart's context, kept for the next line over the same changes."""
    return Context(chart)


def with_degrees(line: Line) -> Line:
    """The line with each note's degree over the chord of its moment."""
    context = context_of(line.chart)

    def placed(note: Note) -> Note:
        return replace(note, degree=context.degree(note.pitch, note.onset_beats))

    return line.with_notes(placed)


def _names_by_onset(chart: Chart) -> dict[Fraction, dict[int, NoteName]]:
    """By a chord's onset: pitch class to the name that the chord, its scale or the key gives it."""
    if not any(event.chord.root is not None for event in chart.events):
        keyed = _named(chart.key)
        return {event.onset_beats: keyed for event in chart.events}
    found = {event.onset_beats: _named(key) for event, key in zip(chart.events, _keys(chart), strict=True)}
    for reading in harmony(chart).chords:
        tones = {tone.name.pitch_class: tone.name for tone in reading.chord.tones}
        found[reading.onset_beats] = _named(reading.key) | _named(reading.scale) | tones
    return found


def _keys(chart: Chart) -> list[Scale | None]:
    stated = chart.stated_keys
    return [stated[event.bar] for event in chart.events]


def _named(scale: Scale | None) -> dict[int, NoteName]:
    return {} if scale is None else {name.pitch_class: name for name in scale.names}
