"""The neck as SVG text: plain shapes and numbers, the same bytes for the same view, well under a millisecond."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from theorylib.names.spelling import NoteName
from theorylib.necks.tunings import Tuning

from ..fonts import CAP_HEIGHT, FONT_STACK, text_width
from .chart import text_at
from .markers import BEND, GROUND, INK, INLAY, MARKERS, QUIET, WIRE, Marker
from .neck_board import INLAYS, Board, Sizes
from .neck_view import Arrow, Dot, NeckView, alt_text, neck_text
from .pictures import Picture, maker

LYING = Sizes(fret=56.0, open=44.0, gap=36.0)    # units
UPRIGHT = Sizes(fret=56.0, open=44.0, gap=44.0)
RADIUS, LETTER = 15.5, 16.6          # units: size of a marker, of the text in it
SMALL, REACHED, RING = 14.6, 13.2, 12.0  # numbers, names and legend; the degree that a bend reaches and its ring
MARGIN, NAMES, NUMBERS, LEGEND = 10.0, 26.0, 26.0, 34.0
MM_A_UNIT, LARGE = 0.235, 1.4        # natural size; large print is that much larger
NARROWEST = 330.0                    # units: room for a legend in two rows
ARCS = 22.0                          # units: room for bends over the first string
PAGE_MM = 180.0


def neck_picture(view: NeckView) -> Picture:
    """The view as a Picture with alt text and a plain-text twin."""
    frame = _Frame.of(view)
    taken = {(dot.string, dot.fret) for dot in view.dots}
    parts = [*_board(view, frame), *(part for arrow in view.arrows for part in _arrow(arrow, frame, taken)),
             *(_dot(dot, frame) for dot in view.dots), *_legend(view, frame)]
    size = f"{frame.width:.0f} {frame.height:.0f}"
    alt = alt_text(view)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{frame.width:.0f}" '
           f'height="{frame.height:.0f}" role="img" font-family="{FONT_STACK}"><title>{escape(alt)}</title>'
           f'<rect width="{frame.width:.0f}" height="{frame.height:.0f}" fill="{GROUND}"/>{"".join(parts)}</svg>')
    width_mm = min(PAGE_MM, frame.width * MM_A_UNIT * (LARGE if view.turn.large_print else 1.0))
    rows = len(_legend_rows(view, frame.width - 2 * MARGIN))
    legend = {"roles": list(view.roles), "at": round(frame.height - LEGEND * rows, 1)}
    return Picture(svg, alt, view.caption, round(width_mm, 1), neck_text(view), maker=maker(),
                   said={"legend": legend})


def legend_picture(roles: Sequence[str]) -> Picture:
    """What the signs of some necks say, in one row: for a page that sets it once over all of them."""
    known = [role for role in MARKERS if role in roles]
    width, height = sum(map(_entry, known)) + 2, 2 * RADIUS
    words = "Signs on the necks: " + ", ".join(MARKERS[role].word for role in known)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" '
           f'height="{height:.0f}" role="img" font-family="{FONT_STACK}"><title>{escape(words)}</title>'
           f'{"".join(_legend_row(known, RADIUS, height / 2))}</svg>')
    return Picture(svg, words, "", round(width * MM_A_UNIT, 1), words, maker=maker())


@dataclass(frozen=True, slots=True)
class _Frame:
    """The board within its picture: turned as the view asks, with room for names, numbers and legend."""

    view: NeckView
    board: Board
    width: float
    height: float
    top: float = 0.0

    @classmethod
    def of(cls, view: NeckView) -> _Frame:
        board = Board(view.first_fret, view.last_fret, view.strings, UPRIGHT if view.turn.vertical else LYING)
        wide = board.across + 2 * NAMES if view.turn.vertical else board.along + NAMES + RADIUS
        width = max(wide, NARROWEST) + 2 * MARGIN
        legend = LEGEND * len(_legend_rows(view, width - 2 * MARGIN))
        if view.turn.vertical:
            return cls(view, board, width, board.along + 2 * MARGIN + NAMES + legend)
        arched = any(arrow.kind == "bend" and arrow.string == 1 for arrow in view.arrows)
        top = MARGIN + RADIUS + (ARCS if arched else 0)
        return cls(view, board, width, top + board.across + MARGIN + RADIUS + NUMBERS + legend, top)

    def point(self, along: float, across: float) -> tuple[float, float]:
        """A place of the board in the picture."""
        if self.view.turn.vertical:
            side = across if self.view.turn.left_handed else self.board.across - across
            return (self.width - self.board.across) / 2 + side, MARGIN + NAMES + along
        left = (self.width - self.board.along - NAMES - RADIUS) / 2 + NAMES
        return (self.width - left - along if self.view.turn.left_handed else left + along), self.top + across

    def note(self, string: int, fret: float) -> tuple[float, float]:
        return self.point(self.board.middle(fret), self.board.string(string))


def _board(view: NeckView, frame: _Frame) -> Iterator[str]:
    yield from _inlays(view, frame)
    yield from _wires(frame)
    yield from _strings(view, frame)
    yield from _fret_numbers(view, frame)
    if view.tuning.capo and view.first_fret == 0:
        x, y = frame.point(frame.board.nut, frame.board.across)
        yield text_at((x, y + RADIUS + 18), f"capo {view.tuning.capo}", REACHED, QUIET)


def _inlays(view: NeckView, frame: _Frame) -> Iterator[str]:
    for fret in frame.board.frets:
        wood = fret + view.tuning.capo  # a capo moves the frets' names, not the dots
        if wood not in INLAYS:
            continue
        for offset in (-LYING.gap, LYING.gap) if wood % 12 == 0 else (0.0,):
            x, y = frame.point(frame.board.middle(fret), frame.board.across / 2 + offset)
            yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{INLAY}"/>'


def _wires(frame: _Frame) -> Iterator[str]:
    for fret in frame.board.wires:
        along, is_nut = frame.board.wire(fret), fret == 0
        ends = frame.point(along, 0), frame.point(along, frame.board.across)
        yield _stroke(*ends, INK if is_nut else WIRE, 6 if is_nut else 2)


def _open_names(tuning: Tuning) -> list[NoteName]:
    """What the open strings are called, thinnest first: under a capo all in sharps or all in flats."""
    if not tuning.capo:
        return [pitch.name for pitch in tuning.open_strings]
    names = [tuning.pitch(string, 0).name for string in tuning.strings]
    if not any(name.accidental > 0 for name in names):
        return names
    return [name.at(name.fifths + 12) if name.accidental < 0 else name for name in names]


def _strings(view: NeckView, frame: _Frame) -> Iterator[str]:
    """Each string, thicker the lower, and its name before it."""
    named = _open_names(view.tuning)
    for string in view.tuning.strings:
        across, thickness = frame.board.string(string), 1.2 + 0.35 * (string - 1)
        ends = frame.point(frame.board.nut, across), frame.point(frame.board.along, across)
        yield _stroke(*ends, QUIET, round(thickness, 2))
        name = named[string - 1]
        x, y = frame.point(0, across)
        if view.turn.vertical:
            yield text_at((x, y - 14), name.pretty, SMALL, QUIET)
        else:
            side = 1 if view.turn.left_handed else -1
            yield text_at((x + side * 15, y + SMALL * CAP_HEIGHT / 2), name.pretty, SMALL, QUIET)


def _fret_numbers(view: NeckView, frame: _Frame) -> Iterator[str]:
    """Under the lowest string; where the neck stands upright, at its left."""
    board = frame.board
    for fret in board.frets:
        if view.turn.vertical:
            x, y = frame.point(board.middle(fret), 0 if view.turn.left_handed else board.across)
            yield text_at((x - RADIUS - 10, y + 5), str(fret), SMALL, QUIET, bold=fret in INLAYS)
        else:
            x, y = frame.point(board.middle(fret), board.across)
            yield text_at((x, y + RADIUS + 18), str(fret), SMALL, QUIET, bold=fret in INLAYS)


@dataclass(frozen=True, slots=True)
class _Curve:
    """From one sign towards another: start, the point that pulls it, and end."""

    start: tuple[float, float]
    pull: tuple[float, float]
    end: tuple[float, float]

    @property
    def path(self) -> str:
        (x1, y1), (x, y), (x2, y2) = self.start, self.pull, self.end
        return f"M{x1:.1f} {y1:.1f} Q{x:.1f} {y:.1f} {x2:.1f} {y2:.1f}"


def _arrow(arrow: Arrow, frame: _Frame, taken: set[tuple[int, int]]) -> list[str]:
    """An arc (a bend) or a dashed line (a hint) to the fret it reaches, where a small open sign holds the degree."""
    target = frame.note(arrow.string, arrow.to_fret)
    lands_on_a_sign = (arrow.string, arrow.to_fret) in taken
    away = RADIUS if lands_on_a_sign else RING - 1
    curve = (_arc if arrow.kind == "bend" else _straight)(frame.note(arrow.string, arrow.from_fret), target, away)
    colour, dash = (BEND, "") if arrow.kind == "bend" else (QUIET, ' stroke-dasharray="4 3"')
    parts = [f'<path d="{curve.path}" fill="none" stroke="{colour}" stroke-width="2.2"{dash}/>',
             _head(curve, colour)]
    return parts if lands_on_a_sign else [*parts, *_open_sign(target, arrow.label, colour)]


def _arc(one: tuple[float, float], two: tuple[float, float], away: float) -> _Curve:
    """Over the signs between, from the upper edge of one to the upper edge of the other."""
    (ux, uy), length = _direction(one, two)
    nx, ny, rise = uy, -abs(ux), 6.0 + 0.26 * length
    sx, sy = one[0] + (0.5 * ux + 0.8 * nx) * RADIUS, one[1] + (0.5 * uy + 0.8 * ny) * RADIUS
    ex, ey = two[0] + (nx - 0.4 * ux) * (away + 1), two[1] + (ny - 0.4 * uy) * (away + 1)
    return _Curve((sx, sy), ((sx + ex) / 2 + nx * rise, (sy + ey) / 2 + ny * rise), (ex, ey))


def _straight(one: tuple[float, float], two: tuple[float, float], away: float) -> _Curve:
    (ux, uy), _ = _direction(one, two)
    sx, sy = one[0] + ux * RADIUS, one[1] + uy * RADIUS
    ex, ey = two[0] - ux * (away + 2), two[1] - uy * (away + 2)
    return _Curve((sx, sy), ((sx + ex) / 2, (sy + ey) / 2), (ex, ey))


def _direction(one: tuple[float, float], two: tuple[float, float]) -> tuple[tuple[float, float], float]:
    """The way along a string as a unit, and its length."""
    across, down = two[0] - one[0], two[1] - one[1]
    length = max(abs(across), abs(down), 1.0)
    return (across / length, down / length), length


def _open_sign(place: tuple[float, float], label: str, colour: str) -> list[str]:
    x, y = place
    size = min(REACHED, REACHED * 1.7 * RING / max(text_width(label, REACHED, bold=True), 1.0))
    ring = f'cx="{x:.1f}" cy="{y:.1f}" r="{RING:g}" fill="{GROUND}" stroke="{colour}"'
    return [f'<circle {ring} stroke-width="1.6"/>',
            text_at((x, y + size * CAP_HEIGHT / 2), label, round(size, 1), INK, bold=True)]


def _head(curve: _Curve, colour: str) -> str:
    (x1, y1), (x2, y2) = curve.pull, curve.end
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 or 1.0
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    corners = [(x2, y2), (x2 - 7 * ux - 4 * uy, y2 - 7 * uy + 4 * ux), (x2 - 7 * ux + 4 * uy, y2 - 7 * uy - 4 * ux)]
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="{colour}"/>'


def _dot(dot: Dot, frame: _Frame) -> str:
    x, y = frame.note(dot.string, dot.fret)
    marker = MARKERS[dot.role]
    label = "" if not dot.label else text_at((x, y + _letter(dot.label, marker) * CAP_HEIGHT / 2), dot.label,
                                           _letter(dot.label, marker), marker.ink, bold=True)
    return marker_at(x, y, RADIUS, marker) + label


def _letter(label: str, marker: Marker) -> float:
    """Type size that keeps a label inside its marker."""
    size = LETTER * marker.text
    room = 1.62 * RADIUS * marker.size * (0.86 if len(marker.corners) in (4, 5) and marker.word != "root" else 1.0)
    return round(min(size, size * room / max(text_width(label, size, bold=True), 1.0)), 1)


def marker_at(x: float, y: float, radius: float, marker: Marker) -> str:
    """A sign by itself."""
    paint = f'fill="{marker.fill}" stroke="{marker.stroke}" stroke-width="2"'
    radius *= marker.size
    if not marker.corners:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" {paint}/>'
    corners = " ".join(f"{x + radius * dx:.1f},{y + radius * dy:.1f}" for dx, dy in marker.corners)
    return f'<polygon points="{corners}" stroke-linejoin="round" {paint}/>'


def _entry(role: str) -> float:
    """Width of a role in the legend: sign, word and the room behind it."""
    return 2 * RADIUS + 6 + text_width(MARKERS[role].word, SMALL) + 14


def _legend_rows(view: NeckView, width: float) -> list[list[str]]:
    """The roles present, in as many rows as the width asks for."""
    rows: list[list[str]] = [[]]
    for role in view.roles:
        if rows[-1] and sum(map(_entry, [*rows[-1], role])) > width:
            rows.append([])
        rows[-1].append(role)
    return rows


def _legend(view: NeckView, frame: _Frame) -> list[str]:
    parts: list[str] = []
    rows = _legend_rows(view, frame.width - 2 * MARGIN)
    for number, row in enumerate(rows):
        x = (frame.width - sum(map(_entry, row))) / 2 + RADIUS * 0.9
        y = frame.height - MARGIN - 8 - LEGEND * 0.8 * (len(rows) - 1 - number)
        parts += _legend_row(row, x, y)
    return parts


def _legend_row(roles: Sequence[str], x: float, y: float) -> Iterator[str]:
    for role in roles:
        marker = MARKERS[role]
        yield marker_at(x, y, RADIUS * 0.62, marker)
        yield text_at((x + RADIUS + 2, y + SMALL * CAP_HEIGHT / 2), marker.word, SMALL, INK, anchor="start")
        x += _entry(role)


def _stroke(one: tuple[float, float], two: tuple[float, float], colour: str, width: float) -> str:
    return (f'<line x1="{one[0]:.1f}" y1="{one[1]:.1f}" x2="{two[0]:.1f}" y2="{two[1]:.1f}" stroke="{colour}" '
            f'stroke-width="{width}"/>')
