"""What is so in a lesson, as far as its prose can contradict it: changes, scales, tempos, the neck and the hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from theorylib.changes.charts import Chart
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.reading.chordscales import chord_scales, is_altered
from theorylib.reading.harmony import Reading, harmony

_FIFTH = 7  # half steps above a root


@dataclass(frozen=True, slots=True)
class Facts:
    """A lesson's facts; `facts_about` works out what follows from its charts.

    `shown` are names that its cells show beside the chart: a substitute, the scale of a run. `longest` is the number of
    bars of its longest line or outline, `hand` the fretting hand ("left", "right", or empty where nobody chose).
    """

    charts: tuple[Chart, ...]
    tuning: Tuning = STANDARD
    positions: frozenset[int] = frozenset()
    tempos: frozenset[Fraction] = frozenset()
    readings: tuple[Reading, ...] = ()
    chords: tuple[Chord, ...] = ()
    homes: tuple[Scale, ...] = ()
    keys: tuple[Scale, ...] = ()
    scales: tuple[Scale, ...] = ()
    shown: frozenset[Chord | Scale] = frozenset()
    longest: int = 0
    hand: str = ""
    fitting: frozenset[Scale] = field(default=frozenset(), repr=False)  # every scale that fits a chord on its root

    def holds(self, chord: Chord) -> bool:
        """Whether the changes hold a chord, or one of which it is the plainer name (Am for Am7, E7 for E7alt)."""
        return any(names_chord(chord, one) for one in self.chords)

    def in_bar(self, number: int) -> tuple[Chord, ...]:
        """The chords of a bar (from 1), as the form is played and as it is written; beyond the form it goes round."""
        found: list[Chord] = []
        for chart in self.charts:
            played = (number - 1) % max(len(chart.order), 1)
            bars = {played, *(at for at, written in enumerate(chart.order) if written == number - 1)}
            found += [event.chord for event in chart.events if event.bar in bars]
        return tuple(dict.fromkeys(found))

    def has_notes_of(self, scale: Scale) -> bool:
        """Whether a scale has no other notes than one of the lesson's scales: its mode, or a smaller scale in it."""
        return any(not scale.mask & ~one.mask for one in self.scales)


def facts_about(charts: Iterable[Chart], *, tuning: Tuning = STANDARD, positions: Iterable[int] = (),
                tempos: Iterable[Fraction | int] = (), keys: Sequence[Scale] = (),
                shown: Iterable[Chord | Scale] = ()) -> Facts:
    """The facts of a lesson on these charts; `tempos` are those beside the charts' own, `keys` what it says itself."""
    charts = tuple(chart for chart in charts if any(event.chord.root for event in chart.events))
    readings = tuple(reading for chart in charts for reading in harmony(chart).chords if reading.chord.root)
    chords = tuple(dict.fromkeys(reading.chord for reading in readings))
    homes = tuple(dict.fromkeys(reading.home for reading in readings))
    stated = [key for chart in charts for key in chart.stated_keys if key is not None]
    found = [*homes, *stated]
    # What the lesson calls its key counts where the changes bear it out: it may be older than they are.
    keys = [key for key in keys if not found or any(_agree(key, one) for one in found)]
    every_key = dict.fromkeys([*keys, *stated, *(reading.key for reading in readings)])
    scales = [*homes, *keys, *stated, *(reading.scale for reading in readings)]
    return Facts(
        charts, tuning, frozenset(positions),
        frozenset(map(Fraction, tempos)) | {chart.tempo for chart in charts},
        readings, chords, homes, tuple(every_key), tuple(dict.fromkeys(scales)), frozenset(shown),
        max((len(chart.order) for chart in charts), default=0),
        fitting=frozenset(scale for chord in chords for scale in chord_scales(chord.without_bass())),
    )


def _agree(key: Scale, home: Scale) -> bool:
    alike = key.is_minor == home.is_minor or "b7" in home.degrees  # a blues is said to be in a major key
    return key.mask == home.mask or (key.tonic == home.tonic and alike)


@lru_cache(maxsize=4096)
def names_chord(chord: Chord, real: Chord) -> bool:
    """Whether a symbol may stand for a chord of the chart: the same, a plainer name of it, or other words for it."""
    if chord.root is None or real.root is None:
        return chord.root == real.root
    if chord.bass is not None and (real.bass is None or chord.bass.pitch_class != real.bass.pitch_class):
        return False
    if chord.root.pitch_class != real.root.pitch_class:
        return chord.pitch_classes == real.pitch_classes
    if "b3" in chord.degrees and "b3" not in real.degrees:  # a #9 sounds so, and is no third
        return False
    has, asked = _steps(real), _steps(chord)
    if is_altered(real) or not has & {6, 7, 8}:  # its fifth may go unsaid (common practice, no source)
        asked = asked - {_FIFTH}
    return asked <= has


def _steps(chord: Chord) -> set[int]:
    assert chord.root is not None
    return {(tone.name.pitch_class - chord.root.pitch_class) % 12 for tone in chord.tones}
