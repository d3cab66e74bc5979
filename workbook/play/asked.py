"""What a line asks of a hand, note by note: what a take is held against, on paper and on the page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from theorylib.playing.lines import Line

from .performance import Sound, performance

_SOFT = {"hammer", "hammer from nowhere", "pull", "legato slide", "slide"}  # marks of notes that no pick strikes


@dataclass(frozen=True, slots=True)
class Asked:
    """A note of a line, by its `index` there: how it `sound`s, and where it is written: `bar` from 0, `beat` within it.

    `struck` is false for notes whose onset is soft, `pitched` for dead notes.
    """

    index: int
    sound: Sound
    bar: int
    beat: Fraction
    struck: bool
    pitched: bool


def asked_of(line: Line) -> Iterator[Asked]:
    """The notes that are to be played, in order of their onsets; a tied note is one with that before it."""
    last = {sound.source: sound for sound in performance(line)}  # a grace note comes before the note that it leads to
    for index, sound in sorted(last.items(), key=lambda one: (one[1].start_beats, one[1].midi)):
        note = line.notes[index]
        kinds = {mark.kind for mark in note.marks}
        bar, inside = divmod(Fraction(note.onset_beats), line.chart.bar_beats)
        yield Asked(index, sound, int(bar), inside, not kinds & _SOFT, "dead" not in kinds)
