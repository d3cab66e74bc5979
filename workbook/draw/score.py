"""Staff and TAB of a line as a picture, with chord symbols, fingers and section labels."""

from __future__ import annotations

from theorylib.changes.chart_text import tempo_words
from theorylib.playing.lines import Line, as_line

from ..mimes import LINE_MIME
from .engrave import add_overlay, engrave, svg_text
from .mei import mei_of
from .pictures import Picture, maker
from .spoken import spoken_line, summary
from .tab_text import tab_text
from .technique import draw_marks

WIDTH_MM = 180.0  # the text width of an A4 page
LARGE = 1.35      # large print engraves for a narrower page and is then shown at full width


def score(line: Line | str, *, staff: bool = True, tab: bool = True, fingers: bool = True, slashes: bool | None = None,
          large_print: bool = False) -> Picture:
    """To read a line: notation over TAB with chords and fingers, engraved.

    One of both can be left out; its title, section labels, tempo and feel stand over it. The Picture's `cuts` are
    heights at which a page may break. With `slashes` the strokes are shown alone (None: in a rhythm part). Raises
    LineError for a rhythm that cannot be written; a line without places is engraved without TAB.

    >>> score("q A3 C4 D4 E4").alt[:28]
    'A line: 1 bar over no chord.'
    """
    line = as_line(line)
    slashes = line.is_rhythm_part if slashes is None else slashes
    placed = all(note.place is not None for note in line.notes) and not slashes
    width = round(10 * WIDTH_MM / (LARGE if large_print else 1.0))
    music = mei_of(line, staff=staff or not (tab and placed), tab=tab and placed,
                   fingers=fingers and not slashes, slashes=slashes)
    on_tab = tab and placed
    engraving = engrave(music, line.chart.bar_beats, tab=on_tab, width_units=width, heading=(line.title, about(line)))
    if on_tab:
        add_overlay(engraving, draw_marks(line, engraving.systems, staff))
    alt = spoken_line(line)
    return Picture(svg_text(engraving, summary(line)), alt, "", WIDTH_MM, tab_text(line) if placed else alt,
                   {LINE_MIME: line.to_json()}, engraving.cuts, maker("verovio"))


def about(line: Line) -> str:
    """How a line is played, in a few words: tempo, feel and what the guitar must be set to."""
    tempo = tempo_words(line.chart.tempo, line.chart.meter)
    return " · ".join(filter(None, (tempo, line.chart.feel, setting(line))))


def setting(line: Line) -> str:
    """The tuning and the capo that a line asks for; nothing for a guitar as it usually is."""
    tuning = "" if line.tuning.name == "standard" else f"tuning {line.tuning.name}"
    capo = f"capo {line.tuning.capo}" if line.tuning.capo else ""
    return " · ".join(filter(None, (tuning, capo)))

