"""Sequences over a scale or arpeggio shape, with legato and pick strokes marked by rule.

The notes come from an area of the neck, so they have their string and fret from the start; a pattern is a row of step
numbers ("1 3" is thirds), moved up or down the shape a note at a time. Rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, repeat
from typing import Literal, get_args

from ..changes.charts import Chart, as_chart
from ..errors import DrillError, closest, shown
from ..limits import METER_BEATS, number_in
from ..names.chords import Chord
from ..names.scales import Scale
from ..necks.areas import as_thing, degrees_of, in_position, per_string
from ..necks.shapes import Target
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.context import with_degrees
from ..playing.lines import Line, Mark, Note, as_line
from ..playing.marks import UNPICKED

# name: step numbers of one group, counted along the shape from its first note.
PatternName = Literal[
    "straight", "thirds", "fourths", "sixths", "octaves", "groups of 3", "groups of 4", "groups of 5", "groups of 6"
]
PATTERNS: dict[str, tuple[int, ...]] = {
    "straight": (1,),
    "thirds": (1, 3),
    "fourths": (1, 4),
    "sixths": (1, 6),
    "octaves": (1, 8),
    "groups of 3": (1, 2, 3),
    "groups of 4": (1, 2, 3, 4),
    "groups of 5": (1, 2, 3, 4, 5),
    "groups of 6": (1, 2, 3, 4, 5, 6),
}
Way = Literal["up", "down", "up and down", "in bars"]
WAYS: tuple[Way, ...] = get_args(Way)
StrokeRule = Literal["alternate", "economy"]
STROKES: tuple[StrokeRule, ...] = get_args(StrokeRule)
# Three notes on a string: the frets from each to the next, and the fingers that take them. The hand opens from index
# to little finger rather than between the weak ones (common practice, no source).
THREE_A_STRING = {
    (1, 1): (1, 2, 3),
    (1, 2): (1, 2, 4),
    (2, 1): (1, 3, 4),
    (2, 2): (1, 2, 4),
    (1, 3): (1, 2, 4),
    (3, 1): (1, 3, 4),
    (2, 3): (1, 2, 4),
    (3, 2): (1, 3, 4),
}
PICK_DOWN, PICK_UP = "pick down", "pick up"
MOST_STEPS = 16  # of a pattern, from its first note to its highest


def sequence(
    what: Scale | Chord | str,
    pattern: PatternName | str = "thirds",
    position: int = 5,
    *,
    a_string: int | None = None,
    way: Way = "up",
    length_beats: Fraction | str = "1/2",
    chart: Chart | str | None = None,
    tuning: Tuning | str = STANDARD,
    strings: Iterable[int] | None = None,
) -> Line:
    """To know a shape in any order: “thirds”, “groups of 4” or numbers of your own (“1 2 3 1”).

    `a_string` notes on each string from fret `position` (three notes a string, two strings, one string: see
    `areas.per_string`), or without it the shape in the position. Purpose: to know a shape in any order. Without a
    chart the line stands over the chord of the tonic. The way “in bars” is up and down again, as far as whole forms of
    the chart go, or four bars of it, or bars. Raises DrillError for a pattern longer than the shape.

    >>> [str(note.pitch) for note in sequence("A minor pentatonic", "thirds", 5).notes[:6]]
    ['A2', 'D3', 'C3', 'E3', 'D3', 'G3']
    """
    thing, tuning = as_thing(what), as_tuning(tuning)
    if way not in WAYS:
        raise DrillError(
            f"“{shown(way)}” is no way through a shape", value=way, expected=", ".join(WAYS)
        )
    in_one_position = a_string is None
    if a_string is None:
        shape = in_position(thing, position, tuning)
    else:
        shape = per_string(thing, a_string, position, tuning, strings=strings)
    order = _ordered(len(shape), read_pattern(pattern), way)
    length = number_in(length_beats, (Fraction(1, 16), METER_BEATS[1]), "length in beats")
    over = home_chart(thing, chart)
    if way == "in bars":
        lasts = _in_bars(len(order) * length, over)
        order = order[: lasts // length]
    notes = placed_notes([shape[index] for index in order], thing, repeat(length), tuning)
    if a_string == 3:
        fingers = three_a_string(shape)
        notes = tuple(
            replace(note, finger=fingers.get((note.string, note.fret))) for note in notes
        )
    title = thing.pretty
    if pattern != "straight":
        title += f" in {pattern}" if pattern in PATTERNS else f" in the pattern {pattern}"
    return with_degrees(
        Line(notes, over, tuning, title, position=position if in_one_position else None)
    )


def three_a_string(shape: Iterable[Target]) -> dict[tuple[int | None, int | None], int]:
    """The finger of each (string, fret) of a shape with three notes on every string, as players take them.

    A string with an open note, or with steps that no row of THREE_A_STRING holds, is left out.

    >>> three_a_string(per_string("A minor", 3, 5, strings=(6,)))
    {(6, 5): 1, (6, 7): 3, (6, 8): 4}
    """
    by_string: dict[int, list[int]] = {}
    for place in shape:
        by_string.setdefault(place.string, []).append(place.fret)
    found: dict[tuple[int | None, int | None], int] = {}
    for string, frets in by_string.items():
        steps = tuple(two - one for one, two in pairwise(frets))
        if frets[0] > 0 and steps in THREE_A_STRING:
            fingers = THREE_A_STRING[steps]
            found |= {(string, fret): used for fret, used in zip(frets, fingers, strict=True)}
    return found


def placed_notes(
    places: Iterable[Target], thing: Scale | Chord, lengths: Iterable[Fraction], tuning: Tuning
) -> tuple[Note, ...]:
    """Places one after the other as notes, as long as each is said to be, spelled by the scale or chord."""
    names = {name.pitch_class: name for name in thing.names}
    notes = []
    now = Fraction(0)
    for place, length in zip(places, lengths, strict=False):
        name = names[tuning.midi(place.string, place.fret) % 12]
        pitch = tuning.pitch(place.string, place.fret, name)
        notes.append(Note(pitch, now, length, place.string, place.fret))
        now += length
    return tuple(notes)


def read_pattern(text: str) -> tuple[int, ...]:
    """Step numbers of a pattern by name or as numbers from 1; raises DrillError with the nearest name."""
    if isinstance(text, str) and text in PATTERNS:
        return PATTERNS[text]
    words = text.replace(",", " ").split() if isinstance(text, str) else []
    if words and all(_is_step(word) for word in words):
        return tuple(int(word) for word in words)
    raise DrillError(
        f"“{shown(text)}” is no pattern",
        value=text,
        nearest=closest(str(text), PATTERNS),
        expected=f"numbers from 1 to {MOST_STEPS} such as “1 2 3 1”, or {', '.join(PATTERNS)}",
    )


def _is_step(word: str) -> bool:
    return word.isdecimal() and len(word) < 3 and 1 <= int(word) <= MOST_STEPS


def _ordered(count: int, pattern: tuple[int, ...], way: Way) -> list[int]:
    """Indexes into a shape of `count` notes: the pattern from every starting note that has room for it."""
    starts = count - max(pattern) + 1
    if starts < 1:
        raise DrillError(
            f"a pattern of {max(pattern)} steps in a shape of {count} notes",
            value=max(pattern),
            expected="a shorter pattern or a larger shape",
        )
    up = [start + step - 1 for start in range(starts) for step in pattern]
    down = [count - 1 - index for index in up]
    if way == "up":
        return up
    if way == "down":
        return down
    # At the turn the top note sounds once.
    turns_on_one_note = down[0] == up[-1]
    return up + (down[1:] if turns_on_one_note else down)


def _in_bars(lasts: Fraction, chart: Chart) -> Fraction:
    """How long a line of a length may go on so that it ends with the form, with four bars or with one."""
    for unit in (chart.length_beats, 4 * chart.bar_beats, chart.bar_beats):
        if lasts >= unit:
            return lasts // unit * unit
    return lasts


def with_legato(line: Line | str) -> Line:
    """To play a line smoothly: one note picked a string, the others hammered on or pulled off.

    A repeated pitch, a rest, or a note that is already joined keeps its stroke. Needs a line with places.

    >>> with_legato("e A3@4/7 C4@3/5 D4@3/7 E4@2/5").words().splitlines()[-1]
    'e A3@4/7 C4@3/5 D4@3/7[h] E4@2/5 h r |'
    """
    line = as_line(line)
    notes = list(line.notes[:1])
    for one, two in pairwise(line.notes):
        if _can_join(one, two):
            kind = "hammer" if (two.fret or 0) > (one.fret or 0) else "pull"
            two = replace(two, marks=(*two.marks, Mark(kind)))
        notes.append(two)
    return replace(line, notes=tuple(notes))


def _can_join(one: Note, two: Note) -> bool:
    # A slur needs the string to sound on: the same string, another fret, no rest between.
    same_string = one.string == two.string and one.fret != two.fret
    no_rest_between = one.end_beats == two.onset_beats
    return same_string and no_rest_between and not _is_unpicked(two)


def _is_unpicked(note: Note) -> bool:
    return any(mark.kind in UNPICKED for mark in note.marks)


def with_strokes(
    line: Line | str, rule: StrokeRule = "alternate", grid_beats: Fraction | str = "1/2"
) -> Line:
    """To plan the picking hand: the line with pick strokes on its picked notes.

    "alternate": down on the grid and up between it, so that rests and slurs never turn the hand round (notes shorter
    than the grid halve it). "economy": to the next thinner string down, to the next thicker up, else in turn.

    >>> with_strokes("e A3 C4 D4 E4").words().splitlines()[-1]
    'e A3[d] C4[u] D4[d] E4[u] h r |'
    """
    line = as_line(line)
    if rule not in STROKES:
        raise DrillError(
            f"“{shown(rule)}” is no way to pick", value=rule, expected=", ".join(STROKES)
        )
    widest = number_in(grid_beats, (Fraction(1, 16), METER_BEATS[1]), "grid in beats")
    grid = min([widest, *(note.duration_beats for note in line.notes)])
    notes: list[Note] = []
    stroke, string = PICK_UP, None
    for note in line.notes:
        if not _is_unpicked(note):
            stroke = (
                _on_grid(note, grid) if rule == "alternate" else _economical(note, string, stroke)
            )
            notes.append(replace(note, marks=(*note.marks, Mark(stroke))))
        else:
            notes.append(note)
        string = note.string
    return replace(line, notes=tuple(notes))


def _on_grid(note: Note, grid: Fraction) -> str:
    return PICK_DOWN if note.onset_beats / grid % 2 == 0 else PICK_UP


def _economical(note: Note, string: int | None, stroke: str) -> str:
    """The stroke that carries on to the next string; in turn on the same one. String 1 is the thinnest."""
    if string is None or note.string is None or note.string == string:
        return PICK_DOWN if stroke == PICK_UP else PICK_UP
    return PICK_DOWN if note.string < string else PICK_UP


def home_chord(thing: Scale | Chord) -> Chord:
    """The chord that a scale is played over when no changes are given: the triad of its tonic."""
    if isinstance(thing, Chord):
        return thing
    degrees = set(degrees_of(thing).values())
    # A scale without its own fifth has the fifth that it has instead.
    if thing.is_minor:
        kind = "m" if "5" in degrees else "dim"
    else:
        kind = "aug" if "#5" in degrees and "5" not in degrees else ""
    return Chord.parse(f"{thing.tonic}{kind}")


def home_chart(thing: Scale | Chord, chart: Chart | str | None = None) -> Chart:
    """The changes that a drill on a scale or chord stands over: those given, else a bar of its home chord."""
    if chart is not None:
        return as_chart(chart)
    tonic = thing.root if isinstance(thing, Chord) else thing.tonic
    return Chart.parse(
        f"key: {tonic} {'minor' if thing.is_minor else 'major'}\n| {home_chord(thing)} |"
    )
