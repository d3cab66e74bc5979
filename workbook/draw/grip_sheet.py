"""Grips as upright diagrams in a row: strings up and down, the nut on top, each finger in the sign of its degree.

The sign says what the note is in the chord (its shape as on every neck here), the number in it which finger presses; an
open string carries its sign over the nut, one that is not played a cross, and the degrees stand in a row beneath.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from theorylib.errors import NeckError, listed
from theorylib.names.spelling import pretty_accidentals
from theorylib.necks.grips import ChordGrip
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.reading.chordscales import counted_degree

from ..fonts import CAP_HEIGHT, FONT_STACK
from ..reader import reader
from .chart import line_at, text_at
from .markers import GROUND, INK, MARKERS, QUIET, WIRE
from .neck_board import Board, Sizes
from .neck_svg import marker_at
from .neck_view import role_of
from .pictures import Picture, maker
from .spoken import spoken_chord

SIZES = Sizes(fret=34.0, open=30.0, gap=24.0)   # units
FEWEST_FRETS = 4
RADIUS, FINGER, DEGREE, SYMBOL = 10.5, 13.0, 13.0, 24.0
TOP, FOOT, SIDE, GAP = 40.0, 26.0, 28.0, 2.0
MM_A_UNIT, PAGE_MM, LARGE = 0.24, 180.0, 1.4


@dataclass(frozen=True, slots=True)
class _Diagram:
    """One grip where it stands on the sheet."""

    grip: ChordGrip
    tuning: Tuning
    board: Board
    x: float
    y: float
    left_handed: bool

    @property
    def first_fret(self) -> int:
        return self.board.frets.start

    def across(self, string: int) -> float:
        """The thickest string stands at the left; for a left-handed reader at the right."""
        side = self.board.string(string)
        return self.x + SIDE + (side if self.left_handed else self.board.across - side)

    def along(self, fret: int) -> float:
        return self.top + self.board.middle(fret) if fret else self.y + TOP + SIZES.open / 2

    @property
    def top(self) -> float:
        """Where the strings begin."""
        return self.y + TOP + SIZES.open

    @property
    def bottom(self) -> float:
        return self.top + self.board.along


def grips_picture(grips: Sequence[ChordGrip], tuning: Tuning | str = STANDARD, *, left_handed: bool | None = None,
                  large_print: bool = False) -> Picture:
    """Diagrams of some grips in rows, each under its chord symbol; `left_handed` None asks workbook.reader."""
    tuning = as_tuning(tuning)
    grips = listed(grips, "row of grips", "what grips() or led_grips() give", NeckError)
    if not grips or not all(isinstance(grip, ChordGrip) for grip in grips):
        raise NeckError("no grips to draw", value=grips, expected="what grips() or led_grips() give")
    lefty = reader().left_handed if left_handed is None else left_handed
    scale = MM_A_UNIT * (LARGE if large_print else 1.0)
    frets = max(FEWEST_FRETS, *(_highest(grip) - _first(grip) + 1 for grip in grips))
    cell = _board(grips[0], tuning, frets)
    width, height = cell.across + 2 * SIDE + GAP, TOP + SIZES.open + cell.along + FOOT
    in_a_row = max(1, min(len(grips), int(PAGE_MM / scale / width)))
    diagrams = [_Diagram(grip, tuning, _board(grip, tuning, frets), index % in_a_row * width,
                         index // in_a_row * height, lefty) for index, grip in enumerate(grips)]
    rows = [diagrams[start:start + in_a_row] for start in range(0, len(diagrams), in_a_row)]
    drawn = "".join(f'<g class="system">{"".join(part for one in row for part in _drawn(one))}</g>' for row in rows)
    size = f"{in_a_row * width:.0f} {len(rows) * height:.0f}"
    alt = "Grips, from the thickest string. " + " ".join(spoken(grip, tuning) for grip in grips)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{size.split()[0]}" '
           f'height="{size.split()[1]}" role="img" font-family="{FONT_STACK}"><title>{escape(alt)}</title>'
           f'<rect width="{size.split()[0]}" height="{size.split()[1]}" fill="{GROUND}"/>{drawn}</svg>')
    cuts = tuple(number * height for number in range(1, len(rows)))
    words = "\n".join(f"{grip.chord.pretty}: {grip}" for grip in grips)
    return Picture(svg, alt, "", round(in_a_row * width * scale, 1), words, {}, cuts, maker())


def spoken(grip: ChordGrip, tuning: Tuning) -> str:
    """“C major: string 6 not played, string 5 fret 3 finger 3, string 4 fret 2 finger 2, string 3 open, ...”"""
    by_string = {place.string: place for place in grip.places}
    said = []
    for string in reversed(tuning.strings):
        place = by_string.get(string)
        if place is None:
            said.append(f"string {string} not played")
        elif place.fret == 0:
            said.append(f"string {string} open")
        else:
            said.append(f"string {string} fret {place.fret} finger {place.finger}")
    barre = f", barre at fret {grip.barre.fret}" if grip.barre else ""
    return f"{spoken_chord(grip.chord)}: {', '.join(said)}{barre}."


def _highest(grip: ChordGrip) -> int:
    return max((place.fret for place in grip.places), default=0)


def _first(grip: ChordGrip) -> int:
    """The first fret drawn: the nut's where the grip lies within the diagram from there."""
    return 1 if _highest(grip) <= FEWEST_FRETS else grip.hand


