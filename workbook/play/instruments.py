"""The instruments of a track and of a line: General MIDI program, numpy voice and share of the mix, each said once.

The shares are a mix by judgement, for each of the three ways in which sound is made: a MIDI file's channel volume, the
numpy voices, the practice page. The line itself is at full share in the first and the last.
"""

from __future__ import annotations

from dataclasses import dataclass

from .parts import BASS, CLICK, COMP, COMP_VOICE, DRUMS, KIT_VOICE, PAD
from .performance import CLEAN, HARMONICS, MUTED
from .style import BRUSHES


@dataclass(frozen=True, slots=True)
class Instrument:
    """`program` is General MIDI's, from 0 (of drums General MIDI 2's); `by_numbers` a voice of plucked.py ("": drums).

    `volume` is a MIDI channel's (0 to 127), `gain` the numpy mix's and `page_gain` the practice page's share. `pan` (64
    is the middle) and `room`, what it sends to the reverberation, are MIDI's too; by judgement, no source.
    """

    program: int
    by_numbers: str = ""
    volume: int = 127
    gain: float = 0.34
    page_gain: float = 1.0
    pan: int = 64
    room: int = 30


INSTRUMENTS: dict[str, Instrument] = {
    CLEAN: Instrument(27, "clean"), MUTED: Instrument(28, "muted"), HARMONICS: Instrument(31, "harmonics"),
    BASS: Instrument(33, "bass", 104, 0.5, 0.75, room=6), COMP: Instrument(4, "keys", 84, 0.16, 0.32, pan=84, room=36),
    COMP_VOICE["guitar"]: Instrument(27, "clean", 84, 0.16, 0.32, pan=88, room=32),
    COMP_VOICE["organ"]: Instrument(16, "pad", 111, 0.1, 0.56, pan=84, room=40),
    DRUMS: Instrument(0, "", 100, 0.42, 0.55, room=22),
    KIT_VOICE[BRUSHES]: Instrument(40, "", 76, 0.3, 0.28, room=26),
    PAD: Instrument(89, "pad", 64, 0.1, pan=46, room=60),
    CLICK: Instrument(0, "", 70, 0.2, room=0),
}
