"""Drills that lead through changes: scales, guide tones, an arpeggio against a substitute.

Each returns a line whose notes know their degree over the chord of the moment; `fingering.finger` places it. Purposes
and rules are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, get_args

from ..changes.bars import AS_BEFORE, Bar, only_changes
from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, shown
from ..limits import PASSES
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import NoteName, Pitch
from ..necks.positions import SPAN_OFFSET, reached
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note
from ..reading.chordscales import scale_degrees
from ..reading.harmony import Reading, harmony
from ..reading.substitutes import Substitute, substitutes
from .drills import Direction, Pool, Reach, Tones, bar_of, chord_tones, counted, nearest, note_of, opened, titled, walk

FirstVoice = Literal["3", "7"]
FIRST_VOICES: tuple[FirstVoice, ...] = get_args(FirstVoice)


def continuous_scale(
    chart: Chart | str,
    per_chord: int = 8,
    position: int | None = 5,
    start: Pitch | str | None = None,
    direction: Direction = "up",
    *,
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To run through changes without a stop: each chord's own scale goes on where the last one was.

    Purpose: to change scale in mid-air. Rules as in `continuous_arpeggio`; the scales are those of `harmony`.

    >>> continuous_scale("| Gm7 | C9 |", position=3).words().splitlines()[-1]
    'e G2 A2 Bb2 C3 D3 E3 F3 G3 | A3 Bb3 C4 D4 E4 F4 G4 A4 |'
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    reach = Reach.of(tuning, position)
    pools = [scale_pool(reading, reach) for reading in harmony(chart).chords]
    line = walk(chart, pools, per_chord, start, direction, passes)
    title = titled("Continuous scale", position)
    return opened(replace(line, tuning=tuning, position=position, title=title))


def scale_pool(reading: Reading, reach: Reach) -> Pool:
    """The notes of a chord's scale within reach, none for N.C.; raises DrillError where there is none."""
    if reading.chord.root is None:
        return {}
    # A tone of the chord has the chord's name, as everywhere else: D flat of E°7, whose scale may say C sharp.
    own = {name.pitch_class: name for name in reading.chord.names}
    tones: dict[int, tuple[NoteName, str]] = {}
    for name, degree in scale_degrees(reading.chord, reading.scale):
        step = name.pitch_class
        tones[step] = (own.get(step, name), degree)
    pool = reach.pool(tones)
    if not pool:
        raise DrillError(
            f"no note of {reading.scale} lies within reach",
            value=str(reading.scale),
            expected="another position or a wider range",
        )
    return pool


