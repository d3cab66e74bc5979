"""What was heard, as a chart's text with its unsure places in comments, as JSON, and in a few lines."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from ..media.grid_text import bars_text
from .changes import HeardChord
from .hearing import Heard, HeardSection
from .wishes import FIRST_BAR, UNSURE


def chart_text(heard: Heard, *, bars: bool = False, unsure: Sequence[int] | None = None) -> str:
    """A chart that reads back; `# ? bar N` names each bar to be confirmed, until its line is deleted.

    With `bars` it says where every bar of the recording begins, too; `unsure` are other bars than those that were heard
    so.
    """
    asked = heard.unsure_bars if unsure is None else unsure
    recording, grid = heard.recording, heard.grid
    lines = [(f"# heard in {' '.join(recording.name.split())}: {clock(recording.seconds)}, "
             f"{recording.loudness_lufs:.1f} LUFS, tuned {heard.tuning_cents:+.0f} cents from A = 440 Hz"),
             f"{FIRST_BAR} {heard.first_bar_seconds:.3f} s",
             _rivals("# tempo", f"{grid.tempo:.1f}", [f"{one:.1f}" for one in grid.rivals]),
             _rivals("# meter", str(grid.meter), [str(one) for one in grid.meter_rivals[:2]]),
             _rivals("# key", *_keys(heard))]
    passes = grid.bar_count / heard.chart.form_bars
    if heard.changes.cycle and passes > 1:
        lines.append(f"# {heard.chart.form_bars} bars, played {passes:.3g} times")
    lines += [f"# note: {note}" for note in heard.notes]
    if asked:
        lines.append("# Bars with ? are to be confirmed: put in the chord that is right and delete the bar's line.")
    lines += [f"{UNSURE} {bar + 1}: {_doubt(heard, bar)}" for bar in asked]
    stated = bars_text([float(edge) for edge in heard.grid.bar_edges]) if bars else ""
    return "\n".join([*lines, str(heard.chart)]) + "\n" + stated


def as_json(heard: Heard) -> str:
    """Everything heard, for a machine; seconds from the beginning of the file."""
    grid, recording = heard.grid, heard.recording
    written = {
        "file": recording.name, "seconds": round(recording.seconds, 3),
        "tempo": round(grid.tempo, 2), "tempo_rivals": [round(one, 2) for one in grid.rivals],
        "meter": str(grid.meter), "meter_rivals": [str(one) for one in grid.meter_rivals],
        "first_bar_seconds": round(heard.first_bar_seconds, 4),
        "beats_seconds": _rounded(grid.beats), "downbeats_seconds": _rounded(grid.downbeats),
        "key": _keys(heard)[0], "key_rivals": _keys(heard)[1], "cycle_bars": heard.changes.cycle,
        "sections": [_section(one) for one in heard.sections], "chords": [_chord(one) for one in heard.chords],
        "tuning_cents": round(heard.tuning_cents, 1), "loudness_lufs": _finite(recording.loudness_lufs),
        "peak_dbfs": round(recording.peak_dbfs, 1), "chart": chart_text(heard), "notes": list(heard.notes),
    }
    return json.dumps(written, indent=1, ensure_ascii=False) + "\n"


def summary(heard: Heard) -> list[str]:
    """A few lines for the terminal."""
    grid = heard.grid
    key, rivals = _keys(heard)
    asked = len(heard.unsure_bars)
    return [_rivals("tempo", f"{grid.tempo:.1f}", [f"{one:.1f}" for one in grid.rivals]),
            _rivals("meter", str(grid.meter), [str(one) for one in grid.meter_rivals[:2]]) +
            f"   first bar at {heard.first_bar_seconds:.2f} s   {grid.bar_count} bars",
            _rivals("key", key, rivals),
            f"loudness {heard.recording.loudness_lufs:.1f} LUFS   tuning {heard.tuning_cents:+.0f} cents",
            *(f"note: {note}" for note in heard.notes),
            "every bar of the chart is sure" if not asked else
            f"{asked} bar{'' if asked == 1 else 's'} of {heard.chart.form_bars} to be confirmed (? in the chart)"]


def clock(seconds: float) -> str:
    """Minutes and seconds: 3:07."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _keys(heard: Heard) -> tuple[str, list[str]]:
    named = [str(key) for key in heard.keys]
    return (named[0], named[1:]) if named else ("", [])


def _rivals(word: str, first: str, rivals: list[str]) -> str:
    return f"{word} {first or 'not found'}" + (f"; or {', '.join(rivals)}" if rivals else "")


def _doubt(heard: Heard, bar: int) -> str:
    inside = [one for one in heard.chords if one.bar == bar]
    return "; ".join(f"{one.chord} ({100 * one.confidence:.0f} %), or {' or '.join(map(str, one.rivals))}"
                     for one in inside)


def _rounded(times: Any) -> list[float]:
    return [round(float(one), 4) for one in times]


def _finite(value: float) -> float | None:
    return round(value, 1) if value > float("-inf") else None


def _section(one: HeardSection) -> dict[str, Any]:
    return {"name": one.name, "first_bar": one.first_bar + 1, "bars": one.bars,
            "start_seconds": round(one.start_seconds, 4), "end_seconds": round(one.end_seconds, 4)}


def _chord(one: HeardChord) -> dict[str, Any]:
    return {"start_seconds": round(one.start_seconds, 4), "end_seconds": round(one.end_seconds, 4), "bar": one.bar + 1,
            "chord": str(one.chord), "rivals": [str(rival) for rival in one.rivals],
            "confidence": round(one.confidence, 3), "given": one.given}
