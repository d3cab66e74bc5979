"""Targets with approaches: a chord tone on every strong beat, the notes before it leading there.

The drill runs in eighths. Between a target and the next one's approach stand chord tones, never the next target itself:
it would be heard before it is aimed at. Strong beats are every two quarters of an even bar, the first of three, the
three and two of five, and each felt beat of a dotted or an uneven bar. Purpose and rules are common practice, no
source; `fingering.finger` places the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..changes.charts import Chart, Event, as_chart
from ..changes.meters import LONG_BEAT, Meter
from ..errors import DrillError, one_of
from ..limits import METER_BEATS, PASSES, exact
from ..names.spelling import Pitch
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note
from ..reading.harmony import Reading, harmony
from .drills import Pool, Reach, counted, nearest, note_of, opened, titled
from .pace import onsets_in
from .through import scale_pool

# name: semitone steps from the target to the notes before it, in playing order; "scale" takes the step from the scale.
Approach = Literal["below", "above", "both", "scale"]
APPROACHES: dict[Approach, tuple[int, ...]] = {
    "below": (-1,),
    "above": (1,),
    "both": (1, -1),
    "scale": (),
}
_IN_WORDS = {
    "below": "from below",
    "above": "from above",
    "both": "from both sides",
    "scale": "by step",
}
NOTE_BEATS = Fraction(1, 2)  # the drill runs in eighths
WIDEST_STEP = 3  # semitones from a scale note to the next: an augmented second


@dataclass(frozen=True, slots=True)
class Cell:
    """The stretch of time that one target opens: its onset and end, and the notes that its chord and scale offer."""

    onset_beats: Fraction
    end_beats: Fraction
    chord: Pool
    scale: Pool
    either: Pool


def approach_targets(
    chart: Chart | str,
    approach: Approach = "below",
    position: int | None = 5,
    *,
    every_beats: int | Fraction | str | None = None,
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To lead into chord tones: eighth notes with a target on strong beats, each next one approached.

    A chord tone stands on every strong beat, the next chord tones after it. Purpose: to aim. `approach` is "below" or
    "above" (a semitone), "both" (above, then below) or "scale" (the scale note above the target). A target lies
    `every_beats` from its chord's begin on (None: on the meter's strong beats); the notes between are chord tones on
    the way. Where there is no chord there is a rest.

    >>> approach_targets("| Gm7 | C9 |", position=3).promise
    'strong beats'
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    one_of(approach, APPROACHES, "approach", DrillError)
    reach = Reach.of(tuning, position)
    counted(passes, PASSES, "number of passes")
    every = None if every_beats is None else _spacing(every_beats)
    cells = _cells(chart, every, harmony(chart).chords, reach)
    played = cells * passes
    targets = _targets([cell.chord for cell in played])
    notes: list[Note] = []
    for index, (cell, target) in enumerate(zip(played, targets, strict=True)):
        turn, number = divmod(index, len(cells))
        following = cells[(number + 1) % len(cells)]
        count = int((cell.end_beats - cell.onset_beats) / NOTE_BEATS)
        goal = targets[index + 1] if index + 1 < len(targets) else None
        approaching = () if goal is None else _approach(goal, approach, following.scale, reach)
        onset = cell.onset_beats + turn * chart.length_beats
        for midi in _filled(target, goal, cell.chord, approaching, count):
            notes.append(_sounding(midi, cell, goal, onset))
            onset += NOTE_BEATS
    title = titled(f"Targets approached {_IN_WORDS[approach]}", position)
    length = passes * chart.length_beats
    return opened(Line(tuple(notes), chart, tuning, title, length, position, "strong beats"))


def _spacing(every_beats: object) -> Fraction:
    every = exact(every_beats, "number of beats")
    if not NOTE_BEATS <= every <= METER_BEATS[1]:
        raise DrillError(
            f"a target every {every!s:.40} beats",
            value=every,
            expected=f"{NOTE_BEATS} to {METER_BEATS[1]}",
        )
    return every


def _cells(
    chart: Chart, every: Fraction | None, readings: Sequence[Reading], reach: Reach
) -> list[Cell]:
    """A cell for each target of the form: one at each chord, and one at each strong beat while it lasts."""
    found = []
    for event, reading in zip(chart.events, readings, strict=True):
        if event.chord.root is None:
            continue
        chord, scale = reach.chord_pool(event), scale_pool(reading, reach)
        either = scale | chord
        onsets = list(onsets_in(event, NOTE_BEATS))
        aimed = [onset for onset in onsets if onset == onsets[0] or _is_aim(onset, event, every, chart)]
        ends = [*aimed[1:], *(onset + NOTE_BEATS for onset in onsets[-1:])]
        found += [
            Cell(onset, end, chord, scale, either) for onset, end in zip(aimed, ends, strict=True)
        ]
    return found


def _is_aim(onset: Fraction, event: Event, every: Fraction | None, chart: Chart) -> bool:
    """Does a target stand at an onset within a chord's time?"""
    if every is not None:
        return (onset - event.onset_beats) % every == 0
    return onset % chart.bar_beats in strong_beats(chart.meter)


