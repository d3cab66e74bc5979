"""The sounds of a lesson's page: each different note once, laid end to end in one FLAC file, mono.

A page plays these samples at any speed without change of pitch, mutes parts and loops to the sample; bends and vibrato
are laid on in the browser. FLAC, since its samples stand where they were put (MP3 shifts them).
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from .backing_midi import PERCUSSION
from .instruments import INSTRUMENTS
from .loops import looped
from .parts import BASS, CLICK, COMP_VOICE, KIT_VOICE
from .plucked import RATE, drum, string
from .sound import render_midi, renderer_name

BANK_RATE = RATE // 2
_TAPS = 24
GAP_SECONDS = 0.02
SLOWEST = 0.3              # of the line's tempo, as the page's player has it: notes last more than three times as long
LONGEST_SECONDS = 1.8      # a note that may last longer than this is held by a loop at its sample's end
# Seconds that a struck sound rings, by General MIDI percussion key; every other one OTHER_DRUM_SECONDS.
_DRUM_SECONDS = {49: 1.8, 57: 1.8, 51: 1.1, 53: 1.1, 59: 1.1, 46: 0.9, 42: 0.25, 44: 0.25, 37: 0.25, 82: 0.2, 70: 0.2}
OTHER_DRUM_SECONDS = 0.6
HATS = (42, 44, 46)        # closed, pedal, open: one stops the other
# The velocities of which there are samples: the line has touch, of the band one or two do, its gain does the rest.
_VELOCITIES = (50, 75, 95, 115)
_OF_THE_BAND = {BASS: (95,), **dict.fromkeys(KIT_VOICE.values(), (55, 100)),
                **dict.fromkeys(COMP_VOICE.values(), (75,))}
_KITS = frozenset(KIT_VOICE.values())


@dataclass(frozen=True, slots=True, order=True)
class Want:
    """A sound that a page needs: a voice (a key of INSTRUMENTS), a MIDI number and a velocity step."""

    voice: str
    midi: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Bank:
    """FLAC bytes, and where each sound lies in them: (start, length) in seconds.

    A sound that may be held longer than it lasts is (start, length, loop's start within it, decibels a second by which
    it fades there): its loop is level and ends where it began.
    """

    flac: bytes
    places: dict[Want, tuple[float, ...]]


def wanted(voice: str, midi: int, velocity: int) -> Want:
    """The sound for a note, its velocity brought to the nearest of a few steps."""
    steps = _OF_THE_BAND.get(voice, _VELOCITIES)
    return Want(voice, midi, min(steps, key=lambda step: (abs(step - velocity), step)))


def sample_seconds(want: Want, seconds: float) -> float:
    """How long a sample must last for a note of so many seconds at full speed; a drum rings as long as it does."""
    if want.voice in _KITS:
        return _DRUM_SECONDS.get(want.midi, OTHER_DRUM_SECONDS)
    return min(LONGEST_SECONDS, seconds / SLOWEST + 0.1)


def bank_of(lengths: dict[Want, float], *, soundfont: Path | str | None = None) -> Bank:
    """Render every wanted sound for its seconds; by the SoundFont renderer where there is one, else by numbers."""
    import numpy as np
    import soundfile

    order = sorted(lengths)
    if renderer_name(soundfont) == "SoundFont":
        samples = _by_soundfont(order, lengths, soundfont)
    else:
        samples = [_by_numbers(one, lengths[one]) for one in order]
    pieces: list[Any] = []
    places: dict[Want, tuple[float, ...]] = {}
    now = 0
    gap = np.zeros(round(GAP_SECONDS * BANK_RATE), dtype=np.float32)
    for one, sample in zip(order, samples, strict=True):
        piece, loop = _down(sample), None
        if one.voice not in _KITS and lengths[one] >= LONGEST_SECONDS:
            piece, loop = looped(piece, one.midi)
        held = () if loop is None else (round(loop.start / BANK_RATE, 6), round(loop.fade_db, 2))
        places[one] = (round(now / BANK_RATE, 6), round(len(piece) / BANK_RATE, 6), *held)
        pieces += [piece, gap]
        now += len(piece) + len(gap)
    audio = np.concatenate(pieces) if pieces else gap
    audio = audio * (0.9 / (float(np.max(np.abs(audio), initial=0.0)) or 1.0))
    found = io.BytesIO()
    soundfile.write(found, audio, BANK_RATE, format="FLAC", subtype="PCM_16")
    return Bank(found.getvalue(), places)


def _by_numbers(one: Want, seconds: float) -> Any:
    if one.voice in _KITS:
        return drum(one.midi)
    return string(one.midi, round(seconds, 2), INSTRUMENTS[one.voice].by_numbers) * (one.velocity / 127) ** 1.5 * 0.5


def _by_soundfont(order: Iterable[Want], lengths: dict[Want, float], soundfont: Path | str | None) -> list[Any]:
    """One render of all sounds in a row, each on its own stretch of time, cut apart again."""
    from mido import Message, MetaMessage

    from .smf import file_bytes
    from .timing import ticks

    second = Fraction(2)  # beats at 120 quarter notes a minute
    events: list[tuple[int, int, Any]] = [(0, -2, MetaMessage("set_tempo", tempo=500_000))]
    spans: list[tuple[float, float]] = []
    pitched = [voice for voice in INSTRUMENTS if voice not in (*_KITS, CLICK)]
    channels = {voice: number for number, voice in enumerate(pitched)}
    for voice, channel in channels.items():
        events.append((0, -1, Message("program_change", channel=channel, program=INSTRUMENTS[voice].program)))
    now = Fraction(0)
    for one in order:
        channel = channels.get(one.voice, PERCUSSION)
        if one.voice in _KITS:
            kit = Message("program_change", channel=channel, program=INSTRUMENTS[one.voice].program)
            events.append((ticks(now * second), 0, kit))
        length = Fraction(lengths[one]).limit_denominator(1000)
        events.append((ticks(now * second), 1, Message("note_on", channel=channel, note=one.midi,
                                                       velocity=one.velocity)))
        events.append((ticks((now + length) * second), 0, Message("note_off", channel=channel, note=one.midi,
                                                                  velocity=0)))
        spans.append((float(now), float(length)))
        now += length + 1  # a second for the release to die away
    audio = render_midi(file_bytes([("Bank", events)]), soundfont)
    return [_faded(_mono(audio[round(start * RATE):round((start + length) * RATE)])) for start, length in spans]


def _mono(audio: Any) -> Any:
    """The middle of both channels; numpy's own mean along so short an axis takes five times as long."""
    return (audio[:, 0] + audio[:, 1]) / 2


def _faded(sample: Any) -> Any:
    import numpy as np

    out = np.array(sample)
    count = min(len(out), int(0.015 * RATE))
    if count:
        out[len(out) - count:] *= np.linspace(1, 0, count)
    return out


def _down(sample: Any) -> Any:
    """From RATE to BANK_RATE, half of it, through a windowed sinc (importing scipy for this would cost a second)."""
    import numpy as np

    place = np.arange(-_TAPS, _TAPS + 1)
    kernel = 0.5 * np.sinc(place / 2) * np.hanning(2 * _TAPS + 3)[1:-1]
    return np.convolve(sample, kernel / kernel.sum(), "same")[::2].astype("float32")