def guide_tone_line(
    chart: Chart | str,
    position: int | None = 5,
    *,
    voices: int = 1,
    first: FirstVoice = "3",
    tuning: Tuning | str = STANDARD,
    passes: int = 1,
) -> Line:
    """To hear the changes in their telling notes: guide tones, each led to the nearest next one.

    `voices` is 1, or 2 for both at once. Purpose: to hear the changes in their telling notes. One voice begins on the
    3rd (`first` "3") or the 7th, or on what stands for it: see `Chord.guide_degrees`. A voice keeps its note where the
    next chord shares it. Two voices lie on neighbouring strings, the same ones as long as they can.

    >>> guide_tone_line("| Dm7 | G7 | Cmaj7 |").words().splitlines()[-1]
    'w F4 | F4 | E4 |'
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    if type(voices) is not int or voices not in (1, 2) or first not in FIRST_VOICES:
        raise DrillError(
            f"{shown(voices)} voices from the {shown(first)}",
            value=voices,
            expected="1 or 2 voices, from 3 or 7",
        )
    reach = Reach.of(tuning, position)
    counted(passes, PASSES, "number of passes")
    notes: list[Note] = []
    held: list[int] = []
    strings: tuple[int | None, ...] = (None,)
    for turn in range(passes):
        for event in chart.events:
            if event.chord.root is None:
                continue
            telling = _guide_tones(event, reach)
            if voices == 1:
                held = [_led_voice(held, telling, event, first)]
            else:
                low, high, upper = _led_pair(held, strings, telling, event, reach)
                held, strings = [low, high], (upper + 1, upper)
            onset = event.onset_beats + turn * chart.length_beats
            for midi, string in zip(held, strings, strict=True):
                note = note_of(telling, midi, onset, event.duration_beats)
                notes.append(replace(note, string=string))
    title = titled("Guide tones" if voices == 2 else "Guide-tone line", position)
    length = passes * chart.length_beats
    return opened(Line(tuple(notes), chart, tuning, title, length, position, "guide tones"))


def _guide_tones(event: Event, reach: Reach) -> Pool:
    pool = reach.chord_pool(event)
    return {
        midi: (name, degree)
        for midi, (name, degree) in pool.items()
        if degree in event.chord.guide_degrees
    }


def _led_voice(held: list[int], telling: Pool, event: Event, first: FirstVoice) -> int:
    """The guide tone nearest to the one held; at the start the one asked for, near the middle of the reach."""
    _enough(telling, event, 1)
    # A voice keeps its note or moves the least: that is what makes the changes heard.
    if held:
        return nearest(telling, held[0])
    degrees = event.chord.guide_degrees
    asked = degrees[0] if first == "3" else degrees[-1]
    wanted = [midi for midi, (_, degree) in telling.items() if degree == asked]
    return nearest(wanted or telling, _middle(telling))


def _led_pair(
    held: list[int], strings: tuple[int | None, ...], telling: Pool, event: Event, reach: Reach
) -> tuple[int, int, int]:
    """Two different guide tones on neighbouring strings by the smallest moves, and the thinner of the strings.

    At the start they stand about the middle of the reach.
    """
    _enough(telling, event, 2)
    pairs = [
        (low, high, upper)
        for low in telling
        for high in telling
        # Two different tones, no farther than an octave: wider, they are no longer heard together.
        if low < high <= low + 12 and telling[low][1] != telling[high][1]
        for upper in _neighbours(low, high, reach)
    ]
    if not pairs:
        raise DrillError(
            f"the guide tones of {event.chord} do not lie together",
            value=str(event.chord),
            where=bar_of(event),
            expected="another position",
        )
    middle = _middle(telling)
    a_tritone = (middle - 3, middle + 3)  # as the guide tones of a dominant stand
    was_low, was_high = held or a_tritone

    def motion(pair: tuple[int, int, int]) -> tuple[int, bool, int, tuple[int, int, int]]:
        low, high, upper = pair
        moved = abs(low - was_low) + abs(high - was_high)
        return moved, upper != strings[-1], _spread(low, high, upper, reach.tuning), pair

    return min(pairs, key=motion)


def _neighbours(low: int, high: int, reach: Reach) -> list[int]:
    """The strings that can take the higher of two notes while the next thicker one takes the lower, under one hand."""
    tuning = reach.tuning
    if reach.position is None:
        frets = range(1, tuning.last_fret + 1)
    else:
        frets = reached(reach.position, tuning)
    found = []
    for upper in tuning.strings[:-1]:
        both = low - tuning.midi(upper + 1, 0), high - tuning.midi(upper, 0)
        if all(fret in frets for fret in both) and _spread(low, high, upper, tuning) <= SPAN_OFFSET:
            found.append(upper)
    return found


def _spread(low: int, high: int, upper: int, tuning: Tuning) -> int:
    """Frets between two notes on neighbouring strings."""
    return abs((high - tuning.midi(upper, 0)) - (low - tuning.midi(upper + 1, 0)))


def _middle(pool: Pool) -> int:
    return sorted(pool)[len(pool) // 2]


def _enough(telling: Pool, event: Event, voices: int) -> None:
    """Raise DrillError where fewer different guide tones lie within reach than there are voices."""
    if len({degree for _, degree in telling.values()}) >= voices:
        return
    has_any = bool(event.chord.guide_degrees)
    raise DrillError(
        f"{event.chord} has {'one guide tone' if telling else 'no guide tone'} within reach",
        value=str(event.chord),
        where=bar_of(event),
        expected="a wider position, or fewer voices"
        if has_any
        else "a chord with a 3rd, a 4th or a 7th",
    )


def against_substitute(
    chart: Chart | str,
    per_bar: int = 8,
    position: int | None = 5,
    *,
    key: Scale | str | None = None,
    tuning: Tuning | str = STANDARD,
) -> Line:
    """To hear a substitute against the chord: every bar twice, its arpeggio, then the best other one.

    Both have the same size and lie in the same place. Purpose: to hear what the other arpeggio makes of the chord. The
    chart of the line is the chart with every bar played twice. Substitutes that clash are passed over.

    >>> against_substitute("| Gm7 | C9 |", position=3).bar_count
    4
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    twice = doubled(chart)
    reach = Reach.of(tuning, position)
    others = _others(twice, key)
    pools: list[Pool] = []
    for event, other in zip(twice.events, others, strict=True):
        if event.chord.root is None:
            pools.append({})
            continue
        tones = chord_tones(event.chord) if other is None else _tones_of(other)
        pool = reach.pool(tones)
        if not pool:
            raise DrillError(
                f"no note of the arpeggio over {event.chord} lies within reach",
                value=str(event.chord),
                where=bar_of(event),
                expected="another position",
            )
        pools.append(pool)
    line = walk(twice, pools, per_bar, None, "up", 1)
    title = titled("Arpeggio and substitute", position)
    return opened(replace(line, tuning=tuning, position=position, title=title))


