"""What the practice page plays: for each engraved line its sounding notes, its backing and its places on the neck.

Times are swung beats from the start of the line; the browser turns them into seconds at the speed the student chooses.
All sounds of the page lie in one bank (play.bank).
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from theorylib.names.spelling import pretty_accidentals
from theorylib.playing.lines import Line

from ..play.backing import BASS, COMP, DRUMS, backing
from ..play.bank import Bank, Want, bank_of, sample_seconds, wanted
from ..play.instruments import INSTRUMENTS
from ..play.performance import VIBRATO_HZ, performance
from ..play.timing import swung
from ..reader import reader

_PARTS = (DRUMS, BASS, COMP)
# Of a hit, by what the page calls its part: 0 is the line.
_NUMBER = {COMP: 1, BASS: 2, DRUMS: 3}


def practice_data(lines: Mapping[int, Line], title: str, *, soundfont: Path | str | None = None,
                  bank: bool = True) -> str:
    """The page's data as JSON text, safe inside a script element; `lines` by the number of their figure.

    Without `bank` it holds no sounds.
    """
    lengths: dict[Want, float] = {}
    made = [(_line(line, lengths), number) for number, line in lines.items()]
    sounds = bank_of(lengths, soundfont=soundfont) if bank else Bank(b"", dict.fromkeys(lengths, (0.0, 0.0)))
    index = {want: place for place, want in enumerate(sorted(sounds.places))}
    data = {
        "title": title, "vibrato_hz": VIBRATO_HZ, "bank": base64.b64encode(sounds.flac).decode(),
        "samples": [list(sounds.places[want]) for want in sorted(sounds.places)],
        "lines": [_with_samples(one, index) | {"figure": number} for one, number in made],
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"), sort_keys=True).replace("<", "\\u003c")


def _line(line: Line, lengths: dict[Want, float]) -> dict[str, Any]:
    chart = line.chart
    seconds = 60 / float(chart.tempo)
    notes = []
    for sound in performance(line):
        want = wanted(sound.voice, sound.midi, sound.velocity)
        _need(lengths, want, float(sound.end_beats - sound.start_beats) * seconds)
        path = [[_number(beat), _number(cents)] for beat, cents in sound.path]
        wave = None if sound.vibrato is None else [_number(sound.vibrato.start_beats), sound.vibrato.width_cents]
        notes.append([_number(sound.start_beats), _number(sound.end_beats), want,
                      round((sound.velocity / 100) ** 0.5, 3), path, wave])
    passes = -(-line.bar_count // max(1, chart.form_bars))
    track = backing(chart, passes=max(1, passes), parts=_PARTS, count_in_bars=0, click=False, ending=False)
    hits = []
    for hit in track.hits:
        if hit.start_beats >= line.length_beats:
            continue
        want = wanted(hit.part, hit.midi, hit.velocity)
        _need(lengths, want, float(hit.length_beats) * seconds)
        gain = INSTRUMENTS[hit.part].page_gain * (1.0 if hit.part != DRUMS else (hit.velocity / 104))
        hits.append([_number(hit.start_beats), _number(hit.start_beats + hit.length_beats), want, round(gain, 3),
                     _NUMBER[hit.part]])
    return {
        "name": line.title or "Line", "tempo": float(chart.tempo), "bar": _number(chart.bar_beats),
        "pulse": _number(chart.meter.pulse_beats), "length": _number(line.length_beats), "notes": notes,
        "backing": hits, "steps": _steps(line), "places": _places(line), "neck": _neck(line),
    }


def _need(lengths: dict[Want, float], want: Want, seconds: float) -> None:
    lengths[want] = max(lengths.get(want, 0.0), sample_seconds(want.voice, seconds))


def _with_samples(made: dict[str, Any], index: Mapping[Want, int]) -> dict[str, Any]:
    for key in ("notes", "backing"):
        made[key] = [[*row[:2], index[row[2]], *row[3:]] for row in made[key]]
    return made


def _steps(line: Line) -> list[list[Any]]:
    """[swung beat, note indexes] of each moment at which a note is written: where the cursor stands."""
    found: dict[Fraction, list[int]] = {}
    for index, note in enumerate(line.notes):
        found.setdefault(swung(note.onset_beats, line.chart), []).append(index)
    return [[_number(beat), indexes] for beat, indexes in sorted(found.items())]


def _places(line: Line) -> list[list[Any] | None]:
    return [None if note.place is None else [note.string, note.fret, pretty_accidentals(note.degree)
                                             or note.pitch.name.pretty] for note in line.notes]


def _neck(line: Line) -> dict[str, Any] | None:
    """The part of the neck that the line uses; None for a line without places."""
    frets = [note.fret for note in line.notes if note.fret is not None]
    if not frets or any(note.place is None for note in line.notes):
        return None
    fretted = [fret for fret in frets if fret] or [1]
    return {"names": [pitch.name.pretty for pitch in line.tuning.open_strings], "open": 0 in frets,
            "left": reader().left_handed, "low": max(1, min(fretted) - 1),
            "high": max(max(fretted) + 1, min(fretted) + 4)}


def _number(value: Fraction) -> float | int:
    return int(value) if value.denominator == 1 else round(float(value), 6)

