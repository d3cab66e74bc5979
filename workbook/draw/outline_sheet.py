"""The outline of a solo as a sheet: the form's bars as boxes, each phrase with its limit, register and density.

A staircase shows the register and dots the density, each with its word, so that nothing hangs on a sign alone; the bars
of the first note and of the last carry a ring with its degree, that of the last the bolder one.
"""

from __future__ import annotations

from html import escape

from theorylib.changes.bars import Bar
from theorylib.changes.meters import Meter
from theorylib.names.chords import Chord
from theorylib.names.spelling import Interval, pretty_accidentals
from theorylib.practice.outline import DENSITIES, LIMITS, REGISTERS, Outline, Phrase, rows
from theorylib.practice.solo_ends import Moment

from ..fonts import FONT_STACK, text_width
from .chart import MARGIN, PAGE_MM, WIDTH, line_at, text_at
from .chart import symbols_in as bar_symbols
from .markers import GROUND, INK, QUIET
from .pictures import Picture, maker

BARS_A_LINE = 4
HEAD, BOX, GAP = 40.0, 50.0, 12.0
LEFT = 208.0          # the column of words beside the boxes
SYMBOL, SMALLEST_SYMBOL = 20.0, 10.0
RING = 10.0
_BLOCK_TEXT = 20.0
_LINE = 22.0


def outline_picture(plan: Outline) -> Picture:
    """The plan on a page; `cuts` lie between phrases, so that a long one may break there."""
    phrases: list[str] = []
    y, cuts = HEAD, []
    for phrase, bars in rows(plan):
        if y > HEAD:
            cuts.append(round(y - GAP / 2, 1))
        phrases.append("".join(_phrase(plan, phrase, bars, y)))
        y += _height(plan, phrase) + GAP
    phrases[0] = _heading(plan) + phrases[0]
    for words in filter(None, (beginning_words(plan), ending_words(plan))):
        phrases[-1] += text_at((MARGIN, y + 12), words, 16, INK, bold=True, anchor="start")
        y += _LINE
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


def _heading(plan: Outline) -> str:
    title = f"Outline: {plan.chart.title}" if plan.chart.title else "Outline of a solo"
    about = f"{plan.bars} bars · ♩ = {plan.chart.tempo} · {plan.chart.feel}"
    return (text_at((MARGIN, 22), title, 17, INK, bold=True, anchor="start")
            + text_at((WIDTH - MARGIN, 22), about, 14, QUIET, anchor="end"))


def _box_width() -> float:
    return (WIDTH - MARGIN - LEFT) / BARS_A_LINE


def _lines(phrase: Phrase) -> int:
    return -(-(phrase.last - phrase.first + 1) // BARS_A_LINE)


def _height(plan: Outline, phrase: Phrase) -> float:
    return max(_lines(phrase) * BOX, 46.0) + _BLOCK_TEXT + _under_ring(plan, phrase)


def _under_ring(plan: Outline, phrase: Phrase) -> float:
    """How much lower the words under a phrase stand, so that a ring on its last line leaves them free."""
    last_line = phrase.first + (_lines(phrase) - 1) * BARS_A_LINE
    rings = [moment.bar for moment in (plan.beginning, plan.ending) if moment is not None]
    return RING if any(last_line <= bar <= phrase.last for bar in rings) else 0.0


def _phrase(plan: Outline, phrase: Phrase, bars: tuple[tuple[int, str], ...], y: float) -> list[str]:
    parts = [text_at((MARGIN, y + 13), f"Bars {phrase.first} to {phrase.last}", 13, QUIET, anchor="start"),
             text_at((MARGIN, y + 32), phrase.limit, 16, INK, bold=True, anchor="start"),
             *_signs(phrase, MARGIN, y + 40)]
    width = _box_width()
    before: tuple[Chord, ...] = ()
    for index, (bar, _) in enumerate(bars):
        x, top = LEFT + index % BARS_A_LINE * width, y + index // BARS_A_LINE * BOX
        parts.append(f'<rect x="{x:.1f}" y="{top:.1f}" width="{width:.1f}" height="{BOX:.1f}" fill="none" '
                     f'stroke="{INK}" stroke-width="1.6"/>')
        parts.append(text_at((x + 5, top + 12), str(bar), 10.5, QUIET, anchor="start"))
        chords = plan.chords_in(bar)
        shown = Bar(("%",)) if chords == before else Bar(chords)
        parts += bar_symbols(shown, x + 22, width - 28, top + BOX / 2, SYMBOL, SMALLEST_SYMBOL)
        before = chords
        for moment in (plan.beginning, plan.ending):
            if moment is not None and bar == moment.bar:
                parts += _ring(plan, moment, x, top)
    bottom = y + _lines(phrase) * BOX + _under_ring(plan, phrase)
    parts.append(text_at((LEFT, bottom + 16), LIMITS[phrase.limit], 13, INK, anchor="start"))
    return parts


def _signs(phrase: Phrase, x: float, y: float) -> list[str]:
    """Three steps with the phrase's own filled, and one to three dots, each before its word."""
    level, dots = REGISTERS.index(phrase.register), DENSITIES.index(phrase.density) + 1
    parts = [f'<rect x="{x + 9 * step:.1f}" y="{y + 12 - 4 * (step + 1):.1f}" width="7" height="{4 * (step + 1)}" '
             f'fill="{INK if step == level else GROUND}" stroke="{INK}" stroke-width="1.2"/>' for step in range(3)]
    parts.append(text_at((x + 32, y + 12), phrase.register, 13, INK, anchor="start"))
    after = x + 32 + text_width(phrase.register, 13, bold=False) + 12
    parts += [f'<circle cx="{after + 4 + 9 * dot:.1f}" cy="{y + 8:.1f}" r="3.2" fill="{INK}"/>' for dot in range(dots)]
    parts.append(text_at((after + 6 + 9 * dots, y + 12), phrase.density, 13, INK, anchor="start"))
    return parts


def _ring(plan: Outline, moment: Moment, x: float, y: float) -> list[str]:
    """A ring with the degree at the beat of the first or the last note, on the lower edge of its bar."""
    share = float((moment.beat - 1) / plan.chart.meter.beats)
    cx, cy = x + _box_width() * share + RING + 3, y + BOX
    stroke = 3 if moment == plan.ending else 1.6
    return [f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="{RING}" fill="{GROUND}" stroke="{INK}" stroke-width="{stroke}"/>',
            text_at((cx, cy + 4.5), pretty_accidentals(moment.degree), 12, INK, bold=True),
            line_at(cx, cy - RING, cx, cy - RING - 3)]
