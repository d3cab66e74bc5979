"""Pictures: an SVG with its alt text, caption and plain-text twin, shown alike in live, saved and untrusted notebooks.

An untrusted notebook shows an <img> with a data address and its alt text, but no inline SVG: so the bundle carries the
<img> as HTML, the SVG itself (with alt, caption and width in the metadata, for our exporters) and readable text. A
large picture, which would weigh twice, is in the <img> alone (mimes.stored_svg reads both).
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from html import escape
from typing import Any
from urllib.parse import quote

from ..mimes import HTML_MIME, SVG_MIME

_PLAIN = ' "<>=:/;,.()!*@+$-_'  # beside letters and digits, what a data address between ' and ' may hold as it is
ONE_COPY = 250_000  # characters of SVG, from which on a bundle carries it once: some forty bars of eighths


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing on its own white ground: `svg` text, `alt` words, `text` for a terminal, natural width in mm.

    `extra` holds other representations of the same thing by media type (a line's JSON beside its engraving). `maker`
    says which versions of what drew it: another version may draw the same thing with other strokes.
    """

    svg: str
    alt: str
    caption: str = ""
    width_mm: float | None = None
    text: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)
    cuts: tuple[float, ...] = ()  # heights in the SVG's own units at which a page may break
    maker: str = ""
    said: Mapping[str, Any] = field(default_factory=dict)  # what a page may use beside: a neck's legend

    def _repr_mimebundle_(self, include: object = None,
                          exclude: object = None) -> tuple[dict[str, Any], dict[str, Any]]:
        about: dict[str, Any] = {"alt": self.alt, "caption": self.caption, **self.said}
        if self.width_mm is not None:
            about["width_mm"] = self.width_mm
        if self.cuts:
            about["cuts"] = list(self.cuts)
        if self.maker:
            about["maker"] = self.maker
        data = {HTML_MIME: self.image_tag(), "text/plain": self.text or self.alt, **self.extra}
        if not self.is_large:
            data[SVG_MIME] = self.svg
        return data, {SVG_MIME: about}

    @property
    def is_large(self) -> bool:
        return len(self.svg) >= ONE_COPY

    def image_tag(self) -> str:
        """The picture as an <img> that needs no other file; shrinks with the page, never grows beyond its size."""
        if self.is_large:  # as text, which grows by a fiftieth, not by a third
            address = f"'data:{SVG_MIME},{quote(self.svg, safe=_PLAIN)}'"
        else:
            address = f'"data:{SVG_MIME};base64,{base64.b64encode(self.svg.encode()).decode()}"'
        width = "" if self.width_mm is None else f'width="{self.width_mm / 25.4 * 96:.0f}" '
        caption = f"<figcaption>{escape(self.caption)}</figcaption>" if self.caption else ""
        image = f'<img alt="{escape(self.alt)}" {width}style="max-width:100%;height:auto" src={address}>'
        return f"<figure>{image}{caption}</figure>" if caption else image

    def __repr__(self) -> str:
        return self.text or self.alt


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures that one cell shows one after the other, each with words of its own."""

    pictures: tuple[Picture, ...]

    def _ipython_display_(self) -> None:
        from IPython.display import display

        for picture in self.pictures:
            display(picture)

    def __repr__(self) -> str:
        return "\n\n".join(map(repr, self.pictures))


@lru_cache
def maker(*libraries: str) -> str:
    """Who draws here, with versions: these libraries and ourselves ("verovio 6.4.1, vampbook 0.1.0")."""
    from importlib.metadata import PackageNotFoundError, version

    found = []
    for name in (*libraries, "vampbook"):
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:  # run from its folder, never installed
            found.append(name)
    return ", ".join(found)
