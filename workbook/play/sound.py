"""From a backing track and lines to audio: rendered, clicked, levelled and encoded.

Audio is float32, 48 kHz, two channels. With a SoundFont renderer the parts go through their MIDI; without one the numpy
voices play them (`renderer_name` says which). The click is laid in by hand, so that it stands on its sample. Loudness
is ITU-R BS.1770's (pyloudnorm), true peak by eightfold oversampling.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from theorylib.errors import VampError, closest
from theorylib.playing.lines import Line

from .backing_midi import backing_midi, line_sounds
from .instruments import INSTRUMENTS
from .ogg import steady
from .parts import BASS, BUS, CLICK, CLICK_HIGH, COMP, DRUMS, PAD, WEAK_CLICK, Backing
from .plucked import RATE, along, drum, string
from .voices import SAMPLES, our_soundfont

LOUDNESS_LUFS, PEAK_DBFS = -18.0, -1.0
LINE_OVER_DB = 3.0  # of a line over its backing: it is what is listened to (common practice, no source)
TAIL_SECONDS = 2.0
# format: (soundfile's format, subtype, media type)
FORMATS = {"wav": ("WAV", "PCM_16", "audio/wav"), "flac": ("FLAC", "PCM_16", "audio/flac"),
           "ogg": ("OGG", "VORBIS", "audio/ogg"), "mp3": ("MP3", "MPEG_LAYER_III", "audio/mpeg")}
_BLOCK, _MARGIN = 128, 24  # samples looked at together for the true peak, and what the filter needs on either side


class SoundError(VampError):
    """Audio that cannot be rendered or encoded as asked."""


def renderer_name(soundfont: Path | str | None = None) -> str:
    """"SoundFont" where its renderer is there, else "numpy"; a SoundFont that is named must exist."""
    soundfont_path(soundfont)
    return "SoundFont" if importlib.util.find_spec("midirenderer") else "numpy"


def soundfont_path(given: Path | str | None = None) -> Path:
    """The SoundFont named, else the samples of the one that comes with us (voices.py)."""
    if given is None:
        return SAMPLES
    path = Path(given)
    if not path.is_file():
        raise SoundError(f"there is no SoundFont {path}", value=str(path), expected="a file in SF2 form")
    return path


def mixed(track: Backing, lines: Sequence[Line] = (), *, soundfont: Path | str | None = None,
          parts: Sequence[str] | None = None, repeat: bool = True, level: bool = True) -> Any:
    """The whole track as audio, the lines played over it; `parts` makes a stem ("Click" is a part too).

    Levelled to LOUDNESS_LUFS and under PEAK_DBFS unless `level` is false (stems keep their balance then).
    """
    import numpy as np

    count = round((track.seconds + TAIL_SECONDS) * RATE)
    wanted = [part for part in (DRUMS, BASS, COMP, PAD) if track.of(part) and (parts is None or part in parts)]
    audio = np.zeros((count, 2), dtype=np.float32)
    if wanted:
        audio += _played(track, (), wanted, repeat, soundfont, count)
    if lines:
        line = _played(track, lines, (), repeat, soundfont, count)
        audio += line * _line_gain(line, audio)
    if parts is None or CLICK in parts:
        audio += _clicks(track, count)[:, None]
    return levelled(audio) if level else under_full_scale(audio)


def _played(track: Backing, lines: Sequence[Line], parts: Sequence[str], repeat: bool, soundfont: Path | str | None,
            count: int) -> Any:
    """Parts and lines as the renderer of this machine plays them, `count` samples of them."""
    import numpy as np

    if renderer_name(soundfont) != "SoundFont":
        return _by_numbers(track, lines, parts, repeat, count)
    rendered = render_midi(backing_midi(track, lines, parts=parts, repeat=repeat), soundfont)[:count]
    return np.pad(rendered, ((0, count - len(rendered)), (0, 0)))


def _line_gain(line: Any, backing: Any) -> float:
    """By how much a line is turned up or down to lie LINE_OVER_DB over its backing; as it is where there is none."""
    one, other = loudness(line), loudness(backing)
    return 1.0 if float("-inf") in (one, other) else float(10 ** ((other + LINE_OVER_DB - one) / 20))


def under_full_scale(audio: Any) -> Any:
    """The audio turned down as a whole where it would pass full scale: what is written must not be cut off."""
    import numpy as np

    highest = float(np.max(np.abs(audio), initial=0.0))
    return audio if highest <= 1 else audio / highest


def render_midi(midi: bytes, soundfont: Path | str | None = None) -> Any:
    """MIDI bytes through the SoundFont renderer; raises SoundError where there is none."""
    import soundfile

    path = soundfont_path(soundfont)
    if not importlib.util.find_spec("midirenderer"):
        raise SoundError("no SoundFont renderer on this machine", expected="the package midirenderer")
    import midirenderer

    wave = midirenderer.render_wave_from(soundfont_bytes(path), midi)
    audio, rate = soundfile.read(io.BytesIO(wave), dtype="float32", always_2d=True)
    assert rate == RATE
    return audio


@lru_cache(maxsize=2)
def soundfont_bytes(path: Path) -> bytes:
    """A SoundFont's bytes, read once."""
    return our_soundfont() if path == SAMPLES else path.read_bytes()


