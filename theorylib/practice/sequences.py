"""Sequences over a scale or arpeggio shape, with legato and pick strokes marked by rule.

The notes come from an area of the neck, so they have their string and fret from the start; a pattern is a row of step
numbers ("1 3" is thirds), moved up or down the shape a note at a time. Rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from ..changes.charts import Chart, as_chart
from ..errors import DrillError, closest, shown
from ..limits import METER_BEATS, number_in
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import NoteName
from ..necks.areas import as_thing, degrees_of, in_position, per_string
from ..necks.shapes import Target
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Mark, Note, as_line
from ..playing.marks import UNPICKED
from ..reading.chordscales import degree_over

# name: step numbers of one group, counted along the shape from its first note.
PATTERNS: dict[str, tuple[int, ...]] = {
    "straight": (1,), "thirds": (1, 3), "fourths": (1, 4), "sixths": (1, 6), "octaves": (1, 8),
    "groups of 3": (1, 2, 3), "groups of 4": (1, 2, 3, 4), "groups of 5": (1, 2, 3, 4, 5),
    "groups of 6": (1, 2, 3, 4, 5, 6),
}
WAYS = ("up", "down", "up and down")
STROKES = ("alternate", "economy")
PICK_DOWN, PICK_UP = "pick down", "pick up"


def sequence(what: Scale | Chord | str, pattern: str = "thirds", position: int = 5, *, a_string: int | None = None,
             way: str = "up", length_beats: Fraction | str = Fraction(1, 2), chart: Chart | str | None = None,
             tuning: Tuning | str = STANDARD, strings: Iterable[int] | None = None) -> Line:
    """A pattern carried through a shape: "thirds", "sixths", "groups of 4" or numbers of your own ("1 2 3 1").

    `a_string` notes on each string from fret `position` (three notes a string, two strings, one string: see
    `areas.per_string`), or without it the shape in the position. Purpose: to know a shape in any order. Without a
    chart the line stands over the chord of the tonic. Raises DrillError for a pattern longer than the shape.
    """
    thing, tuning = as_thing(what), as_tuning(tuning)
    if way not in WAYS:
        raise DrillError(f"“{shown(way)}” is no way through a shape", value=way, expected=", ".join(WAYS))
    shape = (in_position(thing, position, tuning) if a_string is None
             else per_string(thing, a_string, position, tuning, strings=strings))
    order = _ordered(len(shape), read_pattern(pattern), way)
    places = [shape[index] for index in order]
    length = number_in(length_beats, (Fraction(1, 16), METER_BEATS[1]), "length in beats")
    over = as_chart(chart) if chart is not None else Chart.parse(f"key: {_key_of(thing)}\n| {home_chord(thing)} |")
    words = pattern if pattern in PATTERNS else f"the pattern {pattern}"
    title = f"{_name_of(thing)} in {words}" if pattern != "straight" else _name_of(thing)
    return placed_line(places, thing, over, [length] * len(places), tuning, title,
                       position if a_string is None else None)


def placed_line(places: Sequence[Target], thing: Scale | Chord, chart: Chart, lengths: Sequence[Fraction],
                tuning: Tuning, title: str, position: int | None) -> Line:
    """Places one after the other as notes spelled by the scale or chord, with their degree over the chart's chords."""
    names = {name.pitch_class: name for name in thing.names}
    notes, now = [], Fraction(0)
    for place, length in zip(places, lengths, strict=True):
        name = names[tuning.midi(place.string, place.fret) % 12]
        notes.append(Note(tuning.pitch(place.string, place.fret, name), now, length, place.string, place.fret))
        now += length
    return with_degrees(Line(tuple(notes), chart, tuning, title, position=position))


def with_degrees(line: Line) -> Line:
    """The line with each note's degree over the chord of its moment."""
    def degree(note: Note) -> str:
        chord = line.chart.chord_at(note.onset_beats)
        if chord is None or chord.root is None:
            return ""
        return degree_over(chord, note.pitch.name.fifths, note.pitch.midi % 12)

    return line.with_notes(lambda note: replace(note, degree=degree(note)))


