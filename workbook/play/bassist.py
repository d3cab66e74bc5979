"""Bass: from a style's rows and the chords ahead to notes, the cheapest way through all of them.

A row says when and what: root on a change, chord tones, steps, an approach to the next note, octaves, dead notes. Which
octave and which of the notes allowed is found by dynamic programming over the whole track: small moves, few leaps over
a fifth but octaves, E1 to G3, no major 7th on a dominant. Weights are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random

from theorylib.names.chords import Chord

from .arrangement import ENDING, STOP, Arrangement, Slot, Span
from .grouping import BASS_ROW, distinct, steps_of
from .style import MAIN, Style

LOW, HIGH = 28, 55                 # E1 to G3
_HOME = 36                         # C2, about which a bass lies
_HIGHEST_ROOT = 43
_USUAL = (0.6, 0.35, 0.45, 0.2)    # of a style's usual row, by the bar of the phrase
_AWAY, _STEP, _SAME, _LEAP, _OCTAVE, _BEYOND = 0.06, 0.12, 2.5, 9.0, 2.0, 30.0
# What an approach costs by its distance to the note that it leads to (semitones, below is negative).
_APPROACH = {-1: 0.0, 1: 0.5, -2: 0.6, 2: 0.6, 7: 1.2, -5: 1.2}
_WHIM, _WHIM_OF_WAYS = 0.9, 2.0    # at most added by chance to each choice, and to each way of approaching a note


@dataclass(frozen=True, slots=True)
class Tone:
    """A bass note: beats in the track before swing, and how it is played ("" plain, "x" dead)."""

    beat: Fraction
    length_beats: Fraction
    midi: int
    strong: bool
    dead: bool = False


@dataclass(frozen=True, slots=True)
class _Due:
    """A note whose pitch is still open: its sign, the chord it sounds over, and the MIDI numbers it may have."""

    beat: Fraction
    length_beats: Fraction
    sign: str
    chord: Chord
    choices: tuple[int, ...]
    strong: bool


def bass_line(plan: Arrangement, style: Style, groups: tuple[int, ...], scales: Mapping[Chord, frozenset[int]],
              chance: Random) -> tuple[Tone, ...]:
    """The bass through a plan; `scales` are the pitch classes of each chord's scale."""
    due = list(_due(plan, style, groups, scales, chance))
    pitches = _cheapest([one for one in due if one.sign != "x"], scales, chance)
    found, last = [], _HOME
    for one in due:
        last = next(pitches) if one.sign != "x" else last
        found.append(Tone(one.beat, one.length_beats, last, one.strong, one.sign == "x"))
    return tuple(found)


def _due(plan: Arrangement, style: Style, groups: tuple[int, ...], scales: Mapping[Chord, frozenset[int]],
         chance: Random) -> Iterator[_Due]:
    spans = _Spans(plan.spans)
    held_into: Fraction | None = None   # the beat to which a pushed note is held
    for slot in plan.slots:
        signs = _signs(plan, slot, style, groups, spans, chance)
        for place, (beat, sign, span) in enumerate(signs):
            if span is None or span.event.chord.root is None or sign in ".-" or held_into == beat:
                continue
            end = _end(signs, place, slot.start_beats + plan.chart.bar_beats)
            over = spans.at(end) if sign == "P" else span
            if over is None or over.event.chord.root is None:
                over = span
            if sign == "P":
                held_into = end
                sign, end = "R", end + plan.chart.meter.pulse_beats / 2
            yield _Due(beat, end - beat, sign, over.event.chord, _choices(sign, over.event.chord, scales),
                       beat == span.start_beats)


class _Spans:
    """Chords by beat, asked in order of time or a little back."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self._spans, self._place = spans, 0

    def at(self, beat: Fraction) -> Span | None:
        while self._place and self._spans[self._place].start_beats > beat:
            self._place -= 1
        while self._place + 1 < len(self._spans) and self._spans[self._place + 1].start_beats <= beat:
            self._place += 1
        if not self._spans or self._spans[self._place].end_beats <= beat:
            return None
        return self._spans[self._place]


_Sign = tuple[Fraction, str, Span | None]


def _signs(plan: Arrangement, slot: Slot, style: Style, groups: tuple[int, ...], spans: _Spans,
           chance: Random) -> list[_Sign]:
    """The bar's row as (beat, sign, chord): a root on each change, what comes before the next an approach."""
    if slot.kind == ENDING:
        return [(slot.start_beats, "R", spans.at(slot.start_beats))]
    if slot.density == STOP:
        rest = slot.start_beats + plan.chart.meter.pulse_beats
        return [(slot.start_beats, "R", spans.at(slot.start_beats)), (rest, ".", spans.at(rest))]
    written = style.bass.get(slot.density) or style.bass[MAIN]
    rows = distinct(plan.chart.meter, groups, style.steps, written, BASS_ROW)
    row = rows[0] if chance.random() < _USUAL[slot.place] else chance.choice(rows)
    found: list[_Sign] = []
    for offset, sign in steps_of(plan.chart.meter, groups, style.steps, row, BASS_ROW):
        beat = slot.start_beats + offset
        span = spans.at(beat)
        if span is not None and span.start_beats == beat and (span.changes or sign in ".-xa"):
            sign = "R"
        found.append((beat, sign, span))
    return list(_with_chords_between(found, plan, slot, spans))