def doubles_of(chart: Chart | str, key: Scale | str | None = None) -> tuple[tuple[Chord, Substitute], ...]:
    """Each chord in order with what `against_substitute` plays in its place the second time.

    >>> [(chord.pretty, one.arpeggio.pretty, one.degrees) for chord, one in doubles_of("| Gm7 | C7 |")]
    [('Gm7', 'B♭maj7', ('b3', '5', 'b7', '9')), ('C7', 'Eø7', ('3', '5', 'b7', '9'))]
    """
    twice = doubled(as_chart(chart))
    others = _others(twice, key)
    found = []
    for event, other in zip(twice.events, others, strict=True):
        if other is not None:
            found.append((event.chord, other))
    return tuple(found)


def _others(twice: Chart, key: Scale | str | None) -> list[Substitute | None]:
    """For each chord of the doubled changes what takes its place; None the first time, and for N.C."""
    readings = harmony(twice, key).chords
    following = [*readings[1:], readings[0]]
    found: list[Substitute | None] = []
    for event, reading, after in zip(twice.events, readings, following, strict=True):
        is_second_time = event.bar % 2 == 1
        if event.chord.root is None or not is_second_time:
            found.append(None)
            continue
        leads_on = after.chord.root is not None
        found.append(_other(reading, after.chord if leads_on else None))
    return found


def _tones_of(one: Substitute) -> Tones:
    found: dict[int, tuple[NoteName, str]] = {}
    for name, degree in zip(one.arpeggio.names, one.degrees, strict=True):
        found[name.pitch_class] = (name, degree)
    return found


def _other(reading: Reading, following: Chord | None) -> Substitute:
    """The best substitute that can stand beside the chord's own arpeggio."""
    chord = reading.chord
    size = min(len(chord.tones), 4)
    own = {name.pitch_class for name in chord.names}
    for one in substitutes(chord, reading.home, following, scale=reading.scale):
        # As many notes as the chord's own arpeggio, so that the two stand beside each other note for note;
        # on the chord's own root it would be a variant of it, and no other sound; nor are the same notes one:
        # a dim7 is four chords.
        if len(one.degrees) != size or one.clashes:
            continue
        has_own_root = not one.step
        brings = {name.pitch_class for name in one.arpeggio.names}
        new = brings - own
        if new and not has_own_root:
            return one
    raise DrillError(f"no substitute of {size} notes for {chord}", value=str(chord))


def doubled(chart: Chart | str) -> Chart:
    """The chart as it sounds, every bar twice.

    >>> print(doubled("| Am7 | D7 |"))
    meter: 4/4
    tempo: 100
    feel: straight 8
    | Am7 | % | D7 | % |
    """
    chart = as_chart(chart)
    bars = [one for bar in chart.sounded for one in (bar, Bar(AS_BEFORE, key=bar.key))]
    return replace(chart, bars=tuple(only_changes(bars, chart.key)))
