"""The plan of a backing track drawn: a row of bars for each stretch, as high as it is dense.

Height says the density, a notch at a bar's end a fill, a star a crash, a ring that somebody rests, a thin bar a stop:
each has its word in the legend, and nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from ..fonts import FONT_STACK, text_width
from .chart import MARGIN, PAGE_MM, WIDTH, line_at, text_at
from .markers import GROUND, INK, QUIET
from .pictures import Picture, maker

BARS_A_LINE = 16
HEAD, ROW, GAP = 34.0, 40.0, 12.0
LEFT = 250.0          # the column of words beside the bars
TALLEST = 30.0
_HEIGHTS = {"light": 9.0, "main": 18.0, "full": 27.0, "stop": 27.0}
_LONGEST_NAME = 24    # signs of a row's sections


@dataclass(frozen=True, slots=True)
class PlanBar:
    """A bar: how dense ("light", "main", "full", "stop"), with a fill at its end, a crash, somebody resting."""

    density: str
    fill: bool = False
    crash: bool = False
    rests: bool = False


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A stretch: its first bar of the whole, which bars ("bars 1–8"), its sections or what else it is, its density."""

    first: int
    where: str
    name: str
    density: str
    bars: tuple[PlanBar, ...]


def plan_picture(title: str, about: str, rows: Sequence[PlanRow], text: str) -> Picture:
    """The rows on a page under a title; `text` is the same plan for a terminal."""
    drawn: list[str] = []
    y, cuts = HEAD, []
    for row in rows:
        if drawn:
            cuts.append(round(y - GAP / 2, 1))
        drawn.append("".join(_row(row, y)))
        y += ROW * -(-len(row.bars) // BARS_A_LINE) + GAP
    drawn[-1] += "".join(_legend(rows, y + 6))
    heading = text_at((MARGIN, 20), title, 17, INK, bold=True, anchor="start")
    drawn[0] = heading + text_at((WIDTH - MARGIN, 20), about, 14, QUIET, anchor="end") + drawn[0]
    height, alt = y + 18, alt_text(title, about, rows)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
           f'height="{height:.0f}" role="img" font-family="{FONT_STACK}"><title>{escape(alt)}</title>'
           f'<rect width="{WIDTH:.0f}" height="{height:.0f}" fill="{GROUND}"/>'
           + "".join(f'<g class="system">{one}</g>' for one in drawn) + "</svg>")
    return Picture(svg, alt, "", PAGE_MM, text, {}, tuple(cuts), maker())


def alt_text(title: str, about: str, rows: Sequence[PlanRow]) -> str:
    said = [f"{title}, {about}"]
    for row in rows:
        words = [row.where, row.name, row.density]
        words += [f"{what} in bar{'s' * (len(bars) > 1)} {', '.join(map(str, bars))}"
                  for what, bars in _marked(row).items() if bars]
        said.append(", ".join(filter(None, words)))
    return ". ".join(said)


def _marked(row: PlanRow) -> dict[str, list[int]]:
    """In which bars of the whole there is what."""
    bars = list(enumerate(row.bars, row.first))
    return {"a crash": [number for number, bar in bars if bar.crash],
            "a fill": [number for number, bar in bars if bar.fill],
            "no comping": [number for number, bar in bars if bar.rests]}


def _row(row: PlanRow, y: float) -> Iterator[str]:
    base = y + TALLEST
    yield text_at((MARGIN, base - 16), row.where, 12, QUIET, anchor="start")
    name = row.name if len(row.name) <= _LONGEST_NAME else row.name[:_LONGEST_NAME] + "…"
    yield text_at((MARGIN, base), name, 15, INK, bold=True, anchor="start")
    yield text_at((LEFT - 12, base), row.density, 14, INK, anchor="end")
    for index, bar in enumerate(row.bars):
        x = LEFT + index % BARS_A_LINE * _width()
        yield from _bar(bar, x, base + index // BARS_A_LINE * ROW)


def _width() -> float:
    return (WIDTH - MARGIN - LEFT) / BARS_A_LINE


def _bar(bar: PlanBar, x: float, base: float) -> Iterator[str]:
    width, height = _width() - 4, _HEIGHTS[bar.density]
    thin = 4.0 if bar.density == "stop" else width
    fill = GROUND if bar.rests else QUIET
    yield (f'<rect x="{x:.1f}" y="{base - height:.1f}" width="{thin:.1f}" height="{height:.1f}" fill="{fill}" '
           f'stroke="{INK}" stroke-width="1.2"/>')
    if bar.fill:  # a wedge that grows to the end of the bar
        yield (f'<path d="M{x + width / 2:.1f} {base:.1f}L{x + width:.1f} {base - TALLEST:.1f}V{base:.1f}Z" '
               f'fill="{INK}"/>')
    if bar.rests:
        yield (f'<circle cx="{x + width / 2:.1f}" cy="{base - height - 6:.1f}" r="3.5" fill="{GROUND}" '
               f'stroke="{INK}" stroke-width="1.4"/>')
    if bar.crash:
        yield from _star(x + 5, base - TALLEST - 3)


def _star(x: float, y: float) -> Iterator[str]:
    for across, down in ((5.0, 0.0), (2.5, 4.3), (-2.5, 4.3)):
        yield line_at(x - across, y - down, x + across, y + down)


def _legend(rows: Sequence[PlanRow], y: float) -> Iterator[str]:
    """The signs that these rows have, each with its word."""
    bars = [bar for row in rows for bar in row.bars]
    signs = (("wedge: a fill", any(bar.fill for bar in bars)), ("star: a crash", any(bar.crash for bar in bars)),
             ("ring: without comping", any(bar.rests for bar in bars)),
             ("thin: one stroke a bar", any(bar.density == "stop" for bar in bars)))
    x = LEFT
    for words in ("height: density", *(words for words, is_there in signs if is_there)):
        yield text_at((x, y), words, 12, QUIET, anchor="start")
        x += text_width(words, 12, bold=False) + 14
