"""Drills that lead through changes: scales, guide tones, targets with approaches, an arpeggio against a substitute.

Each returns a line whose notes know their degree over the chord of the moment; `fingering.finger` places it. Purposes
and rules are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ..changes.bars import AS_BEFORE, Bar, only_changes
from ..changes.charts import Chart, Event, as_chart
from ..errors import DrillError, one_of, shown
from ..limits import METER_BEATS, PASSES, exact
from ..names.chords import Chord
from ..names.scales import Scale
from ..names.spelling import Pitch
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..playing.lines import Line, Note
from ..reading.chordscales import scale_degrees
from ..reading.harmony import Reading, harmony
from ..reading.substitutes import substitutes
from .drills import Pool, chord_pool, counted, reachable_midi, walk

# name: semitone steps from the target to the notes before it, in playing order; "scale" takes the step from the scale.
APPROACHES: dict[str, tuple[int, ...]] = {"below": (-1,), "above": (1,), "both": (1, -1), "scale": ()}


def continuous_scale(chart: Chart | str, per_chord: int = 8, position: int | None = 5, start: Pitch | str | None = None,
                     direction: str = "up", *, key: Scale | str | None = None, tuning: Tuning | str = STANDARD,
                     passes: int = 1) -> Line:
    """The chord scale of every chord in turn, never stopping at a change: the next note of the new scale follows.

    Purpose: to change scale in mid-air. Rules as in `continuous_arpeggio`; the scales are those of `harmony`.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    reach = reachable_midi(tuning, position)
    pools = [_scale_pool(reading, reach, tuning, position) for reading in harmony(chart, key).chords]
    line = walk(chart, pools, per_chord, start, direction, passes)
    return replace(line, tuning=tuning, position=position, title=_titled("Continuous scale", position))


