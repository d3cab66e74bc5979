"""Drills of touch: vibrato that waits for its beat, bends checked against their goal, slides, swells.

Beats are said as a teacher counts: "2", "and of 3", "e of 1", "a of 4". Rules are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..errors import DrillError, as_text, shown
from ..limits import BARS, TEMPO, VELOCITY, VIBRATO, number_in, whole
from ..names.chords import Chord, as_chord
from ..names.scales import Scale
from ..names.spelling import Interval, Pitch, as_degrees
from ..necks.areas import as_thing, per_string
from ..necks.shapes import BEND_SEMITONES, Bend, Shape, target_shapes
from ..necks.tunings import STANDARD, Tuning, as_fret, as_tuning
from ..playing.lines import Line, Mark, Note, as_line
from .drills import chord_pool, counted, reachable_midi
from .sequences import home_chord, with_degrees

SLIDES = (2, 64)  # notes of a slide drill
_BEAT = re.compile(r"(?:(and|&|e|a) of )?([1-9][0-9]?)")
_PARTS = {"": Fraction(0), "e": Fraction(1, 4), "and": Fraction(1, 2), "&": Fraction(1, 2), "a": Fraction(3, 4)}
BEND_WAYS = ("bend", "bend and release", "pre-bend and release")


def beat_of(text: str) -> Fraction:
    """Quarter-note beats from the start of the bar: "1" is 0, "and of 2" is 3/2. Raises DrillError."""
    written = as_text(text, "beat", "a beat such as 2, and of 2, e of 3 or a of 4", DrillError)
    match = _BEAT.fullmatch(" ".join(written.lower().split()))
    if match is None:
        raise DrillError(f"“{text}” is no beat", value=text, expected="a beat such as 2, and of 2, e of 3 or a of 4")
    return int(match[2]) - 1 + _PARTS[match[1] or ""]


def held_vibrato(chart: Chart | str, on: str = "2", degree: str = "3", position: int | None = 5, *,
                 width_cents: int = 40, tuning: Tuning | str = STANDARD) -> Line:
    """A target note held through each chord: still until the beat `on` (within the bar), then vibrato to its end.

    Purpose: to decide when a note begins to sing. `degree` is the target where the chord has it, else its nearest
    chord tone. Raises DrillError where the beat lies outside a chord's time.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    wait = beat_of(on)
    (degree,) = as_degrees([degree])
    whole(width_cents, VIBRATO, "width in cents")
    reach = reachable_midi(tuning, position)
    notes: list[Note] = []
    before: int | None = None
    for event in chart.events:
        if event.chord.root is None:
            continue
        if wait >= event.duration_beats:
            raise DrillError(f"beat {on} comes after {event.chord} has ended", value=on, where=f"bar {event.bar + 1}",
                             expected=f"a beat below {event.duration_beats + 1}")
        pool = chord_pool(event.chord, reach, tuning, position, f"bar {event.bar + 1}")
        wanted = [midi for midi, what in pool.items() if what[1].lstrip("b#") == degree.lstrip("b#")] or list(pool)
        near = before if before is not None else sorted(wanted)[len(wanted) // 2]
        before = min(wanted, key=lambda midi: (abs(midi - near), midi))
        name, said = pool[before]
        notes.append(Note(Pitch.of_midi(before, name), event.onset_beats, event.duration_beats, degree=said,
                          marks=(Mark("vibrato", Fraction(width_cents), wait),)))
    title = f"Held notes, vibrato from {'the' if ' of ' in on else 'beat'} {on}"
    return Line(tuple(notes), chart, tuning, title, chart.length_beats, position, "chord tones")


def bend_drill(chord: Chord | str, degrees: Iterable[str] | str = ("1", "9", "6"), near: int = 8, *,
               way: str = "bend and release", most: int = 2, tempo: int | Fraction | str = 80,
               tuning: Tuning | str = STANDARD) -> Line:
    """For each bend of the target shape near a fret, a bar: the goal fretted, a rest, then the bend to meet it.

    Purpose: bends in tune. The first half of the bar holds the check note and a rest, the second the bend: up only,
    up and released, or bent before it is struck and released. `most` limits the bend in semitones.
    """
    chord, tuning = as_chord(chord), as_tuning(tuning)
    if way not in BEND_WAYS:
        raise DrillError(f"“{shown(way)}” is no way to bend", value=way, expected=", ".join(BEND_WAYS))
    as_fret(near, tuning)
    counted(most, (BEND_SEMITONES[0], BEND_SEMITONES[-1]), "number of semitones to bend")
    shapes = target_shapes(chord, degrees, tuning)
    if not shapes:
        raise DrillError(f"no target of {chord} lies together", value=degrees,
                         expected="other degrees or fewer of them")
    shape = min(shapes, key=lambda one: (_bent(one, tuning, most) == (),
                                                                        abs(one.low_fret - near), one.places))
    bends = _bent(shape, tuning, most)
    if not bends:
        raise DrillError(f"no target of {chord} near fret {near} can be bent {most} semitones", value=near,
                         expected="a higher fret or thinner strings")
    speed = number_in(tempo, TEMPO, "tempo in quarter notes a minute")
    chart = Chart.parse(tempo=speed, text=f"key: {chord.root} {'minor' if chord.is_minor else 'major'}\n| {chord} |")
    notes: list[Note] = []
    for bar, bend in enumerate(bends):
        start = Fraction(4 * bar)
        size = Fraction(bend.semitones)
        marks = {"bend": (Mark("bend", size),),
                 "bend and release": (Mark("bend", size), Mark("release", size, Fraction(1))),
                 "pre-bend and release": (Mark("pre-bend", size), Mark("release", size, Fraction(1)))}[way]
        notes.append(Note(_spelled(chord, tuning, bend.string, bend.fret + bend.semitones, bend.degree), start,
                          Fraction(1), bend.string, bend.fret + bend.semitones, degree=bend.degree))
        target = next(place for place in shape.places if (place.string, place.fret) == (bend.string, bend.fret))
        notes.append(Note(_spelled(chord, tuning, bend.string, bend.fret, target.degree), start + 2, Fraction(2),
                          bend.string, bend.fret, bend.finger, target.degree, marks))
    return Line(tuple(notes), chart, tuning, f"{way.capitalize()}, goal first", Fraction(4 * len(bends)))


def _bent(shape: Shape, tuning: Tuning, most: int) -> tuple[Bend, ...]:
    return tuple(bend for bend in shape.bends
                 if bend.semitones <= most and bend.fret + bend.semitones <= tuning.last_fret)


def _spelled(chord: Chord, tuning: Tuning, string: int, fret: int, degree: str) -> Pitch:
    assert chord.root is not None
    return tuning.pitch(string, fret, chord.root.up(Interval.of_degree(degree)))


def slide_drill(what: Scale | Chord | str, string: int = 2, *, kind: str = "slide", count: int = 8, fret: int = 3,
                tuning: Tuning | str = STANDARD) -> Line:
    """Up and down one string in quarter notes, every second note reached by a slide with the finger before it.

    `kind` "slide" strikes the note of arrival again, "legato slide" does not. Purpose: to shift without looking.
    """
    thing, tuning = as_thing(what), as_tuning(tuning)
    if kind not in ("slide", "legato slide"):
        raise DrillError(f"“{shown(kind)}” is no slide", value=kind, expected="slide or legato slide")
    counted(count, SLIDES, "number of notes")
    places = per_string(thing, count // 2 + 1, fret, tuning, strings=(string,))
    run = [*places, *places[-2:0:-1]][:count]
    names = {name.pitch_class: name for name in thing.names}
    root = thing.root if isinstance(thing, Chord) else thing.tonic
    chart = Chart.parse(f"key: {root} {'minor' if thing.is_minor else 'major'}\n| {home_chord(thing)} |")
    notes = tuple(Note(tuning.pitch(string, place.fret, names[tuning.midi(string, place.fret) % 12]), Fraction(index),
                       Fraction(1), string, place.fret, marks=(Mark(kind),) if index % 2 else ())
                  for index, place in enumerate(run))
    return with_degrees(Line(notes, chart, tuning, f"Slides on string {string}"))


def with_swell(line: Line | str, soft: int = 50, loud: int = 110, *, bars: int = 2) -> Line:
    """The line with MIDI velocities that rise from `soft` to `loud` over `bars` bars and fall back over as many."""
    line = as_line(line)
    counted(soft, VELOCITY, "velocity")
    counted(loud, VELOCITY, "velocity")
    counted(bars, BARS, "number of bars")
    half = line.chart.bar_beats * bars

    def velocity(onset_beats: Fraction) -> Fraction:
        turn, inside = divmod(onset_beats, half)
        share = inside / half if turn % 2 == 0 else 1 - inside / half
        return Fraction(round(soft + (loud - soft) * share))

    return replace(line.with_notes(lambda note: replace(
        note, marks=(*note.marks, Mark("dynamic", velocity(note.onset_beats))))), title=f"{line.title}, swelling")