def read_pattern(text: str) -> tuple[int, ...]:
    """Step numbers of a pattern by name or as numbers from 1; raises DrillError with the nearest name."""
    if isinstance(text, str) and text in PATTERNS:
        return PATTERNS[text]
    words = text.replace(",", " ").split() if isinstance(text, str) else []
    if words and all(word.isdecimal() and len(word) < 3 and 1 <= int(word) <= 16 for word in words):
        return tuple(int(word) for word in words)
    raise DrillError(f"“{shown(text)}” is no pattern", value=text, nearest=closest(str(text), PATTERNS),
                     expected=f"numbers from 1 to 16 such as “1 2 3 1”, or {', '.join(PATTERNS)}")


def _ordered(count: int, pattern: tuple[int, ...], way: str) -> list[int]:
    """Indexes into a shape of `count` notes: the pattern from every starting note that has room for it."""
    starts = count - max(pattern) + 1
    if starts < 1:
        raise DrillError(f"a pattern of {max(pattern)} steps in a shape of {count} notes", value=max(pattern),
                         expected="a shorter pattern or a larger shape")
    up = [start + step - 1 for start in range(starts) for step in pattern]
    down = [count - 1 - index for index in up]
    return up if way == "up" else down if way == "down" else up + (down[1:] if down[0] == up[-1] else down)


def with_legato(line: Line | str) -> Line:
    """The line with the first note on each string picked and the others hammered on or pulled off.

    A repeated pitch, a rest, or a note that is already joined keeps its stroke. Needs a line with places.
    """
    line = as_line(line)
    notes = [line.notes[0]] if line.notes else []
    for one, two in zip(line.notes, line.notes[1:], strict=False):
        joins = (one.string == two.string and one.fret != two.fret and one.end_beats == two.onset_beats
                 and not any(mark.kind in UNPICKED for mark in two.marks))
        kind = "hammer" if (two.fret or 0) > (one.fret or 0) else "pull"
        notes.append(replace(two, marks=(*two.marks, Mark(kind))) if joins else two)
    return replace(line, notes=tuple(notes))


def with_strokes(line: Line | str, rule: str = "alternate", grid_beats: Fraction | str = Fraction(1, 2)) -> Line:
    """The line with pick strokes on its picked notes.

    "alternate": down on the grid and up between it, so that rests and slurs never turn the hand round (notes shorter
    than the grid halve it). "economy": to the next thinner string down, to the next thicker up, else in turn.
    """
    line = as_line(line)
    if rule not in STROKES:
        raise DrillError(f"“{shown(rule)}” is no way to pick", value=rule, expected=", ".join(STROKES))
    widest = number_in(grid_beats, (Fraction(1, 16), METER_BEATS[1]), "grid in beats")
    grid = min([widest, *(note.duration_beats for note in line.notes)])
    notes: list[Note] = []
    stroke, string = PICK_UP, None
    for note in line.notes:
        if any(mark.kind in UNPICKED for mark in note.marks):
            notes.append(note)
            string = note.string
            continue
        if rule == "alternate":
            stroke = PICK_DOWN if note.onset_beats / grid % 2 == 0 else PICK_UP
        elif string is None or note.string is None or note.string == string:
            stroke = PICK_DOWN if stroke == PICK_UP else PICK_UP
        else:
            stroke = PICK_DOWN if note.string < string else PICK_UP
        string = note.string
        notes.append(replace(note, marks=(*note.marks, Mark(stroke))))
    return replace(line, notes=tuple(notes))


def home_chord(thing: Scale | Chord) -> Chord:
    """The chord that a scale is played over when no changes are given: the triad of its tonic."""
    if isinstance(thing, Chord):
        return thing
    classes = degrees_of(thing)
    fifth = set(classes.values())
    kind = ("m" if "5" in fifth else "dim") if thing.is_minor else ("" if "5" in fifth or "#5" not in fifth else "aug")
    return Chord.parse(f"{thing.tonic}{kind}")


def _name_of(thing: Scale | Chord) -> str:
    return thing.pretty


def _key_of(thing: Scale | Chord) -> str:
    tonic: NoteName | None = thing.root if isinstance(thing, Chord) else thing.tonic
    return f"{tonic} {'minor' if thing.is_minor else 'major'}"
