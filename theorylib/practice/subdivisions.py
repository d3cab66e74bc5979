"""Drills of time: ladders of subdivisions, accents that move against the beat, rests that move, bursts.

One shape, one tempo: only the time changes. A ladder and a burst stand in the beats that the meter is felt in: dotted
ones in 6/8, twos and threes in 7/8. Rules are common practice, no source; figures are counted, not guessed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import cycle

from ..changes.charts import Chart
from ..changes.meters import Meter
from ..errors import DrillError, listed, one_of, shown
from ..levels import LEVELS, Level
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
from .pace import fast_value, most_a_beat, value_words
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
# The rungs of bars in dotted beats, and of bars in twos and threes, there counted to a beat of two.
DOTTED_RUNGS = (1, 3, 6)
UNEVEN_RUNGS = (1, 2, 4)
MOST_BARS_A_BURST = 2
MOST_BARS_OF_A_LADDER = 12


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
    rungs: Sequence[int] | None = None,
    *,
    bars: int | None = 1,
    level: Level | None = None,
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To keep time while notes get shorter: a shape up and down, more notes a beat rung by rung.

    There is no stop; a rung lasts `bars` bars, with None as many as let the last end with the form. Purpose: to
    keep one pulse while the fingers change gear. `rungs` are notes a beat (a beat of two, in uneven bars); None
    takes all that the meter has: see `rungs_of`. A rung that a dotted or uneven meter lacks is passed over, and
    with a `level` one that the chart's tempo makes too fast for it.

    >>> sorted({str(note.duration_beats) for note in subdivision_ladder("A minor pentatonic").notes})
    ['1', '1/2', '1/3', '1/4', '1/5', '1/6']
    """
    what, tuning = as_thing(what), as_tuning(tuning)
    over = home_chart(what, chart)
    most = len(RUNGS) if level is None else most_a_beat(over, level)
    has = rungs_of(over.meter)
    asked = has if rungs is None else _asked(rungs)
    if bars is not None:
        counted(bars, BARS, "number of bars a rung")
    climbed = [
        rung
        for rung in asked
        if (rung in has or not (over.meter.uneven or over.meter.compound))
        and (level is None or min(rung_lengths(over.meter, rung)) >= Fraction(1, most))
    ]
    if not climbed:
        raise DrillError(
            f"no bar of {over.meter} has {shown(asked[0])} notes a beat",
            value=asked,
            expected=", ".join(map(str, has)),
        )
    each = _bars_a_rung(len(climbed), over.form_bars) if bars is None else bars
    lengths = [length for rung in climbed for length in rung_lengths(over.meter, rung) * each]
    notes = placed_notes(_up_and_down(in_position(what, position, tuning)), what, lengths, tuning)
    words = ", ".join(rung_words(over.meter, rung) for rung in climbed)
    return with_degrees(Line(notes, over, tuning, f"Ladder of {words}", position=position))


