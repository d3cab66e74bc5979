"""Music and the neck: spelling, chords, scales, charts, harmony, tunings, fingering, drills, as values and functions.

Standard library only, so that it starts at once; see DEVELOPERS.md for the order in which its modules may import. What
concerns the neck is loaded when it is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .charts import Bar, Chart, Event, Section
from .chords import Chord, Tone
from .chordscales import avoid_notes, chord_scales, scale_degrees, tensions
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
from .harmony import Harmony, Reading, guide_tones, harmony, moves, numeral
from .meters import Meter
from .scales import Scale, scales_with
from .spelling import Interval, NoteName, Pitch
from .substitutes import substitutes

if TYPE_CHECKING:
    from .drills import continuous_arpeggio, tempo_ladder
    from .fingering import finger
    from .hearing import readings
    from .lines import Line, Mark, Note
    from .naming import names_of
    from .neck import STANDARD, Place, Tuning
    from .shapes import target_shapes
    from .uses import common_arpeggios, uses_of

_LATER = {
    "continuous_arpeggio": "drills", "tempo_ladder": "drills", "finger": "fingering", "readings": "hearing", "Line":
    "lines", "Mark": "lines", "Note": "lines", "names_of": "naming", "STANDARD": "neck", "Place": "neck", "Tuning":
    "neck", "target_shapes": "shapes", "common_arpeggios": "uses", "uses_of": "uses",
}

__all__ = [
    "STANDARD", "Bar", "Chart", "ChartError", "Chord", "ChordError", "DrillError", "Event", "FingeringError",
    "Harmony", "Interval", "Line", "LineError", "Mark", "Meter", "NeckError", "Note", "NoteName", "Pitch", "Place",
    "Reading", "Scale", "ScaleError", "Section", "SpellingError", "Tone", "Tuning", "VampError", "avoid_notes",
    "chord_scales", "common_arpeggios", "continuous_arpeggio", "finger", "guide_tones", "harmony", "moves",
    "names_of", "numeral", "readings", "scale_degrees", "scales_with", "substitutes", "target_shapes",
    "tempo_ladder", "tensions", "uses_of",
]


def __getattr__(name: str) -> Any:
    """The names of `_LATER`, each from its module; kept once loaded."""
    if name not in _LATER:
        raise AttributeError(f"module “theorylib” has no attribute “{name}”")
    value = getattr(import_module(f".{_LATER[name]}", __name__), name)
    globals()[name] = value
    return value