def levelled(audio: Any, lufs: float = LOUDNESS_LUFS, peak_dbfs: float = PEAK_DBFS) -> Any:
    """The audio at a loudness, turned down where its true peak would pass the limit; silence stays silence."""
    loud = _about_how_loud(audio)
    if loud == float("-inf"):
        return audio
    limit = 10 ** ((peak_dbfs - 0.1) / 20)  # a tenth of a decibel for what oversampling does not see
    gain, ceiling, found = lufs - loud, limit * 0.97, audio
    for _ in range(5):  # what the limiter takes away is given back, until loudness and true peak are both right
        found = limited(audio * 10 ** (gain / 20), ceiling)
        missing, highest = lufs - loudness(found), true_peak(found)
        if abs(missing) < 0.1 and highest <= limit:
            return found
        gain += missing
        ceiling *= min(1.0, limit / highest)
    return found * min(1.0, limit / highest)


def _about_how_loud(audio: Any) -> float:
    """Nearly the loudness, on two cores: the mean power of the two halves, each gated for itself."""
    import math
    from concurrent.futures import ThreadPoolExecutor

    middle = len(audio) // 2
    with ThreadPoolExecutor(2) as pool:
        halves = [one for one in pool.map(loudness, (audio[:middle], audio[middle:])) if one != float("-inf")]
    return 10 * math.log10(sum(10 ** (one / 10) for one in halves) / len(halves)) if halves else loudness(audio)


def limited(audio: Any, limit: float, seconds: float = 0.004) -> Any:
    """The audio with its peaks turned down, smoothly over a few milliseconds around each, so that none passes limit."""
    import numpy as np
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    peaks = _heights(audio)
    if peaks.max(initial=0.0) <= limit:
        return audio
    needed = np.float32(limit) / np.maximum(peaks, np.float32(limit))
    width = 2 * int(seconds * RATE) + 1
    gain = uniform_filter1d(minimum_filter1d(needed, width), width)
    return audio * gain[:, None]


def _heights(audio: Any) -> Any:
    """The higher channel's absolute value at each sample (by columns: numpy is slow along short rows)."""
    import numpy as np

    levels = np.abs(audio)
    return np.maximum.reduce([levels[:, channel] for channel in range(audio.shape[1])])


def loudness(audio: Any) -> float:
    """Integrated loudness in LUFS; minus infinity for silence or less than a measuring block of 0.4 s."""
    import numpy as np
    import pyloudnorm

    if len(audio) < 0.4 * RATE or not audio.any():
        return float("-inf")
    with np.errstate(divide="ignore"):  # a silent stretch within is minus infinity, and gated
        return float(pyloudnorm.Meter(RATE).integrated_loudness(audio))


