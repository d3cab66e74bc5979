"""What a lesson's cells derive from its choices: the chart with its key, the hand's place, which chords to show.

The code that the kit writes calls these, and so do the makers of its words: both say the same of any changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import ceil

from theorylib.changes.bars import only_changes
from theorylib.changes.charts import Chart, as_chart
from theorylib.changes.form import unrolled
from theorylib.changes.meters import Feel
from theorylib.errors import ChartError, NeckError, VampError, as_text, one_of
from theorylib.levels import LEVELS, Level
from theorylib.limits import PER_CHORD
from theorylib.names.chords import Chord, as_chord
from theorylib.names.scales import Scale, as_scale
from theorylib.necks.blues_bends import blues_area
from theorylib.necks.positions import FIRST_POSITION
from theorylib.necks.shapes import Shape, near_fret, target_shapes
from theorylib.necks.tunings import STANDARD, Tuning, as_tuning
from theorylib.playing.fingering import finger, fingering_cost
from theorylib.playing.lines import Line
from theorylib.practice.approaches import approach_targets
from theorylib.practice.changes import aim_at_changes
from theorylib.practice.drills import continuous_arpeggio, counted
from theorylib.practice.landings import landings, steady_scale
from theorylib.practice.sequences import sequence
from theorylib.practice.solo_ends import home_chords
from theorylib.practice.subdivisions import bursts, subdivision_ladder
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.through import guide_tone_line
from theorylib.practice.touch import bend_drill, held_vibrato
from theorylib.reading.harmony import Harmony, Reading, Span, harmony

from . import prose
from .chosen import KINDS, PHRASE, LessonKind
from .door import LessonError
from .lines import can_tap, has_guides

POSITIONS = range(1, 11)  # where a lesson's position is looked for
NEARLY_AS_EASY = Fraction(3, 2)  # times the least effort, for roots under the hand (common practice, no source)
MOST_TURNED = 8           # bars of a form that is judged by two passes
HIGHEST_ROOT = 9          # fret of a first shape's root on the lowest string
BENDS_FROM = 3            # fret from which on strings bend
BENDING = ("blues", "minor blues", "rock")  # styles of phrases that live on bends
MOST_NECKS = 4            # neck diagrams of a lesson, as many as a page holds


# -- the chart -------------------------------------------------------------------------------------------------------
def lesson_chart(changes: Chart | str, *, title: str = "", key: str | None = None, meter: str | None = None,
                 tempo: Fraction | float | str | None = None, feel: Feel | str | None = None) -> Chart:
    """The chart that a lesson's cells work with, made of its choices.

    It is in the key that the changes say if none is given; a title of their own stays.

    >>> str(lesson_chart("| Gm7 | C9 |").key)
    'G dorian'
    """
    title = as_text(title, "title", "a text", ChartError)
    text = str(changes) if isinstance(changes, Chart) else changes
    chart = Chart.parse(text, key=key, meter=meter, tempo=tempo, feel=feel)
    return with_key(replace(chart, title=chart.title or title))


def with_key(chart: Chart) -> Chart:
    """The chart with the keys that its changes say, if it names none: the staff needs a signature."""
    if chart.key is not None or chart.changes_key:
        return chart
    homes = harmony(chart).homes
    found = replace(chart, key=_staff_key(homes[0]))
    if len({home.key for home in homes}) == 1:
        return found
    if not _each_bar_in_one_key(chart, homes):  # a repeat that passes through keys is written out
        chart = unrolled(chart)
    keys = dict(zip(chart.order, _keys_by_bar(chart, homes), strict=True))
    bars = only_changes((replace(bar, key=keys[number]) for number, bar in enumerate(chart.bars)), found.key)
    return replace(found, bars=tuple(bars))


def _keys_by_bar(chart: Chart, homes: Sequence[Span]) -> list[Scale]:
    """The key of each unrolled bar; one that a home enters half-way stays in the key before."""
    begins = {ceil(home.onset_beats / chart.bar_beats): _staff_key(home) for home in homes}
    found = [begins[0]]
    for number in range(1, len(chart.order)):
        found.append(begins.get(number, found[-1]))
    return found


def _each_bar_in_one_key(chart: Chart, homes: Sequence[Span]) -> bool:
    pairs = set(zip(chart.order, _keys_by_bar(chart, homes), strict=True))
    return len(pairs) == len({written for written, _ in pairs})


def _staff_key(home: Span) -> Scale:
    return home.scale if home.scale.family in ("major", "harmonic minor") else home.key


# -- the hand --------------------------------------------------------------------------------------------------------
def best_position(chart: Chart | str, kind: LessonKind = "groove", *, tuning: Tuning | str = STANDARD,
                  per_chord: int = 8, level: Level = "intermediate") -> int:
    """To find where a whole lesson lies well: the position from 1 to 10 that holds every drill.

    The whole arpeggio is played there at little effort. The effort is the fingering's cost but for how high the hand
    stands: that tells places apart, and tires nobody. In the first position open strings sound. Of the positions that
    are nearly as easy as the easiest it is the one nearest the home's root, for a blues or for rock nearest where its
    bends lie. A beginner's is that of the home's pentatonic (`shape_position`), beside the nut where
    its root is the lowest open string of a minor home. Raises the drill's or the fingering's
    own error where there is none.

    >>> best_position(lesson_chart("| Gm7 | C9 |"))
    3
    """
    counted(per_chord, PER_CHORD, "number of notes a chord")
    one_of(kind, (*KINDS, PHRASE), "kind of lesson", LessonError)
    one_of(level, LEVELS, "level", LessonError)
    if level == LEVELS[0] and kind != PHRASE:
        return _first_position(harmony(as_chart(chart)).homes[0].scale, as_tuning(tuning), kind)
    # The hand stands where it stands at any tempo: so it is found once for all of them.
    still = replace(as_chart(chart), tempo=Fraction(100), title="")
    return _best_position(still, kind, as_tuning(tuning), per_chord)


def shape_position(home: Scale | str, tuning: Tuning | str = STANDARD, kind: LessonKind = "groove") -> int:
    """Where a first scale shape lies under one hand: its root on the lowest string, or the next.

    The root is the first finger's in a minor home and the second's in a major one, and no root is looked for above fret
    HIGHEST_ROOT; a kind of lesson that lives on bends goes up to the octave for them, and away from the stiff first
    frets (common practice, no source).

    >>> shape_position("A dorian"), shape_position("E minor"), shape_position("G major")
    (5, 7, 2)
    >>> shape_position("E minor", kind="rock"), shape_position("F blues", kind="blues")
    (12, 8)
    """
    home, tuning = as_scale(home), as_tuning(tuning)
    lowest = max(tuning.strings)
    at = _fret_of(home, tuning) or 12  # an open string is under no finger
    far = not BENDS_FROM <= at <= 12 if kind in BENDING else at > HIGHEST_ROOT
    if far and lowest > 1:
        at = next(fret for fret in range(1, 13) if tuning.midi(lowest - 1, fret) % 12 == home.tonic.pitch_class)
    return max(1, at if home.is_minor else at - 1)


def _first_position(home: Scale, tuning: Tuning, kind: LessonKind) -> int:
    """Where a beginner's shape lies: beside the nut in a minor home on the lowest open string, as in E minor.

    That is the first shape that anybody learns of it, a blues scale too (common practice, no source).
    """
    if home.is_minor and _fret_of(home, tuning) == 0:
        return FIRST_POSITION
    return shape_position(home, tuning, kind)


@lru_cache(maxsize=256)
def _best_position(chart: Chart, kind: LessonKind, tuning: Tuning, per_chord: int) -> int:
    read = harmony(chart)
    home = read.homes[0].scale
    near = shape_position(home, tuning, kind) if kind in BENDING else _fret_of(home, tuning)
    efforts: dict[int, int] = {}
    refused: VampError | None = None
    passes = 2 if chart.form_bars <= MOST_TURNED else 1  # a short form is over before the line has been up and down
    for position in POSITIONS:
        try:
            line = continuous_arpeggio(chart, per_chord, position, tuning=tuning, passes=passes)
            cost = fingering_cost(line, tuning, position)
            efforts[position] = cost.total - cost.height
        except VampError as error:
            refused = error
    least = min(efforts.values(), default=0)

    def wanted(position: int) -> tuple[bool, int, int]:
        easy = efforts[position] <= least * NEARLY_AS_EASY
        away = abs(position - near) if easy else 0
        return not easy, away, efforts[position]

    for position in sorted(efforts, key=wanted):
        try:
            hold(kind, read, position, tuning)
        except VampError as error:
            refused = refused or error
            continue
        return position
    raise refused or LessonError("no position from 1 to 10 holds the drill")


def _fret_of(home: Scale, tuning: Tuning) -> int:
    """The fret of a scale's root on the lowest string, 0 to 11."""
    return next(fret for fret in range(12) if tuning.midi(max(tuning.strings), fret) % 12 == home.tonic.pitch_class)


