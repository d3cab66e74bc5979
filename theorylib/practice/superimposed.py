"""A superimposed arpeggio as a line: run over one chord of the changes, led by a half step into the next.

Conventions: the line lies in one position and ends on a long note. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..changes.charts import Chart, as_chart
from ..errors import DrillError
from ..limits import PER_CHORD
from ..names.arpeggios import Arpeggio, as_arpeggio
from ..names.chords import Chord
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line
from ..reading.chordscales import function_of
from .drills import Pool, Reach, Tones, bar_of, counted, nearest, note_of, opened
from .pace import note_value, onsets_in


def superimposed_arpeggio(
    chart: Chart | str,
    arpeggio: Chord | Arpeggio | str,
    position: int | None = 5,
    *,
    per_chord: int = 8,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To step outside and come home: an arpeggio over the first chord, resolved into the second.

    The rest of the changes is silent. Purpose: to hear where the other arpeggio leads. The run keeps one note value, of
    which `per_chord` fill a bar, and turns at the edge of the position. Of all runs the one is taken whose last note
    lies a half step from a tone of the next chord (else the nearest), of those one that begins on the arpeggio's root,
    of those the lowest. Over a single chord it ends with the run.

    >>> line = superimposed_arpeggio("| G7 | Cmaj7 |", "Bm7b5", 2, per_chord=4)
    >>> [f"{note.pitch} {note.degree}" for note in line.notes]
    ['A2 9', 'B2 3', 'D3 5', 'F3 b7', 'E3 3']
    """
    chart, tuning, other = as_chart(chart), as_tuning(tuning), as_arpeggio(arpeggio)
    counted(per_chord, PER_CHORD, "number of notes a chord")
    events = [event for event in chart.events if event.chord.root is not None]
    if not events or other.root is None:
        raise DrillError("no arpeggio over no chord", value=str(other), expected="an arpeggio and a chord")
    reach = Reach.of(tuning, position)
    first = events[0]
    pool = reach.pool(tones_over(other, first.chord))
    if len(pool) < 2:
        raise DrillError(
            f"fewer than two notes of {other} lie within reach",
            value=str(other),
            where=bar_of(first),
            expected="another position",
        )
    following = events[1] if len(events) > 1 else None
    goals = reach.chord_pool(following) if following is not None else {}
    length = note_value(chart, per_chord)
    onsets = list(onsets_in(first, length))
    run = _best_run(pool, goals, other.root.pitch_class, len(onsets))
    notes = [note_of(pool, midi, onset, length) for midi, onset in zip(run, onsets, strict=True)]
    if following is not None:
        landing = nearest(goals, run[-1])
        notes.append(note_of(goals, landing, following.onset_beats, following.duration_beats))
    title = f"{other.pretty} over {first.chord.pretty}"
    return opened(Line(tuple(notes), chart, tuning, title, chart.length_beats, position))


def tones_over(other: Chord | Arpeggio, chord: Chord) -> Tones:
    """Pitch class to (spelled name, degree over the chord) of each note of an arpeggio."""
    assert chord.root is not None
    root = chord.root.pitch_class
    return {
        name.pitch_class: (name, function_of(chord, (name.pitch_class - root) % 12))
        for name in other.names
    }


@dataclass(frozen=True, slots=True)
class _Run:
    """A way through the pool, and what it is chosen by: less is better."""

    midis: tuple[int, ...]
    way_home: int  # half steps from its last note to the next chord, 1 the best
    begins_elsewhere: bool  # than on the arpeggio's root
    falls: bool

    @property
    def order(self) -> tuple[int, bool, bool, int]:
        return self.way_home, self.begins_elsewhere, self.falls, self.midis[0]


def _best_run(pool: Pool, goals: Pool, root: int, count: int) -> tuple[int, ...]:
    order = sorted(pool)
    found = []
    for place, start in enumerate(order):
        for step in (1, -1):
            midis = tuple(_through(order, place, step, count))
            home = abs(nearest(goals, midis[-1]) - midis[-1]) if goals else 0
            # A note that the next chord keeps leads nowhere: it comes after those that move a step.
            found.append(_Run(midis, home or (3 if goals else 0), start % 12 != root, step < 0))
    return min(found, key=lambda run: run.order).midis


def _through(order: Sequence[int], place: int, step: int, count: int) -> list[int]:
    """So many of the notes one after the other from a place, turning at the edges."""
    found = []
    for _ in range(count):
        found.append(order[place])
        if not 0 <= place + step < len(order):
            step = -step
        place += step
    return found
