"""Messages at their times as the bytes of a MIDI file, a second a beat: for the bands that tests and tables play."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

import mido

TICKS = 10_000  # a second


def timed_midi(events: Iterable[tuple[int, int, Any]]) -> bytes:
    """(tick, rank, message) in any order; of one tick the lower rank comes first."""
    track, now = mido.MidiTrack(), 0
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    for at, _, message in sorted(events, key=lambda one: one[:2]):
        message.time, now = at - now, at
        track.append(message)
    file = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    file.tracks.append(track)
    written = io.BytesIO()
    file.save(file=written)
    return written.getvalue()
