"""Drills of time: ladders of subdivisions, accents that move against the beat, rests that move, bursts.

One shape, one tempo: only the time changes. Rules are common practice, no source; figures are counted, not guessed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import cycle

from ..changes.charts import Chart
from ..errors import DrillError, listed, shown
from ..limits import BARS, METER_BEATS, NOTES_A_BEAT, PASSES, TEMPO, number_in
from ..names.chords import Chord
from ..names.scales import Scale
from ..necks.areas import as_thing, in_position
from ..necks.shapes import Target
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.context import with_degrees
from ..playing.difficulty import FAST_NOTES_A_SECOND
from ..playing.lines import Line, Mark, as_line
from .drills import counted, tempo_ladder
from .sequences import home_chart, placed_notes

_STANDS_ALONE = ("accent", "pick down", "pick up")  # marks that need no note before
GROUPS = (2, 512)  # notes from one accent or rest to the next: as many as the longest bar holds
# notes a beat: what they are called.
RUNGS = {
    1: "quarters",
    2: "eighths",
    3: "triplets",
    4: "sixteenths",
    5: "quintuplets",
    6: "sextuplets",
}


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a practice schedule: tempo in quarter notes a minute, fastest notes a second, clean passes due."""

    tempo: int
    notes_a_second: float
    passes: int
    care: bool  # faster than difficulty.FAST_NOTES_A_SECOND


SCHEDULE_RULE = (
    "Start at 60 % of the goal. {passes} clean passes in a row, in time and relaxed, earn the next step; "
    "after two failed tries go back one. Stop for the day when a step fails at two tempos running."
)


def subdivision_ladder(
    what: Scale | Chord | str,
    position: int = 5,
    rungs: Sequence[int] = tuple(RUNGS),
    *,
    bars: int = 1,
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """A shape up and down without a stop while the notes a beat rise from rung to rung, `bars` bars a rung.

    Purpose: to keep one pulse while the fingers change gear. `rungs` are notes a beat, keys of RUNGS.
    """
    what, tuning = as_thing(what), as_tuning(tuning)
    rungs = listed(rungs, "row of notes a beat", "numbers from 1 to 6", DrillError)
    wrong = [rung for rung in rungs if rung not in tuple(RUNGS)]
    if wrong or not rungs:
        raise DrillError(
            f"{shown(wrong[0]) if wrong else 'no'} notes a beat", value=wrong, expected="1 to 6"
        )
    counted(bars, BARS, "number of bars a rung")
    over = home_chart(what, chart)
    if over.bar_beats.denominator != 1:
        raise DrillError(
            f"a bar of {over.meter} has no whole number of beats",
            value=str(over.meter),
            expected="a meter in quarters",
        )
    lengths: list[Fraction] = []
    for rung in rungs:
        notes_a_rung = bars * int(over.bar_beats) * rung
        lengths += [Fraction(1, rung)] * notes_a_rung
    notes = placed_notes(_up_and_down(in_position(what, position, tuning)), what, lengths, tuning)
    words = ", ".join(RUNGS[rung] for rung in rungs)
    return with_degrees(Line(notes, over, tuning, f"Ladder of {words}", position=position))


def rates(rungs: Sequence[int], tempo: Fraction | int) -> tuple[tuple[int, float], ...]:
    """(notes a beat, notes a second) of each rung at a tempo in quarter notes a minute."""
    found = listed(rungs, "row of notes a beat", "numbers from 1 to 16", DrillError)
    for rung in found:
        counted(rung, NOTES_A_BEAT, "number of notes a beat")
    speed = number_in(tempo, TEMPO, "tempo in quarter notes a minute")
    return tuple((rung, float(speed * rung / 60)) for rung in found)


def bursts(
    what: Scale | Chord | str,
    position: int = 5,
    *,
    fast: int = 4,
    count: int = 5,
    bars: int = 4,
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """Each bar: eighths in comfort, then a burst of `count` notes at `fast` a beat that lands on the last beat.

    Purpose: speed in small doses with a rest after each. The landing note lasts to the end of the bar.
    """
    what = as_thing(what)
    counted(bars, BARS, "number of bars")
    counted(fast, NOTES_A_BEAT, "number of notes a beat")
    counted(count, (2, NOTES_A_BEAT[1] * METER_BEATS[1]), "number of notes in a burst")
    tuning, over = as_tuning(tuning), home_chart(what, chart)
    eighth, short, landing = Fraction(1, 2), Fraction(1, fast), Fraction(1)
    before_landing = count - 1
    calm = over.bar_beats - landing - before_landing * short
    if calm < 0 or calm % eighth:
        raise DrillError(
            f"a burst of {count} notes at {fast} a beat does not fit a bar of {over.meter}",
            value=count,
            expected="a burst of whole or half beats, shorter than the bar",
        )
    one_bar = [eighth] * int(calm / eighth) + [short] * before_landing + [landing]
    notes = placed_notes(
        _up_and_down(in_position(what, position, tuning)), what, one_bar * bars, tuning
    )
    return with_degrees(Line(notes, over, tuning, f"Bursts of {count}", position=position))


def displaced_accents(line: Line | str, every: int = 3) -> Line:
    """The line with an accent on every `every`th note, so that the accent moves against the beat."""
    line = as_line(line)
    counted(every, GROUPS, "number of notes to an accent")
    notes = list(line.notes)
    for index in range(0, len(notes), every):
        note = notes[index]
        notes[index] = replace(note, marks=(*note.marks, Mark("accent")))
    return replace(line, notes=tuple(notes), title=f"{line.title}, accents in {every}s".strip(", "))


def moving_rest(line: Line | str, group: int = 4) -> Line:
    """The line with one note of every group left out: the first of the first group, the second of the next, and so on.

    Purpose: to feel each part of the beat in silence. Notes on either side must not lean on the missing one, so joining
    marks after a rest are dropped.
    """
    line = as_line(line)
    counted(group, GROUPS, "number of notes to a group")
    silent = {start + start // group % group for start in range(0, len(line.notes), group)}
    notes = []
    for index, note in enumerate(line.notes):
        if index in silent:
            continue
        # A hammer-on or a tie has nothing to come from after a rest.
        if index - 1 in silent:
            note = replace(
                note, marks=tuple(mark for mark in note.marks if mark.kind in _STANDS_ALONE)
            )
        notes.append(note)
    return replace(line, notes=tuple(notes), title=f"{line.title}, the rest moves".strip(", "))


def practice_schedule(
    shortest_beats: Fraction | str, target: Fraction | int | str, steps: int = 4, passes: int = 2
) -> tuple[Step, ...]:
    """Tempos from 60 % of the target up to it, for a line whose shortest note is given; the rule is SCHEDULE_RULE."""
    counted(passes, PASSES, "number of passes")
    shortest = number_in(shortest_beats, (Fraction(1, 64), METER_BEATS[1]), "length in beats")
    found = []
    for tempo in tempo_ladder(target, steps):
        rate = float(Fraction(tempo) / 60 / shortest)
        found.append(Step(tempo, rate, passes, rate > FAST_NOTES_A_SECOND))
    return tuple(found)


def _up_and_down(places: Sequence[Target]) -> Iterator[Target]:
    """A shape for ever, up and down, the turning notes played once."""
    if len(places) < 2:
        raise DrillError(
            "a shape of one note has no way up", value=len(places), expected="two notes or more"
        )
    return cycle([*places, *places[-2:0:-1]])
