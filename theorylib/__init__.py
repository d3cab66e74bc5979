"""Music and the neck: spelling, chords, scales, charts, harmony, tunings, fingering, drills, as values and functions.

Standard library only, so that it starts at once; see DEVELOPERS.md for the order in which its modules may import.
"""

from .charts import Bar, Chart, Event, Section
from .chords import Chord, Tone
from .chordscales import avoid_notes, chord_scales, scale_degrees, tensions
from .drills import continuous_arpeggio, tempo_ladder
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
from .fingering import finger
from .harmony import Harmony, Reading, guide_tones, harmony, moves, numeral
from .lines import Line, Mark, Note
from .meters import Meter
from .naming import names_of
from .neck import STANDARD, Place, Tuning
from .readings import readings
from .scales import Scale, scales_with
from .shapes import target_shapes
from .spelling import Interval, NoteName, Pitch
from .substitutes import substitutes
from .uses import common_arpeggios, uses_of

__all__ = [
    "STANDARD", "Bar", "Chart", "ChartError", "Chord", "ChordError", "DrillError", "Event", "FingeringError",
    "Harmony", "Interval", "Line", "LineError", "Mark", "Meter", "NeckError", "Note", "NoteName", "Pitch", "Place",
    "Reading", "Scale", "ScaleError", "Section", "SpellingError", "Tone", "Tuning", "VampError", "avoid_notes",
    "chord_scales", "common_arpeggios", "continuous_arpeggio", "finger", "guide_tones", "harmony", "moves",
    "names_of", "numeral", "readings", "scale_degrees", "scales_with", "substitutes", "target_shapes", "tempo_ladder",
    "tensions", "uses_of",
]
