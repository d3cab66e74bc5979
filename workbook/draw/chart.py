"""The changes as a picture: bars in rows, symbols large enough for a music stand, repeats, endings and sections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape

from theorylib.changes.bars import Bar
from theorylib.changes.chart_text import tempo_words
from theorylib.changes.charts import Chart, as_chart
from theorylib.errors import listed
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale

from ..fonts import CAP_HEIGHT, FONT_STACK, text_width
from .markers import GROUND, INK, QUIET
from .pictures import Picture, maker
from .spoken import spoken_chord
from .symbols import split_suffix

WIDTH, BARS_A_LINE = 760.0, 4      # units; four bars a line unless the chords need more room
ROW, TOP, MARGIN = 74.0, 34.0, 12.0
SIZE, SMALL, TINY = 27.0, 20.0, 14.0
MINOR = 0.8                         # of a symbol's size: the m of a minor chord
SMALLEST = 15.0                     # a symbol is set smaller than SIZE to fit its beats, never below this
PAGE_MM = 180.0
ROWS_KEPT = 12                      # so many rows stay together; a longer chart may break between any two


def chart_picture(chart: Chart | str, under: Sequence[str] = (), *, large_print: bool = False, heading: bool = True,
                  size: float = SIZE, row: float = ROW) -> Picture:
    """To show changes on paper: the bars as written, repeats as signs, a line of text under each.

    `under` gives the small text below each bar in turn. `heading` False leaves out title, key, meter, tempo and feel;
    `size` is the largest type of a symbol, `row` the height of a line of bars, in units.

    >>> chart_picture("| Am7 | D9 |").alt
    'Chord chart, 4/4, straight 8, 100 quarter notes a minute; bar 1 A minor seventh; bar 2 D ninth.'
    """
    chart = as_chart(chart)
    under = listed(under, "row of texts", "a text for each bar")
    rows = list(_rows(chart, _most_a_line(large_print)))
    drawn: list[str] = []
    top = TOP + 22 if heading or _needs_top(chart) else 6.0
    width = (WIDTH - 2 * MARGIN) / max(map(len, rows), default=1)
    pitch = row + (18 if under else 0)
    for number, line in enumerate(rows):
        y = top + number * pitch
        x, parts = MARGIN, [] if number or not heading else [_heading(chart)]
        for index, bar in line:
            parts += _bar(chart, bar, index, _Box(x, y, width, row, size), under[index] if index < len(under) else "")
            x += width
        drawn.append("".join(parts))
    cuts: tuple[float, ...] = ()
    if len(rows) > ROWS_KEPT:
        drawn = [f'<g class="system">{one}</g>' for one in drawn]
        cuts = tuple(top - 22 + number * pitch for number in range(1, len(rows)))
    height = top + len(rows) * pitch - (0 if heading else 20) + 4
    alt = alt_text(chart)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
           f'height="{height:.0f}" role="img" font-family="{FONT_STACK}"><title>{escape(alt)}</title>'
           f'<rect width="{WIDTH:.0f}" height="{height:.0f}" fill="{GROUND}"/>{"".join(drawn)}</svg>')
    return Picture(svg, alt, "", PAGE_MM, str(chart), {}, cuts, maker())


def alt_text(chart: Chart) -> str:
    """The changes read aloud: meter, tempo, then the written bars with their sections and repeats."""
    said = [f"Chord chart, {chart.meter}, {chart.feel}, {chart.tempo} quarter notes a minute"]
    for number, bar in enumerate(chart.bars, 1):
        words = [f"section {bar.section}" if bar.section else "", f"in {_key_aloud(bar.key)}" if bar.key else "",
                 "repeat from here" if bar.opens else "",
                 f"ending {' and '.join(map(str, bar.endings))}" if bar.endings else "",
                 f"bar {number} " + " ".join(_spoken(cell) for cell in bar.cells if cell != "/"),
                 f"played {bar.plays} times" if bar.plays > 2 else "end of repeat" if bar.plays == 2 else ""]
        said.append(", ".join(filter(None, words)))
    return "; ".join(said) + "."


def _key_words(key: Scale) -> str:
    return key.pretty.replace("natural ", "")


def _key_aloud(key: Scale) -> str:
    return " ".join(_aloud(_key_words(key)).split())


def _spoken(cell: Chord | str) -> str:
    if cell == "%":
        return "the same again"
    return spoken_chord(cell) if isinstance(cell, Chord) else str(cell)


def _aloud(text: str) -> str:
    return text.replace("♯", " sharp ").replace("♭", " flat ")


def _most_a_line(large_print: bool) -> int:
    return 2 if large_print else BARS_A_LINE


def lines_of(chart: Chart, *, large_print: bool = False) -> int:
    """In how many lines a chart's written bars stand."""
    return len(_rows(chart, _most_a_line(large_print)))


