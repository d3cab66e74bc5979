"""The parts of a track and what they play: hits, and the whole backing as a value.

Times are beats of the chart's quarter note, swung, from the first beat after count-in and intro; a hit's `late_ms` is
how far behind it the player is (before it, where below 0).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from theorylib.changes.charts import Chart
from theorylib.errors import VampError

from .arrangement import Arrangement
from .ladder import Tempos, seconds_between
from .style import BRUSHES, STICKS, Style

DRUMS, BASS, COMP, PAD, CLICK = "Drums", "Bass", "Comping", "Pad", "Click"
PARTS = (DRUMS, BASS, COMP, PAD)
CLICK_HIGH, CLICK_LOW = 76, 77   # GM percussion: high and low wood block
STRONG_CLICK, GROUP_CLICK, WEAK_CLICK = 110, 94, 84   # velocities


class BackingError(VampError):
    """A backing track that cannot be made as asked."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One note of a part. Drums and click use General MIDI percussion keys."""

    part: str
    start_beats: Fraction
    length_beats: Fraction
    midi: int
    velocity: int
    late_ms: int = 0


@dataclass(frozen=True, slots=True)
class Backing:
    """A whole track. `tempos` are (beat, quarter notes a minute): one, or more where a ladder rises or an ending slows.

    `style` is that of the whole, `players` of each part its own. `count_in_beats` come before beat 0, the intro's among
    them; `length_beats` runs to the end of the last bar, the ending's included. `loops` says that its end leads back to
    its start.
    """

    chart: Chart
    passes: int
    hits: tuple[Hit, ...]
    tempos: Tempos
    count_in_beats: Fraction
    length_beats: Fraction
    plan: Arrangement = field(repr=False)
    style: Style = field(repr=False)
    players: Mapping[str, Style] = field(default_factory=dict, repr=False)
    groups: tuple[int, ...] = ()
    loops: bool = False

    def of(self, part: str) -> tuple[Hit, ...]:
        return tuple(hit for hit in self.hits if hit.part == part)

    def seconds_at(self, beat: Fraction | float) -> float:
        """Seconds from the start of the count-in to a beat."""
        return seconds_between(self.tempos, -self.count_in_beats, beat)

    def seconds_of(self, hit: Hit) -> float:
        """Seconds from the start of the count-in to where a hit sounds; never before it."""
        return max(0.0, self.seconds_at(hit.start_beats) + hit.late_ms / 1000)

    @property
    def seconds(self) -> float:
        return self.seconds_at(self.length_beats)

    def voice(self, part: str) -> str:
        """The instrument of a part, as INSTRUMENTS names it."""
        style = self._style_of(part)
        if part == COMP:
            return COMP_VOICE[style.comp_voice]
        return KIT_VOICE[style.kit] if part == DRUMS else part

    def mix_db(self, part: str) -> int:
        """By how much its style has a part louder than usual, in decibels."""
        return self._style_of(part).mix_db.get(BUS[part], 0)

    @property
    def heard(self) -> str:
        """All that its sound follows from, as text: two tracks of the same text sound alike."""
        voices = [(part, self.voice(part), self.mix_db(part)) for part in (*PARTS, CLICK)]
        return repr((self.hits, self.tempos, self.count_in_beats, self.length_beats, self.loops, voices))

    def _style_of(self, part: str) -> Style:
        return self.players.get(part, self.style)


# Of each part the word by which a style's mix names it.
BUS = {DRUMS: "drums", BASS: "bass", COMP: "comp", PAD: "comp", CLICK: "click"}
COMP_VOICE = {"keys": COMP, "guitar": "Comping guitar", "organ": "Comping organ", "pad": PAD}
KIT_VOICE = {STICKS: DRUMS, BRUSHES: "Brushed drums"}
