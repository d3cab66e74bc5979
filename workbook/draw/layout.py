"""Where things stand in an engraving: systems, strings, and the place of every beat, in overlay coordinates.

Read from Verovio's SVG by our own ids (mei). A measure's staff lines give its left and right edge and the heights of
the strings; digits and note heads give the place of their beats, and what lies between is interpolated.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from .parts import SVG

HEAD_HALF = 104.0  # half a note head of the music font, from its left edge
_MOVE = re.compile(r"M(-?[\d.]+) (-?[\d.]+) L(-?[\d.]+) (-?[\d.]+)")
_USE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\)")
_ROOM = re.compile(r"^r(\d)\.(\d+)$")


@dataclass(slots=True)
class System:
    """One system: its group, its edges, heights of staff and TAB lines from the top, rows, and (beat, x) in order."""

    group: ElementTree.Element
    left: float
    right: float
    first_beat: Fraction
    last_beat: Fraction = Fraction(0)
    staff: tuple[float, ...] = ()
    strings: tuple[float, ...] = ()
    rows: dict[int, float] = field(default_factory=dict)
    anchors: list[tuple[Fraction, float]] = field(default_factory=list)
    bar_lines: dict[Fraction, float] = field(default_factory=dict)
    digits: dict[Fraction, float] = field(default_factory=dict)  # the middles of the TAB's digits

    def end_at(self, beat: Fraction) -> float:
        """Where something that ends with a beat must end: before the bar line, or at the next note."""
        return self.bar_lines.get(beat, self.x_at(beat))

    def x_at(self, beat: Fraction) -> float:
        """The place of a beat, interpolated between the notes and bar lines around it."""
        index = bisect_right(self.anchors, beat, key=lambda anchor: anchor[0])
        if index == 0:
            return self.anchors[0][1] if self.anchors else self.left
        if index == len(self.anchors):
            return self.anchors[-1][1]
        (one, x), (two, later) = self.anchors[index - 1], self.anchors[index]
        later = self.bar_lines.get(two, later)  # time before a bar line ends at the bar line
        return x + float((beat - one) / (two - one)) * (later - x)


def systems_of(groups: Iterable[ElementTree.Element], moments: Mapping[str, Fraction], bar_beats: Fraction,
               tab: bool) -> list[System]:
    """What stands in the groups of the systems, in order; placeholders of rows are read and removed."""
    found: list[System] = []
    bar = 0
    for group in groups:
        system: System | None = None
        for measure in _groups(group, "measure"):
            staffs = list(_groups(measure, "staff"))
            lines = [match for path in staffs[-1].findall(f"{{{SVG}}}path")
                     if (match := _MOVE.match(path.get("d", "")))]
            left, right = min(float(line[1]) for line in lines), max(float(line[3]) for line in lines)
            if system is None:
                system = System(group, left, right, bar * bar_beats)
                found.append(system)
            if len(staffs) > tab:
                system.staff = tuple(sorted({float(match[2]) for path in staffs[0].findall(f"{{{SVG}}}path")
                                             if (match := _MOVE.match(path.get("d", "")))}))
            if tab:
                system.strings = tuple(sorted({float(match[2]) for match in lines}))  # a line is cut at its digits
            _read_measure(measure, system, moments)
            bar += 1
            system.right, system.last_beat = right, bar * bar_beats
            system.anchors.append((system.last_beat, right))
            system.bar_lines[system.last_beat] = right
        if system is not None:
            best: dict[Fraction, float] = {}
            for beat, x in system.anchors:
                best.setdefault(beat, x)
            # A bar line and the first note after it share a beat: the note is what a hand sees.
            for beat, x in system.anchors:
                if beat != system.last_beat:
                    best[beat] = max(best[beat], x)
            system.anchors = sorted(best.items())
    return found


def _read_measure(measure: ElementTree.Element, system: System, moments: Mapping[str, Fraction]) -> None:
    for parent in list(measure.iter()):
        for node in list(parent):
            name = node.get("id", "")
            room = _ROOM.match(name)
            if room is not None:
                text = next(node.iter(f"{{{SVG}}}text"))
                row, y = int(room[1]), float(text.get("y", "0"))
                system.rows[row] = min(system.rows.get(row, y), y)
                parent.remove(node)
            elif node.get("class") == "note" and name[1:] in moments:
                x = _x_of(node)
                if x is not None:
                    system.anchors.append((moments[name[1:]], x))
                    if next(node.iter(f"{{{SVG}}}text"), None) is not None:
                        system.digits.setdefault(moments[name[1:]], x)


def _x_of(node: ElementTree.Element) -> float | None:
    text = next(node.iter(f"{{{SVG}}}text"), None)
    if text is not None:
        return float(text.get("x", "0"))
    head = next((part for part in node.iter(f"{{{SVG}}}g") if part.get("class") == "notehead"), None)
    use = None if head is None else next(head.iter(f"{{{SVG}}}use"), None)
    match = None if use is None else _USE.search(use.get("transform", ""))
    return None if match is None else float(match[1]) + HEAD_HALF


def _groups(node: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [group for group in node.iter(f"{{{SVG}}}g") if group.get("class") == kind]