def hold(kind: LessonKind, read: Harmony, position: int, tuning: Tuning, level: Level = "intermediate") -> None:
    """Raise where a line that a kind of lesson adds to the arpeggio cannot be fingered in a position."""
    for line in (_beginner if level == LEVELS[0] else _LINES[kind])(read, position, tuning):
        finger(line, tuning, line.position)


def _beginner(read: Harmony, position: int, tuning: Tuning) -> Iterator[Line]:
    yield steady_scale(pentatonic(read.homes[0].scale), position, chart=read.chart, tuning=tuning)
    yield landings(read.chart, ("1", "3"), position, tuning=tuning)


def _groove(read: Harmony, position: int, tuning: Tuning) -> Iterator[Line]:
    yield from ()


def _blues(read: Harmony, position: int, tuning: Tuning) -> Iterator[Line]:
    chord, _ = two_chords(read)
    for level in LEVELS[1:]:
        area = bend_area(chord, position, level, tuning)
        if area.bends:
            yield bend_drill(chord, area, tuning=tuning)
    yield aim_at_changes(read.chart, position, tuning=tuning)
    yield approach_targets(read.chart, "both", position, tuning=tuning)


def _rock(read: Harmony, position: int, tuning: Tuning) -> Iterator[Line]:
    home, chart = read.homes[0].scale, read.chart
    yield sequence(home, "groups of 4", position, a_string=3 if len(home.names) > 6 else None, chart=chart,
                   tuning=tuning, length_beats=Fraction(1, 4))
    yield subdivision_ladder(pentatonic(home), position, chart=chart, tuning=tuning)
    yield bursts(pentatonic(home), position, chart=chart, tuning=tuning)


