"""Staff and TAB of a line as a picture, with chord symbols, fingers and section labels."""

from __future__ import annotations

from theorylib.playing.lines import Line, as_line

from ..mimes import LINE_MIME
from .engrave import add_overlay, engrave, svg_text
from .mei import mei_of
from .pictures import Picture, maker
from .tab_text import tab_text
from .technique import draw_marks

WIDTH_MM = 180.0  # the text width of an A4 page
LARGE = 1.35      # large print engraves for a narrower page and is then shown at full width


def score(line: Line | str, *, title: str | None = None, staff: bool = True, tab: bool = True, fingers: bool = True,
          slashes: bool | None = None, large_print: bool = False) -> Picture:
    """Engrave a line: notation above TAB (or one of them), chord symbols, fingers, section labels, tempo and feel.

    `title` is set over the first system (None: the line's own). The Picture's `cuts` are heights at which a page may
    break. With `slashes` the strokes are shown alone (None: in a rhythm part). Raises LineError for a rhythm that
    cannot be written; a line without places is engraved without TAB.
    """
    line = as_line(line)
    slashes = line.is_rhythm_part if slashes is None else slashes
    placed = all(note.place is not None for note in line.notes) and not slashes
    width = round(10 * WIDTH_MM / (LARGE if large_print else 1.0))
    head = line.title if title is None else title
    music = mei_of(line, staff=staff or not (tab and placed), tab=tab and placed,
                   fingers=fingers and not slashes, slashes=slashes)
    on_tab = tab and placed
    engraving = engrave(music, line.chart.bar_beats, tab=on_tab, width_units=width, heading=(head, about(line)))
    if on_tab:
        add_overlay(engraving, draw_marks(line, engraving.systems, staff))
    alt = alt_text(line)
    return Picture(svg_text(engraving, alt), alt, "", WIDTH_MM, tab_text(line) if placed else alt,
                   {LINE_MIME: line.to_json()}, engraving.cuts, maker("verovio"))


def about(line: Line) -> str:
    """How a line is played, in a few words: tempo, feel and what the guitar must be set to."""
    return " · ".join(filter(None, (f"♩ = {line.chart.tempo}", line.chart.feel, setting(line))))


def setting(line: Line) -> str:
    """The tuning and the capo that a line asks for; nothing for a guitar as it usually is."""
    tuning = "" if line.tuning.name == "standard" else f"tuning {line.tuning.name}"
    capo = f"capo {line.tuning.capo}" if line.tuning.capo else ""
    return " · ".join(filter(None, (tuning, capo)))


def alt_text(line: Line, limit: int = 600) -> str:
    """The line as a musician would say it: length, chords, then pitch and place of each note; shortened at `limit`."""
    chords = list(dict.fromkeys(event.chord.pretty for event in line.chords()))
    bars = f"{line.bar_count} bar{'' if line.bar_count == 1 else 's'}"
    said = [f"{line.title or 'A line'}: {bars} over {', '.join(chords)}."]
    for note in line.notes:
        place = f" string {note.string} fret {note.fret}" if note.place else ""
        said.append(f"{note.pitch.pretty}{place}")
    text = said[0] + " " + ", ".join(said[1:]) + "."
    text = text.replace("♯", " sharp").replace("♭", " flat")
    return text if len(text) <= limit else text[: limit - 1].rsplit(",", 1)[0] + " …"
