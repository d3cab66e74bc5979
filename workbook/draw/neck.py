"""Neck diagrams: a chord, a scale or a line on the neck, as a picture or in a matplotlib Axes."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from typing import Any

from theorylib.errors import as_text
from theorylib.names.arpeggios import Arpeggio
from theorylib.names.chords import Chord, as_chord
from theorylib.names.scales import Scale
from theorylib.necks.shapes import Shape
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.playing.lines import Line

from ..reader import reader
from .neck_plot import draw_neck
from .neck_svg import neck_picture
from .neck_view import Hearing, Labels, Neck, NeckView, Turn, Window, as_subject, neck_view
from .pictures import Picture


@dataclass(frozen=True, slots=True, repr=False)
class NeckPicture(Picture):
    """A neck drawn, which can be had another way: each method gives the picture anew.

    >>> plot_neck("A dorian").between(5, 8).labelled("names").turned(vertical=True).caption
    'A dorian'
    """

    neck: Neck = field(kw_only=True)

    @classmethod
    def of(cls, neck: Neck) -> NeckPicture:
        """The neck as a picture; raises NeckError."""
        drawn = neck_picture(neck_view(neck))
        return cls(**{one.name: getattr(drawn, one.name) for one in fields(drawn)}, neck=neck)

    @property
    def view(self) -> NeckView:
        """Its marks, in neck coordinates."""
        return neck_view(self.neck)

    def between(self, first: int, last: int) -> NeckPicture:
        """The frets from one to another, both shown."""
        return self._anew(window=replace(self.neck.window, frets=(first, last)))

    def labelled(self, labels: Labels) -> NeckPicture:
        """With degrees, names or (of a line) fingers in its markers."""
        return self._anew(heard=replace(self.neck.heard, labels=labels))

    def bent(self, most: int) -> NeckPicture:
        """Of a target shape, the bends up to so many semitones: 2 without it, 0 for none."""
        return self._anew(heard=replace(self.neck.heard, bends=most))

    def captioned(self, caption: str) -> NeckPicture:
        """With other words under it."""
        return self._anew(caption=as_text(caption, "caption", "a text"))

    def turned(self, *, left_handed: bool | None = None, vertical: bool | None = None,
               large_print: bool | None = None) -> NeckPicture:
        """For the other hand, upright, or large; what is None stays as it is."""
        said = {"left_handed": left_handed, "vertical": vertical, "large_print": large_print}
        changed = {word: value for word, value in said.items() if value is not None}
        return self._anew(turn=replace(self.neck.turn, **changed))

    def on(self, ax: Any) -> Any:
        """Draw it into a matplotlib Axes, and give that back."""
        return draw_neck(self.view, ax)

    def _anew(self, **changed: Any) -> NeckPicture:
        return NeckPicture.of(replace(self.neck, **changed))


def plot_neck(
    what: Chord | Scale | Arpeggio | Line | Shape | str,
    tuning: Tuning | str = STANDARD,
    *,
    over: Chord | str | None = None,
    next_chord: Chord | str | None = None,
    position: int | None = None,
    ax: Any = None,
) -> NeckPicture | Any:
    """To see a chord, a scale or a line on the neck.

    It is a picture; with `ax` it is drawn into that matplotlib Axes instead. A scale `over` a chord shows the chord's
    tones by function and the other notes small. With a `position` only the hand's frets are shown, a stretch only where
    a note has no other place. A target shape `over` its chord shows its bends as arrows to the fret whose pitch they
    reach. `next_chord` adds the way from each chord tone to the nearest tone of the next chord. The picture has
    `.between(5, 9)`, `.labelled("names")`, `.turned(vertical=True)`, `.captioned("…")` and `.bent(1)`, each of which
    draws it anew. Raises NeckError with the nearest choice.

    >>> plot_neck("A dorian", position=5).alt[:60]
    'Guitar neck, A dorian, position 5. string 6: fret 5 A (1), f'
    """
    heard = Hearing(None if over is None else as_chord(over), None if next_chord is None else as_chord(next_chord))
    window, turn = Window(as_tuning(tuning), position), Turn(left_handed=reader().left_handed)
    neck = Neck(as_subject(what), window, heard, turn)
    return NeckPicture.of(neck) if ax is None else draw_neck(neck_view(neck), ax)
