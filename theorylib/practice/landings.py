"""First drills over changes: one note a beat through a shape, and a long note that lands where each chord comes in.

Purposes and rules are common practice, no source; `fingering.finger` places what has no place yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import cycle, islice

from ..changes.charts import Chart, as_chart
from ..changes.meters import Meter
from ..errors import DrillError, listed
from ..names.chords import Chord
from ..names.scales import Scale
from ..necks.areas import as_thing, in_position
from ..necks.positions import covered, open_strings
from ..necks.shapes import Target
from ..necks.tunings import STANDARD, Place, Tuning, as_tuning
from ..playing.context import with_degrees
from ..playing.lines import Line, Note, as_line
from .drills import Pool, Reach, chord_tones, nearest, note_of, opened, titled
from .sequences import home_chart, placed_notes
from .solo_ends import STABLE, rest_of

MOST_PASSES = 8  # of a short form, so that the shape is played up and down once
# What a target stands for where a chord lacks it: a sus chord has a 4th or a 2nd for its 3rd, a power chord its 5th.
STANDS_FOR = {
    "1": ("1",),
    "3": ("3", "b3", "11", "9", "5", "b5", "#5"),
    "5": ("5", "b5", "#5", "1"),
    "7": ("7", "b7", "bb7", "6", "5", "b5", "#5"),
}


def steady_scale(
    what: Scale | Chord | str,
    position: int = 5,
    *,
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """A first scale to play in time: up and down a shape, one note a beat, until it comes to rest.

    It begins on its lowest root. Purpose: to know where the notes lie before they have to be fast. The form is played
    again until the shape has been up and down once. The last note is held: the root where the chord below has it, else
    a tone of that chord; where the last bar leads back to a first chord that is home, it comes a bar later, on that
    (see `solo_ends.rest_of`).

    >>> [str(note.pitch) for note in steady_scale("A minor pentatonic", 5, chart="| Am | % |").notes[:4]]
    ['A2', 'C3', 'D3', 'E3']
    """
    thing, tuning = as_thing(what), as_tuning(tuning)
    over = home_chart(thing, chart)
    shape = in_position(thing, position, tuning)
    roots = [index for index, place in enumerate(shape) if place.degree == "1"]
    if len(shape) < 2 or not roots:
        raise DrillError(
            f"{thing.pretty} has no root under the hand",
            value=position,
            expected="another position",
        )
    round_trip = 2 * (len(shape) - 1)
    beats_a_form = len(over.meter.felt_beats) * over.form_bars
    rest = rest_of(over, min(MOST_PASSES, max(1, -(-round_trip // beats_a_form))))
    lengths = _beats_up_to(rest.onset_beats, over.meter)
    up_and_down = [*range(len(shape)), *range(len(shape) - 2, 0, -1)]
    walked = list(islice(cycle(up_and_down), roots[0], roots[0] + len(lengths)))
    last = walked[-1] if walked else roots[0]
    ending = _ending(shape, rest.chord, last, tuning)
    places = [shape[index] for index in (*walked, ending)]
    notes = placed_notes(places, thing, [*lengths, rest.duration_beats], tuning)
    title = titled(f"{thing.pretty}, one note a beat", position)
    return with_degrees(Line(notes, over, tuning, title, rest.end_beats, position))


def _beats_up_to(end: Fraction, meter: Meter) -> list[Fraction]:
    """The felt beats of bars up to a moment, the last of them no longer than to there."""
    found: list[Fraction] = []
    now = Fraction(0)
    for beat in cycle(meter.felt_beats):
        if now >= end:
            break
        found.append(min(beat, end - now))
        now += beat
    return found


def _ending(shape: Sequence[Target], chord: Chord, near: int, tuning: Tuning) -> int:
    """The place of a shape to end on over a chord, nearest to the one before: a root at rest over the chord, else
    another stable tone of the chord, else any tone of it, else any root."""
    tones = {pitch: degree for pitch, (_, degree) in chord_tones(chord).items()}
    roots = set()
    stable = set()
    sounding = set()
    for index, place in enumerate(shape):
        degree = tones.get(tuning.midi(place.string, place.fret) % 12)
        if place.degree == "1":
            roots.add(index)
        if degree:
            sounding.add(index)
        if degree in STABLE:
            stable.add(index)
    at_rest = roots & stable or stable or sounding or roots
    return min(at_rest, key=lambda index: (abs(index - near), index))


def landings(
    chart: Chart | str,
    degrees: Sequence[str] = ("1", "3"),
    position: int | None = 5,
    *,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To hear where a chord comes in: one note a chord, struck there and held while it lasts.

    It goes once through the form for each degree. Purpose: to know where home is in each chord. `degrees` are keys of
    STANDS_FOR; a chord without one has what stands for it there. Each note is the nearest to the one before, of those
    under the four fingers where there are any.

    >>> [str(note.pitch) for note in landings("| Am7 | D7 |").notes]
    ['A3', 'D4', 'C4', 'F#4']
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    wanted = listed(degrees, "row of degrees", ", ".join(STANDS_FOR), DrillError)
    unknown = [degree for degree in wanted if degree not in STANDS_FOR]
    if unknown or not wanted:
        raise DrillError(
            f"no landing on {unknown[0] if unknown else 'nothing'}",
            value=degrees,
            expected=", ".join(STANDS_FOR),
        )
    reach = Reach.of(tuning, position)
    under = _under_the_fingers(reach)
    notes: list[Note] = []
    for turn, degree in enumerate(wanted):
        for event in chart.events:
            pool = _targets(reach.chord_pool(event), degree)
            if not pool:
                continue
            pool = {midi: named for midi, named in pool.items() if midi in under} or pool
            near = notes[-1].pitch.midi if notes else sorted(pool)[len(pool) // 2]
            onset = event.onset_beats + turn * chart.length_beats
            notes.append(note_of(pool, nearest(pool, near), onset, event.duration_beats))
    line = Line(tuple(notes), chart, tuning, length_beats=len(wanted) * chart.length_beats)
    title = titled("Landing notes", position)
    return replace(line, title=title, position=position, promise="chord tones")


def landed(line: Line | str) -> Line:
    """To come to rest: the line with one note more, on the beat after its last, held.

    It is the nearest stable tone of the chord that sounds there, which after the last bar is the first chord again: to
    who plays in a loop, the first beat of the next time round. It lasts to the end of its bar. A line whose last note
    lies on a beat and is as long as one stays as it is, and so does one over no chord there.

    >>> landed("e A3 C4 E4 G4 A4 G4 E4 C4 over Am7").words().splitlines()[-1]
    'e A3 C4 E4 G4 A4 G4 E4 C4 | w A3 |'
    """
    line = as_line(line)
    if not line.notes:
        return line
    last, meter = line.notes[-1], line.chart.meter
    begins = last.onset_beats % meter.bar_beats
    beats = dict(zip(meter.beat_onsets, meter.felt_beats, strict=True))
    is_held = begins in beats and last.duration_beats >= beats[begins]
    onset = _next_beat(last.end_beats, meter)
    event = line.chart.event_at(onset)
    if is_held or event is None or event.chord.root is None:
        return line
    reach = Reach.of(line.tuning, line.position)
    pool = reach.chord_pool(event)
    others = {midi: named for midi, named in pool.items() if midi != last.pitch.midi} or pool
    at_rest = {midi: named for midi, named in others.items() if named[1] in STABLE} or others
    lasts = meter.bar_beats - onset % meter.bar_beats
    place = _under_the_hand(line, at_rest)
    if place is not None:
        note = note_of(pool, line.tuning.midi(place.string, place.fret), onset, lasts)
        note = replace(note, string=place.string, fret=place.fret)
    else:
        note = note_of(pool, nearest(at_rest, last.pitch.midi), onset, lasts)
    return opened(replace(line, notes=(*line.notes, note)))


def _under_the_hand(line: Line, pool: Pool) -> Place | None:
    """Of a line that moves along the neck, the place of a pool's note nearest to where the hand stands."""
    pressed = [note for note in line.notes if note.fret and not note.marked("tap")]
    if line.position is not None or not pressed:
        return None
    hand = pressed[-1]
    places = [
        place
        for midi in pool
        for place in line.tuning.places(midi)
        if place.fret > 0
    ]

    def away(place: Place) -> tuple[int, int]:
        along = abs(place.fret - (hand.fret or 0))
        across = abs(place.string - (hand.string or 0))
        return along + across, place.string

    return min(places, key=away, default=None)


def _next_beat(moment: Fraction, meter: Meter) -> Fraction:
    """The first felt beat that does not begin before a moment."""
    bar = moment // meter.bar_beats * meter.bar_beats
    beats = [bar + beat for beat in (*meter.beat_onsets, meter.bar_beats)]
    return next(beat for beat in beats if beat >= moment)


def _under_the_fingers(reach: Reach) -> frozenset[int]:
    """What the hand takes without a stretch; a free hand, all."""
    if reach.position is None:
        return frozenset(reach.midis)
    tuning, position = reach.tuning, reach.position
    pressed = {tuning.midi(string, fret) for string in tuning.strings for fret in covered(position, tuning)}
    return frozenset(pressed | {tuning.midi(string, 0) for string in open_strings(position, tuning)})


def _targets(pool: Pool, degree: str) -> Pool:
    """The notes of a chord that a degree asks for, or of the first that stands for it."""
    for one in STANDS_FOR[degree]:
        found = {midi: named for midi, named in pool.items() if named[1] == one}
        if found:
            return found
    return pool
