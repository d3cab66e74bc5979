"""A take at a look: the engraved line with a mark under each note that asks for one, its timing, its bends.

Shape tells what is meant: a cross is another note, a ring a missing one, a triangle points to where the note lay in
time (left early, right late) or in pitch (down flat, up sharp).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Any

from theorylib.playing.lines import Line

from .engrave import Engraving, add_overlay, engrave, svg_text
from .mei import mei_of
from .parts import overlay_text
from .pictures import Picture, maker
from .score import WIDTH_MM, about
from .technique import draw_marks

SIGNS = {"wrong": "✕", "missing": "○", "early": "◀", "late": "▶", "flat": "▼", "sharp": "▲"}
_SIGN_SIZE, _UNDER = 330.0, 540.0
_INK, _PALE, _ACCENT = "#1a1a1a", "#d9d9d9", "#0b5c94"


@dataclass(frozen=True, slots=True)
class TimedNote:
    """A note of a timing plot: its place in bars (from 0), ms late (None: missing), on a beat or off, right or not."""

    bar: float
    late_ms: float | None
    on_beat: bool
    right: bool


@dataclass(frozen=True, slots=True)
class BentNote:
    """A note's pitch in cents each `step_seconds`, with the (second, cents) corners that were written."""

    title: str
    step_seconds: float
    cents: Sequence[float]
    written: Sequence[tuple[float, float]]


def marked_score(line: Line, marks: Mapping[int, Sequence[str]], words: str) -> Picture:
    """The line engraved, with the SIGNS of `marks` (by the number of the note) under it; `words` is the alt text."""
    placed = all(note.place is not None for note in line.notes)
    music = mei_of(line, staff=True, tab=placed, fingers=False, slashes=False)
    engraving = engrave(music, line.chart.bar_beats, tab=placed, width_units=round(10 * WIDTH_MM),
                        heading=(line.title, about(line)))
    if placed:
        add_overlay(engraving, draw_marks(line, engraving.systems, True))
    add_overlay(engraving, _signs(line, marks, engraving))
    return Picture(svg_text(engraving, words), words, "", WIDTH_MM, words, {}, engraving.cuts, maker("verovio"))


def _signs(line: Line, marks: Mapping[int, Sequence[str]], engraving: Engraving) -> Iterator[tuple[int, Any]]:
    ends = [system.last_beat for system in engraving.systems]
    for index, kinds in sorted(marks.items()):
        note = line.notes[index]
        number = min(bisect_right(ends, note.onset_beats), len(ends) - 1)
        system = engraving.systems[number]
        bottom = system.strings[-1] if system.strings else 0.0
        for row, kind in enumerate(kinds):
            sign = overlay_text(system.x_at(note.onset_beats), bottom + _UNDER + 260 * row, SIGNS[kind], _SIGN_SIZE,
                                bold=True, anchor="middle")
            sign.set("fill", _ACCENT)
            yield number, sign


def timing_picture(notes: Sequence[TimedNote], bands_ms: tuple[float, float], words: str) -> Picture:
    """Early and late by bar; the bands are what is just noticed and what is worth saying."""
    def draw(figure: Any) -> None:
        ax = figure.subplots()
        for band, shade in ((bands_ms[1], "#eeeeee"), (bands_ms[0], _PALE)):
            ax.axhspan(-band, band, color=shade, linewidth=0)
        ax.axhline(0, color=_INK, linewidth=0.8)
        for on_beat, marker, fill in ((True, "o", _ACCENT), (False, "D", "#ffffff")):
            here = [one for one in notes if one.late_ms is not None and one.on_beat is on_beat and one.right]
            ax.plot([one.bar + 1 for one in here], [one.late_ms for one in here], marker, markerfacecolor=fill,
                    markeredgecolor=_ACCENT, markersize=6, label="on a beat" if on_beat else "between beats")
        wrong = [one for one in notes if one.late_ms is not None and not one.right]
        ax.plot([one.bar + 1 for one in wrong], [one.late_ms for one in wrong], "x", color=_INK, markersize=8,
                markeredgewidth=2, label="another note")
        missing = [one.bar + 1 for one in notes if one.late_ms is None]
        low = min([-30.0, *(one.late_ms for one in notes if one.late_ms is not None)]) * 1.15
        ax.plot(missing, [low] * len(missing), "o", markerfacecolor="none", markeredgecolor=_INK, markersize=8,
                label="missing")
        last = int(max((one.bar for one in notes), default=0.0)) + 2
        ax.set_xticks(range(1, last + 1))
        ax.set_xlim(0.8, last)
        ax.set_xlabel("bar")
        ax.set_ylabel("ms: early below, late above")
        ax.legend(loc="upper left", bbox_to_anchor=(0, 1.16), ncols=4, fontsize=9, frameon=False)
        for side in ("top", "right"):
            ax.spines[side].set_visible(False)
    return _picture(draw, (9.5, 3.4), words, "Timing")


def bends_picture(notes: Sequence[BentNote], words: str) -> Picture:
    """Each bent or shaken note: its pitch as a curve over the steps that were written."""
    def draw(figure: Any) -> None:
        rows = -(-len(notes) // 3)
        axes = figure.subplots(rows, min(3, len(notes)), squeeze=False)
        for ax in axes.flat[len(notes):]:
            ax.set_axis_off()
        for ax, note in zip(axes.flat, notes, strict=False):
            times = [place * note.step_seconds for place in range(len(note.cents))]
            ax.plot([second for second, _ in note.written], [cents for _, cents in note.written], color=_INK,
                    linewidth=1.2, linestyle=":")
            ax.plot(times, note.cents, color=_ACCENT, linewidth=1.8)
            ax.set_title(note.title, fontsize=10)
            ax.set_ylim(-80, max(120.0, *(cents + 80 for _, cents in note.written)))
            ax.set_xlabel("s", fontsize=8)
            ax.tick_params(labelsize=8)
        axes[0][0].set_ylabel("cents over the fret", fontsize=9)
    return _picture(draw, (9.5, 2.6 * -(-len(notes) // 3)), words, "Bends and vibrato (dotted: as written)")


def _picture(draw: Any, size: tuple[float, float], words: str, caption: str) -> Picture:
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    found = StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "vampbook"}):
        figure = Figure(figsize=size, layout="constrained")
        draw(figure)
        figure.savefig(found, format="svg", metadata={"Date": None, "Creator": None})
    svg = found.getvalue()
    return Picture(svg[svg.index("<svg"):], words, caption, WIDTH_MM, words, maker=maker("matplotlib"))
