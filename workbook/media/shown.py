"""A teacher's own picture as a cell shows it, with the words that a handout needs."""

from __future__ import annotations

import os
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

from theorylib.errors import as_text
from theorylib.limits import number_in

from .beside import read_beside
from .kinds import MediaError
from .pictures import SCREEN_DOTS, WIDEST_MM, Fit, fitted

_EXPECTED = "the path of a picture in the lesson's folder, a figure of matplotlib, or a picture's bytes"
_WORDS = "words for who cannot see it, such as alt=\"The thumb rests on the middle of the neck\""


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture made fit, what it shows in words, and the line under it."""

    fit: Fit
    alt: str
    caption: str = ""

    def _repr_mimebundle_(self, include: object = None,
                          exclude: object = None) -> tuple[dict[str, Any], dict[str, Any]]:
        mime = self.fit.mime
        data = self.fit.text if mime == "image/svg+xml" else self.fit.base64
        about = {"alt": self.alt, "caption": self.caption, "width_mm": self.fit.width_mm,
                 "width": round(self.fit.width_mm / 25.4 * SCREEN_DOTS)}
        return {mime: data, "text/plain": self.alt}, {mime: about}

    def __repr__(self) -> str:
        return self.alt


def picture(what: Any, alt: str, caption: str = "", width_mm: float | None = None) -> Shown:
    """To put a photograph, a drawing or a figure of your own into a lesson.

    It is a file beside the lesson ("hand.jpg"), a figure of matplotlib, or a picture's bytes. `alt` says in words what
    it shows; `width_mm` is at most 170 (None: by its own size). A photograph is made as small as print allows, and what
    the camera noted (place, time, device, owner) is left out. Raises MediaError.

    >>> dot = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-10 -5 20 10"><circle r="3"/></svg>'
    >>> picture(dot, alt="A dot where the thumb rests", width_mm=15)
    A dot where the thumb rests
    """
    if not as_text(alt, "description", _WORDS, MediaError).strip():
        raise MediaError("a picture without a description", value=alt, expected=_WORDS)
    as_text(caption, "caption", "a line of words to stand under it", MediaError)
    wide = None if width_mm is None else float(number_in(width_mm, (1, int(WIDEST_MM)), "width in mm"))
    if isinstance(what, bytes):
        data, name = what, "the picture"
    elif isinstance(what, str | os.PathLike):
        name, data = read_beside(Path.cwd(), os.fspath(what))
    elif hasattr(what, "savefig"):
        data, name = _drawn(what), "the figure"
    else:
        raise MediaError(f"{type(what).__name__} is no picture", value=what, expected=_EXPECTED)
    return Shown(fitted(data, name, wide), alt.strip(), caption)


def _drawn(figure: Any) -> bytes:
    """A figure of matplotlib as SVG, the same bytes each time; it is closed, so that the notebook shows it once."""
    from matplotlib import pyplot, rc_context

    found = StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "vampbook"}):
        figure.savefig(found, format="svg", metadata={"Date": None, "Creator": None})
    pyplot.close(figure)
    text = found.getvalue()
    return text[text.index("<svg"):].encode()
