"""What a take is held against: the notes of a line in seconds, as plain numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ExpectedNote:
    """One note to be played. Times in seconds from the line's first beat, `midi` the fretted pitch (C4 is 60).

    `path` holds (second from the onset, cents over `midi`) corners, straight between them, of bends and slides.
    `vibrato_seconds` is when a vibrato begins, from the onset; None where there is none. `bar` from 0, `beat` in
    quarter notes within it. `struck` is false for notes whose onset is soft: hammered, pulled, slid to;
    `pitched` is false for dead notes.
    """

    index: int
    midi: int
    onset_seconds: float
    length_seconds: float
    bar: int
    beat: float
    path: tuple[tuple[float, float], ...] = ()
    vibrato_seconds: float | None = None
    struck: bool = True
    pitched: bool = True

    def cents_at(self, second: float) -> float:
        """Cents above `midi` that the path has at a second from the onset."""
        level = self.path[0][1] if self.path else 0.0
        for (one, low), (two, high) in zip(self.path, self.path[1:], strict=False):
            if one <= second < two:
                return low + (high - low) * (second - one) / (two - one)
            if second >= two:
                level = high
        return level


@dataclass(frozen=True, slots=True)
class Expected:
    """The notes in order of their onsets; `beat_seconds` is a quarter note, `bar_beats` a bar in quarter notes."""

    notes: tuple[ExpectedNote, ...]
    beat_seconds: float
    bar_beats: float
    title: str = ""

    @property
    def seconds(self) -> float:
        return max((one.onset_seconds + one.length_seconds for one in self.notes), default=0.0)
