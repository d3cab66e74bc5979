"""The height of an outline as SVG writes it, by its control points."""

from __future__ import annotations


def outline_bounds(outline: str) -> tuple[float, float]:
    """(lowest, highest) y of an SVG path's points; (0, 0) of an empty one.

    >>> outline_bounds("M0 -5 L10 7")
    (-5.0, 7.0)
    """
    from fontTools.pens.boundsPen import ControlBoundsPen
    from fontTools.svgLib.path import parse_path

    pen = ControlBoundsPen(None)
    parse_path(outline, pen)
    return (float(pen.bounds[1]), float(pen.bounds[3])) if pen.bounds else (0.0, 0.0)
