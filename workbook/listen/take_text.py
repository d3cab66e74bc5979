"""A take as JSON: one entry for each note of the line, and the numbers of the whole."""

from __future__ import annotations

import json
from typing import Any

from theorylib.playing.lines import Line

from .findings import findings, note_name
from .measures import Timing, measured
from .take import NoteHeard, Take


def as_json(take: Take, line: Line, words: list[str], about: dict[str, str]) -> str:
    """`notes` has one entry for each note of the line; a tied note has that of the note it is tied to."""
    heard = {one.expected.index: one for one in take.notes}
    entries, last = [], None
    for index, note in enumerate(line.notes):
        last = heard.get(index, last if last is not None else next(iter(heard.values())))
        entries.append(_note(last, f"{note.pitch}", tied=index not in heard))
    numbers = measured(take)
    written = {
        **about, "file": take.recording.name, "title": line.title, "calibrated": take.calibrated,
        "first_beat_seconds": round(take.offset_seconds, 4), "counts": numbers.counts, "timing": _timing(numbers.whole),
        "by_bar": {str(int(bar) + 1): _timing(one) for bar, one in numbers.by_bar.items()},
        "by_beat": {f"{place + 1:g}": _timing(one) for place, one in numbers.by_place.items()},
        "off_beats_less_on_beats_ms": _rounded(numbers.off_less_on_ms), "drift_ms": _rounded(numbers.drift_ms),
        "loudness_deviation_db": _rounded(numbers.loudness_deviation_db),
        "length_share": _rounded(numbers.length_share, 2),
        "extras_seconds": [round(one, 3) for one in take.extras], "notes": entries, "words": words,
        "findings": [{"kind": one.kind, "bar": one.bar, "words": one.words, "to_do": one.to_do, "tempo": one.tempo}
                     for one in findings(take)],
        "not_judged": list(take.unjudged),
    }
    return json.dumps(written, indent=1, ensure_ascii=False) + "\n"


def _note(one: NoteHeard, written: str, *, tied: bool) -> dict[str, Any]:
    found: dict[str, Any] = {
        "bar": one.expected.bar + 1, "beat": round(one.expected.beat + 1, 4), "pitch": written, "verdict": one.verdict,
        "early_late_ms": None if tied else _rounded(one.early_late_ms),
        "heard": None if one.heard_midi is None else note_name(one.heard_midi),
        "length_seconds": _rounded(one.length_seconds, 3), "loudness_db": _rounded(one.loudness_db),
        "bends": [{"at_seconds": round(bend.at_seconds, 3), "wanted_cents": round(bend.wanted_cents, 1),
                   "level_cents": round(bend.level_cents, 1)} for bend in one.bends],
        "vibrato": None,
    }
    if one.vibrato is not None:
        found["vibrato"] = {"rate_hz": round(one.vibrato.rate_hz, 2), "width_cents": round(one.vibrato.width_cents, 1),
                            "start_seconds": round(one.vibrato.start_seconds, 3)}
    if tied:
        found["tied"] = True
    return found


def _timing(one: Timing) -> dict[str, Any]:
    return {"count": one.count, "mean_ms": _rounded(one.mean_ms), "deviation_ms": _rounded(one.deviation_ms)}


def _rounded(value: float | None, digits: int = 1) -> float | None:
    return None if value is None else round(value, digits)
