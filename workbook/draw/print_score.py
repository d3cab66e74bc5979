"""A line engraved for paper: one picture for each system, no higher than its ink, at one size for a whole handout.

A page sets the systems itself, so that none is shrunk to fit; large print takes fewer bars to a system.
"""

from __future__ import annotations

import copy
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass

from theorylib.playing.lines import Line

from .engrave import Engraving, Fit, add_overlay, engrave, finished, written
from .ink import ink_of, signs_of
from .layout import System
from .mei import mei_of
from .parts import SVG
from .screen import EVERYTHING, Staves
from .stacking import place_of
from .technique import draw_marks

AROUND = 4.0        # units over and under the ink
STROKES_A_SYSTEM, WIDE_UNITS = 4, 1400  # bars of a rhythm part, as its chart has them, where the page is wide enough


@dataclass(frozen=True, slots=True)
class PrintedSystem:
    """One system: its drawing, its size on paper, and its bars, counted from 0, the last not among them."""

    svg: str
    width_mm: float
    height_mm: float
    first_bar: int
    end_bar: int


def printed_systems(line: Line, *, width_mm: float, scale: float, staves: Staves = EVERYTHING) -> list[PrintedSystem]:
    """The systems of a line as wide as `width_mm`, ten units of the engraving on each mm times `scale`.

    Raises LineError as `score` does.
    """
    slashes = line.is_rhythm_part
    on_tab = staves.tab and not slashes and all(note.place is not None for note in line.notes)
    music = mei_of(line, staff=staves.staff or not on_tab, tab=on_tab, fingers=staves.fingers and not slashes,
                   slashes=slashes)
    units = round(10 * width_mm / scale)
    bars = STROKES_A_SYSTEM if slashes and units > WIDE_UNITS and line.bar_count > STROKES_A_SYSTEM else None
    engraving = engrave(music, line.chart.bar_beats, tab=on_tab, width_units=units, fit=Fit(bars, compact=True))
    if on_tab:
        add_overlay(engraving, draw_marks(line, engraving.systems, staves.staff))
    return list(_pictures(engraving, line, width_mm))


def _pictures(engraving: Engraving, line: Line, width_mm: float) -> Iterator[PrintedSystem]:
    root = finished(engraving, "")
    signs = signs_of(root)
    groups = [node for node in root.iter(f"{{{SVG}}}g") if node.get("class") == "system"]
    down = place_of(next(node for node in root.iter(f"{{{SVG}}}g") if node.get("class") == "page-margin"))[1]
    for number, (system, group) in enumerate(zip(engraving.systems, groups, strict=True)):
        top, bottom = (round((y + down + place_of(group)[1]) / 10, 1) for y in ink_of(group, signs))
        low, high = top - AROUND, bottom - top + 2 * AROUND
        svg = _alone(root, groups, number, f"0 {low:g} {engraving.width:g} {high:g}")
        yield PrintedSystem(svg, width_mm, round(width_mm * high / engraving.width, 2),
                            *_bars(system, line))


def _bars(system: System, line: Line) -> tuple[int, int]:
    bar = line.chart.bar_beats
    return int(system.first_beat / bar), int(system.last_beat / bar)


def _alone(root: ElementTree.Element, groups: list[ElementTree.Element], number: int, box: str) -> str:
    """The picture with one of its systems, without a ground, showing only that box."""
    others = {id(group) for index, group in enumerate(groups) if index != number}
    made = _without(root, others)
    made.set("viewBox", box)
    made.set("width", box.split()[2])
    made.set("height", box.split()[3])
    for ground in [child for child in made if child.tag == f"{{{SVG}}}rect"]:
        made.remove(ground)
    used = {value[1:] for node in made.iter() for value in node.attrib.values() if value.startswith("#")}
    for defs in made.iter(f"{{{SVG}}}defs"):
        defs[:] = [shape for shape in defs if shape.get("id") in used]
    return written(made)


def _without(node: ElementTree.Element, others: set[int]) -> ElementTree.Element:
    made = copy.copy(node)
    made[:] = [_without(child, others) for child in node if id(child) not in others]
    return made
