"""The neck in a matplotlib Axes, for people who compose their own figures: x in frets, y in strings."""

from __future__ import annotations

from typing import Any

from .markers import INK, INLAY, MARKERS, QUIET, WIRE
from .neck_board import INLAYS, Board, Sizes
from .neck_view import Dot, NeckView

IN_FRETS = Sizes(fret=1.0, open=0.8, gap=1.0)
MARKER_POINTS = 15.0  # half the height of a marker
# matplotlib's own markers for the roles; the same shapes as in the SVG.
_SIGNS = {"root": "s", "third": "o", "fifth": "p", "seventh": "D", "tension": "h", "scale": "o"}


def draw_neck(view: NeckView, ax: Any) -> Any:
    """Draw `view` into `ax` and return it. A note at fret f stands at x = f - 0.5 (open: -0.4), string s at y = s."""
    board = Board(view.first_fret, view.last_fret, view.strings, IN_FRETS)
    _draw_board(view, board, ax)
    for dot in view.dots:
        _draw_dot(dot, board, ax)
    _label_axes(view, board, ax)
    ax.set_title(view.caption)
    return ax


def _x(board: Board, fret: float) -> float:
    return board.from_nut(board.middle(fret))


def _y(board: Board, string: float) -> float:
    return 1 + (string - 1) * board.sizes.gap


def _draw_board(view: NeckView, board: Board, ax: Any) -> None:
    for fret in board.wires:
        x, is_nut = board.from_nut(board.wire(fret)), fret == 0
        ax.plot([x, x], [1, _y(board, view.strings)], color=INK if is_nut else WIRE, linewidth=4 if is_nut else 1.4,
                zorder=1)
    ends = [board.from_nut(board.nut), board.from_nut(board.along)]
    for string in view.tuning.strings:
        y = _y(board, string)
        ax.plot(ends, [y, y], color=QUIET, linewidth=0.8 + 0.25 * (string - 1), zorder=2)
    for fret in board.frets:
        wood = fret + view.tuning.capo  # a capo moves the frets' names, not the dots
        if wood in INLAYS:
            middle = (1 + view.strings) / 2
            rows = (middle - 1, middle + 1) if wood % 12 == 0 else (middle,)
            ax.scatter([_x(board, fret)] * len(rows), [_y(board, row) for row in rows], s=60, color=INLAY, zorder=0)


def _draw_dot(dot: Dot, board: Board, ax: Any) -> None:
    marker, sign = MARKERS[dot.role], _SIGNS[dot.role]
    x, y = _x(board, dot.fret), _y(board, dot.string)
    ax.scatter([x], [y], s=(MARKER_POINTS * marker.size) ** 2 * (0.8 if sign == "D" else 1.2), marker=sign,
               facecolor=marker.fill, edgecolor=marker.stroke, linewidth=1.5, zorder=3)
    ax.text(x, y, dot.label, color=marker.ink, ha="center", va="center", fontsize=8 * marker.text, fontweight="bold",
            zorder=4)


def _label_axes(view: NeckView, board: Board, ax: Any) -> None:
    """Fret numbers under the neck, names of strings beside it, no frame; turned for the left hand."""
    ax.set_xticks([_x(board, fret) for fret in board.frets], [str(fret) for fret in board.frets])
    ax.set_yticks([_y(board, string) for string in view.tuning.strings],
                  [pitch.name.pretty for pitch in view.tuning.open_strings])
    before = board.from_nut(0.0) - (0.1 if view.first_fret == 0 else 0.3)
    after = board.from_nut(board.along) + 0.3
    ax.set_xlim((after, before) if view.turn.left_handed else (before, after))
    ax.set_ylim(view.strings + 0.7, 0.3)
    ax.tick_params(length=0, colors=QUIET)
    for side in ax.spines.values():
        side.set_visible(False)
