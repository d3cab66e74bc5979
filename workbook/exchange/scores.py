"""A written score as a file holds it: parts, measures and every note of every voice, before a line is chosen from it.

Conventions: onsets and durations are exact quarter-note beats, onsets from the start of their measure; pitches sound.
A measure's label is the number that the file prints; repeats are written, not played.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from theorylib.changes.meters import Meter
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Pitch
from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Mark


@dataclass(frozen=True, slots=True)
class Said:
    """What a reader has to say of some bars ("" for the whole file): what it left out, or how it understood."""

    text: str
    bars: tuple[str, ...] = ()

    def __str__(self) -> str:
        if not self.bars:
            return self.text
        return f"bar{'s' if len(self.bars) > 1 else ''} {spans(self.bars)}: {self.text}"


@dataclass(frozen=True, slots=True)
class ScoreNote:
    """A written note; `own` are words by which our own files keep what the standard has no element for."""

    onset_beats: Fraction
    duration_beats: Fraction
    pitch: Pitch
    voice: str = "1"
    staff: int = 1
    string: int | None = None
    fret: int | None = None
    finger: int | None = None
    marks: tuple[Mark, ...] = ()
    tied_from: bool = False
    tied_to: bool = False
    grace: Pitch | None = None
    own: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Jumps:
    """Repeats, endings and jumps that a measure carries."""

    opens: bool = False
    closes: int = 0                   # how often the repeat is played; 0 closes nothing
    endings: tuple[int, ...] = ()     # turns of an ending that begins here
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    back_to: str = ""                 # "start" or "segno"
    to_coda: bool = False
    fine: bool = False


@dataclass(frozen=True, slots=True)
class Measure:
    """One written measure. `length_beats` is what its notes and rests fill, `meter` what was last stated."""

    label: str
    meter: Meter
    length_beats: Fraction
    notes: tuple[ScoreNote, ...] = ()
    chords: tuple[tuple[Fraction, Chord], ...] = ()
    key: Scale | None = None
    tempo: Fraction | None = None     # quarter notes a minute, where one is stated
    feel: str = ""                    # where one is stated
    section: str = ""
    jumps: Jumps = Jumps()
    own: dict[str, str] = field(default_factory=dict)
    free: bool = False                # without a meter


@dataclass(frozen=True, slots=True)
class Part:
    """One instrument; `tab_staves` are the staves with a TAB clef."""

    name: str
    measures: tuple[Measure, ...]
    tuning: Tuning | None = None
    tab_staves: frozenset[int] = frozenset()
    is_guitar: bool = False           # by its sound
    plain_octave: bool = True         # neither an octave clef nor a transposition says where the notes sound

    @property
    def notes(self) -> list[ScoreNote]:
        return [note for measure in self.measures for note in measure.notes]

    @property
    def places(self) -> int:
        """How many notes have string and fret."""
        return sum(note.string is not None and note.fret is not None for note in self.notes)


@dataclass(frozen=True, slots=True)
class Score:
    parts: tuple[Part, ...]
    title: str = ""
    said: tuple[tuple[Said, ...], ...] = ()  # of each part


class Ledger:
    """Gathers what is to be said, once for each text, with the bars that it is about."""

    def __init__(self) -> None:
        self.found: dict[str, dict[str, None]] = {}

    def say(self, text: str, bar: str = "") -> None:
        bars = self.found.setdefault(text, {})
        if bar:
            bars[bar] = None

    def add(self, said: Iterable[Said]) -> None:
        for one in said:
            for bar in one.bars or ("",):
                self.say(one.text, bar)

    def said(self) -> tuple[Said, ...]:
        return tuple(Said(text, tuple(bars)) for text, bars in self.found.items())


def spans(bars: Iterable[str]) -> str:
    """Numbers of bars with runs drawn together: “1–3, 5”."""
    found: list[list[str]] = []
    for bar in bars:
        if found and bar.isdigit() and found[-1][-1].isdigit() and int(bar) == int(found[-1][-1]) + 1:
            found[-1].append(bar)
        else:
            found.append([bar])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in found)
