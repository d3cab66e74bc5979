"""A recording at a look: its level with bars and sections, how sure each chord of a pass is, how alike its bars are.

Heights and hatching carry the confidence, not colour. matplotlib is imported when a picture is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from typing import Any

from .pictures import Picture, maker

MOST_BARS = 32   # of a pass, whose chords are named
SURE = 0.8       # a line is drawn there
_INK, _PALE, _ACCENT = "#1a1a1a", "#9a9a9a", "#0b5c94"


@dataclass(frozen=True, slots=True)
class RecordingView:
    """What is drawn. `levels` 0 to 1 over the whole length; times in seconds.

    `bars` holds where each begins and where the last ends, `sections` (name, start, end), `chords` of one pass (bar
    from 0, share of the bar, length in bars, name, confidence), `likeness` a row of 0 to 1 for each bar.
    """

    title: str
    seconds: float
    levels: Sequence[float]
    bars: Sequence[float]
    sections: Sequence[tuple[str, float, float]]
    chords: Sequence[tuple[int, float, float, str, float]]
    likeness: Any
    words: str


def recording_picture(view: RecordingView) -> Picture:
    """The picture as SVG, the same bytes for the same view."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    found = StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "vampbook"}):
        figure = Figure(figsize=(9.5, 7.2), layout="constrained")
        axes = figure.subplot_mosaic([["level", "level"], ["chords", "chords"], ["alike", "words"]],
                                     height_ratios=[1.2, 1.4, 2.6], width_ratios=[1, 1])
        _level(axes["level"], view)
        _chords(axes["chords"], view)
        _alike(axes["alike"], view)
        _words(axes["words"], view)
        figure.savefig(found, format="svg", metadata={"Date": None, "Creator": None})
    svg = found.getvalue()
    return Picture(svg[svg.index("<svg"):], view.words, view.title, 180.0, view.words, maker=maker("matplotlib"))


def _level(ax: Any, view: RecordingView) -> None:
    step = view.seconds / max(1, len(view.levels))
    times = [step * (place + 0.5) for place in range(len(view.levels))]
    ax.fill_between(times, [-one for one in view.levels], view.levels, color=_PALE, linewidth=0)
    every = _every(len(view.bars), 16)
    for number, start in enumerate(view.bars[:-1]):
        strong = number % every == 0
        ax.axvline(start, color=_INK, linewidth=0.9 if strong else 0.25)
        if strong:
            ax.text(start, -1.32, str(number + 1), fontsize=8, ha="center", va="top")
    for name, start, end in view.sections:
        ax.plot([start, end], [1.12, 1.12], color=_ACCENT, linewidth=2.5, solid_capstyle="butt")
        ax.text((start + end) / 2, 1.2, name, fontsize=10, ha="center", va="bottom", color=_ACCENT)
    ax.set_xlim(0, view.seconds)
    ax.set_ylim(-1.3, 1.8)
    ax.set_title(f"{view.title}: level, with the numbers of bars and the sections", fontsize=11, loc="left")
    _bare(ax)


def _chords(ax: Any, view: RecordingView) -> None:
    shown = [one for one in view.chords if one[0] < MOST_BARS]
    last = max((bar + share + length for bar, share, length, _, _ in shown), default=1.0)
    for bar, share, length, name, confidence in shown:
        start, sure = bar + share, confidence >= SURE
        ax.bar(start, confidence, length, align="edge", color="#dfe8f0" if sure else "#ffffff", edgecolor=_INK,
               linewidth=0.8, hatch="" if sure else "////")
        ax.text(start + length / 2, 1.06, name if sure else f"{name} ?", ha="center", va="bottom",
                fontsize=10 if last <= 16 else 7.5, rotation=0 if last <= 8 else 60)
    for bar in range(int(last) + 1):
        ax.axvline(bar, color=_INK, linewidth=1.4, ymax=0.72)
    ax.axhline(SURE, color=_INK, linewidth=0.7, linestyle=":")
    ax.set_xlim(0, last)
    ax.set_ylim(0, 1.4 if last <= 8 else 1.75)
    ax.set_yticks([0, SURE, 1], ["0", "80 %", "100 %"], fontsize=8)
    ax.set_title("One pass: how sure each chord is (hatched: confirm it)", fontsize=11, loc="left")
    ax.set_xticks([])
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def _alike(ax: Any, view: RecordingView) -> None:
    count = len(view.likeness)
    ax.imshow(view.likeness, cmap="Greys", vmin=0, vmax=1, origin="upper", extent=(1, count + 1, count + 1, 1),
              interpolation="nearest")
    ax.set_title("Bars that are alike (dark)", fontsize=11, loc="left")
    ax.tick_params(labelsize=8)


def _words(ax: Any, view: RecordingView) -> None:
    from textwrap import wrap

    rows = [row for line in view.words.split(". ") for row in wrap(line.rstrip(".") + ".", 58)]
    ax.text(0, 1, "\n".join(rows[:22]), fontsize=9.5, va="top", linespacing=1.45)
    ax.set_axis_off()


def _every(count: int, most: int) -> int:
    """Every how many bars a number stands, so that at most about `most` do."""
    return next(step for step in (1, 2, 4, 8, 12, 16, 32, 64, 128, 256, 512) if count / step <= most or step == 512)


def _bare(ax: Any) -> None:
    ax.set_xticks([])
    ax.set_yticks([])
    for side in ax.spines.values():
        side.set_visible(False)
