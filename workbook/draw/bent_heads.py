"""Bends on the staff: each pitch that a bend or a release reaches, as a small note head in parentheses at its time.

A line joins the heads on the way. Where notes follow too soon for a head, the TAB alone says it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from fractions import Fraction

from theorylib.names.spelling import LETTERS, NoteName, Pitch
from theorylib.playing.lines import Note
from theorylib.playing.marks import MOVING

from ..fonts import text_width
from .layout import HEAD_HALF, System
from .parts import SVG, overlay_text
from .stacking import SOLID

SIGN = 215.0                    # type size of parentheses and accidentals, ten to a unit
WIDE, HIGH = 78.0, 56.0         # half the axes of a small head
ROOM = 420.0                    # from one head to the next, so that both are read
BOTTOM_STEP = 7 * 3 + LETTERS.index("E")  # the lowest line: E3 as it sounds, under the 8vb clef


def bent_heads(note: Note, system: System, fifths: int) -> Iterator[ElementTree.Element]:
    """Heads and lines of a note in its system; `fifths` are the sharps (or, below 0, flats) of the key signature."""
    moves = [mark for mark in note.marks if mark.kind in MOVING]
    if not moves or len(system.staff) != 5:
        return
    x, y = system.x_at(note.onset_beats), _height(note.pitch, system)
    end = system.end_at(min(note.end_beats, system.last_beat)) - HEAD_HALF
    height = Fraction(0)
    for number, mark in enumerate(moves):
        height += -mark.value if mark.kind == "release" else mark.value
        begins = system.x_at(min(note.onset_beats + mark.at_beats, system.last_beat))
        last = number == len(moves) - 1
        until = end if last else system.x_at(min(note.onset_beats + moves[number + 1].at_beats, system.last_beat))
        at = max(begins + 260, x + ROOM)
        if height.denominator != 1 or at + 180 > max(until, begins + 440) or at + 180 > end:
            return
        pitch = reached(note.pitch, int(height), fifths)
        there = _height(pitch, system)
        yield _line(x + HEAD_HALF + 30, y, at - 170, there)
        yield from _head(at, there, pitch, fifths)
        x, y = at + 60, there


def reached(pitch: Pitch, semitones: int, fifths: int) -> Pitch:
    """The pitch so far above, spelled as the signature asks: a name in it, else its sharps or its flats.

    >>> str(reached(Pitch.parse("D4"), 2, 3)), str(reached(Pitch.parse("A3"), 1, -2))
    ('E4', 'Bb3')
    """
    if not semitones:
        return pitch
    midi = pitch.midi + semitones
    names = [name for name in (NoteName(letter + sign) for letter in LETTERS for sign in ("", "#", "b"))
             if name.pitch_class == midi % 12]
    inside = [name for name in names if fifths - 1 <= name.fifths <= fifths + 5]
    side = 1 if fifths >= 0 else -1
    best = inside or sorted(names, key=lambda name: (abs(name.accidental), -side * name.accidental))
    return Pitch.of_midi(midi, best[0])


def _height(pitch: Pitch, system: System) -> float:
    gap = (system.staff[-1] - system.staff[0]) / 8
    return system.staff[-1] - (7 * pitch.octave + LETTERS.index(pitch.name.letter) - BOTTOM_STEP) * gap


def _head(x: float, y: float, pitch: Pitch, fifths: int) -> Iterator[ElementTree.Element]:
    look = {"class": SOLID, "d": f"M{x - WIDE:.0f} {y + 14:.0f} A{WIDE:.0f} {HIGH:.0f} -20 1 1 {x + WIDE:.0f} "
                                 f"{y - 14:.0f} A{WIDE:.0f} {HIGH:.0f} -20 1 1 {x - WIDE:.0f} {y + 14:.0f} Z"}
    yield ElementTree.Element(f"{{{SVG}}}path", look)
    is_in_key = fifths - 1 <= pitch.name.fifths <= fifths + 5
    sign = "" if is_in_key else {1: "♯", -1: "♭"}.get(pitch.name.accidental, "♮")
    before = x - WIDE - 20
    if sign:
        yield overlay_text(before, y + SIGN * 0.36, sign, SIGN, anchor="end")
        before -= text_width(sign, SIGN) + 10
    yield overlay_text(before, y + SIGN * 0.34, "(", SIGN * 1.3, anchor="end")
    yield overlay_text(x + WIDE + 20, y + SIGN * 0.34, ")", SIGN * 1.3)


def _line(x1: float, y1: float, x2: float, y2: float) -> ElementTree.Element:
    return ElementTree.Element(f"{{{SVG}}}path", {"d": f"M{x1:.0f} {y1:.0f} L{x2:.0f} {y2:.0f}",
                                                  "style": "stroke-width:20"})
