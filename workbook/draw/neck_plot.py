"""The neck in a matplotlib Axes, for people who compose their own figures: x in frets, y in strings."""

from __future__ import annotations

from typing import Any

from .markers import INK, INLAY, MARKERS, QUIET, WIRE
from .neck_view import INLAYS, NeckView

MARKER_POINTS = 15.0  # half the height of a marker
# matplotlib's own markers for the roles; the same shapes as in the SVG.
_SIGNS = {"root": "s", "third": "o", "fifth": "p", "seventh": "D", "tension": "h", "scale": "o"}


def draw_neck(view: NeckView, ax: Any) -> Any:
    """Draw `view` into `ax` and return it. A note at fret f stands at x = f - 0.5 (open: -0.4), string s at y = s."""
    first, last = max(view.first_fret, 1) - 1, view.last_fret
    for fret in range(first, last + 1):
        ax.plot([fret, fret], [1, view.strings], color=INK if fret == 0 else WIRE, linewidth=4 if fret == 0 else 1.4,
                zorder=1)
    for string in view.tuning.strings:
        ax.plot([first, last], [string, string], color=QUIET, linewidth=0.8 + 0.25 * (string - 1), zorder=2)
    for fret in range(first + 1, last + 1):
        if fret + view.tuning.capo in INLAYS:
            middle = (1 + view.strings) / 2
            rows = (middle - 1, middle + 1) if (fret + view.tuning.capo) % 12 == 0 else (middle,)
            ax.scatter([fret - 0.5] * len(rows), rows, s=60, color=INLAY, zorder=0)
    for dot in view.dots:
        marker = MARKERS[dot.role]
        x = -0.4 if dot.fret == 0 else dot.fret - 0.5
        ax.scatter([x], [dot.string], s=(MARKER_POINTS * marker.size) ** 2 * (0.8 if _SIGNS[dot.role] == "D" else 1.2),
                   marker=_SIGNS[dot.role], facecolor=marker.fill, edgecolor=marker.stroke, linewidth=1.5, zorder=3)
        ax.text(x, dot.string, dot.label, color=marker.ink, ha="center", va="center", fontsize=8 * marker.text,
                fontweight="bold", zorder=4)
    shown = range(first + 1, last + 1)
    ax.set_xticks([fret - 0.5 for fret in shown], [str(fret) for fret in shown])
    ax.set_yticks(list(view.tuning.strings), [pitch.name.pretty for pitch in view.tuning.open_strings])
    low = -0.9 if view.first_fret == 0 else first - 0.3
    ax.set_xlim((last + 0.3, low) if view.left_handed else (low, last + 0.3))
    ax.set_ylim(view.strings + 0.7, 0.3)
    ax.tick_params(length=0, colors=QUIET)
    for side in ax.spines.values():
        side.set_visible(False)
    ax.set_title(view.caption)
    return ax
