"""What a phrase does, read from its notes alone: figures that come again, rests, goals led to, bends, runs.

Each device says what it found in words that hold for these notes; a phrase that was cut or moved to fit its changes is
told by what is left of it. The names are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from ..changes.meters import Meter
from ..errors import DrillError
from ..limits import is_whole
from ..playing.lines import Line, Note, as_line

RUN_NOTES = 6
FIGURE_NOTES = 2
GROUPS = 3


def devices(line: Line | str, first: int, last: int) -> tuple[str, ...]:
    """What the notes of bars `first` to `last` (from 1) do, in words; raises DrillError for bars that are none.

    >>> devices(Line.parse("q A3 C4 h r | q A3 E4 h r", chart="| Am7 | D7 |"), 1, 2)
    ('one figure comes twice in the same rhythm', 'half of the time is silence')
    """
    line = as_line(line)
    if not (is_whole(first, 1, line.bar_count) and is_whole(last, first, line.bar_count)):
        raise DrillError(
            f"bars {first} to {last} of {line.bar_count}",
            value=(first, last),
            expected=f"bars from 1 to {line.bar_count}",
        )
    bar = line.chart.bar_beats
    start, end = (first - 1) * bar, last * bar
    notes = [note for note in line.notes if start <= note.onset_beats < end]
    if not notes:
        return ()
    found = [
        *_figures(notes, start, (start + end) / 2, line.chart.meter),
        *_silence(notes, end - start),
        *_groups(notes),
        *_goals(notes),
        *_bends(notes, line),
    ]
    return tuple(found)


def _figures(
    notes: Sequence[Note], start: Fraction, middle: Fraction, meter: Meter
) -> Iterator[str]:
    """Does the second half say the rhythm of the first again, in its place or later?"""
    halves = [
        [note.onset_beats - start for note in notes if note.onset_beats < middle],
        [note.onset_beats - middle for note in notes if note.onset_beats >= middle],
    ]
    if min(map(len, halves)) < FIGURE_NOTES or len(halves[0]) != len(halves[1]):
        return
    shifts = {two - one for one, two in zip(*halves, strict=True)}
    if len(shifts) > 1:
        return
    shift = shifts.pop()
    if not shift:
        yield "one figure comes twice in the same rhythm"
        return
    # What a foot taps is a beat: a dotted quarter in 12/8.
    beats = abs(shift) / (meter.pulse_beats if meter.compound else 1)
    yield f"the figure comes again {_beats(beats)} {'later' if shift > 0 else 'earlier'} in its bar"


def _beats(beats: Fraction) -> str:
    named = {
        Fraction(1, 3): "a third of a beat",
        Fraction(2, 3): "two thirds of a beat",
        Fraction(1, 4): "a quarter of a beat",
        Fraction(1, 2): "half a beat",
        Fraction(3, 4): "three quarters of a beat",
        Fraction(1): "a beat",
        Fraction(3, 2): "a beat and a half",
    }
    return named.get(beats, f"{float(beats):g} beats")


def _silence(notes: Sequence[Note], length: Fraction) -> Iterator[str]:
    sounding = sum((note.duration_beats for note in notes), Fraction(0))
    if sounding == length / 2:
        yield "half of the time is silence"
    elif sounding < length / 2:
        yield "more than half of the time is silence"


def _groups(notes: Sequence[Note]) -> Iterator[str]:
    """Short groups with a gap after each, or one long run."""
    sizes = [len(group) for group in _runs(notes)]
    for size, same in groupby(sizes):
        if size in (2, 3) and len(list(same)) >= GROUPS:
            yield f"groups of {'two' if size == 2 else 'three'} with a gap after each"
            return
    if max(sizes) >= RUN_NOTES:
        yield f"a run of {max(sizes)} notes without a rest"


def _runs(notes: Sequence[Note]) -> list[list[Note]]:
    """The notes in groups between rests."""
    found = [[notes[0]]]
    for one, two in pairwise(notes):
        if two.onset_beats > one.end_beats:
            found.append([])
        found[-1].append(two)
    return found


def _goals(notes: Sequence[Note]) -> Iterator[str]:
    """Goals that are led to from both sides, or by the half step below."""
    steps = [two.pitch.midi - one.pitch.midi for one, two in pairwise(notes)]
    for index in range(len(notes) - 2):
        above = notes[index].pitch.midi - notes[index + 2].pitch.midi
        if above in (1, 2) and steps[index + 1] == 1:
            yield "a goal is met from both sides, the note above and the half step below"
            return
    for index, step in enumerate(steps):
        two = notes[index + 1]
        if step == 1 and two.duration_beats > notes[index].duration_beats and not two.marked("hammer"):
            yield "a half step below leads to a longer note"
            return


def _bends(notes: Sequence[Note], line: Line) -> Iterator[str]:
    for note in notes:
        bend = note.marked("bend")
        if bend is None:
            continue
        if bend.value < 1:
            yield "a curl of a quarter tone colours the 3rd"
            return
        chord = line.chart.chord_at(note.onset_beats)
        tone = (
            None
            if chord is None or chord.root is None
            else ((note.pitch.midi + int(bend.value) - chord.root.pitch_class) % 12)
        )
        named = {0: "the root", 3: "the 3rd", 4: "the 3rd", 7: "the 5th", 10: "the 7th"}
        yield f"a bend reaches {named.get(tone, 'its goal') if tone is not None else 'its goal'}"
        return
