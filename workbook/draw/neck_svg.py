"""The neck as SVG text: plain shapes and numbers, the same bytes for the same view, well under a millisecond."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from ..fonts import CAP_HEIGHT, FONT_STACK, text_width
from .markers import BEND, GROUND, INK, INLAY, MARKERS, QUIET, WIRE, Marker
from .neck_view import INLAYS, Arrow, Dot, NeckView, alt_text, neck_text
from .pictures import Picture, maker

FRET, OPEN = 56.0, 44.0              # units: length of a fret and of the open-string column
GAP, SIDE_GAP = 36.0, 44.0           # units: distance of strings, and where they stand upright
RADIUS, LETTER = 14.5, 14.0          # units: size of a marker, of the text in it
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
    width_mm = min(PAGE_MM, frame.width * MM_A_UNIT * (LARGE if view.large_print else 1.0))
    return Picture(svg, alt, view.caption, round(width_mm, 1), neck_text(view), maker=maker())


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things stand: along the neck from the window's edge, across it from string 1; turned as the view asks."""

    view: NeckView
    along: float
    across: float
    nut: float
    width: float
    height: float
    top: float = 0.0

    @classmethod
    def of(cls, view: NeckView) -> _Frame:
        nut = OPEN if view.first_fret == 0 else 0.0
        shown = view.last_fret - max(view.first_fret, 1) + 1
        along, across = nut + shown * FRET, (view.strings - 1) * (SIDE_GAP if view.vertical else GAP)
        board = across + 2 * NAMES if view.vertical else along + NAMES + RADIUS
        width = max(board, NARROWEST) + 2 * MARGIN
        legend = LEGEND * len(_legend_rows(view, width - 2 * MARGIN))
        if view.vertical:
            return cls(view, along, across, nut, width, along + 2 * MARGIN + NAMES + legend)
        arched = any(arrow.kind == "bend" and arrow.string == 1 for arrow in view.arrows)
        top = MARGIN + RADIUS + (ARCS if arched else 0)
        return cls(view, along, across, nut, width, top + across + MARGIN + RADIUS + NUMBERS + legend, top)

    def point(self, along: float, across: float) -> tuple[float, float]:
        if self.view.vertical:
            side = across if self.view.left_handed else self.across - across
            return (self.width - self.across) / 2 + side, MARGIN + NAMES + along
        left = (self.width - self.along - NAMES - RADIUS) / 2 + NAMES
        return (self.width - left - along if self.view.left_handed else left + along), self.top + across

    @property
    def gap(self) -> float:
        return self.across / (self.view.strings - 1)

    def wire(self, fret: int) -> float:
        """Distance along to the wire behind which `fret` ends."""
        return self.nut + (fret - max(self.view.first_fret, 1) + 1) * FRET

    def note(self, string: int, fret: int) -> tuple[float, float]:
        along = self.nut / 2 if fret == 0 else self.wire(fret) - FRET / 2
        return self.point(along, (string - 1) * self.gap)


def _board(view: NeckView, frame: _Frame) -> list[str]:
    parts = []
    frets = range(max(view.first_fret, 1), view.last_fret + 1)
    for fret in frets:
        if fret + view.tuning.capo in INLAYS:
            middle = frame.wire(fret) - FRET / 2
            offsets = (-GAP, GAP) if (fret + view.tuning.capo) % 12 == 0 else (0.0,)
            parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{INLAY}"/>'
                      for x, y in (frame.point(middle, frame.across / 2 + offset) for offset in offsets)]
    for fret in (frets[0] - 1, *frets):
        along = frame.wire(fret)
        nut = fret == 0
        ends = frame.point(along, 0), frame.point(along, frame.across)
        parts.append(_stroke(*ends, INK if nut else WIRE, 6 if nut else 2))
    start = frame.nut if view.first_fret == 0 else 0.0
    for string in view.tuning.strings:
        thickness = 1.2 + 0.35 * (string - 1)
        across = (string - 1) * frame.gap
        parts.append(_stroke(frame.point(start, across), frame.point(frame.along, across), QUIET, round(thickness, 2)))
        name = view.tuning.pitch(string, 0).name if view.tuning.capo else view.tuning.open_strings[string - 1].name
        x, y = frame.point(0, across)
        if view.vertical:
            parts.append(_text(x, y - 14, name.pretty, 13, QUIET))
        else:
            side = 1 if view.left_handed else -1
            parts.append(_text(x + side * 15, y + 13 * CAP_HEIGHT / 2, name.pretty, 13, QUIET))
    for fret in frets:
        along = frame.wire(fret) - FRET / 2
        if view.vertical:
            x, y = frame.point(along, frame.across if not view.left_handed else 0)
            x = min(x, frame.point(along, 0)[0]) - RADIUS - 10
            parts.append(_text(x, y + 5, str(fret), 13, QUIET, bold=fret in INLAYS))
        else:
            x, y = frame.point(along, frame.across)
            parts.append(_text(x, y + RADIUS + 18, str(fret), 13, QUIET, bold=fret in INLAYS))
    if view.tuning.capo and view.first_fret == 0:
        x, y = frame.point(frame.nut, frame.across)
        parts.append(_text(x, y + RADIUS + 18, f"capo {view.tuning.capo}", 11, QUIET))
    return parts


