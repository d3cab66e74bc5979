"""Techniques on the TAB: slurs, slides, bends, vibrato, letters and lines, drawn over the engraving.

Arrows rise from the fret to their size in whole tones; a wave begins where the vibrato begins; slurs and slides run
from digit to digit and are cut where a system ends. H, P and T name hammer-on, pull-off and tap. Common practice of
TAB, no source.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from theorylib.playing.lines import Line, Mark, Note
from theorylib.playing.marks import LIFTING, MOVING
from theorylib.playing.notation import signature_fifths

from ..fonts import CAP_HEIGHT, text_width
from .bent_heads import bent_heads
from .layout import System
from .mei_marks import ARTICULATIONS, BELOW, DRAWN, chains, dynamics, grace_pitch, slides
from .parts import SVG, overlay_text
from .stacking import SOLID, STROKE

LETTER, LABEL, GRACE, DYNAMIC = 246.0, 246.0, 246.0, 260.0  # type sizes, ten to a unit
TAP = 125.0                                   # radius of the ring of a tap
_CLEAR = 170.0                                # of the bar line, thick at the end
DIGIT_HALF = 150.0                            # half the height of a digit and its ground
Drawn = tuple[int, ElementTree.Element]       # the system that it stands in, and the mark
_SIZES = {0: "", 1: "¼", 2: "½", 3: "¾"}     # quarters of a tone over the whole ones


@dataclass(frozen=True, slots=True)
class _Spot:
    """A struck note's place on the TAB: its system, the middle of its digit, the room to its right edge."""

    system: int
    x: float
    y: float
    right: float
    half: float


def draw_marks(line: Line, systems: Sequence[System], staff: bool) -> Iterator[Drawn]:
    """Every mark of the line that belongs on the TAB: the number of its system, and an SVG element."""
    ends = [system.last_beat for system in systems]
    spots = {index: spot for index, note in enumerate(line.notes) if (spot := _spot(note, systems, ends))}
    for chain in chains(line):
        yield from _slur([spots[index] for index in chain if index in spots], systems)
    for one, two in slides(line):
        if one in spots and two in spots:
            rises = (line.notes[two].fret or 0) > (line.notes[one].fret or 0)
            yield from _slide(spots[one], spots[two], rises, systems)
    for index, spot in spots.items():
        note = line.notes[index]
        before = line.joined_from(index)
        for part in _on_note(note, spot, spots.get(before) if before is not None else None, systems, staff):
            yield spot.system, part
        if staff:
            for part in bent_heads(note, systems[spot.system], signature_fifths(line)):
                yield spot.system, part
        vibrato = note.marked("vibrato")
        if vibrato is not None:
            yield from _vibrato(note, vibrato, spot, systems)
    for index, word in dynamics(line).items():
        if index in spots:
            system = systems[spots[index].system]
            y = system.rows.get(BELOW, system.strings[-1] + 330)
            yield spots[index].system, overlay_text(spots[index].x, y, word, DYNAMIC, bold=True, anchor="middle")
    for kind, look in DRAWN.items():
        if look.word:
            yield from _spans(line, kind, look.word, spots, systems)


def _on_note(note: Note, spot: _Spot, before: _Spot | None, systems: Sequence[System],
             staff: bool) -> Iterator[ElementTree.Element]:
    """What stands at the note's own place."""
    yield from _letters(note, spot, before, systems)
    yield from _bends(note, spot, systems)
    if grace_pitch(note) is not None:
        yield from _grace(note, spot)
    if not staff:
        yield from _signs(note, spot, systems)


def bend_size(semitones: Fraction) -> str:
    """A bend in whole tones as TAB writes it: "½", "1", "1½", "¼"."""
    whole, rest = divmod(semitones / 2, 1)
    quarter = round(rest * 4)
    if quarter == 4:
        whole, quarter = whole + 1, 0
    return (str(whole) if whole else "") + _SIZES[quarter] or "0"