def _rows(chart: Chart, most: int) -> list[list[tuple[int, Bar]]]:
    """Written bars by line: a new line at each section and after `most` bars."""
    rows: list[list[tuple[int, Bar]]] = []
    for index, bar in enumerate(chart.bars):
        if not rows or bar.section is not None or len(rows[-1]) == most:
            rows.append([])
        rows[-1].append((index, bar))
    return rows


def heading_words(chart: Chart) -> str:
    """Key, meter, tempo and feel: “G dorian · 4/4 · ♩ = 92 · straight 16”."""
    key = f"{_key_words(chart.key)} · " if chart.key else ""
    return f"{key}{chart.meter} · {tempo_words(chart.tempo, chart.meter)} · {chart.feel}"


def _heading(chart: Chart) -> str:
    about = heading_words(chart)
    title = text_at((MARGIN, 24), chart.title, 17, INK, bold=True, anchor="start") if chart.title else ""
    return title + text_at((WIDTH - MARGIN, 24), about, 14, QUIET, anchor="end")


def _needs_top(chart: Chart) -> bool:
    """Does anything stand over the first row of bars?"""
    return any(bar.section or bar.key or bar.endings or bar.plays > 2 for bar in chart.bars[:BARS_A_LINE])


@dataclass(frozen=True, slots=True)
class _Box:
    """Where a bar stands, how high its line is, and the largest type in it."""

    x: float
    y: float
    width: float
    row: float
    size: float


def _bar(chart: Chart, bar: Bar, index: int, box: _Box, under: str) -> list[str]:
    x, y, width = box.x, box.y, box.width
    bottom, inner = y + box.row - 24, 10.0
    parts = [line_at(x, y, x, bottom)]
    following = chart.bars[index + 1] if index + 1 < len(chart.bars) else None
    if bar.opens:
        parts += [line_at(x + 2, y, x + 2, bottom, 4), line_at(x + 7, y, x + 7, bottom), *_dots(x + 12, y, bottom)]
        inner = 20.0
    label = x
    if bar.section:
        wide = text_width(bar.section, TINY, bold=True) + 10
        parts.append(f'<rect x="{x:.1f}" y="{y - 20:.1f}" width="{wide:.1f}" height="17" fill="none" stroke="{INK}" '
                     'stroke-width="1.5"/>')
        parts.append(text_at((x + wide / 2, y - 11.5 + TINY * CAP_HEIGHT / 2), bar.section, TINY, INK, bold=True))
        label = x + wide + 6
    if bar.key:
        parts.append(text_at((label, y - 11.5 + TINY * CAP_HEIGHT / 2), f"in {_key_words(bar.key)}", TINY, INK,
                             anchor="start"))
    if bar.endings:
        parts.append(line_at(x + 3, y - 6, x + width - 6, y - 6, 1.2))
        parts.append(line_at(x + 3, y - 6, x + 3, y, 1.2))
        parts.append(text_at((x + 8, y + 8), ",".join(map(str, bar.endings)) + ".", 11, INK, anchor="start"))
    end = x + width
    if bar.plays > 1:
        parts += [line_at(end - 2, y, end - 2, bottom, 4), line_at(end - 7, y, end - 7, bottom),
                  *_dots(end - 12, y, bottom)]
        if bar.plays > 2:
            parts.append(text_at((end - 4, y - 5), f"×{bar.plays}", TINY, INK, bold=True, anchor="end"))
    elif bar.double:
        parts += [line_at(end, y, end, bottom), line_at(end - 4, y, end - 4, bottom)]
    elif following is None:
        parts += [line_at(end - 1, y, end - 1, bottom, 4), line_at(end - 6, y, end - 6, bottom)]
    else:
        parts.append(line_at(end, y, end, bottom))
    parts += symbols_in(bar, x + inner, width - inner - (16 if bar.plays > 1 else 6), (y + bottom) / 2,
                        box.size)
    if under:
        parts.append(text_at((x + inner, bottom + 16), under, TINY, QUIET, anchor="start"))
    return parts


