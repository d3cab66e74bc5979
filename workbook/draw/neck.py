"""Neck diagrams: a chord, a scale or a line on the neck, as a picture or in a matplotlib Axes."""

from __future__ import annotations

from typing import Any

from theorylib.names.arpeggios import Arpeggio
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.shapes import Shape
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.lines import Line

from ..reader import reader
from .neck_plot import draw_neck
from .neck_svg import neck_picture
from .neck_view import Labels, neck_view
from .pictures import Picture


def plot_neck(
    what: Chord | Scale | Arpeggio | Line | Shape | str,
    tuning: Tuning | str = STANDARD,
    *,
    over: Chord | str | None = None,
    frets: tuple[int, int] | None = None,
    position: int | None = None,
    labels: Labels = "degrees",
    left_handed: bool | None = None,
    vertical: bool = False,
    large_print: bool = False,
    next_chord: Chord | str | None = None,
    bends: int = 2,
    caption: str | None = None,
    ax: Any = None,
) -> Picture | Any:
    """To see a chord, a scale or a line on the neck.

    It is a Picture; with `ax` it is drawn into that matplotlib Axes instead. A scale `over` a chord shows the chord's
    tones by function and the other notes small. With a `position` only the hand's frets are shown, a stretch only where
    a note has no other place. Without one, `frets` is the window, 0 to 15. A target shape `over` its chord shows its
    bends, up to `bends` semitones, as arrows to the fret whose pitch they reach. `next_chord` adds the way from each
    chord tone to the nearest tone of the next chord. `labels` is degrees, names or fingers (a line's); `left_handed`
    None asks workbook.reader. Raises the nearest-choice error for text that is neither.

    >>> plot_neck("A dorian", position=5).alt[:60]
    'Guitar neck, A dorian, position 5. string 6: fret 5 A (1), f'
    """
    lefty = reader().left_handed if left_handed is None else left_handed
    view = neck_view(what, tuning, over=over, frets=frets, position=position, labels=labels, left_handed=lefty,
                     vertical=vertical, large_print=large_print, next_chord=next_chord, bends=bends, caption=caption)
    return neck_picture(view) if ax is None else draw_neck(view, ax)