def guide_tone_line(chart: Chart | str, position: int | None = 5, *, voices: int = 1, first: str = "3",
                    tuning: Tuning | str = STANDARD, passes: int = 1) -> Line:
    """The guide tones of the changes, each led to the nearest of the next chord; `voices` 1, or 2 for both at once.

    Purpose: to hear the changes in their telling notes. One voice begins on the 3rd (`first` "3") or the 7th, or on
    what stands for it: see `Chord.guide_degrees`. A voice keeps its note where the next chord shares it.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    if type(voices) is not int or voices not in (1, 2) or first not in ("3", "7"):
        raise DrillError(f"{shown(voices)} voices from the {shown(first)}", value=voices,
                         expected="1 or 2 voices, from 3 or 7")
    reach = reachable_midi(tuning, position)
    counted(passes, PASSES, "number of passes")
    notes: list[Note] = []
    held: list[int] = []
    for turn in range(passes):
        for event in chart.events:
            if event.chord.root is None:
                continue
            pool = {midi: what for midi, what in chord_pool(event.chord, reach, tuning, position, _bar(event)).items()
                    if what[1] in event.chord.guide_degrees}
            held = _led(held, pool, event, voices, first)
            notes += [Note(Pitch.of_midi(midi, pool[midi][0]), event.onset_beats + turn * chart.length_beats,
                           event.duration_beats, degree=pool[midi][1]) for midi in held]
    title = _titled("Guide tones" if voices == 2 else "Guide-tone line", position)
    return Line(tuple(notes), chart, tuning, title, passes * chart.length_beats, position, "guide tones")


def _led(held: list[int], pool: Pool, event: Event, voices: int, first: str) -> list[int]:
    """The guide tones that follow `held` by the smallest moves; at the start those nearest the middle of the reach."""
    if len({what[1] for what in pool.values()}) < voices:
        has = len(event.chord.guide_degrees)
        expected = "a wider position, or fewer voices" if has else "a chord with a 3rd, a 4th or a 7th"
        raise DrillError(f"{event.chord} has {'one guide tone' if pool else 'no guide tone'} within reach",
                         value=str(event.chord), where=_bar(event), expected=expected)
    middle = sorted(pool)[len(pool) // 2]
    if voices == 1:
        if held:
            return [min(pool, key=lambda midi: (abs(midi - held[0]), midi))]
        telling = event.chord.guide_degrees
        asked = telling[0] if first == "3" else telling[-1]
        wanted = [midi for midi, what in pool.items() if what[1] == asked]
        return [min(wanted or pool, key=lambda midi: (abs(midi - middle), midi))]
    pairs = [(low, high) for low in pool for high in pool
             if low < high <= low + 12 and pool[low][1] != pool[high][1]]
    if not pairs:
        raise DrillError(f"the guide tones of {event.chord} do not lie together", value=str(event.chord),
                         where=_bar(event), expected="another position")
    was: tuple[int, ...] = tuple(held) or (middle - 3, middle + 3)
    low, high = min(pairs, key=lambda pair: (abs(pair[0] - was[0]) + abs(pair[1] - was[1]), pair))
    return [low, high]


def approach_targets(chart: Chart | str, approach: str = "below", position: int | None = 5, *,
                     every_beats: int | Fraction | str = 2, key: Scale | str | None = None,
                     tuning: Tuning | str = STANDARD, passes: int = 1) -> Line:
    """Eighth notes: a chord tone on every strong beat, the next chord tones after it, the next target approached.

    Purpose: to aim. `approach` is "below" or "above" (a semitone), "both" (above, then below) or "scale" (the scale
    note above the target). A target lies `every_beats`; the notes between are chord tones on the way.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    one_of(approach, APPROACHES, "approach", DrillError)
    reach = reachable_midi(tuning, position)
    counted(passes, PASSES, "number of passes")
    every_beats = exact(every_beats, "number of beats")
    if not Fraction(1, 2) <= every_beats <= METER_BEATS[1]:
        raise DrillError(f"a target every {every_beats!s:.40} beats", value=every_beats,
                         expected=f"1/2 to {METER_BEATS[1]}")
    readings = harmony(chart, key).chords
    cells = [(event, event.onset_beats + index * every_beats, number)
             for number, event in enumerate(chart.events) if event.chord.root is not None
             for index in range(-int(-event.duration_beats // every_beats))]
    chords = {number: chord_pool(event.chord, reach, tuning, position, _bar(event)) for event, _, number in cells}
    scales = {number: _scale_pool(readings[number], reach, tuning, position) for _, _, number in cells}
    targets = _targets([chords[number] for _ in range(passes) for _, _, number in cells])
    notes: list[Note] = []
    for index, target in enumerate(targets):
        _event, onset, number = cells[index % len(cells)]
        onset += index // len(cells) * chart.length_beats
        following = (index + 1) % len(cells)
        end = cells[following][1] if following else chart.length_beats
        count = int((end - onset % chart.length_beats) * 2)
        goal = targets[index + 1] if index + 1 < len(targets) else None
        chosen = _cell(target, goal, chords[number], scales[cells[following][2]], approach, count, reach)
        pool = scales[number] | chords[number]
        notes += [Note(Pitch.of_midi(midi, pool[midi][0]) if midi in pool else _chromatic(midi, target, goal),
                       onset + Fraction(place, 2), Fraction(1, 2), degree=pool[midi][1] if midi in pool else "")
                  for place, midi in enumerate(chosen)]
    title = _titled(f"Targets approached {'by step' if approach == 'scale' else 'from ' + _SIDES[approach]}", position)
    return Line(tuple(notes), chart, tuning, title, passes * chart.length_beats, position, "strong beats")


_SIDES = {"below": "below", "above": "above", "both": "both sides"}


def _targets(pools: Sequence[Pool]) -> list[int]:
    """A chord tone for each cell, in turn up and down through the reach, never the same note twice running."""
    found: list[int] = []
    step = 1
    for pool in pools:
        order = sorted(pool)
        if not found:
            found.append(next((midi for midi in order if pool[midi][1] == "1"), order[0]))
            continue
        ahead = [midi for midi in order if (midi - found[-1]) * step >= 2]
        if not ahead:
            step = -step
            ahead = [midi for midi in order if (midi - found[-1]) * step >= 2] or order
        found.append(min(ahead, key=lambda midi: abs(midi - found[-1])))
    return found


def _cell(target: int, goal: int | None, pool: Pool, scale: Pool, approach: str, count: int,
          reach: frozenset[int]) -> list[int]:
    """The target, chord tones on the way, then the approach to the goal, `count` notes in all."""
    last: tuple[int, ...] = ()
    if goal is not None and approach == "scale":
        above = [midi for midi in scale if 0 < midi - goal <= 3]
        last = (min(above),) if above else ()
    elif goal is not None:
        last = tuple(goal + step for step in APPROACHES[approach] if goal + step in reach)
    last = last[-(count - 1):] if count > 1 else ()
    way = 1 if goal is None or goal >= target else -1
    between = sorted((midi for midi in pool if (midi - target) * way > 0), key=lambda midi: abs(midi - target))
    back = sorted((midi for midi in pool if (midi - target) * way < 0), key=lambda midi: abs(midi - target))
    found = [target]
    while len(found) < count - len(last):
        beside = {found[-1], *(last[:1] if len(found) + 1 == count - len(last) else ())}
        free = [midi for midi in (*between, *back, target) if midi not in beside]
        found.append(next((midi for midi in free if midi not in found), free[0] if free else target))
    return [*found, *last][:count]


def _chromatic(midi: int, target: int, goal: int | None) -> Pitch:
    """A chromatic note beside its goal, spelled on the neighbouring letter: sharp from below, flat from above."""
    below = goal is None or midi < goal
    plain = Pitch.of_midi(midi)
    if plain.name.accidental == 0:
        return plain
    flat = plain.name.accidental < 0
    return plain if below != flat else Pitch.of_midi(midi, plain.name.at(plain.name.fifths + (12 if below else -12)))


def against_substitute(chart: Chart | str, per_bar: int = 8, position: int | None = 5, *,
                       key: Scale | str | None = None, tuning: Tuning | str = STANDARD) -> Line:
    """Every bar twice: first the chord's own arpeggio, then its best substitute of the same size in the same place.

    Purpose: to hear what the other arpeggio makes of the chord. The chart of the line is the chart with every bar
    played twice. Substitutes that clash are passed over.
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    twice = doubled(chart)
    reach = reachable_midi(tuning, position)
    readings = harmony(twice, key).chords
    pools: list[Pool] = []
    for number, event in enumerate(twice.events):
        if event.chord.root is None:
            pools.append({})
            continue
        tones = {tone.name.pitch_class: (tone.name, tone.degree) for tone in event.chord.tones}
        if event.bar % 2:
            following = twice.events[(number + 1) % len(twice.events)].chord
            tones = _other(event.chord, readings[number], following if following.root is not None else None)
        pool = {midi: tones[midi % 12] for midi in sorted(reach) if midi % 12 in tones}
        if not pool:
            raise DrillError(f"no note of the arpeggio over {event.chord} lies within reach", value=str(event.chord),
                             where=_bar(event), expected="another position")
        pools.append(pool)
    line = walk(twice, pools, per_bar, None, "up", 1)
    return replace(line, tuning=tuning, position=position, title=_titled("Arpeggio and substitute", position))


def _other(chord: Chord, reading: Reading, following: Chord | None) -> dict[int, tuple]:
    """The best substitute's notes with their degrees over the chord."""
    size = min(len(chord.tones), 4)
    for one in substitutes(chord, reading.home, following, scale=reading.scale):
        if not one.clashes and len(one.degrees) == size and one.arpeggio.names[0] != chord.root:
            return {name.pitch_class: (name, degree)
                    for name, degree in zip(one.arpeggio.names, one.degrees, strict=True)}
    raise DrillError(f"no substitute of {size} notes for {chord}", value=str(chord))


def doubled(chart: Chart | str) -> Chart:
    """The chart as it sounds, every bar twice."""
    chart = as_chart(chart)
    bars = [one for bar in chart.sounded for one in (bar, Bar(AS_BEFORE, key=bar.key))]
    return replace(chart, bars=tuple(only_changes(bars, chart.key)))


def _scale_pool(reading: Reading, reach: frozenset[int], tuning: Tuning, position: int | None) -> Pool:
    if reading.chord.root is None:
        return {}
    tones = {name.pitch_class: (name, degree) for name, degree in scale_degrees(reading.chord, reading.scale)}
    pool = {midi: tones[midi % 12] for midi in sorted(reach) if midi % 12 in tones}
    if not pool:
        raise DrillError(f"no note of {reading.scale} lies within reach", value=str(reading.scale),
                         expected="another position or a wider range")
    return pool


def _bar(event: Event) -> str:
    return f"bar {event.bar + 1}"


def _titled(words: str, position: int | None) -> str:
    return words + (f", position {position}" if position is not None else "")
