"""Techniques in MEI: what Verovio draws well on the staff, and the room that the rest is drawn in above the TAB.

On the staff: slurs over legato notes, lines for slides, articulations, pick strokes (the signs of the string bow, as is
the field's use), x and diamond heads, brackets, grace notes, dynamics. Everything on the TAB is our own (technique).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from theorylib.names.spelling import Pitch
from theorylib.playing.lines import Line, Note

NEAR, FAR, TOP = 0, 1, 2  # the rows above the TAB; the last only where there is no staff


@dataclass(frozen=True, slots=True)
class Look:
    """How a mark is drawn: on the staff an articulation, a note head, a slur or a line; on the TAB the rest.

    `row` is the row above the TAB that it needs room in, `letter` and `word` what stands there, `label` what stands
    for the fret. `shape` names what is more than a sign: an arrow, a wave, a small note before, letters below, a tie.
    """

    artic: str = ""
    head: str = ""
    slur: bool = False
    line: bool = False
    row: int | None = None
    letter: str = ""
    word: str = ""
    label: str = ""
    shape: str = ""


# A label is the first that a note's marks ask for, in this order.
DRAWN: dict[str, Look] = {
    "hammer": Look(slur=True, row=NEAR, letter="H"), "pull": Look(slur=True, row=NEAR, letter="P"),
    "hammer from nowhere": Look(row=NEAR, letter="H"), "tap": Look(row=NEAR, letter="T"),
    "slide": Look(line=True), "legato slide": Look(slur=True, line=True),
    "bend": Look(row=NEAR, shape="arrow"), "pre-bend": Look(row=NEAR, shape="arrow"),
    "release": Look(row=NEAR, shape="arrow"), "vibrato": Look(row=NEAR, shape="wave"),
    "palm mute": Look(row=FAR, word="P.M."), "let ring": Look(row=FAR, word="let ring"),
    "dead": Look(head=' head.shape="x"', label="×"),
    "tapped harmonic": Look(head=' head.shape="diamond"', row=FAR, word="T.H.", label="{fret}‹{octave}›"),
    "harmonic": Look(head=' head.shape="diamond"', row=FAR, word="Harm.", label="‹{fret}›"),
    "ghost": Look(head=' head.mod="paren"', label="({fret})"),
    "accent": Look("acc", row=TOP), "staccato": Look("stacc", row=TOP),
    "pick down": Look("dnbow", row=TOP), "pick up": Look("upbow", row=TOP),
    "grace": Look(shape="small note"), "dynamic": Look(shape="letters"), "tie": Look(shape="tie"),
}
ARTICULATIONS = {kind: look.artic for kind, look in DRAWN.items() if look.artic}
SLURRED = frozenset(kind for kind, look in DRAWN.items() if look.slur)
SLID = frozenset(kind for kind, look in DRAWN.items() if look.line)
ROWS = tuple(frozenset(kind for kind, look in DRAWN.items() if look.row == row) for row in (NEAR, FAR, TOP))
_ROW_GROUPS = (90, 91, 92)
BELOW = 9
ROOM = '<rend fontsize="140%">I</rend>'  # taller than our own text, so that fingers keep clear of it, and narrow
# MIDI velocity up to which a dynamic reaches (from memory; the usual even spacing).
DYNAMICS = {33: "pp", 49: "p", 64: "mp", 80: "mf", 96: "f", 112: "ff", 127: "fff"}


def rows_of(note: Note, staff: bool) -> Iterator[int]:
    """The rows that the note needs room in."""
    kinds = {mark.kind for mark in note.marks}
    yield from (row for row, marks in enumerate(ROWS[:2] if staff else ROWS) if kinds & marks)


def head_of(note: Note) -> str:
    """MEI attributes of the note head."""
    return "".join(DRAWN[mark.kind].head for mark in note.marks)


def articulations(notes: Sequence[Note]) -> str:
    """MEI children for the articulations of notes struck together."""
    kinds = dict.fromkeys(mark.kind for note in notes for mark in note.marks if mark.kind in ARTICULATIONS)
    return "".join(f'<artic artic="{ARTICULATIONS[kind]}" place="above"/>' for kind in kinds)


def label_of(note: Note) -> str:
    """What stands on the TAB instead of the bare fret; empty when it is the fret."""
    kinds = {mark.kind for mark in note.marks}
    label = next((look.label for kind, look in DRAWN.items() if look.label and kind in kinds), "")
    return label.format(fret=note.fret, octave=(note.fret or 0) + 12)


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
               f"{ROOM}</dir>")
    for row in rows_of(note, staff):
        yield (f'<dir xml:id="r{row}.{index}" staff="{tab}" place="above" startid="#t{index}" '
               f'vgrp="{_ROW_GROUPS[row]}">{ROOM}</dir>')
