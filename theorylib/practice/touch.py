"""Drills of touch: vibrato that waits for its beat, bends checked against their goal, slides, swells.

Beats are said as a teacher counts: "2", "and of 3", "e of 1", "a of 4". Rules are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import repeat
from typing import Literal, get_args

from ..changes.charts import Chart, as_chart
from ..changes.meters import COMMON_TIME, LONG_BEAT, Meter
from ..errors import DrillError, as_text, shown
from ..limits import BARS, VELOCITY, VIBRATO, whole
from ..names.chords import Chord, as_chord
from ..names.scales import Scale
from ..names.spelling import Interval, as_degrees
from ..necks.areas import as_thing, per_string
from ..necks.positions import FIRST_OFFSET, LAST_OFFSET, SPAN_OFFSET, reached
from ..necks.shapes import BEND_SEMITONES, Bend, Shape, Target, target_shapes
from ..necks.tunings import STANDARD, Tuning, as_fret, as_tuning
from ..playing.context import with_degrees
from ..playing.lines import Line, Mark, Note, as_line
from .drills import Reach, bar_of, counted, nearest, note_of
from .sequences import home_chart, placed_notes

SLIDES = (2, 64)  # notes of a slide drill
_BEAT = re.compile(r"(?:(and|&|e|a) of )?([1-9][0-9]?)")
# Parts of a plain beat, and of one of three notes: "1 and a 2 and a".
_PARTS = {
    "": Fraction(0),
    "e": Fraction(1, 4),
    "and": Fraction(1, 2),
    "&": Fraction(1, 2),
    "a": Fraction(3, 4),
}
_PARTS_OF_THREE = {
    "": Fraction(0),
    "and": Fraction(1, 3),
    "&": Fraction(1, 3),
    "a": Fraction(2, 3),
}
_BAR = 4  # beats: a bend drill stands in 4/4
BendWay = Literal["bend", "bend and release", "pre-bend and release"]
BEND_WAYS: tuple[BendWay, ...] = get_args(BendWay)
SlideKind = Literal["slide", "legato slide"]
SLIDE_KINDS: tuple[SlideKind, ...] = get_args(SlideKind)
BEND_TEMPO = 80  # quarter notes a minute: a bend is heard before it is fast


def beat_of(text: str, meter: Meter = COMMON_TIME) -> Fraction:
    """Quarter-note beats from the start of the bar: "1" is 0, "and of 2" is 3/2. Raises DrillError.

    Beats are those that the meter is felt in: beat 2 of 6/8 comes after a dotted quarter.

    >>> beat_of("2"), beat_of("2", Meter(6, 8)), beat_of("and of 3", Meter(7, 8))
    (Fraction(1, 1), Fraction(3, 2), Fraction(5, 2))
    """
    written = as_text(text, "beat", "a beat such as 2, and of 2, e of 3 or a of 4", DrillError)
    match = _BEAT.fullmatch(" ".join(written.lower().split()))
    if match is None:
        raise DrillError(
            f"“{text}” is no beat",
            value=text,
            expected="a beat such as 2, and of 2, e of 3 or a of 4",
        )
    beats, number, part = meter.felt_beats, int(match[2]) - 1, match[1] or ""
    # Counted on past the bar, as far as a player counts.
    bars, inside = divmod(number, len(beats))
    parts = _PARTS_OF_THREE if beats[inside].numerator % LONG_BEAT == 0 else _PARTS
    if part not in parts:
        raise DrillError(
            f"beat {number + 1} of {meter} has no “{part}”", value=text, expected=", ".join(parts)
        )
    begins = bars * meter.bar_beats + meter.beat_onsets[inside]
    return begins + beats[inside] * parts[part]


def held_vibrato(
    chart: Chart | str,
    on: str = "2",
    degree: str = "3",
    position: int | None = 5,
    *,
    width_cents: int = 40,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To make a note sing: a target held through each chord, still at first, then with vibrato.

    Vibrato begins on beat `on` of the note's time and lasts to its end. Purpose: to decide when a note begins to sing.
    `degree` is the target where the chord has it, else its nearest chord tone; of its octaves one that fingers 1 to 3
    reach, for the little finger shakes badly. A chord that has ended by then sings from its middle. Raises DrillError
    where the beat lies outside the bar.

    >>> held_vibrato("| Am7 | D9 |", degree="3").words().splitlines()[-1]
    'w C4[~40@1] | F#4[~40@1] |'
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    wait = beat_of(on, chart.meter)
    (degree,) = as_degrees([degree])
    whole(width_cents, VIBRATO, "width in cents")
    reach = Reach.of(tuning, position)
    fretted = _held_by(position, tuning, FIRST_OFFSET, LAST_OFFSET)
    strong = _held_by(position, tuning, 0, SPAN_OFFSET - 1)
    notes: list[Note] = []
    before: int | None = None
    for event in chart.events:
        if event.chord.root is None:
            continue
        if wait >= chart.bar_beats:
            raise DrillError(
                f"beat {on} comes after {event.chord} has ended",
                value=on,
                where=bar_of(event),
                expected=f"a beat of the bar, 1 to {len(chart.meter.felt_beats)}",
            )
        pool = reach.chord_pool(event)
        targets = [midi for midi, (_, said) in pool.items() if _number(said) == _number(degree)]
        # A chord without that degree (a 6 in place of a 7) still has a note to hold: the nearest.
        wanted = [midi for midi in targets or pool if midi in fretted] or list(pool)
        wanted = [midi for midi in wanted if midi in strong] or wanted
        near = wanted[len(wanted) // 2] if before is None else before
        before = nearest(wanted, near)
        note = note_of(pool, before, event.onset_beats, event.duration_beats)
        sings = wait if wait < event.duration_beats else event.duration_beats / 2
        notes.append(replace(note, marks=(Mark("vibrato", Fraction(width_cents), sings),)))
    title = f"Held notes, vibrato from {'the' if ' of ' in on else 'beat'} {on}"
    return Line(tuple(notes), chart, tuning, title, chart.length_beats, position, "chord tones")


def _held_by(position: int | None, tuning: Tuning, first: int, last: int) -> set[int]:
    """The notes that fingers hold from one fret above a position to another; a free hand holds every fretted one."""
    if position is None:
        frets = list(range(1, tuning.last_fret + 1))
    else:
        frets = [fret for fret in reached(position, tuning) if first <= fret - position <= last]
    return {tuning.midi(string, fret) for string in tuning.strings for fret in frets}


def _number(degree: str) -> str:
    """A degree without its accidentals: a 3rd is a 3rd, major or minor."""
    return degree.lstrip("b#")


def bend_drill(
    chord: Chord | str,
    degrees: Iterable[str] | str | Shape = ("1", "9", "6"),
    near: int = 8,
    *,
    way: BendWay = "bend and release",
    most: int = 2,
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To tune bends by ear: a bar for each, the goal fretted, a rest, then the bend to meet it.

    The fingers are those of the area. Purpose: bends in tune. The first half of the bar holds the check note and a
    rest, the second the bend: up only, up and released, or bent before it is struck and released. A curl is first
    played straight; what is held beside a bend is struck with it. The area is given in place of `degrees`, or it is the
    target shape of these degrees nearest to a fret. `most` limits the bend in semitones. The tempo is 80, or that of a
    slower `chart`, whose feel it keeps; `.at_tempo(60)` changes it.

    >>> line = bend_drill("G7")
    >>> [kind for kind in ("bend", "release") if any(note.marked(kind) for note in line.notes)]
    ['bend', 'release']
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    if way not in BEND_WAYS:
        raise DrillError(
            f"“{shown(way)}” is no way to bend", value=way, expected=", ".join(BEND_WAYS)
        )
    as_fret(near, tuning)
    counted(most, (BEND_SEMITONES[0], BEND_SEMITONES[-1]), "number of semitones to bend")
    shape = degrees if isinstance(degrees, Shape) else _shape_to_bend(chord, degrees, near, most, tuning)
    bends = _bends_of(shape, most, tuning)
    if not bends:
        raise DrillError(
            f"no target of {chord} near fret {near} can be bent {most} semitones",
            value=near,
            expected="a higher fret or thinner strings",
        )
    over = replace(home_chart(chord), tempo=Fraction(BEND_TEMPO))
    if chart is not None:
        changes = as_chart(chart)
        over = replace(over, tempo=min(over.tempo, changes.tempo), feel=changes.feel)
    degree_at = {(place.string, place.fret): place.degree for place in shape.places}
    notes: list[Note] = []
    for bar, bend in enumerate(bends):
        struck = Target(bend.string, bend.fret, degree_at[bend.string, bend.fret])
        notes += _bar_of_bend(bend, struck, way, _Ground(chord, tuning, Fraction(_BAR * bar)))
    return Line(
        tuple(notes), over, tuning, f"{way.capitalize()}, goal first", Fraction(_BAR * len(bends))
    )


@dataclass(frozen=True, slots=True)
class _Ground:
    """What a bar of a bend drill stands on: its chord, the neck and the beat at which it begins."""

    chord: Chord
    tuning: Tuning
    onset_beats: Fraction

    def note(self, place: Target, finger: int, after_beats: int, duration_beats: int) -> Note:
        assert self.chord.root is not None
        name = self.chord.root.up(Interval.of_degree(place.degree))
        pitch = self.tuning.pitch(place.string, place.fret, name)
        onset, length = self.onset_beats + after_beats, Fraction(duration_beats)
        return Note(pitch, onset, length, place.string, place.fret, finger, place.degree)


def _bar_of_bend(bend: Bend, struck: Target, way: BendWay, ground: _Ground) -> list[Note]:
    """The ear hears the goal, keeps it through a rest of a beat, and the bend has to meet it."""
    hand = bend.fret - bend.finger
    held = [ground.note(place, place.fret - hand, 2, 2) for place in bend.held]
    bent = ground.note(struck, bend.finger, 2, 2)
    size = Fraction(bend.semitones)
    if size.denominator > 1:  # a curl has no fret to go to: it leaves its own note
        return [ground.note(struck, bend.finger, 0, 1), replace(bent, marks=(Mark("bend", size),))]
    goal = Target(bend.string, bend.fret + int(size), bend.degree)
    check = ground.note(goal, bend.finger, 0, 1)
    at_goal = [note for note in held if note.pitch.midi == check.pitch.midi]
    if at_goal:  # a unison bend: the goal sounds on the string beside
        check = replace(at_goal[0], onset_beats=ground.onset_beats, duration_beats=Fraction(1))
    marks = (Mark("bend", size),) if at_goal else _bend_marks(way, size)
    return [check, replace(bent, marks=marks), *held]


def _shape_to_bend(
    chord: Chord, degrees: Iterable[str] | str, near: int, most: int, tuning: Tuning
) -> Shape:
    """The target shape nearest to a fret, of those that offer a bend if there is one."""
    shapes = target_shapes(chord, degrees, tuning)
    if not shapes:
        raise DrillError(
            f"no target of {chord} lies together",
            value=degrees,
            expected="other degrees or fewer of them",
        )
    return min(
        shapes,
        key=lambda one: (
            not _bends_of(one, most, tuning),
            abs(one.low_fret - near),
            one.places,
        ),
    )


def _bends_of(shape: Shape, most: int, tuning: Tuning) -> tuple[Bend, ...]:
    """The bends of an area up to so many semitones whose goal can be fretted too."""
    return tuple(
        bend
        for bend in shape.bends
        if bend.semitones <= most and bend.fret + bend.semitones <= tuning.last_fret
    )


def _bend_marks(way: BendWay, semitones: Fraction) -> tuple[Mark, ...]:
    released = Mark("release", semitones, Fraction(1))
    if way == "bend":
        return (Mark("bend", semitones),)
    if way == "bend and release":
        return (Mark("bend", semitones), released)
    return (Mark("pre-bend", semitones), released)


def slide_drill(
    what: Scale | Chord | str,
    string: int = 2,
    *,
    kind: SlideKind = "slide",
    count: int = 8,
    fret: int = 3,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To shift by touch: up and down one string, every second note reached by a slide.

    It is in quarter notes, the slide with the finger before it. `kind` "slide" strikes the note of arrival again,
    "legato slide" does not. Purpose: to shift without looking.

    >>> all(note.string == 2 for note in slide_drill("A minor pentatonic", string=2).notes)
    True
    """
    thing, tuning = as_thing(what), as_tuning(tuning)
    if kind not in SLIDE_KINDS:
        raise DrillError(
            f"“{shown(kind)}” is no slide", value=kind, expected=" or ".join(SLIDE_KINDS)
        )
    counted(count, SLIDES, "number of notes")
    places = per_string(thing, count // 2 + 1, fret, tuning, strings=(string,))
    run = [*places, *places[-2:0:-1]][:count]
    notes = list(placed_notes(run, thing, repeat(Fraction(1)), tuning))
    for index in range(1, len(notes), 2):
        notes[index] = replace(notes[index], marks=(Mark(kind),))
    return with_degrees(Line(tuple(notes), home_chart(thing), tuning, f"Slides on string {string}"))


def with_swell(line: Line | str, soft: int = 50, loud: int = 110, *, bars: int = 2) -> Line:
    """To practise loud and soft: a line that grows over some bars and falls back over as many.

    MIDI velocities rise from `soft` to `loud` over `bars` bars.

    >>> with_swell("q A3 C4 D4 E4").words().splitlines()[-1]
    'q A3[v50] C4[v58] D4[v65] E4[v72] |'
    """
    line = as_line(line)
    counted(soft, VELOCITY, "velocity")
    counted(loud, VELOCITY, "velocity")
    counted(bars, BARS, "number of bars")
    half = line.chart.bar_beats * bars

    def velocity(onset_beats: Fraction) -> Fraction:
        turn, inside = divmod(onset_beats, half)
        share = inside / half if turn % 2 == 0 else 1 - inside / half
        return Fraction(round(soft + (loud - soft) * share))

    def swelling(note: Note) -> Note:
        return replace(note, marks=(*note.marks, Mark("dynamic", velocity(note.onset_beats))))

    return replace(line.with_notes(swelling), title=f"{line.title}, swelling")
