"""From a backing track and lines to audio: rendered, clicked, levelled and encoded.

Audio is float32, 48 kHz, two channels. With a SoundFont renderer the parts go through their MIDI; without one the numpy
voices play them (`renderer_name` says which). The click is laid in by hand, so that it stands on its sample.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from theorylib.errors import VampError, closest
from theorylib.playing.lines import Line

from .backing_midi import backing_midi, line_sounds
from .drum_map import drum_map
from .instruments import INSTRUMENTS
from .levels import levelled, levelling, loudness, under_full_scale
from .ogg import steady
from .parts import BASS, CLICK, CLICK_HIGH, COMP, DRUMS, PAD, WEAK_CLICK, Backing
from .plucked import RATE, along, drum, string
from .voices import SAMPLES, our_soundfont

LINE_OVER_DB = 3.0  # of a line over its backing: it is what is listened to (common practice, no source)
TAIL_SECONDS = 2.0
FULL_SCALE = 2 ** 15  # of 16-bit samples
# format: (soundfile's format, subtype, media type)
AudioForm = Literal["wav", "flac", "ogg", "mp3"]
FORMATS: dict[AudioForm, tuple[str, str, str]] = {
    "wav": ("WAV", "PCM_16", "audio/wav"), "flac": ("FLAC", "PCM_16", "audio/flac"),
    "ogg": ("OGG", "VORBIS", "audio/ogg"), "mp3": ("MP3", "MPEG_LAYER_III", "audio/mpeg")}


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

    Levelled to LOUDNESS_LUFS and under PEAK_DBFS unless `level` is false. A track that loops ends where it begins: what
    rings on sounds at its start. `stems` makes the files that add up to a mix.
    """
    import numpy as np

    count = _samples(track)
    wanted = [part for part in (DRUMS, BASS, COMP, PAD) if track.of(part) and (parts is None or part in parts)]
    audio = np.zeros((count, 2), dtype=np.float32)
    if wanted:
        audio += _played(track, (), wanted, repeat, soundfont, count)
    if lines:
        line = _played(track, lines, (), repeat, soundfont, count)
        audio += line * _line_gain(line, audio)
    if parts is None or CLICK in parts:
        audio += _clicks(track, count)[:, None]
    audio = _turned_round(track, audio)
    return levelled(audio) if level else under_full_scale(audio)


def stems(track: Backing, parts: Sequence[str], soundfont: Path | str | None = None) -> dict[str, Any]:
    """Each part alone as it is in the mix, and "" the mix itself: the stems add up to it."""
    found = {part: mixed_part(track, part, soundfont) for part in parts}
    whole = sum(found.values())
    gain = levelling(whole)
    scale = 1.0 if gain is None else gain[:, None]
    return {"": whole * scale, **{part: audio * scale for part, audio in found.items()}}


def mixed_part(track: Backing, part: str, soundfont: Path | str | None = None) -> Any:
    """One part as it is rendered, not levelled."""
    import numpy as np

    count = _samples(track)
    if part == CLICK:
        return _turned_round(track, np.repeat(_clicks(track, count)[:, None], 2, axis=1))
    if not track.of(part):
        return _turned_round(track, np.zeros((count, 2), dtype=np.float32))
    return _turned_round(track, _played(track, (), (part,), True, soundfont, count))


def _samples(track: Backing) -> int:
    return round((track.seconds + TAIL_SECONDS) * RATE)


def _turned_round(track: Backing, audio: Any) -> Any:
    """Of a track that loops, what rings after its end laid over its start; others as they are."""
    if not track.loops:
        return audio
    end = round(track.seconds * RATE)
    found, tail = audio[:end].copy(), audio[end:][:end]
    found[:len(tail)] += tail
    return found


def _played(track: Backing, lines: Sequence[Line], parts: Sequence[str], repeat: bool, soundfont: Path | str | None,
            count: int) -> Any:
    """Parts and lines as the renderer of this machine plays them, `count` samples of them."""
    import numpy as np

    if renderer_name(soundfont) != "SoundFont":
        return _by_numbers(track, lines, parts, repeat, count)
    midi = backing_midi(track, lines, parts=parts, repeat=repeat, drum_keys=drum_map(soundfont))
    rendered = render_midi(midi, soundfont)[:count]
    return np.pad(rendered, ((0, count - len(rendered)), (0, 0)))


def _line_gain(line: Any, backing: Any) -> float:
    """By how much a line is turned up or down to lie LINE_OVER_DB over its backing; as it is where there is none."""
    one, other = loudness(line), loudness(backing)
    return 1.0 if float("-inf") in (one, other) else float(10 ** ((other + LINE_OVER_DB - one) / 20))


def render_midi(midi: bytes, soundfont: Path | str | None = None) -> Any:
    """MIDI bytes through the SoundFont renderer; raises SoundError where there is none."""
    import wave

    import numpy as np

    path = soundfont_path(soundfont)
    if not importlib.util.find_spec("midirenderer"):
        raise SoundError("no SoundFont renderer on this machine", expected="the package midirenderer")
    import midirenderer

    rendered = midirenderer.render_wave_from(soundfont_bytes(path), midi)
    with wave.open(io.BytesIO(rendered)) as file:
        assert (file.getframerate(), file.getsampwidth(), file.getnchannels()) == (RATE, 2, 2)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    return samples.reshape(-1, 2) / np.float32(FULL_SCALE)


@lru_cache(maxsize=2)
def soundfont_bytes(path: Path) -> bytes:
    """A SoundFont's bytes, read once."""
    return our_soundfont() if path == SAMPLES else path.read_bytes()


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
    gain = INSTRUMENTS[CLICK].gain * 10 ** (track.mix_db(CLICK) / 20)
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
            gain = voice.gain * (hit.velocity / 127) ** 1.5 * 10 ** (track.mix_db(part) / 20)
            if part == DRUMS:
                put(at, drum(hit.midi), gain)
            else:
                seconds = track.seconds_at(hit.start_beats + hit.length_beats) - track.seconds_at(hit.start_beats)
                sample = string(hit.midi, round(seconds + 0.05, 2), voice.by_numbers)
                put(at, sample, gain, (voice.pan - 64) / 64)
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
