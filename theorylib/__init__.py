"""Music and the neck: spelling, chords, scales, charts, harmony, tunings, fingering, drills, as values and functions.

Standard library only, so that it starts at once; see DEVELOPERS.md for the order in which its modules may import. What
concerns the neck is loaded when it is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .changes.bars import Bar
from .changes.charts import Chart, Event, Section
from .changes.meters import Meter
from .errors import (
    ChartError,
    ChordError,
    DrillError,
    FingeringError,
    LineError,
    NeckError,
    ScaleError,
    SpellingError,
    VampError,
)
from .names.chords import Chord, Tone
from .names.scales import Scale, scales_with
from .names.spelling import Interval, NoteName, Pitch
from .reading.chordscales import avoid_notes, chord_scales, scale_degrees, tensions
from .reading.harmony import Harmony, Reading, guide_tones, harmony, moves
from .reading.numerals import numeral
from .reading.substitutes import substitutes

if TYPE_CHECKING:
    from .names.naming import names_of
    from .necks.grip_leading import led_grips
    from .necks.grips import grips
    from .necks.shapes import target_shapes
    from .necks.tunings import STANDARD, Place, Tuning
    from .playing.fingering import finger
    from .playing.lines import Line, Mark, Note
    from .practice.drills import continuous_arpeggio, tempo_ladder
    from .reading.hearing import readings
    from .reading.uses import common_arpeggios, uses_of

_LATER = {
    "names_of": "names.naming",
    "grips": "necks.grips",
    "led_grips": "necks.grip_leading",
    "target_shapes": "necks.shapes",
    "Place": "necks.tunings",
    "STANDARD": "necks.tunings",
    "Tuning": "necks.tunings",
    "finger": "playing.fingering",
    "Line": "playing.lines",
    "Mark": "playing.lines",
    "Note": "playing.lines",
    "continuous_arpeggio": "practice.drills",
    "tempo_ladder": "practice.drills",
    "readings": "reading.hearing",
    "common_arpeggios": "reading.uses",
    "uses_of": "reading.uses",
}

__all__ = [
    "STANDARD",
    "Bar",
    "Chart",
    "ChartError",
    "Chord",
    "ChordError",
    "DrillError",
    "Event",
    "FingeringError",
    "Harmony",
    "Interval",
    "Line",
    "LineError",
    "Mark",
    "Meter",
    "NeckError",
    "Note",
    "NoteName",
    "Pitch",
    "Place",
    "Reading",
    "Scale",
    "ScaleError",
    "Section",
    "SpellingError",
    "Tone",
    "Tuning",
    "VampError",
    "avoid_notes",
    "chord_scales",
    "common_arpeggios",
    "continuous_arpeggio",
    "finger",
    "grips",
    "guide_tones",
    "harmony",
    "led_grips",
    "moves",
    "names_of",
    "numeral",
    "readings",
    "scale_degrees",
    "scales_with",
    "substitutes",
    "target_shapes",
    "tempo_ladder",
    "tensions",
    "uses_of",
]


def __getattr__(name: str) -> Any:
    """The names of `_LATER`, each from its module; kept once loaded."""
    if name not in _LATER:
        raise AttributeError(f"module “theorylib” has no attribute “{name}”")
    value = getattr(import_module(f".{_LATER[name]}", __name__), name)
    globals()[name] = value
    return value