def _board(grip: ChordGrip, tuning: Tuning, frets: int) -> Board:
    """The diagram's frets, without a column for open strings: these stand over the nut."""
    first = _first(grip)
    return Board(first, first + frets - 1, len(tuning.open_strings), SIZES)


def _drawn(one: _Diagram) -> Iterator[str]:
    middle = one.x + SIDE + one.board.across / 2
    yield text_at((middle, one.y + 26), one.grip.chord.pretty, SYMBOL, INK, bold=True)
    yield from _wires_and_strings(one)
    if one.grip.barre is not None:
        yield _barre(one)
    played = {place.string: place for place in one.grip.places}
    for string in one.tuning.strings:
        place = played.get(string)
        if place is None:
            yield from _cross(one, string)
            continue
        marker = MARKERS[role_of(place.degree, one.grip.chord)]
        x, y = one.across(string), one.along(place.fret)
        radius = RADIUS if place.fret else RADIUS * 0.8
        yield marker_at(x, y, radius, marker)
        if place.fret:
            yield text_at((x, y + FINGER * CAP_HEIGHT / 2), str(place.finger), FINGER, marker.ink, bold=True)
        counted = counted_degree(place.degree, one.grip.chord)
        yield text_at((x, one.bottom + 18), pretty_accidentals(counted.replace("bass", "•")), DEGREE, INK)


def _wires_and_strings(one: _Diagram) -> Iterator[str]:
    left, right = sorted((one.across(1), one.across(len(one.tuning.open_strings))))
    for index in range(len(one.board.frets) + 1):
        y = one.top + index * SIZES.fret
        at_nut = index == 0 and one.first_fret == 1
        yield (f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="{INK if at_nut else WIRE}" '
               f'stroke-width="{5 if at_nut else 1.6}"/>')
    for string in one.tuning.strings:
        x = one.across(string)
        yield (f'<line x1="{x:.1f}" y1="{one.top:.1f}" x2="{x:.1f}" y2="{one.bottom:.1f}" stroke="{QUIET}" '
               f'stroke-width="{1.0 + 0.3 * (string - 1):.1f}"/>')
    if one.first_fret > 1:
        edge = one.across(1) if one.left_handed else one.across(len(one.tuning.open_strings))
        y = one.along(one.first_fret) + DEGREE * CAP_HEIGHT / 2
        yield text_at((edge - RADIUS - 10, y), str(one.first_fret), DEGREE + 2, INK, bold=True)


def _barre(one: _Diagram) -> str:
    """The index across its strings: a thick line behind the signs."""
    assert one.grip.barre is not None
    y = one.along(one.grip.barre.fret)
    x1, x2 = one.across(one.grip.barre.thickest), one.across(one.grip.barre.thinnest)
    return (f'<line x1="{x1:.1f}" y1="{y:.1f}" x2="{x2:.1f}" y2="{y:.1f}" stroke="{QUIET}" stroke-width="9" '
            'stroke-linecap="round"/>')


def _cross(one: _Diagram, string: int) -> Iterator[str]:
    x, y, arm = one.across(string), one.along(0), 5.0
    yield line_at(x - arm, y - arm, x + arm, y + arm, 2.0)
    yield line_at(x - arm, y + arm, x + arm, y - arm, 2.0)