def _modern(read: Harmony, position: int, tuning: Tuning) -> Iterator[Line]:
    if has_guides(read.chart):
        yield guide_tone_line(read.chart, position, tuning=tuning)
    yield held_vibrato(read.chart, "2", "3", position, tuning=tuning)
    if can_tap(read.chart):
        yield tapped_arpeggio(read.chart, position=position, tuning=tuning)


_LINES = {"groove": _groove, "blues": _blues, "rock": _rock, "modern": _modern, PHRASE: _groove}


def as_harmony(read: Harmony | Chart | str) -> Harmony:
    """A reading, or that of some changes."""
    return read if isinstance(read, Harmony) else harmony(read)


# -- chords and scales -----------------------------------------------------------------------------------------------
def chords_to_draw(read: Harmony, most: int = MOST_NECKS) -> list[Reading]:
    """The chords that get a neck diagram: the first, then those whose scale leaves the home, then the others."""
    readings = prose.readings(read)
    ranked = sorted(readings, key=lambda reading: (
        reading is not readings[0], reading.scale.parent == reading.home.parent, readings.index(reading)))
    return [reading for reading in readings if reading in ranked[:most]]


def two_chords(read: Harmony | Chart | str) -> tuple[Chord, Chord]:
    """Which chords to compare first: the first of some changes and the next other one.

    Of a single chord it is itself.

    >>> tuple(map(str, two_chords("| A7 | % | D7 |")))
    ('A7', 'D7')
    """
    read = as_harmony(read)
    sounding = [reading.chord for reading in read.chords if reading.chord.root is not None]
    if not sounding:
        raise LessonError("the changes hold no chord", value=str(read.chart), expected="a chord beside N.C.")
    return sounding[0], next((chord for chord in sounding if chord != sounding[0]), sounding[0])