def strong_beats(meter: Meter) -> tuple[Fraction, ...]:
    """The onsets in a bar, in quarter-note beats, that are aimed at.

    >>> [str(beat) for beat in strong_beats(Meter(5, 4))], [str(beat) for beat in strong_beats(Meter(7, 8))]
    (['0', '3'], ['0', '1', '2'])
    """
    onsets = meter.beat_onsets
    if meter.compound or meter.uneven:
        return onsets
    first_group = LONG_BEAT if len(onsets) % 2 else 2
    # An odd bar begins with three, and goes on in twos.
    return (onsets[0], *onsets[first_group::2])


def _targets(pools: Sequence[Pool]) -> list[int]:
    """A chord tone for each cell, in turn up and down through the reach, never the same note twice running."""
    found: list[int] = []
    step = 1
    for pool in pools:
        order = sorted(pool)
        if not found:
            lowest_root = next((midi for midi in order if pool[midi][1] == "1"), order[0])
            found.append(lowest_root)
            continue
        last = found[-1]
        # A semitone apart, a target would sound like an approach to the next.
        ahead = _a_tone_away(order, last, step)
        if not ahead:
            step = -step
            ahead = _a_tone_away(order, last, step) or order
        found.append(nearest(ahead, last))
    return found


def _a_tone_away(order: Sequence[int], last: int, step: int) -> list[int]:
    """The notes that lie a tone or more from the last one, in the direction of travel."""
    return [midi for midi in order if (midi - last) * step >= 2]


def _approach(goal: int, approach: Approach, scale: Pool, reach: Reach) -> tuple[int, ...]:
    """The notes right before a goal, in playing order; fewer where the scale or the hand has none there."""
    if approach == "scale":
        above = [midi for midi in scale if 0 < midi - goal <= WIDEST_STEP]
        return (min(above),) if above else ()
    return tuple(goal + step for step in APPROACHES[approach] if goal + step in reach.midis)


def _filled(
    target: int, goal: int | None, chord: Pool, approaching: tuple[int, ...], count: int
) -> list[int]:
    """The target, chord tones on the way, then the approach to the goal: `count` notes, none twice running."""
    # Where time is short the approach loses its first notes: the last one leads.
    last = approaching[-(count - 1) :] if count > 1 else ()
    way = 1 if goal is None or goal >= target else -1
    onward = [midi for midi in chord if (midi - target) * way > 0]
    back = [midi for midi in chord if (midi - target) * way < 0]
    # Toward the goal first, then back past the target, the nearest tones before the far ones.
    order = [*_from(target, onward), *_from(target, back), target]
    # The goal is heard when it is reached and not before; nor its octave, where there is another note.
    order = [midi for midi in order if midi != goal]
    if goal is not None:
        order.sort(key=lambda midi: (midi - goal) % 12 == 0)
    free_places = count - len(last)
    found = [target]
    while len(found) < free_places:
        # No note twice running, nor the first of the approach just before it.
        taken = {found[-1]}
        if last and len(found) + 1 == free_places:
            taken.add(last[0])
        free = [midi for midi in order if midi not in taken]
        unheard = [midi for midi in free if midi not in found]
        found.append((unheard or free or [target])[0])
    return [*found, *last][:count]


def _from(target: int, midis: Sequence[int]) -> list[int]:
    """From the nearest to the farthest."""
    return sorted(midis, key=lambda midi: abs(midi - target))


def _sounding(midi: int, cell: Cell, goal: int | None, onset: Fraction) -> Note:
    """A note in the spelling of chord or scale, with its degree; a note between them as a chromatic neighbour."""
    if midi in cell.either:
        return note_of(cell.either, midi, onset, NOTE_BEATS)
    return Note(_chromatic(midi, goal), onset, NOTE_BEATS)


def _chromatic(midi: int, goal: int | None) -> Pitch:
    """A chromatic note beside its goal, spelled on the neighbouring letter: sharp from below, flat from above."""
    rises = goal is None or midi < goal
    plain = Pitch.of_midi(midi)
    accidental = plain.name.accidental
    if accidental == 0 or (accidental > 0) == rises:
        return plain
    enharmonic = plain.name.at(plain.name.fifths + (12 if rises else -12))
    return Pitch.of_midi(midi, enharmonic)
