"""A recording read from its file: one channel at RATE, its loudness, and whatever is wrong with it said in words.

The file is read in pieces, so that memory holds one channel and not the file. Loudness is ITU-R BS.1770-4: K-weighting,
blocks of 0.4 s each 0.1 s, gates at -70 LUFS and 10 LU under the mean of the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np

from theorylib.errors import VampError

RATE = 22_050                      # samples a second of what the analysis works on
SHORTEST_SECONDS, LONGEST_MINUTES = 1.0, 30
MOST_CHANNELS = 32
RATES = (4_000, 400_000)           # samples a second that a file may have
SILENT_DBFS = -70.0                # a peak under it: nothing was recorded
EXPECTED = "a recording as WAV, FLAC, OGG or MP3"
_PIECE_SECONDS = 10
_CLIPPED, _CLIPPED_SHARE = 0.999, 0.001


class ListenError(VampError):
    """A recording that cannot be read, or that holds nothing to hear."""


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """`samples` is float32, one channel at RATE; `channels` and `file_rate` are the file's. `notes` say what is wrong.

    `loudness_lufs` and `peak_dbfs` are those of the file as it is.
    """

    name: str
    samples: Any
    file_rate: int
    channels: int
    loudness_lufs: float
    peak_dbfs: float
    notes: tuple[str, ...] = ()

    @property
    def seconds(self) -> float:
        return len(self.samples) / RATE


def read_recording(path: Path | str) -> Recording:
    """Read a sound file; raises ListenError in one line where it cannot be read or is silent."""
    import soundfile

    path = Path(path)
    if not path.is_file():
        raise ListenError(f"there is no file {path}", value=str(path), expected=EXPECTED)
    try:
        with soundfile.SoundFile(path) as file:
            _check(file, path)
            return _read(file, path)
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        raise ListenError(f"{path.name} is no recording that can be read", value=str(path),
                          expected=EXPECTED) from error


def of_samples(samples: Any, rate: int, name: str = "recording") -> Recording:
    """A recording from numbers: shape (samples,) or (samples, channels)."""
    audio = np.asarray(samples, dtype=np.float32)
    audio = audio[:, None] if audio.ndim == 1 else audio
    gathered = _Gathered(rate, audio.shape[1])
    for start in range(0, len(audio), _PIECE_SECONDS * rate):
        gathered.take(audio[start:start + _PIECE_SECONDS * rate])
    return gathered.done(name, len(audio))


def _check(file: Any, path: Path) -> None:
    if not RATES[0] <= file.samplerate <= RATES[1] or not 1 <= file.channels <= MOST_CHANNELS:
        raise ListenError(f"{path.name} has {file.channels} channels of {file.samplerate} samples a second",
                          value=str(path), expected=f"up to {MOST_CHANNELS} channels, {RATES[0]} to {RATES[1]} samples")
    # A damaged head may claim any length: it is what can be read that counts, and reading stops at the limit.


def _read(file: Any, path: Path) -> Recording:
    import soundfile

    gathered = _Gathered(file.samplerate, file.channels)
    broken = "should be" in file.extra_info  # its head promises another length than the file has
    size, most = _PIECE_SECONDS * file.samplerate, LONGEST_MINUTES * 60 * file.samplerate
    while True:
        try:
            piece = file.read(size, dtype="float32", always_2d=True)
        except (soundfile.LibsndfileError, RuntimeError):
            broken = True  # what came before it can still be heard
            break
        if not len(piece):
            break
        gathered.take(piece)
        if gathered.count > most:
            raise ListenError(f"{path.name} is longer than {LONGEST_MINUTES} minutes", value=str(path),
                              expected="one piece at a time")
    return gathered.done(path.name, gathered.count + 1 if broken else max(int(file.frames), gathered.count))


class _Gathered:
    """Pieces of a file on their way to one channel and one loudness."""

    def __init__(self, rate: int, channels: int) -> None:
        self.rate, self.channels, self.count = rate, channels, 0
        self.mono: list[Any] = []
        self.peak, self.clipped, self.not_numbers = 0.0, 0, 0
        self.loudness = _Loudness(rate, channels)

    def take(self, piece: Any) -> None:
        """`piece` is (samples, channels); it is turned, for a channel that lies in one row is quicker to work on."""
        rows = np.ascontiguousarray(piece.T)
        bad = ~np.isfinite(rows)
        if bad.any():
            self.not_numbers += int(bad.any(axis=0).sum())
            rows = np.where(bad, np.float32(0), rows)
        rows = np.clip(rows, -100, 100)
        heights = np.abs(rows).max(axis=0)
        self.peak = max(self.peak, float(heights.max(initial=0.0)))
        self.clipped += int((heights >= _CLIPPED).sum())
        self.loudness.take(rows)
        self.mono.append(rows.mean(axis=0, dtype=np.float32))
        self.count += len(piece)

    def done(self, name: str, promised: int) -> Recording:
        if self.count < SHORTEST_SECONDS * self.rate:
            raise ListenError(f"{name} holds {self.count / self.rate:.2f} seconds", value=name,
                              expected=f"at least {SHORTEST_SECONDS:g} second of music")
        if self.not_numbers == self.count:
            raise ListenError(f"{name} holds no numbers, only gaps", value=name, expected=EXPECTED)
        peak_dbfs = 20 * float(np.log10(max(self.peak, 1e-9)))
        if peak_dbfs < SILENT_DBFS:
            raise ListenError(f"{name} is silent: its highest peak is {peak_dbfs:.0f} dB", value=name,
                              expected="a recording in which something sounds")
        return Recording(name, _at_rate(np.concatenate(self.mono), self.rate), self.rate, self.channels,
                         self.loudness.integrated(), peak_dbfs, tuple(self._notes(promised)))

    def _notes(self, promised: int) -> list[str]:
        notes = []
        if promised > self.count:
            notes.append(f"The file breaks off after {self.count / self.rate:.1f} s; what comes before was heard.")
        if self.not_numbers:
            notes.append(f"{self.not_numbers} samples are no numbers and were taken for silence.")
        if self.clipped > _CLIPPED_SHARE * self.count:
            notes.append(f"It is overdriven: {100 * self.clipped / self.count:.1f} % of it stands at full scale.")
        return notes


class _Loudness:
    """BS.1770 over pieces; the state of the filters goes along from one to the next."""

    def __init__(self, rate: int, channels: int) -> None:
        from pyloudnorm import IIRfilter

        stages = (IIRfilter(4.0, 1 / np.sqrt(2), 1500.0, rate, "high_shelf"),
                  IIRfilter(0.0, 0.5, 38.0, rate, "high_pass"))
        self.stages = np.array([[*one.b, *one.a] for one in stages])
        self.state = np.zeros((len(stages), channels, 2))
        self.step = max(1, rate // 10)
        self.left = np.zeros((channels, 0))
        self.powers: list[Any] = []

    def take(self, rows: Any) -> None:
        """`rows` is (channels, samples)."""
        from scipy.signal import sosfilt

        weighted, self.state = sosfilt(self.stages, rows, axis=1, zi=self.state)
        joined = np.concatenate([self.left, weighted], axis=1)
        whole = joined.shape[1] // self.step
        parts = joined[:, :whole * self.step].reshape(len(joined), whole, self.step)
        self.powers.append(np.einsum("cws,cws->w", parts, parts) / self.step)
        self.left = joined[:, whole * self.step:]

    def integrated(self) -> float:
        powers = np.concatenate(self.powers)
        if len(powers) < 4:
            return float("-inf")
        blocks = np.convolve(powers, np.full(4, 0.25), "valid")
        loud = blocks[_lufs(blocks) > -70]
        if not len(loud):
            return float("-inf")
        kept = loud[_lufs(loud) > _lufs(loud.mean()) - 10]
        return float(_lufs(kept.mean()))


def _lufs(power: Any) -> Any:
    return -0.691 + 10 * np.log10(np.maximum(power, 1e-12))


def _at_rate(mono: Any, rate: int) -> Any:
    from scipy.signal import resample_poly

    if rate == RATE:
        return mono
    common = gcd(RATE, rate)
    return resample_poly(mono, RATE // common, rate // common).astype(np.float32)
