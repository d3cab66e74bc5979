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
    heard = [one for one in notes if one.late_ms is not None]
    right, wrong = [one for one in heard if one.right], [one for one in heard if not one.right]
    missing = [one for one in notes if one.late_ms is None]

    def draw(figure: Any) -> None:
        ax = figure.subplots()
        _bands(ax, bands_ms)
        on_beat = {"markerfacecolor": _ACCENT, "label": "on a beat"}
        between = {"markerfacecolor": "#ffffff", "label": "between beats"}
        for is_on_beat, sign, look in ((True, "o", on_beat), (False, "D", between)):
            here = [one for one in right if one.on_beat is is_on_beat]
            _late(ax, here, sign, markeredgecolor=_ACCENT, markersize=6, **look)
        _late(ax, wrong, "x", color=_INK, markersize=8, markeredgewidth=2, label="another note")
        # Whoever was not heard was neither early nor late: they lie in a row of their own, under all others.
        under_all = min([-30.0, *(one.late_ms or 0.0 for one in heard)]) * 1.15
        ax.plot([one.bar + 1 for one in missing], [under_all] * len(missing), "o", markerfacecolor="none",
                markeredgecolor=_INK, markersize=8, label="missing")
        _axes_of_bars(ax, int(max((one.bar for one in notes), default=0.0)) + 2)
    return _picture(draw, (9.5, 3.4), words, "Timing")


def _bands(ax: Any, bands_ms: tuple[float, float]) -> None:
    """On the beat, and about it what is just noticed and what is worth saying."""
    noticed, worth_saying = bands_ms
    for band, shade in ((worth_saying, "#eeeeee"), (noticed, _PALE)):
        ax.axhspan(-band, band, color=shade, linewidth=0)
    ax.axhline(0, color=_INK, linewidth=0.8)


def _late(ax: Any, notes: Sequence[TimedNote], sign: str, **look: Any) -> None:
    """Each note by its bar, from 1, and how late it was."""
    ax.plot([one.bar + 1 for one in notes], [one.late_ms for one in notes], sign, **look)


def _axes_of_bars(ax: Any, last: int) -> None:
    ax.set_xticks(range(1, last + 1))
    ax.set_xlim(0.8, last)
    ax.set_xlabel("bar")
    ax.set_ylabel("ms: early below, late above")
    ax.legend(loc="upper left", bbox_to_anchor=(0, 1.16), ncols=4, fontsize=9, frameon=False)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def bends_picture(notes: Sequence[BentNote], words: str) -> Picture:
    """Each bent or shaken note: its pitch as a curve over the steps that were written."""
    columns = min(3, len(notes))
    rows = -(-len(notes) // 3)

    def draw(figure: Any) -> None:
        axes = figure.subplots(rows, columns, squeeze=False)
        for ax in axes.flat[len(notes):]:
            ax.set_axis_off()
        for ax, note in zip(axes.flat, notes, strict=False):
            _curve(ax, note)
        axes[0][0].set_ylabel("cents over the fret", fontsize=9)
    return _picture(draw, (9.5, 2.6 * rows), words, "Bends and vibrato (dotted: as written)")


def _curve(ax: Any, note: BentNote) -> None:
    """The pitch of one note over the steps that were written."""
    seconds = [place * note.step_seconds for place in range(len(note.cents))]
    written_seconds, written_cents = zip(*note.written, strict=True)
    ax.plot(written_seconds, written_cents, color=_INK, linewidth=1.2, linestyle=":")
    ax.plot(seconds, note.cents, color=_ACCENT, linewidth=1.8)
    ax.set_title(note.title, fontsize=10)
    ax.set_ylim(-80, max(120.0, *(cents + 80 for cents in written_cents)))
    ax.set_xlabel("s", fontsize=8)
    ax.tick_params(labelsize=8)


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