def _arrow(arrow: Arrow, frame: _Frame, taken: set[tuple[int, int]]) -> list[str]:
    """An arc (a bend) or a dashed line (a hint) to the fret it reaches, where a small open sign holds the degree."""
    x1, y1 = frame.note(arrow.string, arrow.from_fret)
    x2, y2 = frame.note(arrow.string, arrow.to_fret)
    length = max(abs(x2 - x1), abs(y2 - y1), 1.0)
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    away = 9.0 if (arrow.string, arrow.to_fret) not in taken else RADIUS
    colour, dash = (BEND, "") if arrow.kind == "bend" else (QUIET, ' stroke-dasharray="4 3"')
    if arrow.kind == "bend":  # over the signs between, from the upper edge of one to the upper edge of the other
        nx, ny, rise = uy, -abs(ux), 6.0 + 0.26 * length
        sx, sy = x1 + (0.5 * ux + 0.8 * nx) * RADIUS, y1 + (0.5 * uy + 0.8 * ny) * RADIUS
        ex, ey = x2 + (nx - 0.4 * ux) * (away + 1), y2 + (ny - 0.4 * uy) * (away + 1)
        mx, my = (sx + ex) / 2 + nx * rise, (sy + ey) / 2 + ny * rise
    else:
        sx, sy, ex, ey = x1 + ux * RADIUS, y1 + uy * RADIUS, x2 - ux * (away + 2), y2 - uy * (away + 2)
        mx, my = (sx + ex) / 2, (sy + ey) / 2
    path = f"M{sx:.1f} {sy:.1f} Q{mx:.1f} {my:.1f} {ex:.1f} {ey:.1f}"
    parts = [f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="2.2"{dash}/>',
             _head(mx, my, ex, ey, colour)]
    if (arrow.string, arrow.to_fret) not in taken:
        size = min(10.5, 10.5 * 17 / max(text_width(arrow.label, 10.5, bold=True), 1.0))
        ring = f'cx="{x2:.1f}" cy="{y2:.1f}" r="10" fill="{GROUND}" stroke="{colour}"'
        parts.append(f'<circle {ring} stroke-width="1.6"/>')
        parts.append(_text(x2, y2 + size * CAP_HEIGHT / 2, arrow.label, round(size, 1), INK, bold=True))
    return parts


def _head(x1: float, y1: float, x2: float, y2: float, colour: str) -> str:
    length = ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 or 1.0
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    corners = [(x2, y2), (x2 - 7 * ux - 4 * uy, y2 - 7 * uy + 4 * ux), (x2 - 7 * ux + 4 * uy, y2 - 7 * uy - 4 * ux)]
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="{colour}"/>'


def _dot(dot: Dot, frame: _Frame) -> str:
    x, y = frame.note(dot.string, dot.fret)
    marker = MARKERS[dot.role]
    label = "" if not dot.label else _text(x, y + _letter(dot.label, marker) * CAP_HEIGHT / 2, dot.label,
                                           _letter(dot.label, marker), marker.ink, bold=True)
    return _shape(x, y, RADIUS, marker) + label


def _letter(label: str, marker: Marker) -> float:
    """Type size that keeps a label inside its marker."""
    size = LETTER * marker.text
    room = 1.62 * RADIUS * marker.size * (0.86 if len(marker.corners) in (4, 5) and marker.word != "root" else 1.0)
    return round(min(size, size * room / max(text_width(label, size, bold=True), 1.0)), 1)


def _shape(x: float, y: float, radius: float, marker: Marker) -> str:
    paint = f'fill="{marker.fill}" stroke="{marker.stroke}" stroke-width="2"'
    radius *= marker.size
    if not marker.corners:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" {paint}/>'
    corners = " ".join(f"{x + radius * dx:.1f},{y + radius * dy:.1f}" for dx, dy in marker.corners)
    return f'<polygon points="{corners}" stroke-linejoin="round" {paint}/>'


def _entry(role: str) -> float:
    """Width of a role in the legend: sign, word and the room behind it."""
    return 2 * RADIUS + 6 + text_width(MARKERS[role].word, 13) + 14


def _legend_rows(view: NeckView, width: float) -> list[list[str]]:
    """The roles present, in as many rows as the width asks for."""
    rows: list[list[str]] = [[]]
    for role in view.roles:
        if rows[-1] and sum(map(_entry, [*rows[-1], role])) > width:
            rows.append([])
        rows[-1].append(role)
    return rows


def _legend(view: NeckView, frame: _Frame) -> list[str]:
    parts = []
    rows = _legend_rows(view, frame.width - 2 * MARGIN)
    for number, row in enumerate(rows):
        x = (frame.width - sum(map(_entry, row))) / 2 + RADIUS * 0.9
        y = frame.height - MARGIN - 8 - LEGEND * 0.8 * (len(rows) - 1 - number)
        for role in row:
            marker = MARKERS[role]
            parts.append(_shape(x, y, RADIUS * 0.62, marker))
            parts.append(_text(x + RADIUS + 2, y + 13 * CAP_HEIGHT / 2, marker.word, 13, INK, anchor="start"))
            x += _entry(role)
    return parts


def _stroke(one: tuple[float, float], two: tuple[float, float], colour: str, width: float) -> str:
    return (f'<line x1="{one[0]:.1f}" y1="{one[1]:.1f}" x2="{two[0]:.1f}" y2="{two[1]:.1f}" stroke="{colour}" '
            f'stroke-width="{width}"/>')


def _text(x: float, y: float, text: str, size: float, colour: str, *, bold: bool = False,
          anchor: str = "middle") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="{colour}"{weight}>'
            f"{escape(text)}</text>")