def _spot(note: Note, systems: Sequence[System], ends: Sequence[Fraction]) -> _Spot | None:
    """The note's place; `ends` are the last beats of the systems."""
    number = min(bisect_right(ends, note.onset_beats), len(systems) - 1)
    system = systems[number]
    if note.place is None or not system.strings or note.string is None:
        return None
    x = system.x_at(note.onset_beats)
    end_beats = min(note.end_beats, system.last_beat)
    end = system.end_at(end_beats)
    wide = text_width(str(note.fret), 290, bold=True) / 2 + 30
    next_wide = 60.0 if end_beats in system.bar_lines else 130.0
    return _Spot(number, x, system.strings[note.string - 1], max(x + wide + 60, end - next_wide), wide)


def _row(system: System, row: int) -> float:
    """The baseline of a row; above the TAB where no room was asked for."""
    return system.rows.get(row, system.strings[0] - 200 - 260 * row)


def _path(d: str, *, width: float = STROKE, dashes: str = "") -> ElementTree.Element:
    """A line of the overlay, or with no width a filled shape; what most have in common is the overlay's own style."""
    look = {"d": d}
    if not width:
        look["class"] = SOLID
    elif width != STROKE or dashes:
        look["style"] = f"stroke-width:{width:g}" + (f";stroke-dasharray:{dashes}" if dashes else "")
    return ElementTree.Element(f"{{{SVG}}}path", look)


def _arc(x1: float, x2: float, y: float, height: float) -> ElementTree.Element:
    """A slur as a thin crescent above y."""
    third = (x2 - x1) / 3
    one, two, top = x1 + third, x2 - third, y - height
    return _path(f"M{x1:.0f} {y:.0f} C{one:.0f} {top:.0f} {two:.0f} {top:.0f} {x2:.0f} {y:.0f} "
                 f"C{two:.0f} {top + 42:.0f} {one:.0f} {top + 42:.0f} {x1:.0f} {y:.0f} Z", width=0)


def _slur(spots: Sequence[_Spot], systems: Sequence[System]) -> Iterator[Drawn]:
    for number in dict.fromkeys(spot.system for spot in spots):
        here = [spot for spot in spots if spot.system == number]
        left = here[0].x if here[0] is spots[0] else systems[number].x_at(systems[number].first_beat) - 380
        right = here[-1].x if here[-1] is spots[-1] else systems[number].right - 40
        y = here[0].y - DIGIT_HALF + 16
        if right - left > 60:
            yield number, _arc(left, right, y, min(120.0, 60 + (right - left) * 0.06))


def _slide(one: _Spot, two: _Spot, rises: bool, systems: Sequence[System]) -> Iterator[Drawn]:
    tilt = 75 if rises else -75
    if one.system == two.system:
        x1, x2 = one.x + one.half + 20, two.x - two.half - 20
        if x2 > x1:
            yield one.system, _path(f"M{x1:.0f} {one.y + tilt:.0f} L{x2:.0f} {two.y - tilt:.0f}")
        return
    end = systems[one.system].right - 40
    yield one.system, _path(f"M{one.x + one.half + 20:.0f} {one.y + tilt:.0f} L{end:.0f} {one.y - tilt * 0.4:.0f}")
    start = two.x - two.half - 280
    yield two.system, _path(f"M{start:.0f} {two.y + tilt * 0.4:.0f} L{two.x - two.half - 20:.0f} {two.y - tilt:.0f}")


def _letters(note: Note, spot: _Spot, before: _Spot | None, systems: Sequence[System]) -> Iterator[ElementTree.Element]:
    y = _row(systems[spot.system], 0)
    for mark in note.marks:
        letter = DRAWN[mark.kind].letter
        if not letter:
            continue
        between = before is not None and before.system == spot.system and mark.kind in ("hammer", "pull")
        x = before.x + (spot.x - before.x) * 0.6 if between and before is not None else spot.x
        if mark.kind == "tap":
            yield from _tap(x, y, letter)
            continue
        yield overlay_text(x, y, letter, LETTER, bold=True, anchor="middle")
        if mark.kind == "hammer from nowhere":
            yield _arc(spot.x - spot.half - 130, spot.x, spot.y - DIGIT_HALF + 16, 70)


