"""A style as a value: what drums, bass and comping may play in a bar, by density, and how it is played.

The styles that come with us are text files in `styles/`, written in the form of `style_text.py`; a teacher copies one
and changes it. Rows, pockets, mixes and fills are common practice of these styles, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from theorylib.errors import VampError

# General MIDI percussion keys (GM 1 percussion map); the sweep is the brush swirl of General MIDI 2's brush set.
DRUM_KEYS = {"kick": 36, "snare": 38, "rim": 37, "hat": 42, "open hat": 46, "ride": 51, "crash": 49, "low tom": 45,
             "mid tom": 47, "high tom": 50, "shaker": 82, "pedal hat": 44, "sweep": 40}
SWEEP = "sweep"
LIGHT, MAIN, FULL = "light", "main", "full"
DENSITIES = (LIGHT, MAIN, FULL)
VELOCITIES = {"X": 108, "x": 86, "o": 62, "g": 36, "O": 92}  # of the signs of a drum's row; O is an open hat
BASS_SIGNS = "R835679csaxP-."
COMP_SIGNS = "XxP-."
COMP_VOICES = ("keys", "guitar", "organ", "pad")
STICKS, BRUSHES = KITS = ("sticks", "brushes")
VOICINGS = ("rootless", "plain")  # with the 9th and 13th of the scale, or with the symbol's own notes alone
ENDINGS = ("hit", "held", "slowing")
POCKETS = (*DRUM_KEYS, "bass", "comp")
BUSES = ("drums", "bass", "comp", "click")

Rows = tuple[str, ...]                       # alternatives, the usual one first
Kit = tuple[tuple[str, Rows], ...]           # of each drum its rows
Fill = tuple[tuple[str, str], ...]           # (drum, row) of what sounds together


class StyleError(VampError):
    """A style that cannot be read or used; names the line."""


@dataclass(frozen=True, slots=True)
class Style:
    """One way of playing. Of each density the rows of its parts; `fills` by their length in pulses.

    `steps` are the parts of a pulse; above `thin_above` quarter notes a minute hats leave out every second step.
    `pocket_ms` (late is positive) and `drift_ms` are milliseconds, `mix_db` decibels against the usual mix, `swing` the
    share of the feel's swing that a part takes (1 is all).
    """

    name: str
    steps: int
    drums: Mapping[str, Kit]
    fills: Mapping[int, tuple[Fill, ...]]
    bass: Mapping[str, Rows]
    comp: Mapping[str, Rows]
    kit: str = STICKS
    comp_voice: str = "keys"
    voicing: str = "rootless"
    ending: str = "held"
    thin_above: int = 400
    drift_ms: int = 3
    pocket_ms: Mapping[str, int] = field(default_factory=dict)
    mix_db: Mapping[str, int] = field(default_factory=dict)
    swing: Mapping[str, Fraction] = field(default_factory=dict)
