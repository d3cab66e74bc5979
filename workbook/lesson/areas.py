"""The areas of the neck that a lesson shows with its scales: one shape to begin with, then what lies within what.

A beginner sees one shape, the pentatonic of the home; who knows that sees how triad, arpeggio, pentatonic and scale
nest in one place. A blues has its blues scale at every level, with the arpeggios of its first chords in the same area.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from theorylib.changes.charts import Chart
from theorylib.errors import one_of
from theorylib.levels import LEVELS, Level
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.areas import Layer, degrees_of, layers
from theorylib.necks.shapes import Shape
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.reading.harmony import Harmony, Reading

from . import prose
from .chosen import KINDS, PHRASE, LessonKind
from .colours import colour_of
from .derived import as_harmony, pentatonic, phrase_position
from .door import LessonError

BLUES = "blues"
PENTATONIC_NOTES = 5
MOST_ARPEGGIOS = 3  # beside the blues scale: what a page of the handout holds


@dataclass(frozen=True, slots=True)
class Area:
    """What is drawn in a position: a scale, chord or shape, the chord that it is heard over, and what it is called."""

    what: Scale | Chord | Shape
    over: Chord | None
    name: str
    position: int

    @property
    def caption(self) -> str:
        return f"{self.name}, position {self.position}"


def area_scale(read: Harmony | Chart | str, kind: LessonKind) -> Scale:
    """Which scale a lesson begins with: the blues scale of a blues, else the home's pentatonic.

    >>> area_scale("| A7 | D7 | A7 | E7 |", "blues").pretty, area_scale("| Gm7 | C9 |", "groove").pretty
    ('A blues', 'G minor pentatonic')
    """
    one_of(kind, (*KINDS, PHRASE), "kind of lesson", LessonError)
    home = as_harmony(read).homes[0].scale
    if BLUES in (kind, home.kind):
        return Scale(home.tonic, BLUES)
    return pentatonic(home)


def areas_of(read: Harmony, kind: LessonKind, level: Level, position: int,
             tuning: Tuning | str = STANDARD) -> tuple[Area, ...]:
    """The areas of a lesson, all in one position, the first scale shape before the others.

    Those of a blues stand where its bends and phrases do; a beginner's first shape is where the hand plays it.
    """
    scale, neck = area_scale(read, kind), as_tuning(tuning)
    position = areas_position(read, kind, level, position, neck)
    first = Area(scale, None, scale.pretty, position)
    if level == LEVELS[0]:
        return (first, *_arpeggios(read, position, 1)) if scale.kind == BLUES else (first,)
    reading = nested_chord(read, level)
    nested = layers(reading.chord, reading.scale, position, neck)
    if scale.kind == BLUES and level == LEVELS[-1]:
        in_scale = (layer for layer in nested if layer.name == "arpeggio" or layer is nested[-1])
        return (first, *_arpeggios(read, position, 1), *(_nested(layer, reading.chord, position) for layer in in_scale))
    if scale.kind == BLUES:
        return (first, *_arpeggios(read, position, MOST_ARPEGGIOS))
    if level != LEVELS[-1]:
        nested = nested[:-1]  # the scale over the chord stands among the chord scales already
    shown = [layer for layer in nested if _says_more(layer, nested) and not _holds_little_else(layer, scale)]
    return (first, *(_nested(layer, reading.chord, position) for layer in shown))


def areas_position(read: Harmony, kind: LessonKind, level: Level, hand: int, tuning: Tuning) -> int:
    """Where the areas of a lesson lie: for a blues with its bends, for all else where the hand stands."""
    return phrase_position(read, kind, hand, tuning, level) if kind == BLUES and level != LEVELS[0] else hand


def nested_chord(read: Harmony, level: Level) -> Reading:
    """The chord whose layers are shown: the first; for the advanced the one that asks for colour most."""
    sounding = [reading for reading in read.chords if reading.chord.root is not None]
    if level == LEVELS[-1]:
        wanted = colour_of(read).chord
        return next(reading for reading in sounding if reading.chord == wanted)
    return sounding[0]


def _says_more(layer: Layer, every: tuple[Layer, ...]) -> bool:
    """A layer with no other notes than the one before it (the arpeggio of a triad) is not drawn twice."""
    before = every[: every.index(layer)]
    return not before or set(before[-1].degrees) != set(layer.degrees)


def _holds_little_else(layer: Layer, scale: Scale) -> bool:
    """The pentatonic of the home, which stands there already, with a 7th of the chord at most."""
    return "pentatonic" in layer.name and set(degrees_of(scale)) <= set(layer.degrees)


def _nested(layer: Layer, chord: Chord, position: int) -> Area:
    name = prose.pretty_words(layer.name)
    if "pentatonic" in layer.name and len(layer.degrees) > PENTATONIC_NOTES:
        name = f"{name} with the chord's own notes"
    if layer.name == "triad" and len(layer.degrees) == 2:
        name = "root and 5th"
    return Area(Shape(layer.places, (), (), ()), chord, f"{name} over {chord.pretty}", position)


def _arpeggios(read: Harmony, position: int, most: int) -> Iterator[Area]:
    """The arpeggios of the first different chords."""
    chords = dict.fromkeys(reading.chord.without_bass() for reading in prose.readings(read))
    for chord in list(chords)[:most]:
        yield Area(chord, chord, f"{chord.pretty} arpeggio", position)
