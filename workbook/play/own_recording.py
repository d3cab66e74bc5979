"""A teacher's own recording made fit for a page: MP3, which every browser plays, and how loud it is to be played there.

What a file notes of itself (place, device, owner) stays behind, for the sound alone is written anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .levels import LOUDNESS_LUFS, loudness
from .plucked import RATE
from .sound import SoundError, encoded

LONGEST_SECONDS = 1800
EXPECTED = "a recording as WAV, FLAC, OGG or MP3"
_MEASURED_SECONDS = 60   # in the middle, of which loudness is taken
_GAIN = (0.05, 8.0)


@dataclass(frozen=True, slots=True)
class Packed:
    """A recording's `mp3`, as long as `seconds`; `gain` brings it to the loudness of our backing tracks."""

    mp3: bytes
    seconds: float
    gain: float


def packed(path: Path) -> Packed:
    """A recording read, brought to RATE and at most two channels, and encoded; raises SoundError."""
    import numpy as np

    audio = _read(path)
    middle = max(0, len(audio) // 2 - _MEASURED_SECONDS * RATE // 2)
    part = audio[middle:middle + _MEASURED_SECONDS * RATE]
    loud = loudness(part)
    gain = 1.0 if loud == float("-inf") else 10 ** ((LOUDNESS_LUFS - loud) / 20)
    highest = float(np.max(np.abs(audio), initial=1e-3))
    gain = min(gain, 1 / highest)  # nothing is cut off for it
    return Packed(encoded(audio, "mp3"), len(audio) / RATE, round(min(max(gain, _GAIN[0]), _GAIN[1]), 3))


def seconds_of(path: Path) -> float:
    """How long a recording lasts, by its head; raises SoundError."""
    import soundfile

    try:
        return float(soundfile.info(path).duration)
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        raise SoundError(f"{path.name} is no recording that can be read", value=str(path), expected=EXPECTED) from error


def _read(path: Path) -> Any:
    import numpy as np
    import soundfile
    from scipy.signal import resample_poly

    try:
        with soundfile.SoundFile(path) as file:
            rate, channels = file.samplerate, file.channels
            audio = file.read(LONGEST_SECONDS * rate + 1, dtype="float32", always_2d=True)
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        raise SoundError(f"{path.name} is no recording that can be read", value=str(path), expected=EXPECTED) from error
    if not len(audio) or len(audio) > LONGEST_SECONDS * rate:
        raise SoundError(f"{path.name} is empty, or longer than {LONGEST_SECONDS // 60} minutes", value=str(path),
                         expected="one piece at a time")
    audio = np.clip(np.nan_to_num(audio), -1, 1)
    if channels > 2:
        audio = audio.mean(axis=1, keepdims=True, dtype=np.float32)
    if rate != RATE:
        common = int(np.gcd(RATE, rate))
        audio = resample_poly(audio, RATE // common, rate // common, axis=0).astype(np.float32)
    return audio