def _bars_a_rung(rungs: int, form_bars: int) -> int:
    """The bars of a rung with which a ladder ends where a form does; one where that takes too long."""
    for bars in range(1, MOST_BARS_OF_A_LADDER // rungs + 1):
        ends_with_a_form = rungs * bars % form_bars == 0
        if ends_with_a_form:
            return bars
    return 1


def rungs_of(meter: Meter, most: int = len(RUNGS)) -> tuple[int, ...]:
    """The rungs of a ladder in a meter, none of more than `most` notes to a quarter: what its beats fall into.

    >>> rungs_of(Meter(4, 4), 4), rungs_of(Meter(6, 8), 4), rungs_of(Meter(7, 8), 4)
    ((1, 2, 3, 4), (1, 3, 6), (1, 2, 4))
    """
    rungs: tuple[int, ...] = tuple(RUNGS)
    if meter.uneven:
        rungs = UNEVEN_RUNGS
    elif meter.compound:
        rungs = DOTTED_RUNGS
    return tuple(rung for rung in rungs if min(rung_lengths(meter, rung)) >= Fraction(1, most)) or rungs[:1]


def rung_lengths(meter: Meter, rung: int) -> list[Fraction]:
    """The lengths of a bar's notes on a rung: each beat in as many parts; in uneven bars the same note throughout."""
    if not meter.uneven:
        beats = meter.felt_beats if meter.compound or meter.bar_beats % 1 else _quarters(meter)
        return [beat / rung for beat in beats for _ in range(rung)]
    if rung == 1:
        return list(meter.felt_beats)
    note = min(meter.felt_beats) / rung
    return [note] * int(meter.bar_beats / note)


def _quarters(meter: Meter) -> tuple[Fraction, ...]:
    """The beats of a plain bar: quarters, in 2/2 as well."""
    return (Fraction(1),) * int(meter.bar_beats)


def rung_words(meter: Meter, rung: int) -> str:
    """What the notes of a rung are called in a meter."""
    if meter.uneven and rung == 1:
        return "beats"
    length = min(rung_lengths(meter, rung))
    plain = Fraction(1, rung)
    return RUNGS[rung] if length == plain else value_words(length).removesuffix(" notes") + "s"


def _asked(rungs: Sequence[int]) -> tuple[int, ...]:
    asked = listed(rungs, "row of notes a beat", "numbers from 1 to 6", DrillError)
    wrong = [rung for rung in asked if rung not in tuple(RUNGS)]
    if wrong or not asked:
        raise DrillError(
            f"{shown(wrong[0]) if wrong else 'no'} notes a beat", value=wrong, expected="1 to 6"
        )
    return tuple(asked)


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
    fast: int | None = None,
    count: int = 5,
    bars: int = 4,
    level: Level = LEVELS[-1],
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To become fast: each bar calm notes, then a burst that lands on the last beat.

    A burst is `count` notes at `fast` a quarter. Purpose: speed in small doses with a rest after each. The calm notes
    are eighths and the fast ones sixteenths, or where the tempo makes these too fast for a `level` twice as long
    (`fast` None). The landing note lasts to the end of the bar: a dotted beat in 6/8, the three of a 7/8. A bar too
    short for the burst is joined to the next.

    >>> sorted({str(note.duration_beats) for note in bursts("A minor pentatonic").notes})
    ['1', '1/2', '1/4']
    """
    what = as_thing(what)
    counted(bars, BARS, "number of bars")
    one_of(level, LEVELS, "level", DrillError)
    if fast is not None:
        counted(fast, NOTES_A_BEAT, "number of notes a beat")
    counted(count, (2, NOTES_A_BEAT[1] * METER_BEATS[1]), "number of notes in a burst")
    tuning, over = as_tuning(tuning), home_chart(what, chart)
    short = fast_value(over, level) if fast is None else Fraction(1, fast)
    turn, lengths = _burst(over, count, short)
    turns = -(-bars // turn)
    notes = placed_notes(
        _up_and_down(in_position(what, position, tuning)), what, lengths * turns, tuning
    )
    return with_degrees(Line(notes, over, tuning, f"Bursts of {count}", position=position))


def _burst(over: Chart, count: int, short: Fraction) -> tuple[int, list[Fraction]]:
    """In how many bars a burst stands, and the lengths of their notes."""
    landing, before_landing = over.meter.felt_beats[-1], count - 1
    calm_note = max(Fraction(1, 2), 2 * short)
    for turn in range(1, MOST_BARS_A_BURST + 1):
        calm = turn * over.bar_beats - landing - before_landing * short
        if calm >= 0 and calm % Fraction(1, 2) == 0:
            # What the calm notes do not fill is one of half their length.
            rest = [calm % calm_note] if calm % calm_note else []
            calmly = [calm_note] * int(calm / calm_note) + rest
            return turn, calmly + [short] * before_landing + [landing]
    raise DrillError(
        f"a burst of {count} notes at {shown(int(1 / short))} a beat does not fit a bar of {over.meter}",
        value=count,
        expected="a burst of whole or half beats, shorter than the bar",
    )


def displaced_accents(line: Line | str, every: int = 3) -> Line:
    """To move accents against the beat: one on every `every`th note of a line.

    >>> displaced_accents("e A3 C4 D4 E4 G4 A4 C5 D5").words().splitlines()[-1]
    'e A3[>] C4 D4 E4[>] G4 A4 C5[>] D5 |'
    """
    line = as_line(line)
    counted(every, GROUPS, "number of notes to an accent")
    notes = list(line.notes)
    for index in range(0, len(notes), every):
        note = notes[index]
        notes[index] = replace(note, marks=(*note.marks, Mark("accent")))
    return replace(line, notes=tuple(notes), title=f"{line.title}, accents in {every}s".strip(", "))


def moving_rest(line: Line | str, group: int = 4) -> Line:
    """To lean on no note: the line with one note of every group left out, each time the next.

    It is the first of the first group, the second of the next, and so on. Purpose: to feel each part of the beat in
    silence. Notes on either side must not lean on the missing one, so joining marks after a rest are dropped.

    >>> moving_rest("e A3 C4 D4 E4 G4 A4 C5 D5").words().splitlines()[-1]
    'e r C4 D4 E4 G4 r C5 D5 |'
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
