"""A line engraved for screens: one engraving for each width, in the page's own colours, with the places of its time.

A page that measured its music while playing would stumble: so each engraving says where its systems and bars stand and
where each beat of the line is seen, in units of its viewBox.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from theorylib.playing.lines import Line

from ..fonts import FONT_STACK
from .engrave import Engraving, Fit, add_overlay, engrave, finished, written
from .layout import System
from .mei import mei_of
from .parts import INK, SVG
from .stacking import place_of
from .technique import draw_marks

DIGIT_UNITS = 34.4  # height of a TAB digit's type, by which a page chooses an engraving that can be read
GROUND = "#ffffff"
AROUND = 6.0        # units over a system's highest line and under its lowest


@dataclass(frozen=True, slots=True)
class Width:
    """One engraving: its name, the units across, and the most bars and signs (notes, accidentals) of a system."""

    name: str
    units: int
    most_bars: int
    most_signs: int


# For large print on a phone, for a phone, for a desk: what was still read well there.
WIDTHS = (Width("large", 540, 1, 12), Width("phone", 868, 2, 20), Width("desk", 1800, 4, 48))


@dataclass(frozen=True, slots=True)
class ScreenSystem:
    """One system in units of the viewBox: its height on the page, and (left, right) of each of its bars."""

    top: float
    bottom: float
    bars: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ScreenScore:
    """An engraving for one width; `places` are (number of the system, x) of the moments asked for."""

    name: str
    svg: str
    width: float
    height: float
    systems: tuple[ScreenSystem, ...]
    places: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Staves:
    """What an engraving shows."""

    staff: bool = True
    tab: bool = True
    fingers: bool = True


EVERYTHING = Staves()


def screen_scores(line: Line, moments: Sequence[Fraction], staves: Staves = EVERYTHING,
                  widths: Sequence[Width] = WIDTHS) -> tuple[ScreenScore, ...]:
    """The line engraved for each width; `moments` are written onsets in beats. Raises LineError as `score` does."""
    slashes = line.is_rhythm_part
    on_tab = staves.tab and not slashes and all(note.place is not None for note in line.notes)
    music = mei_of(line, staff=staves.staff or not on_tab, tab=on_tab, fingers=staves.fingers and not slashes,
                   slashes=slashes)
    found = []
    for width in widths:
        engraving = engrave(music, line.chart.bar_beats, tab=on_tab, width_units=width.units,
                            fit=Fit(bars_a_system(_signs(music.text), width)))
        if on_tab:
            add_overlay(engraving, draw_marks(line, engraving.systems, staves.staff))
        places = tuple(_place(engraving, moment) for moment in moments)
        systems = tuple(_systems(engraving, line.chart.bar_beats))
        found.append(ScreenScore(width.name, _coloured(engraving), engraving.width, engraving.height, systems, places))
    return tuple(found)


def bars_a_system(bar_signs: Sequence[int], width: Width) -> int:
    """As many bars as the width allows, fewer where a system would be crowded; the same number in all but the last."""
    total = max(1, len(bar_signs))
    for most in range(min(width.most_bars, total), 1, -1):
        even = -(-total // -(-total // most))
        systems = [sum(bar_signs[start:start + even]) for start in range(0, total, even)]
        if max(systems) <= width.most_signs:
            return even
    return 1


def staves_in(svg: str) -> Staves:
    """What an engraving that was stored shows, by the names of its notes and digits; all of it where none is stored."""
    staff, tab = 'id="n0"' in svg, 'id="t0"' in svg
    if not staff and not tab:
        return Staves()
    return Staves(staff, tab, fingers='class="fing"' in svg)


def _signs(mei: str) -> list[int]:
    """Of each bar: its notes and accidentals, which is what takes room."""
    bars = mei.split("<measure ")[1:]
    return [max(bar.count('xml:id="n'), bar.count('xml:id="t')) + bar.count(" accid=") for bar in bars]


def _place(engraving: Engraving, moment: Fraction) -> tuple[int, float]:
    number = next((index for index, system in enumerate(engraving.systems) if moment < system.last_beat),
                  len(engraving.systems) - 1)
    system = engraving.systems[number]
    # A whole note's head is wider than a digit, and its middle lies further on: on TAB the digit is what is played.
    x = system.digits.get(moment, system.x_at(moment))
    return number, _unit(x + _moved(engraving, system)[0])


def _systems(engraving: Engraving, bar_beats: Fraction) -> Iterator[ScreenSystem]:
    for system in engraving.systems:
        across, down = _moved(engraving, system)
        lines = [float(y) for staff in system.group.iter(f"{{{SVG}}}g") if staff.get("class") == "staff"
                 for path in staff.findall(f"{{{SVG}}}path")
                 for y in re.findall(r"[ML]-?[\d.]+ (-?[\d.]+)", path.get("d", ""))]
        edges = [system.left, *(x for _, x in sorted(system.bar_lines.items()))]
        bars = tuple((_unit(left + across), _unit(right + across))
                     for left, right in pairwise(edges))
        yield ScreenSystem(_unit(min(lines) + down) - AROUND, _unit(max(lines) + down) + AROUND, bars)


def _moved(engraving: Engraving, system: System) -> tuple[float, float]:
    """How far a system's own coordinates lie from the picture's, ten to a unit."""
    (x, y), (across, down) = place_of(engraving.page), place_of(system.group)
    return x + across, y + down


def _unit(tenths: float) -> float:
    return round(tenths / 10, 1)


def _coloured(engraving: Engraving) -> str:
    """The SVG without a ground, its ink the page's; the small grounds under digits are of class `ground`."""
    for node in engraving.page.iter(f"{{{SVG}}}tspan"):
        node.attrib.pop("id", None)  # the engraver's own, other in each thread; nothing points at it
    root = finished(engraving, "")
    whole = next(child for child in root if child.tag == f"{{{SVG}}}rect")
    root.remove(whole)
    for node in root.iter():
        node.attrib.pop("color", None)
        if node.get("font-family") == FONT_STACK:  # the page's own; said at every digit it would weigh a tenth
            del node.attrib["font-family"]
        if node.get("id", "").startswith("n"):
            del node.attrib["id"]
        if node.tag == f"{{{SVG}}}rect" and node.get("fill") == GROUND:
            node.set("class", "ground")
        for paint in ("fill", "stroke"):
            if node.get(paint) == INK:
                node.set(paint, "currentColor")
    style = next(root.iter(f"{{{SVG}}}style"))
    style.text = (style.text or "").replace(INK, "currentColor")
    return written(root)