def _tap(x: float, y: float, letter: str) -> Iterator[ElementTree.Element]:
    """The sign of a tap: its letter in a ring, as of the hand that picks."""
    middle = y - LETTER * 0.345
    yield _path(f"M{x - TAP:.0f} {middle:.0f} a{TAP:.0f} {TAP:.0f} 0 1 1 {2 * TAP:.0f} 0 "
                f"a{TAP:.0f} {TAP:.0f} 0 1 1 {-2 * TAP:.0f} 0", width=20)
    yield overlay_text(x, middle + LETTER * 0.82 * CAP_HEIGHT / 2, letter, LETTER * 0.82, bold=True, anchor="middle")


def _bends(note: Note, spot: _Spot, systems: Sequence[System]) -> Iterator[ElementTree.Element]:
    """Arrows up to the row for bends, down to the string for releases; a pre-bend stands straight."""
    row = _row(systems[spot.system], 0)
    top = row + 70
    moves = [mark for mark in note.marks if mark.kind in MOVING]
    system = systems[spot.system]
    start = spot.x + spot.half
    height = Fraction(0)
    peak = start + 60
    for number, mark in enumerate(moves):
        last = moves[number + 1].at_beats if number + 1 < len(moves) else None
        end = spot.right if last is None else system.x_at(min(note.onset_beats + last, system.last_beat))
        if mark.kind == "pre-bend":
            peak = start + 40
            yield _path(f"M{peak:.0f} {spot.y:.0f} L{peak:.0f} {top + 60:.0f}")
            yield _head(peak, top, up=True)
        elif mark.kind == "bend":
            low = spot.y if not height else top
            peak = max(start + 90, min(end - 40, start + 330)) if not height else min(end, peak + 300)
            yield _path(f"M{start:.0f} {low:.0f} C{peak:.0f} {low:.0f} {peak:.0f} {low:.0f} {peak:.0f} {top + 60:.0f}")
            yield _head(peak, top, up=True)
        else:
            from_x = max(peak, system.x_at(min(note.onset_beats + mark.at_beats, system.last_beat)))
            down = max(from_x + 140, min(spot.right, from_x + 420))
            if from_x > peak + 40:
                yield _path(f"M{peak + 30:.0f} {top:.0f} L{from_x:.0f} {top:.0f}", dashes="50 45", width=18)
            yield _path(f"M{from_x:.0f} {top:.0f} Q{down:.0f} {top:.0f} {down:.0f} {spot.y - 60:.0f}")
            yield _head(down, spot.y, up=False)
            height -= mark.value
            continue
        height += mark.value
        yield overlay_text(peak, row, bend_size(height), LABEL, bold=True, anchor="middle")
        yield from _reached(note, height, peak, end, spot.y)


def _reached(note: Note, height: Fraction, peak: float, end: float, y: float) -> Iterator[ElementTree.Element]:
    """The fret whose pitch a bend reaches, in parentheses on its string, where there is room for it."""
    if note.fret is None or height.denominator != 1:
        return
    label = f"({note.fret + int(height)})"
    wide = text_width(label, LABEL, bold=True)
    x = peak + 60 + wide / 2
    if x + wide / 2 + 60 > end:
        return
    yield ElementTree.Element(f"{{{SVG}}}rect", {
        "x": f"{x - wide / 2 - 20:.0f}", "y": f"{y - LABEL * 0.42:.0f}", "width": f"{wide + 40:.0f}",
        "height": f"{LABEL * 0.84:.0f}", "fill": "#ffffff"})
    yield overlay_text(x, y + LABEL * CAP_HEIGHT / 2, label, LABEL, bold=True, anchor="middle")


def _head(x: float, y: float, *, up: bool) -> ElementTree.Element:
    """An arrow head whose tip is at (x, y)."""
    back = 90 if up else -90
    return _path(f"M{x:.0f} {y:.0f} L{x - 45:.0f} {y + back:.0f} L{x + 45:.0f} {y + back:.0f} Z", width=0)


def _after_label(note: Note, spot: _Spot, systems: Sequence[System]) -> float:
    """Right of the last label that the note's bends write."""
    ends = [0.0]
    for part in _bends(note, spot, systems):
        if part.text:
            ends.append(float(part.get("x", "0")) + text_width(part.text, LABEL, bold=True) / 2 + 60)
    return max(ends)