def true_peak(audio: Any, around: float = 0.75) -> float:
    """The highest absolute value between the samples too: eightfold oversampled where the samples come near the top."""
    import numpy as np
    from scipy.signal import resample_poly

    levels = _heights(audio)
    highest = float(np.max(levels, initial=0.0))
    if not highest:
        return 0.0
    padded = np.pad(audio, ((_MARGIN, _MARGIN + _BLOCK), (0, 0)))
    blocks = np.unique(np.flatnonzero(levels >= around * highest) // _BLOCK)
    windows = blocks[:, None] * _BLOCK + np.arange(_BLOCK + 2 * _MARGIN)
    between = resample_poly(padded[windows], 8, 1, axis=1)
    return max(highest, float(np.max(np.abs(between))))


def encoded(audio: Any, form: str = "mp3") -> bytes:
    """The audio as a file's bytes: "wav", "flac", "ogg" (Vorbis) or "mp3"."""
    import soundfile

    if form not in FORMATS:
        raise SoundError(f"“{form}” is no audio format", value=form, expected=", ".join(FORMATS),
                         nearest=closest(form, FORMATS))
    kind, subtype, _ = FORMATS[form]
    found = io.BytesIO()
    # Written in pieces: the Vorbis encoder overflows its stack on one long write.
    with soundfile.SoundFile(found, "w", RATE, audio.shape[1], subtype, format=kind) as file:
        for start in range(0, len(audio), RATE):
            file.write(audio[start:start + RATE])
    return steady(found.getvalue()) if form == "ogg" else found.getvalue()


def click_sample(strong: bool) -> Any:
    """A short click: a decaying tone, up in a quarter of a millisecond so that no peak hides between samples."""
    import numpy as np

    time = np.arange(int(0.03 * RATE)) / RATE
    rise = np.minimum(1.0, time / 0.00025)
    return (rise * np.cos(2 * np.pi * (1600 if strong else 1100) * time) * np.exp(-time * 180)).astype(np.float32) * (
        1.0 if strong else 0.7)


def _clicks(track: Backing, count: int) -> Any:
    import numpy as np

    audio = np.zeros(count, dtype=np.float32)
    gain = INSTRUMENTS[CLICK].gain * 10 ** (track.style.mix_db.get("click", 0) / 20)
    for hit in track.of(CLICK):
        at = round(track.seconds_at(hit.start_beats) * RATE)
        sample = click_sample(hit.midi == CLICK_HIGH)[:max(0, count - at)]
        group = 1.2 if hit.midi != CLICK_HIGH and hit.velocity > WEAK_CLICK else 1.0
        audio[at:at + len(sample)] += gain * group * sample
    return audio


def _by_numbers(track: Backing, lines: Sequence[Line], parts: Iterable[str], repeat: bool, count: int) -> Any:
    """The parts and lines with the numpy voices."""
    import numpy as np

    audio = np.zeros((count, 2), dtype=np.float32)

    def put(at: float, sample: Any, gain: float, pan: float = 0.0) -> None:
        start = round(at * RATE)
        sample = sample[:max(0, count - start)]
        audio[start:start + len(sample), 0] += sample * gain * (1 - max(0.0, pan))
        audio[start:start + len(sample), 1] += sample * gain * (1 + min(0.0, pan))

    for part in parts:
        for hit in track.of(part):
            at, voice = track.seconds_of(hit), INSTRUMENTS[track.voice(part)]
            gain = voice.gain * (hit.velocity / 127) ** 1.5 * 10 ** (track.style.mix_db.get(BUS[part], 0) / 20)
            if part == DRUMS:
                put(at, drum(hit.midi), gain)
            else:
                seconds = track.seconds_at(hit.start_beats + hit.length_beats) - track.seconds_at(hit.start_beats)
                sample = string(hit.midi, round(seconds + 0.05, 2), voice.by_numbers)
                put(at, sample, gain, 0.3 if part == COMP else 0.0)
    for offset, tempo, sound in line_sounds(track, lines, repeat) if lines else ():
        start = offset - track.count_in_beats + sound.start_beats
        at = track.seconds_at(start)
        seconds = track.seconds_at(start + sound.end_beats - sound.start_beats) - at + 0.04
        sample = string(sound.midi, round(seconds * (1.6 if sound.bent else 1.0), 3), sound.voice)
        if sound.bent:
            steps = np.arange(0, seconds, 0.002)
            cents = [sound.cents_at(sound.start_beats + Fraction(step * tempo / 60).limit_denominator(100_000), tempo)
                     for step in steps]
            times = np.arange(int(seconds * RATE)) / RATE
            sample = along(sample, np.interp(times, steps, cents))
        put(at, sample, INSTRUMENTS[sound.voice].gain * (sound.velocity / 127) ** 1.5, -0.2)
    return audio
