"""The outline of a solo as a sheet: the form's bars as boxes, each phrase with its limit, register and density.

A staircase shows the register and dots the density, each with its word, so that nothing hangs on a sign alone; the bars
of the first note and of the last carry a ring with its degree, that of the last the bolder one.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from theorylib.changes.bars import Bar
from theorylib.changes.chart_text import tempo_words
from theorylib.changes.meters import Meter
from theorylib.names.chords import Chord
from theorylib.names.spelling import Interval, pretty_accidentals
from theorylib.practice.outline import DENSITIES, LIMITS, REGISTERS, Outline, Phrase, rows
from theorylib.practice.solo_ends import Moment

from ..fonts import FONT_STACK, in_lines, text_width
from .chart import MARGIN, PAGE_MM, WIDTH, line_at, text_at
from .chart import symbols_in as bar_symbols
from .markers import GROUND, INK, QUIET
from .pictures import Picture, maker

BARS_A_LINE = 4
GAP = 12.0
SMALLEST_SYMBOL = 10.0
LEFT = 208.0          # the column of words beside the boxes
_SIGNS_LEFT = 420.0   # of register and density over the boxes


@dataclass(frozen=True, slots=True)
class _Sizes:
    """Of the sheet, in units: where the boxes begin, how high the words over them are, type and signs.

    `times` is how large the signs of register and density are.
    """

    head: float = 40.0
    title: float = 17
    about: float = 14
    left: float = LEFT
    over: float = 0.0
    box: float = 50.0
    limit: float = 16
    words: float = 13
    number: float = 10.5
    indent: float = 22.0  # of a bar's chords, behind its number
    symbol: float = 20.0
    ring: float = 10.0
    degree: float = 12
    under: float = 20.0   # the line of words under the boxes
    end: float = 16
    line: float = 22.0
    times: float = 1.0


_NORMAL = _Sizes()
_LARGE = _Sizes(head=70.0, title=24, about=20, left=MARGIN, over=32.0, box=68.0, limit=22, words=20, number=18,
                indent=36.0, symbol=28.0, ring=14.0, degree=18, under=38.0, end=22, line=30.0, times=1.5)


def outline_picture(plan: Outline, *, large_print: bool = False) -> Picture:
    """The plan on a page; `cuts` lie between phrases, so that a long one may break there. In large print the words of
    a phrase stand over its boxes, not beside them."""
    size = _LARGE if large_print else _NORMAL
    phrases: list[str] = []
    y, cuts = size.head, []
    for phrase, bars in rows(plan):
        if y > size.head:
            cuts.append(round(y - GAP / 2, 1))
        phrases.append("".join(_phrase(plan, phrase, bars, y, size)))
        y += _height(plan, phrase, size) + GAP
    phrases[0] = _heading(plan, size) + phrases[0]
    for words in filter(None, (beginning_words(plan), ending_words(plan))):
        for line in in_lines(words, WIDTH - 2 * MARGIN, size.end, bold=True):
            phrases[-1] += text_at((MARGIN, y + 0.75 * size.end), line, size.end, INK, bold=True, anchor="start")
            y += size.line
    drawn = "".join(f'<g class="system">{phrase}</g>' for phrase in phrases)
    height = y + 2
    alt = alt_text(plan)
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
           f'height="{height:.0f}" role="img" font-family="{FONT_STACK}"><title>{escape(alt)}</title>'
           f'<rect width="{WIDTH:.0f}" height="{height:.0f}" fill="{GROUND}"/>{drawn}</svg>')
    return Picture(svg, alt, "", PAGE_MM, str(plan), {}, tuple(cuts), maker())


_SHORT_NOTES = {8: "eighth", 16: "sixteenth"}


def beginning_words(plan: Outline) -> str:
    """“Begin with the 5 of A7, E, on beat 3 of bar 1.”; nothing where the plan leaves it open."""
    return "" if plan.beginning is None else f"Begin with {_moment_words(plan, plan.beginning)}."


def ending_words(plan: Outline) -> str:
    """“Land on the 3 of A7, C♯, on beat 1 of bar 37, and let it ring.”"""
    return f"Land on {_moment_words(plan, plan.ending)}, and let it ring."


def _moment_words(plan: Outline, moment: Moment) -> str:
    chord = plan.chord_on(moment)
    note = "" if chord.root is None else f", {chord.root.up(Interval.of_degree(moment.degree)).pretty},"
    when = f"{_counted(plan.chart.meter, moment)} of bar {moment.bar}"
    return f"the {pretty_accidentals(moment.degree)} of {chord.pretty}{note} on {when}"


def _counted(meter: Meter, moment: Moment) -> str:
    """“beat 3”: a beat that the foot taps, where the meter counts shorter notes than it; else the note that it is."""
    if not (meter.compound or meter.uneven):
        return f"beat {moment.beat}"
    onset = (moment.beat - 1) * meter.bar_beats / meter.beats
    tapped = [number for number, begins in enumerate(meter.beat_onsets, 1) if begins == onset]
    return f"beat {tapped[0]}" if tapped else f"{_SHORT_NOTES.get(meter.unit, 'note')} {moment.beat}"


def alt_text(plan: Outline) -> str:
    said = [f"Outline of a solo over {plan.chart.title or 'the changes'}, {plan.bars} bars"]
    said += [f"bars {phrase.first} to {phrase.last}, {phrase.limit}, {phrase.register} register, {phrase.density}"
             for phrase in plan.phrases]
    return ". ".join([*said, *filter(None, (beginning_words(plan).rstrip("."), ending_words(plan)))])


def _heading(plan: Outline, size: _Sizes) -> str:
    title = f"Outline: {plan.chart.title}" if plan.chart.title else "Outline of a solo"
    about = f"{plan.bars} bars · {tempo_words(plan.chart.tempo, plan.chart.meter)} · {plan.chart.feel}"
    place, anchor = ((MARGIN, 54), "start") if size.over else ((WIDTH - MARGIN, 22), "end")
    return (text_at((MARGIN, 22), title, size.title, INK, bold=True, anchor="start")
            + text_at(place, about, size.about, QUIET, anchor=anchor))


def _box_width(size: _Sizes) -> float:
    return (WIDTH - MARGIN - size.left) / BARS_A_LINE


def _lines(phrase: Phrase) -> int:
    return -(-(phrase.last - phrase.first + 1) // BARS_A_LINE)


def _height(plan: Outline, phrase: Phrase, size: _Sizes) -> float:
    boxes = _lines(phrase) * size.box
    return size.over + max(boxes, 46.0) + size.under + _under_ring(plan, phrase, size)


def _under_ring(plan: Outline, phrase: Phrase, size: _Sizes) -> float:
    """How much lower the words under a phrase stand, so that a ring on its last line leaves them free."""
    last_line = phrase.first + (_lines(phrase) - 1) * BARS_A_LINE
    rings = [moment.bar for moment in (plan.beginning, plan.ending) if moment is not None]
    return size.ring if any(last_line <= bar <= phrase.last for bar in rings) else 0.0


def _phrase(plan: Outline, phrase: Phrase, bars: tuple[tuple[int, str], ...], y: float, size: _Sizes) -> list[str]:
    parts = _words_over(phrase, y, size) if size.over else _words_beside(phrase, y, size)
    width, high = _box_width(size), y + size.over
    before: tuple[Chord, ...] = ()
    for index, (bar, _) in enumerate(bars):
        x, top = size.left + index % BARS_A_LINE * width, high + index // BARS_A_LINE * size.box
        parts.append(f'<rect x="{x:.1f}" y="{top:.1f}" width="{width:.1f}" height="{size.box:.1f}" fill="none" '
                     f'stroke="{INK}" stroke-width="1.6"/>')
        parts.append(text_at((x + 5, top + 1.5 + size.number), str(bar), size.number, QUIET, anchor="start"))
        chords = plan.chords_in(bar)
        shown = Bar(("%",)) if chords == before else Bar(chords)
        parts += bar_symbols(shown, x + size.indent, width - size.indent - 6, top + size.box / 2, size.symbol,
                             SMALLEST_SYMBOL)
        before = chords
        for moment in (plan.beginning, plan.ending):
            if moment is not None and bar == moment.bar:
                parts += _ring(plan, moment, x, top, size)
    bottom = high + _lines(phrase) * size.box + _under_ring(plan, phrase, size)
    parts.append(text_at((size.left, bottom + 3 + size.words), LIMITS[phrase.limit], size.words, INK, anchor="start"))
    return parts


def _words_beside(phrase: Phrase, y: float, size: _Sizes) -> list[str]:
    return [text_at((MARGIN, y + 13), _bars_words(phrase), size.words, QUIET, anchor="start"),
            text_at((MARGIN, y + 32), phrase.limit, size.limit, INK, bold=True, anchor="start"),
            *_signs(phrase, MARGIN, y + 40, size)]


def _words_over(phrase: Phrase, y: float, size: _Sizes) -> list[str]:
    at = MARGIN + text_width(_bars_words(phrase), size.words, bold=False) + 16
    signs = max(_SIGNS_LEFT, at + text_width(phrase.limit, size.limit, bold=True) + 24)
    return [text_at((MARGIN, y + 20), _bars_words(phrase), size.words, QUIET, anchor="start"),
            text_at((at, y + 20), phrase.limit, size.limit, INK, bold=True, anchor="start"),
            *_signs(phrase, signs, y + 20 - 12 * size.times, size)]


def _bars_words(phrase: Phrase) -> str:
    return f"Bars {phrase.first} to {phrase.last}"


def _signs(phrase: Phrase, x: float, y: float, size: _Sizes) -> list[str]:
    """Three steps with the phrase's own filled, and one to three dots, each before its word; y is over the steps."""
    level, dots, times = REGISTERS.index(phrase.register), DENSITIES.index(phrase.density) + 1, size.times
    foot = y + 12 * times
    parts = [f'<rect x="{x + 9 * times * step:.1f}" y="{foot - 4 * times * (step + 1):.1f}" width="{7 * times:g}" '
             f'height="{4 * times * (step + 1):g}" fill="{INK if step == level else GROUND}" stroke="{INK}" '
             f'stroke-width="1.2"/>' for step in range(3)]
    word = x + 32 * times
    parts.append(text_at((word, foot), phrase.register, size.words, INK, anchor="start"))
    after = word + text_width(phrase.register, size.words, bold=False) + 12
    parts += [f'<circle cx="{after + times * (4 + 9 * dot):.1f}" cy="{foot - 4 * times:.1f}" r="{3.2 * times:g}" '
              f'fill="{INK}"/>' for dot in range(dots)]
    parts.append(text_at((after + 6 + 9 * times * dots, foot), phrase.density, size.words, INK, anchor="start"))
    return parts


def _ring(plan: Outline, moment: Moment, x: float, y: float, size: _Sizes) -> list[str]:
    """A ring with the degree at the beat of the first or the last note, on the lower edge of its bar."""
    share = float((moment.beat - 1) / plan.chart.meter.beats)
    cx, cy = x + _box_width(size) * share + size.ring + 3, y + size.box
    stroke = 3 if moment == plan.ending else 1.6
    circle = (f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="{size.ring}" fill="{GROUND}" stroke="{INK}" '
              f'stroke-width="{stroke}"/>')
    return [circle,
            text_at((cx, cy + 0.375 * size.degree), pretty_accidentals(moment.degree), size.degree, INK, bold=True),
            line_at(cx, cy - size.ring, cx, cy - size.ring - 3)]
