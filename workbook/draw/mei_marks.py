"""Techniques in MEI: what Verovio draws well on the staff, and the room that the rest is drawn in above the TAB.

On the staff: slurs over legato notes, lines for slides, articulations, pick strokes (the signs of the string bow, as is
the field's use), x and diamond heads, brackets, grace notes, dynamics. Everything on the TAB is our own (technique).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from theorylib.names.spelling import Pitch
from theorylib.playing.lines import Line, Note

ARTICULATIONS = {"accent": "acc", "staccato": "stacc", "pick down": "dnbow", "pick up": "upbow"}
HEADS = {"dead": ' head.shape="x"', "ghost": ' head.mod="paren"', "harmonic": ' head.shape="diamond"',
         "tapped harmonic": ' head.shape="diamond"'}
SLURRED = frozenset({"hammer", "pull", "legato slide"})
SLID = frozenset({"slide", "legato slide"})
# The rows above the TAB from near to far, and the marks that stand in each; the last only where there is no staff.
ROWS: tuple[frozenset[str], ...] = (
    frozenset({"hammer", "hammer from nowhere", "pull", "tap", "bend", "pre-bend", "release", "vibrato"}),
    frozenset({"palm mute", "let ring", "harmonic", "tapped harmonic"}),
    frozenset(ARTICULATIONS),
)
_ROW_GROUPS = (90, 91, 92)
BELOW = 9
_ROOM = '<rend fontsize="140%">I</rend>'  # taller than our own text, so that fingers keep clear of it, and narrow
# MIDI velocity up to which a dynamic reaches (from memory; the usual even spacing).
DYNAMICS = {33: "pp", 49: "p", 64: "mp", 80: "mf", 96: "f", 112: "ff", 127: "fff"}


def rows_of(note: Note, staff: bool) -> Iterator[int]:
    """The rows that the note needs room in."""
    kinds = {mark.kind for mark in note.marks}
    yield from (row for row, marks in enumerate(ROWS[:2] if staff else ROWS) if kinds & marks)


def head_of(note: Note) -> str:
    """MEI attributes of the note head."""
    return "".join(HEADS[mark.kind] for mark in note.marks if mark.kind in HEADS)


def articulations(notes: Sequence[Note]) -> str:
    """MEI children for the articulations of notes struck together."""
    kinds = dict.fromkeys(mark.kind for note in notes for mark in note.marks if mark.kind in ARTICULATIONS)
    return "".join(f'<artic artic="{ARTICULATIONS[kind]}" place="above"/>' for kind in kinds)


def label_of(note: Note) -> str:
    """What stands on the TAB instead of the bare fret; empty when it is the fret."""
    kinds = {mark.kind for mark in note.marks}
    fret = str(note.fret)
    if "dead" in kinds:
        return "×"
    if "tapped harmonic" in kinds:
        return f"{fret}‹{int(fret) + 12}›"
    if "harmonic" in kinds:
        return f"‹{fret}›"
    return f"({fret})" if "ghost" in kinds else ""


def grace_pitch(note: Note) -> Pitch | None:
    """The pitch of the note's grace note, if it has one."""
    mark = note.marked("grace")
    return None if mark is None else Pitch.of_midi(note.pitch.midi + int(mark.value))


def chains(line: Line) -> Iterator[tuple[int, ...]]:
    """Indexes of the notes that sound under one legato slur, in order."""
    chain: list[int] = []
    last: dict[int, list[int]] = {}  # string: the chain that its last note ends
    found: list[list[int]] = []
    for index, note in enumerate(line.notes):
        before = line.joined_from(index)
        joined = before is not None and any(mark.kind in SLURRED for mark in note.marks)
        if joined and before is not None:
            chain = next((one for one in last.values() if one[-1] == before), [])
            if not chain:
                chain = [before]
                found.append(chain)
            chain.append(index)
            last[note.string or 0] = chain
        else:
            last.pop(note.string or 0, None)
    yield from (tuple(one) for one in found)


def slides(line: Line) -> Iterator[tuple[int, int]]:
    """(from, to) indexes of the notes that a slide joins."""
    for index, note in enumerate(line.notes):
        before = line.joined_from(index)
        if before is not None and any(mark.kind in SLID for mark in note.marks):
            yield before, index


def dynamics(line: Line) -> dict[int, str]:
    """Note index: the dynamic that begins there, where it changes."""
    found, before = {}, ""
    for index, note in enumerate(line.notes):
        mark = note.marked("dynamic")
        if mark is not None:
            word = next(word for limit, word in DYNAMICS.items() if mark.value <= limit)
            if word != before:
                found[index] = word
            before = word
    return found


def staff_controls(line: Line, bars: Mapping[int, int]) -> dict[int, list[str]]:
    """By bar, the slurs and slides that begin in it; `bars` tells the bar of each note's first value."""
    found: dict[int, list[str]] = {}
    for chain in chains(line):
        found.setdefault(bars[chain[0]], []).append(f'<slur startid="#n{chain[0]}" endid="#n{chain[-1]}"/>')
    for one, two in slides(line):
        found.setdefault(bars[one], []).append(f'<gliss lform="solid" startid="#n{one}" endid="#n{two}"/>')
    for index, note in enumerate(line.notes):
        if note.marked("grace"):
            found.setdefault(bars[index], []).append(f'<slur startid="#g{index}" endid="#n{index}"/>')
    return found


def rows_around(index: int, note: Note, tab: int, staff: bool) -> Iterator[str]:
    """Placeholders for the rows above the TAB that a note's marks need, and the one below it for dynamics."""
    if note.marked("dynamic"):
        yield (f'<dir xml:id="r{BELOW}.{index}" staff="{tab}" place="below" startid="#t{index}" vgrp="60">'
               f"{_ROOM}</dir>")
    for row in rows_of(note, staff):
        yield (f'<dir xml:id="r{row}.{index}" staff="{tab}" place="above" startid="#t{index}" '
               f'vgrp="{_ROW_GROUPS[row]}">{_ROOM}</dir>')