def _with_chords_between(signs: list[_Sign], plan: Arrangement, slot: Slot, spans: _Spans) -> Iterator[_Sign]:
    """Chords that begin between two steps get their root there."""
    held = {beat for beat, _, _ in signs}
    inside = [span for span in plan.spans_in(slot) if span.start_beats not in held]
    yield from sorted([*signs, *((span.start_beats, "R", span) for span in inside)], key=lambda one: one[0])


def _end(signs: Sequence[_Sign], place: int, bar_end: Fraction) -> Fraction:
    """Where a note ends: at the next sign that does not hold it."""
    return next((beat for beat, sign, _ in signs[place + 1:] if sign != "-"), bar_end)


def _choices(sign: str, chord: Chord, scales: Mapping[Chord, frozenset[int]]) -> tuple[int, ...]:
    """The MIDI numbers that a sign allows over a chord."""
    assert chord.root is not None
    low, root = (chord.bass or chord.root).pitch_class, chord.root.pitch_class
    tones = {tone.degree.lstrip("b#"): tone.name.pitch_class for tone in reversed(chord.tones)}
    scale = scales.get(chord, frozenset(tones.values())) - _never(chord)
    if sign in "R8":
        top = _HIGHEST_ROOT if sign == "R" else HIGH
        return tuple(midi for midi in range(LOW, top + 1) if midi % 12 == low)
    if sign == "a":
        return tuple(midi for midi in range(LOW, HIGH + 1) if midi % 12 not in _never(chord))
    if sign in "35679":
        own = tones.get(sign)
        wanted = {_scale_degree(sign, root, scale) if own is None else own}
    elif sign == "c":
        wanted = {name.pitch_class for name in chord.names} - {low}
    else:
        wanted = set(scale) - {low}
    return tuple(midi for midi in range(LOW, 51) if midi % 12 in wanted) or (_HOME + (low - _HOME) % 12,)


def _scale_degree(sign: str, root: int, scale: frozenset[int]) -> int:
    """The pitch class of a step of the chord's scale: its nearest to the major scale's."""
    major = {"3": 4, "5": 7, "6": 9, "7": 10, "9": 2}[sign]
    return min((pitch for pitch in scale or {root}), key=lambda pitch: (abs((pitch - root) % 12 - major), pitch))


def _never(chord: Chord) -> frozenset[int]:
    """A major 7th on a dominant."""
    if chord.root is not None and {"3", "b7"} <= set(chord.degrees):
        return frozenset({(chord.root.pitch_class + 11) % 12})
    return frozenset()


def _cheapest(due: Sequence[_Due], scales: Mapping[Chord, frozenset[int]], chance: Random) -> Iterator[int]:
    """The pitch of each note, the whole way cheapest; of equals the lower."""
    if not due:
        return
    ways = {midi: _own(due[0], midi) for midi in due[0].choices}
    came: list[dict[int, int]] = []
    for one, two in pairwise(due):
        reached: dict[int, float] = {}
        before: dict[int, int] = {}
        scale = scales.get(two.chord, frozenset())
        whim = _WHIM_OF_WAYS if two.sign == "a" else _WHIM
        for midi in two.choices:
            cost, last = min((cost + _move(one, last, two, midi, scale), last) for last, cost in ways.items())
            reached[midi], before[midi] = cost + _own(two, midi) + whim * chance.random(), last
        ways = reached
        came.append(before)
    last = min(ways, key=lambda midi: (ways[midi], midi))
    way = [last]
    for before in reversed(came):
        way.append(before[way[-1]])
    yield from reversed(way)


def _own(one: _Due, midi: int) -> float:
    """What a note costs by itself: its distance from where a bass lies."""
    return _AWAY * abs(midi - (_HOME + 6 if one.sign == "8" else _HOME))


def _move(one: _Due, last: int, two: _Due, midi: int, scale: frozenset[int]) -> float:
    """What going from one note to the next costs."""
    by = midi - last
    if two.sign == "8":
        return 0.0 if by == 12 else _STEP * abs(by) + (_BEYOND if one.sign == "R" else _OCTAVE)
    if one.sign == "a":
        cost = _APPROACH.get(-by, _BEYOND)
        # A whole step belongs to the scale that it leads to.
        return cost + (4.0 if abs(by) == 2 and scale and last % 12 not in scale else 0.0)
    if one.sign == "8" and by == -12:
        return _STEP
    cost = _STEP * abs(by)
    if not by and two.sign in "csa":
        return _SAME
    if abs(by) == 12:
        return cost + _OCTAVE
    return cost + (_LEAP + abs(by) if abs(by) > 7 else 0.0)
