"""Lines that hold every technique, for the tests of engraving, MIDI and MusicXML: invented."""

from __future__ import annotations

from fractions import Fraction

from theorylib import Chart, Line, Mark, Note, Pitch, finger
from theorylib.playing.marks import MARKS


def note(pitch: str, onset: str, length: str, string: int, fret: int, *marks: Mark) -> Note:
    return Note(Pitch.parse(pitch), Fraction(onset), Fraction(length), string, fret, marks=marks)


def mark(kind: str, value: str = "0", at: str = "0") -> Mark:
    return Mark(kind, Fraction(value), Fraction(at))


def one_of_each() -> Line:
    """Every kind of mark once or more, over four bars."""
    notes = (
        note("D4", "0", "1/2", 3, 7), note("E4", "1/2", "1/2", 3, 9, mark("hammer")),
        note("D4", "1", "1/2", 3, 7, mark("pull")), note("C4", "3/2", "1/2", 3, 5, mark("slide")),
        note("D4", "2", "1", 3, 7, mark("bend", "2"), mark("vibrato", "50", "1/2")),
        note("D4", "3", "1", 3, 7, mark("pre-bend", "2"), mark("release", "2", "1/2")),
        note("E3", "4", "1/2", 5, 7, mark("palm mute")),
        note("E3", "9/2", "1/2", 5, 7, mark("palm mute"), mark("accent")),
        note("A3", "5", "1/2", 4, 7, mark("dead")), note("G3", "11/2", "1/2", 4, 5, mark("ghost")),
        note("A4", "6", "1", 1, 5, mark("let ring"), mark("pick down")),
        note("E4", "7", "1", 2, 5, mark("let ring"), mark("pick up"), mark("staccato")),
        note("E3", "8", "1", 6, 12, mark("harmonic")), note("B4", "9", "1", 3, 4, mark("tapped harmonic")),
        note("E4", "10", "1/2", 2, 5, mark("grace", "-2"), mark("dynamic", "60")),
        note("F4", "21/2", "1/2", 2, 6, mark("legato slide"), mark("dynamic", "100")),
        note("A4", "11", "1/2", 2, 10, mark("tap")), note("F4", "23/2", "1/2", 2, 6, mark("pull")),
        note("C4", "12", "1/2", 3, 5, mark("hammer from nowhere")),
        note("D4", "25/2", "3/2", 3, 7, mark("bend", "1/2")),
        note("A3", "14", "1", 4, 7), note("A3", "15", "1", 4, 7, mark("tie"), mark("vibrato", "40")),
    )
    line = finger(Line(notes, Chart.parse("key: A minor\ntempo: 96\n| Am7 | D7 | E7#9 | Am7 |"), title="One of each"))
    missing = MARKS.keys() - {one.kind for each in line.notes for one in each.marks}
    assert not missing, f"no example of {missing}"
    return line


def long_bend(tempo: int = 90, feel: str = "straight 8") -> Line:
    """A bend and release that are held, a late vibrato, a pre-bend, bends of every size."""
    notes = (
        note("D4", "0", "4", 3, 7, mark("bend", "2", "1"), mark("release", "2", "3")),
        note("E4", "4", "4", 3, 9, mark("vibrato", "60", "3/2")),
        note("A4", "8", "1", 2, 10, mark("bend", "1/2")), note("A4", "9", "1", 2, 10, mark("bend", "1")),
        note("A4", "10", "1", 2, 10, mark("bend", "3")), note("A4", "11", "1", 2, 10, mark("bend", "4")),
        note("D4", "12", "2", 3, 7, mark("pre-bend", "2"), mark("release", "2", "1")), note("D4", "14", "2", 3, 7),
    )
    return finger(Line(notes, Chart.parse("key: D minor\n| Dm7 | G7 | Dm7 | A7 |", tempo=str(tempo), feel=feel)))


def unison_bend() -> Line:
    """A fretted note held while the string beside it is bent up to it."""
    notes = (note("D4", "0", "2", 3, 7, mark("bend", "2")), note("E4", "0", "2", 2, 5))
    return finger(Line(notes, Chart.parse("| Am7 |")))
