"""The parts of a MusicXML measure that stand beside the notes of its staff: the TAB staff under it, and the beams.

The TAB staff holds the same notes once more with string, fret and ties alone; everything else (fingers, techniques,
chord symbols) stands on the staff of notes, as the standard's own examples of two staves have it.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence

from theorylib.necks.tunings import Tuning
from theorylib.playing.lines import Line, Note
from theorylib.playing.notation import Written

STAFF, TAB = "1", "2"
TAB_VOICE = "5"  # by custom the first voice of the second staff
TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
_BEAMS = {8: 1, 16: 2, 32: 3, 64: 4}


def add(parent: ElementTree.Element, name: str, text: str = "", /, **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, name, attributes)
    if text:
        child.text = text
    return child


def add_pitch(note: ElementTree.Element, source: Note) -> None:
    found = add(note, "pitch")
    add(found, "step", source.pitch.name.letter)
    if source.pitch.name.accidental:
        add(found, "alter", str(source.pitch.name.accidental))
    add(found, "octave", str(source.pitch.octave))


def add_value(note: ElementTree.Element, item: Written, voice: str, accidental: str = "") -> None:
    """Voice, note value, dots, accidental and tuplet, in the standard's order."""
    add(note, "voice", voice)
    add(note, "type", TYPES[item.value])
    for _ in range(item.dots):
        add(note, "dot")
    if accidental:
        add(note, "accidental", accidental)
    if item.tuplet:
        change = add(note, "time-modification")
        add(change, "actual-notes", str(item.tuplet[0]))
        add(change, "normal-notes", str(item.tuplet[1]))


def add_tuplet(notations: ElementTree.Element, item: Written) -> None:
    if item.tuplet and item.tuplet_starts:
        add(notations, "tuplet", type="start", bracket="yes")
    if item.tuplet and item.tuplet_ends:
        add(notations, "tuplet", type="stop")


def say_staff(measure: ElementTree.Element) -> None:
    """Chord symbols and directions belong to the staff of notes; a reader would give them to both."""
    for found in measure:
        if found.tag in ("harmony", "direction"):
            sound = found.find("sound")
            place = len(found) if sound is None else list(found).index(sound)
            staff = ElementTree.Element("staff")
            staff.text = STAFF
            found.insert(place, staff)


def add_tuning(attributes: ElementTree.Element, tuning: Tuning) -> None:
    """The TAB staff's lines, open strings and capo; the standard counts lines from the lowest string."""
    details = add(attributes, "staff-details", number=TAB)
    add(details, "staff-lines", str(len(tuning.open_strings)))
    for line, pitch in enumerate(reversed(tuning.open_strings), 1):
        found = add(details, "staff-tuning", line=str(line))
        add(found, "tuning-step", pitch.name.letter)
        if pitch.name.accidental:
            add(found, "tuning-alter", str(pitch.name.accidental))
        add(found, "tuning-octave", str(pitch.octave))
    if tuning.capo:
        add(details, "capo", str(tuning.capo))


def tab_notes(line: Line, bar: Sequence[Written], divisions: int) -> Iterator[ElementTree.Element]:
    """The TAB staff of one bar; a note without a place is a rest there."""
    for item in bar:
        sources = [line.notes[index] for index in item.notes if line.notes[index].place is not None]
        duration = str(int(item.duration_beats * divisions))
        if not sources:
            note = ElementTree.Element("note")
            add(note, "rest")
            add(note, "duration", duration)
            add_value(note, item, TAB_VOICE)
            add(note, "staff", TAB)
            yield note
        for number, source in enumerate(sources):
            yield _tab_note(item, source, duration, number > 0)


def _tab_note(item: Written, source: Note, duration: str, chord: bool) -> ElementTree.Element:
    note = ElementTree.Element("note")
    if chord:
        add(note, "chord")
    add_pitch(note, source)
    add(note, "duration", duration)
    ties = [kind for tied, kind in ((item.tied_from, "stop"), (item.tied_to, "start")) if tied]
    for kind in ties:
        add(note, "tie", type=kind)
    add_value(note, item, TAB_VOICE)
    add(note, "stem", "none")
    if source.marked("dead"):
        add(note, "notehead", "x")
    add(note, "staff", TAB)
    notations = add(note, "notations")
    for kind in ties:
        add(notations, "tied", type=kind)
    technical = add(notations, "technical")
    add(technical, "string", str(source.string))
    add(technical, "fret", str(source.fret))
    return note


def beams_of(bar: Sequence[Written]) -> dict[int, list[str]]:
    """For each beamed item of a bar what its beams do, the first beam first: begin, continue, end or a hook."""
    groups: dict[int, list[int]] = {}
    for number, item in enumerate(bar):
        if item.beam:
            groups.setdefault(item.beam, []).append(number)
    found: dict[int, list[str]] = {}
    for members in groups.values():
        for level in range(1, 5):
            for run in _runs(members, bar, level):
                for place, number in enumerate(run):
                    found.setdefault(number, []).append(_beam(place, run, members))
    return found


def _runs(members: Sequence[int], bar: Sequence[Written], level: int) -> Iterator[list[int]]:
    """Neighbours within a group that share a beam of this level."""
    run: list[int] = []
    for number in members:
        if _BEAMS.get(bar[number].value, 0) >= level:
            run.append(number)
        elif run:
            yield run
            run = []
    if run:
        yield run


def _beam(place: int, run: Sequence[int], members: Sequence[int]) -> str:
    if len(run) == 1:
        return "forward hook" if run[0] == members[0] else "backward hook"
    return "begin" if place == 0 else "end" if place == len(run) - 1 else "continue"