def _vibrato(note: Note, mark: Mark, spot: _Spot, systems: Sequence[System]) -> Iterator[Drawn]:
    """A wave from where the vibrato begins to the end of the note, over as many systems as it lasts."""
    begin, end = note.onset_beats + mark.at_beats, note.end_beats
    bent = any(one.kind in LIFTING for one in note.marks)
    for number in range(spot.system, len(systems)):
        system = systems[number]
        if begin >= system.last_beat:
            continue
        if end <= system.first_beat:
            return
        x = system.x_at(max(begin, system.first_beat))
        if number == spot.system:
            x = max(x, spot.x + spot.half, _after_label(note, spot, systems) if bent else 0.0)
        last = min(end, system.last_beat)
        right = system.end_at(last) - (_CLEAR if last in system.bar_lines else 150)
        y = _row(system, 0) - 60
        if right - x < 220 and bent:  # no room beside the size of the bend: over it
            x, y = max(spot.x + spot.half, right - 300), y - LABEL
        count = max(2, int((right - x) / 110))
        step = (right - x) / count
        if step > 20:
            wave = "".join(f" q{step / 2:.1f} {-75 if index % 2 == 0 else 75} {step:.1f} 0" for index in range(count))
            yield number, _path(f"M{x:.0f} {y:.0f}{wave}", width=34)


def _grace(note: Note, spot: _Spot) -> Iterator[ElementTree.Element]:
    mark = note.marked("grace")
    assert mark is not None
    label = str((note.fret or 0) + int(mark.value))
    x = spot.x - spot.half - text_width(label, GRACE, bold=True) / 2 - 70
    wide = text_width(label, GRACE, bold=True) + 30
    yield ElementTree.Element(f"{{{SVG}}}rect", {
        "x": f"{x - wide / 2:.0f}", "y": f"{spot.y - GRACE * 0.42:.0f}", "width": f"{wide:.0f}",
        "height": f"{GRACE * 0.84:.0f}", "fill": "#ffffff"})
    yield overlay_text(x, spot.y + GRACE * 0.365, label, GRACE, bold=True, anchor="middle")
    yield _arc(x, spot.x, spot.y - DIGIT_HALF + 20, 70)


def _signs(note: Note, spot: _Spot, systems: Sequence[System]) -> Iterator[ElementTree.Element]:
    """Accents, staccato dots and pick strokes above a TAB that has no staff over it."""
    y = _row(systems[spot.system], 2)
    kinds = [mark.kind for mark in note.marks if mark.kind in ARTICULATIONS]
    for place, kind in enumerate(kinds):
        x = spot.x + 150 * (place - (len(kinds) - 1) / 2)
        if kind == "pick down":
            yield _path(f"M{x - 60:.0f} {y:.0f} v-130 h120 v130")
        elif kind == "pick up":
            yield _path(f"M{x - 50:.0f} {y - 140:.0f} L{x:.0f} {y:.0f} L{x + 50:.0f} {y - 140:.0f}")
        elif kind == "accent":
            yield _path(f"M{x - 80:.0f} {y - 110:.0f} L{x + 80:.0f} {y - 60:.0f} L{x - 80:.0f} {y - 10:.0f}")
        else:
            yield _path(f"M{x:.0f} {y - 50:.0f} l1 0", width=60)


def _spans(line: Line, kind: str, word: str, spots: dict[int, _Spot], systems: Sequence[System]) -> Iterator[Drawn]:
    """A word over the first note of a run and, where the run goes on, a dashed line to its last."""
    marked = groupby(range(len(line.notes)), key=lambda index: line.notes[index].marked(kind) is not None)
    for one in [list(run) for has, run in marked if has]:
        here = [spots[index] for index in one if index in spots]
        for number in dict.fromkeys(spot.system for spot in here):
            inside = [spot for spot in here if spot.system == number]
            y = _row(systems[number], 1)
            x = inside[0].x - inside[0].half
            yield number, overlay_text(x, y, word, LETTER, anchor="start")
            start = x + text_width(word, LETTER, bold=False) + 60
            end = inside[-1].x + inside[-1].half
            if kind in ("palm mute", "let ring") and end > start + 60:
                run_line = f"M{start:.0f} {y - 60:.0f} L{end:.0f} {y - 60:.0f} l0 70"
                yield number, _path(run_line, dashes="70 55", width=20)