def target_degrees(chord: Chord | str) -> tuple[str, ...]:
    """Which three degrees to aim at over a chord, and to bend from.

    With a major third they are 1, 9 and 6, else 1, 11 and 5 (common practice, no
    source).

    >>> target_degrees("Am7")
    ('1', '11', '5')
    """
    return ("1", "9", "6") if "3" in as_chord(chord).degrees else ("1", "11", "5")


def target_area(chord: Chord | str, near: int, tuning: Tuning | str = STANDARD) -> Shape:
    """Where to aim over a chord: the area of its target degrees nearest to a fret.

    One from which a note can be bent comes first.

    >>> [(place.string, place.fret, place.degree) for place in target_area("A7", 7).places]
    [(1, 5, '1'), (1, 7, '9'), (2, 7, '6')]
    """
    areas = target_shapes(chord, target_degrees(chord), tuning)
    return near_fret([area for area in areas if area.bends] or areas, near)


def bend_area(chord: Chord | str, near: int, level: Level = "intermediate", tuning: Tuning | str = STANDARD) -> Shape:
    """To choose bends for a level: the classic ones over a chord, nearest to a position.

    Where none lies there, it is its target area.

    >>> [(bend.string, bend.fret, bend.degree) for bend in bend_area("G7", 3, "beginner").bends]
    [(3, 5, '5'), (3, 3, 'b3')]
    """
    one_of(level, LEVELS, "level", NeckError)
    try:
        return blues_area(chord, near, level, tuning=tuning)
    except NeckError:
        return target_area(chord, near, tuning)


def change_area(chord: Chord | str, near: int, tuning: Tuning | str = STANDARD) -> Shape:
    """To aim at what tells a chord: its 3rd and 7th side by side, nearest to a fret.

    Of a power chord it is root and 5th.

    >>> [(place.string, place.fret, place.degree) for place in change_area("A7", 5).places]
    [(4, 5, 'b7'), (5, 4, '3')]
    """
    chord = as_chord(chord)
    return near_fret(target_shapes(chord, chord.guide_degrees or ("1", "5"), tuning), near)


def phrase_style(read: Harmony | Chart | str, kind: LessonKind = "groove") -> str:
    """Which style of phrases suits a kind of lesson; a minor blues has its own.

    >>> phrase_style("| Am7 | Dm7 | Am7 | E7 |", "blues")
    'minor blues'
    """
    one_of(kind, (*KINDS, PHRASE), "kind of lesson", LessonError)
    if kind != "blues":
        return "groove" if kind == PHRASE else kind
    return "minor blues" if any(chord.is_minor for chord in home_chords(as_harmony(read).chart)) else kind


def phrase_position(read: Harmony | Chart | str, kind: LessonKind, hand: int, tuning: Tuning | str = STANDARD,
                    level: Level = LEVELS[-1]) -> int:
    """Where the hand stands for phrases: where the home chord has its bends, else `hand`.

    Only those of a blues or of rock ask for bends. The bends are those that a level knows.

    >>> phrase_position("| A7 | D7 | A7 | E7 |", "blues", 2)
    5
    """
    read = as_harmony(read)
    if phrase_style(read, kind) not in BENDING:
        return hand
    home = home_chords(read.chart)
    chords = [event.chord for event in read.chart.events if event.chord in home]
    bends = bend_area((chords or [two_chords(read)[0]])[0], hand, level, tuning).bends
    return max(1, bends[0].fret - bends[0].finger + 1) if bends else hand


def pentatonic(home: Scale | str) -> Scale:
    """Which five notes carry a student through: the pentatonic that fits a home's chords best.

    It is the minor or the major one (common practice).

    >>> str(pentatonic("A dorian"))
    'A minor pentatonic'
    """
    home = as_scale(home)
    return Scale(home.tonic, "minor pentatonic" if home.is_minor else "major pentatonic")