def symbols_in(bar: Bar, x: float, width: float, middle: float, largest: float = SIZE,
               smallest: float = SMALLEST) -> list[str]:
    """The symbols of a bar as SVG, at their beats, as large as the width allows from `largest` to `smallest`."""
    if bar.cells == ("%",):
        return [_same_again(x + width / 2, middle)]
    step = width / len(bar.cells)
    symbols = [(index * step, _Symbol.of(cell)) for index, cell in enumerate(bar.cells) if isinstance(cell, Chord)]
    size = largest
    while size > smallest and _placed(symbols, size)[-1] > width:
        size -= 0.5
    starts = _placed(symbols, size)
    return [symbol.sized(size).at(x + start, middle) for (_, symbol), start in zip(symbols, starts, strict=False)]


def _placed(symbols: Sequence[tuple[float, _Symbol]], size: float) -> list[float]:
    """Where each symbol of a bar starts, at its beat or behind the one before it; last, where they end."""
    starts, end = [], 0.0
    for beat, symbol in symbols:
        start = max(beat, end)
        starts.append(start)
        end = start + symbol.sized(size).width + 8
    return [*starts, end - 8]


@dataclass(frozen=True, slots=True)
class _Symbol:
    """A chord symbol in pieces: root large, the m of a minor chord, the rest of the name raised, bass after a slash."""

    root: str
    minor: str
    rest: str
    bass: str
    size: float = SIZE

    @classmethod
    def of(cls, chord: Chord) -> _Symbol:
        if chord.root is None:
            return cls("N.C.", "", "", "")
        return cls(chord.root.pretty, *split_suffix(chord.pretty_suffix), f"/{chord.bass.pretty}" if chord.bass else "")

    @property
    def width(self) -> float:
        small = self.size * SMALL / SIZE
        return (text_width(self.root, self.size, bold=True) + text_width(self.minor, self.size * MINOR, bold=True)
                + text_width(self.rest, small, bold=True) + text_width(self.bass, self.size * 0.85, bold=True))

    def sized(self, size: float) -> _Symbol:
        return replace(self, size=size * (SMALL / SIZE if self.root == "N.C." else 1.0))

    def at(self, x: float, middle: float) -> str:
        base, small = middle + self.size * CAP_HEIGHT / 2, round(self.size * SMALL / SIZE, 1)
        parts = [text_at((x, base), self.root, self.size, INK, bold=True, anchor="start")]
        x += text_width(self.root, self.size, bold=True)
        if self.minor:
            parts.append(text_at((x, base), self.minor, round(self.size * MINOR, 1), INK, bold=True, anchor="start"))
            x += text_width(self.minor, self.size * MINOR, bold=True)
        if self.rest:
            parts.append(text_at((x, base - self.size * 0.2), self.rest, small, INK, bold=True, anchor="start"))
            x += text_width(self.rest, small, bold=True)
        if self.bass:
            parts.append(text_at((x, base), self.bass, round(self.size * 0.85, 1), INK, bold=True, anchor="start"))
        return "".join(parts)


def _same_again(x: float, y: float) -> str:
    return (line_at(x - 11, y + 10, x + 11, y - 10, 4)
            + f'<circle cx="{x - 9:.1f}" cy="{y - 6:.1f}" r="3" fill="{INK}"/>'
            f'<circle cx="{x + 9:.1f}" cy="{y + 6:.1f}" r="3" fill="{INK}"/>')


def _dots(x: float, y: float, bottom: float) -> list[str]:
    middle = (y + bottom) / 2
    return [f'<circle cx="{x:.1f}" cy="{middle + shift:.1f}" r="2.6" fill="{INK}"/>' for shift in (-7, 7)]


def line_at(x1: float, y1: float, x2: float, y2: float, width: float = 1.6) -> str:
    return (f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{INK}" '
            f'stroke-width="{width}"/>')


def text_at(point: tuple[float, float], text: str, size: float, colour: str, *, bold: bool = False,
            anchor: str = "middle") -> str:
    """A line of text with its baseline at a point, (x, y)."""
    x, y = point
    weight = ' font-weight="bold"' if bold else ""
    return (f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="{colour}"{weight}>'
            f"{escape(text)}</text>")
