"""Cleaned pictures look as they did: each as it was stored and as a page holds it, pixel by pixel in Chromium."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from support.music import INVENTED

from workbook.draw.neck import plot_neck
from workbook.draw.score import score
from workbook.handouts.clean import clean_svg

pytestmark = pytest.mark.browser


def stored(picture: Any) -> str:
    return str(picture._repr_mimebundle_()[0]["image/svg+xml"])


def plotted(text: str) -> str:
    """A plot with what matplotlib's SVG has: markers, clips, a picture, hatches, dashes, text as text or as paths."""
    import matplotlib.pyplot as plt

    with plt.rc_context({"svg.fonttype": text, "svg.hashsalt": "a"}):
        figure, (one, two) = plt.subplots(1, 2, figsize=(6, 3))
        one.imshow([[1, 2], [3, 4]])
        one.plot([0, 1], [0, 1], "r--o", alpha=0.5, label="a $x^2$ & b")
        one.legend()
        two.bar([1, 2], [3, 1], hatch="/", edgecolor="k")
        two.set_title("Tension ♯ ♭ <i>")
        two.fill_between([0, 1, 2], [1, 2, 0], color="#0b5c9480")
        found = io.StringIO()
        figure.savefig(found, format="svg")
        plt.close(figure)
    return found.getvalue()


PICTURES: dict[str, Callable[[], str]] = {
    "notation and TAB": lambda: stored(score(INVENTED["eighths"])),
    "notation in swing": lambda: stored(score(INVENTED["swing"])),
    "neck": lambda: stored(plot_neck("G dorian", over="Gm7", position=3)),
    "plot, text as text": lambda: plotted("none"),
    "plot, text as paths": lambda: plotted("path"),
    "gradient, pattern, marker, mask": lambda: """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 30">
        <defs><linearGradient id="a"><stop offset="0" stop-color="red"/><stop offset="1" stop-color="#00f"/>
        </linearGradient><radialGradient id="b" href="#a" cx="0.3"/><pattern id="c" width="4" height="4"
        patternUnits="userSpaceOnUse"><circle r="2"/></pattern><marker id="d" viewBox="0 0 4 4" markerWidth="4"
        markerHeight="4" refX="2" refY="2"><path d="M0 0L4 2L0 4z"/></marker><mask id="e"><rect width="90" height="9"
        fill="white"/></mask><path id="f" d="M50 20h40"/></defs><style>.x, #y {fill: url(#b)} :root {stroke: green}
        </style><rect class="x" width="20" height="20"/><rect id="y" x="22" width="9" height="20" fill="url(#c)"/><rect
        x="33" width="9" height="20" style="fill:url('#c')"/><path d="M45 5h9" marker-end="url(#d)" stroke="black"/>
        <rect x="60" width="9" height="20" mask="url(#e)"/><text font-size="5"><textPath href="#f">turned</textPath>
        </text></svg>""",
}


def test_a_cleaned_picture_looks_the_same(browser: Any) -> None:
    from PIL import Image

    page = browser.new_page(viewport={"width": 900, "height": 700})

    def seen(drawing: str) -> Any:
        page.set_content(f'<!DOCTYPE html><body><div id="f1-1">{drawing}</div>')
        shot = page.screenshot()
        return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(int)

    for name, make in PICTURES.items():
        svg = make()
        plain = re.sub(r"<\?xml.*?\?>|<!DOCTYPE[^>]*>", "", svg, flags=re.DOTALL)
        before, after = seen(plain), seen(clean_svg(svg, "f1-1"))
        assert (before != 255).any(axis=2).mean() > 0.005, f"{name}: nothing is drawn"
        assert (before != after).sum() == 0, name
