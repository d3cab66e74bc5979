"""A line to be fingered and everything that bounds it, checked: neck, hand, position, policy for open strings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from ..errors import FingeringError, closest, shown
from ..necks.positions import is_position
from ..necks.tunings import Tuning, as_tuning
from .choices import ALLOW, OPEN_STRINGS, SPARE, Choices, Want, choices_for, want_of
from .efforts import Weights
from .hand import Hand, Step, hand_on
from .lines import Line, Note
from .marks import JOINING, TAPPED

FREE = (
    "free"  # as a position: the hand may go anywhere, even on a line that has a position of its own
)


@dataclass(frozen=True, slots=True)
class Task:
    """A line in groups of notes that sound together, with the steps between them."""

    line: Line
    hand: Hand
    position: int | None
    open_strings: str
    groups: tuple[tuple[Note, ...], ...]
    steps: tuple[Step, ...]

    @classmethod
    def of(
        cls,
        line: Line,
        tuning: Tuning | str | None,
        position: int | str | None,
        open_strings: str | None,
        weights: Weights,
    ) -> Task:
        if not isinstance(weights, Weights):
            raise FingeringError(
                f"“{shown(weights)}” are no weights", value=weights, expected="Weights"
            )
        hand = hand_on(line.tuning if tuning is None else as_tuning(tuning), weights)
        place = _position(line.position if position is None else position, hand)
        if open_strings is not None and open_strings not in OPEN_STRINGS:
            raise FingeringError(
                f"“{shown(open_strings)}” is no way to treat open strings",
                value=open_strings,
                expected=f"one of {', '.join(OPEN_STRINGS)}",
                nearest=closest(str(open_strings), OPEN_STRINGS),
            )
        by_default = ALLOW if place is None else SPARE
        return cls(
            line, hand, place, open_strings or by_default, groups_of(line), steps_between(line)
        )

    @property
    def tuning(self) -> Tuning:
        return self.hand.tuning

    @property
    def in_position(self) -> str:
        """The position in words, empty for a free hand."""
        return "" if self.position is None else f" in position {self.position}"

    def wants(self, index: int) -> tuple[Want, ...]:
        return tuple(want_of(note, may_join=index > 0) for note in self.groups[index])

    def choices(self, index: int) -> Choices:
        return choices_for(self.hand, self.wants(index), self.position, self.open_strings)

    def where(self, group: Sequence[Note]) -> str:
        """Where notes stand in the line, as errors say it."""
        first = self.line.notes.index(group[0]) + 1
        bar = int(group[0].onset_beats // self.line.chart.bar_beats) + 1
        if len(group) == 1:
            return f"note {first} ({group[0].pitch}, bar {bar})"
        return f"notes {first} to {first + len(group) - 1} ({said(group)}, bar {bar})"


def _position(asked: int | str | None, hand: Hand) -> int | None:
    if asked is None or asked == FREE:
        return None
    if not is_position(asked, hand.tuning):
        raise FingeringError(
            f"no position “{shown(asked)}” on this neck",
            value=asked,
            expected=f"a fret from 1 to {hand.frets}, or “{FREE}”",
        )
    return asked  # type: ignore[return-value]


def groups_of(line: Line) -> tuple[tuple[Note, ...], ...]:
    """The notes of each onset: those are held together."""
    return tuple(tuple(group) for _, group in groupby(line.notes, lambda note: note.onset_beats))


def steps_between(line: Line) -> tuple[Step, ...]:
    """The steps from each onset of the line to the next: time at the chart's tempo, rests, joining marks."""
    found = []
    for one, two in pairwise(groups_of(line)):
        beats = two[0].onset_beats - one[0].onset_beats
        time_ms = int(beats * 60_000 / line.chart.tempo)
        rest = two[0].onset_beats > one[0].end_beats
        joins = tuple(
            tuple(mark.kind for mark in note.marks if mark.kind in JOINING) for note in two
        )
        joining = joins if any(joins) else ()
        found.append(Step(time_ms, rest, joining, _begins(two[0], line), _repeats(one, two)))
    return tuple(found)


def _repeats(one: Sequence[Note], two: Sequence[Note]) -> bool:
    """Is it one note, struck again by the fretting hand?"""
    if len(one) != 1 or len(two) != 1:
        return False
    tapped = any(mark.kind in TAPPED for note in (*one, *two) for mark in note.marks)
    return one[0].fretted_midi == two[0].fretted_midi and not tapped


def _begins(note: Note, line: Line) -> bool:
    """Does a bar or a chord begin with the note?"""
    chart, onset = line.chart, note.onset_beats
    event = chart.event_at(onset)
    chord_begins = event is not None and event.onset_beats == onset % chart.length_beats
    return onset % chart.bar_beats == 0 or chord_begins


def said(group: Sequence[Note]) -> str:
    return " ".join(str(note.pitch) for note in group)
