"""The necks of a lesson: its chords over their scales, its substitute arpeggios, its areas."""

from __future__ import annotations

from theorylib.changes.charts import Chart
from theorylib.errors import NeckError, one_of, shown
from theorylib.levels import LEVELS, Level
from theorylib.limits import is_whole
from theorylib.necks.shapes import Shape
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.reading.harmony import Harmony

from ..draw.neck import plot_neck
from ..draw.pictures import Pictures
from ..lesson.areas import areas_of
from ..lesson.chosen import KINDS, PHRASE, LessonKind
from ..lesson.colours import colour_of
from ..lesson.derived import MOST_NECKS, as_harmony, chords_to_draw
from .telling import MOST_COLOURS


def necks(read: Harmony | Chart | str, position: int | None, *, tuning: Tuning | str = STANDARD,
          most: int = MOST_NECKS) -> Pictures:
    """To show a lesson's chords on the neck in one position, each over its scale.

    Chords whose scale leaves the home come before others.

    >>> len(necks("| Dm7 | G7 | Cmaj7 |", 5).pictures)
    3
    """
    if not is_whole(most, 1, MOST_COLOURS):
        raise NeckError(f"{shown(most)} neck diagrams", value=most, expected=f"1 to {MOST_COLOURS}")
    read = as_harmony(read)
    return Pictures(tuple(plot_neck(reading.scale, over=reading.chord, position=position, tuning=tuning)
                          for reading in chords_to_draw(read, most)))


def colour_necks(read: Harmony | Chart | str, position: int | None, *, tuning: Tuning | str = STANDARD,
                 most: int = 2) -> Pictures:
    """To show where the best substitute arpeggios lie over the chord that asks for one most.

    >>> [picture.caption for picture in colour_necks("| Dm7 | G7 | Cmaj7 |", 5).pictures]
    ['Bø7 over G7, position 5', 'Fmaj7♭5 over G7, position 5']
    """
    if not is_whole(most, 1, MOST_COLOURS):
        raise NeckError(f"{shown(most)} neck diagrams", value=most, expected=f"1 to {MOST_COLOURS}")
    colour = colour_of(read)
    return Pictures(tuple(plot_neck(one.arpeggio, tuning, over=colour.chord, position=position)
                          for one in colour.found[:most]))


def areas(read: Harmony | Chart | str, position: int, kind: LessonKind = "groove", level: Level = "intermediate", *,
          tuning: Tuning | str = STANDARD) -> Pictures:
    """To show which shapes of a lesson share one position: its scale, then what lies within what.

    >>> [picture.caption for picture in areas("| A7 | D7 | A7 | E7 |", 5, "blues", "beginner").pictures]
    ['A blues, position 5', 'A7 arpeggio, position 5']
    """
    found = areas_of(as_harmony(read), one_of(kind, (*KINDS, PHRASE), "kind of lesson", NeckError),
                     one_of(level, LEVELS, "level", NeckError), position, as_tuning(tuning))
    return Pictures(tuple(
        plot_neck(one.what, tuning, over=one.over, position=None if isinstance(one.what, Shape) else one.position)
        .captioned(one.caption) for one in found))
