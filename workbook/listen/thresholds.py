"""What counts as late, uneven, flat or narrow in a take, and where each number comes from.

`just_noticed` is where listeners begin to notice; `worth_saying` is where a teacher would stop a student: practice has
it some way above. "From memory" means that the figure was not looked up again.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Threshold:
    """`unit` of both numbers; `source` says where the first comes from. The second is a judgement of ours."""

    just_noticed: float
    worth_saying: float
    unit: str
    source: str


_TIMING = ("Friberg and Sundberg, JASA 98 (1995): about 6 ms where onsets are under 240 ms apart, 2.5 % above; "
           "from memory")
_PITCH = ("pitch differences of successive notes are noticed from about 10 cents (psychoacoustics textbooks); "
          "from memory")
_VIBRATO = "players' vibrato lies at 4 to 7 Hz (Seashore 1932 and later); from memory"
_OURS = "common practice, no source"

THRESHOLDS: dict[str, Threshold] = {
    "uneven": Threshold(6, 18, "ms, deviation of the notes", _TIMING),
    "late": Threshold(6, 20, "ms, on the whole", _TIMING),
    "off-beats": Threshold(6, 14, "ms between on-beats and off-beats", _TIMING),
    "drift": Threshold(6, 30, "ms from beginning to end", _TIMING),
    "bar": Threshold(6, 22, "ms, in one bar beside the others", _TIMING),
    "bend": Threshold(10, 15, "cents", _PITCH),
    "vibrato slow": Threshold(4, 4, "Hz", _VIBRATO),
    "vibrato fast": Threshold(7, 7.5, "Hz", _VIBRATO),
    "vibrato narrow": Threshold(10, 15, "cents from lowest to highest", _PITCH),
    "dynamics": Threshold(1, 4.5, "dB, deviation of the notes", "loudness differences are noticed from about 1 dB "
                          "(psychoacoustics textbooks); from memory"),
    "wrong": Threshold(1, 1, "notes", _OURS),
    "missing": Threshold(1, 1, "notes", _OURS),
    "extra": Threshold(1, 3, "notes", _OURS),
}
SLOWER = {"wrong": 0.7, "missing": 0.75, "uneven": 0.8, "off-beats": 0.7, "drift": 0.9, "bar": 0.7, "late": 0.9,
          "bend": 0.7, "vibrato slow": 0.8, "vibrato fast": 0.8, "vibrato narrow": 0.8, "dynamics": 0.8,
          "extra": 0.75}  # share of the tempo at which to practise it; common practice, no source
SLOWEST = 30  # quarter notes a minute to practise at


def practice_tempo(kind: str, tempo: float) -> int:
    """The tempo at which to work on a finding, to the nearest two."""
    return max(SLOWEST, 2 * round(tempo * SLOWER[kind] / 2))
