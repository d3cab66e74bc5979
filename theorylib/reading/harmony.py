"""Harmony of a chart: key, numeral and scale of each chord, and the home scales of the whole.

Conventions
-----------
A home is a span of the chart with one home scale (see keys). Its key is the major or minor key of its tonic: numerals
are written from the tonic that is heard (Am7 | D7 is A dorian at home, i7 and IV7). What else a home's notes are
called (2nd mode of G major, so the pair is ii-V there too) is for prose to add.

A key that is given, or that the chart states where it happens, is kept: homes of its tonic and side only, and chords
from elsewhere are named as borrowed or applied.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ..changes.charts import Chart, Event, as_chart
from ..errors import ChartError
from ..names.arpeggios import Arpeggio, as_arpeggio
from ..names.chords import Chord, as_chord
from ..names.scales import Scale, as_scale
from ..names.spelling import NoteName
from .chordscales import avoid_notes, tensions
from .evidence import BAR, FOUR, MID, OPENS, PHRASE, SECTION, Run
from .homes import MODES, Home
from .keys import find_homes
from .kinds import sound_of
from .numerals import key_of, numeral, spelled
from .roles import role
from .scalechoice import scales_for


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the chart with one home scale and one key."""

    scale: Scale
    key: Scale
    onset_beats: Fraction
    duration_beats: Fraction


@dataclass(frozen=True, slots=True)
class Move:
    """A chord tone and the tone of the next chord that lies nearest (semitones are signed; 0 is a common tone)."""

    from_name: NoteName
    to_name: NoteName
    semitones: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One chord of the chart read in its key: `scale` is the first choice of chord scale, `alternatives` the others."""

    chord: Chord
    onset_beats: Fraction
    duration_beats: Fraction
    key: Scale
    home: Scale
    numeral: str
    role: str
    scale: Scale
    alternatives: tuple[Scale, ...]
    guide_tones: tuple[NoteName, ...]
    tensions: tuple[tuple[NoteName, str], ...]
    avoid: tuple[NoteName, ...]
    moves: tuple[Move, ...]

    @property
    def common_tones(self) -> tuple[NoteName, ...]:
        """The notes that the next chord keeps."""
        return tuple(move.from_name for move in self.moves if move.semitones == 0)


@dataclass(frozen=True, slots=True)
class Harmony:
    """A chart with its homes and the reading of each of its chords."""

    chart: Chart
    homes: tuple[Span, ...]
    chords: tuple[Reading, ...]


def harmony(chart: Chart | str, key: Scale | str | None = None) -> Harmony:
    """To understand changes: their homes, keys, numerals, chord scales and voice moves.

    `key` (or, without it, what the chart states, there where it states it) is kept throughout: its tonic and side,
    major or minor; a mode's name ("A dorian") fixes the home scale itself.

    >>> [(one.numeral, str(one.scale)) for one in harmony("| Dm7 | G7 | Cmaj7 |").chords]
    [('ii7', 'D dorian'), ('V7', 'G mixolydian'), ('Imaj7', 'C major')]
    """
    chart = as_chart(chart)
    if not any(event.chord.root is not None for event in chart.events):
        raise ChartError(
            "the chart has no chord", value=str(chart), expected="at least one chord besides N.C."
        )
    spans = home_spans(chart, None if key is None else as_scale(key))
    return Harmony(chart, spans, tuple(_readings(chart, spans)))


def home_spans(chart: Chart, key: Scale | None = None) -> tuple[Span, ...]:
    """The homes of a chart in order; together they cover it. `key` stands for every key that the chart states."""
    events = [event for event in chart.events if event.chord.root is not None]
    runs = runs_of(chart, key)
    homes = find_homes([run for run, _ in runs])
    stated = chart.stated_keys
    begins = [
        index
        for index, home in enumerate(homes)
        if index == 0 or home != homes[index - 1] or runs[index][0].stated
    ]
    everywhere = [event.chord for event in events]
    scales, onsets = [], []
    for first, end in zip(begins, [*begins[1:], len(runs)], strict=True):
        inside = [event for _, held in runs[first:end] for event in held]
        given = key or stated[inside[0].bar]
        scale = spelled(homes[first], [event.chord for event in inside], everywhere, given)
        scales.append(_settled(scale, inside, given))
        onsets.append(inside[0].onset_beats)
    starts = [Fraction(0), *onsets[1:]]  # a rest before the first chord belongs to its home
    ends = [*starts[1:], chart.length_beats]
    return tuple(
        Span(scale, key_of(scale), start, end - start)
        for scale, start, end in zip(scales, starts, ends, strict=True)
    )


def runs_of(chart: Chart, key: Scale | None = None) -> list[tuple[Run, list[Event]]]:
    """The chart as key finding hears it, each run with its events.

    A run is one sound, until it changes, or a section or a stated key begins.
    """
    bar = chart.bar_beats
    sections = {section.onset_beats for section in chart.sections}
    stated = chart.stated_keys if key is None else (key,) * len(chart.order)
    found = []
    before: Event | None = None
    for events in _held_together(chart, sections, stated):
        onset = events[0].onset_beats
        end = events[-1].onset_beats + events[-1].duration_beats
        place = OPENS if before is None else SECTION if onset in sections else _place(onset / bar)
        in_key = stated[events[0].bar]
        run = Run(
            sound_of(events[0].chord),
            bars=float(sum(event.duration_beats for event in events) / bar),
            place=place,
            ends_phrase=end % (8 * bar) == 0,
            near_end=chart.length_beats >= 8 * bar and onset >= chart.length_beats - 4 * bar,
            allowed=None if in_key is None else homes_of(in_key),
            stated=before is not None and in_key != stated[before.bar],
        )
        found.append((run, events))
        before = events[-1]
    return found


def _held_together(
    chart: Chart, sections: set[Fraction], stated: Sequence[Scale | None]
) -> list[list[Event]]:
    """The events of the chart, those that go on sounding the same put together."""
    blocks: list[list[Event]] = []
    for event in chart.events:
        if event.chord.root is None:
            continue
        if blocks and event.onset_beats not in sections:
            last = blocks[-1][-1]
            same_sound = sound_of(last.chord) == sound_of(event.chord)
            if same_sound and stated[last.bar] == stated[event.bar]:
                blocks[-1].append(event)
                continue
        blocks.append([event])
    return blocks


def _place(bars: Fraction) -> str:
    """Where in a form of fours and eights something begins, so many bars after the start."""
    if bars.denominator != 1:
        return MID
    return PHRASE if bars % 8 == 0 else FOUR if bars % 4 == 0 else BAR


@lru_cache(maxsize=256)
def homes_of(key: Scale) -> frozenset[Home]:
    """The homes that a given key leaves open: those of its tonic and side, or the one mode that it names."""
    tonic = key.tonic.pitch_class
    if key.kind in MODES and key.kind not in ("major", "minor"):
        return frozenset([Home(tonic, key.kind)])
    side = "minor" if key.is_minor else "major"
    return frozenset(Home(tonic, mode) for mode, about in MODES.items() if about.side == side)


def _settled(home: Scale, inside: Sequence[Event], given: Scale | None) -> Scale:
    """A minor seventh chord alone is heard as dorian, one with a major seventh as minor (common practice)."""
    tonic = home.tonic.pitch_class
    degrees = [set(event.chord.degrees) for event in inside]
    roots = [event.chord.root.pitch_class for event in inside if event.chord.root]
    on_tonic = [
        set(event.chord.degrees)
        for event in inside
        if event.chord.root and event.chord.root.pitch_class == tonic
    ]
    has_major_seventh = bool(on_tonic) and all("7" in of_tonic for of_tonic in on_tonic)
    if home.kind == "dorian" and has_major_seventh:  # a melodic minor's tonic
        return Scale(home.tonic, "minor")
    alone = set(roots) == {tonic}
    has_dorian_colour = any({"b7", "6"} & one for one in degrees)
    asked_for = given is not None and given.kind == "minor" and given.tonic.pitch_class == tonic
    if home.kind == "minor" and alone and has_dorian_colour and not asked_for:
        return Scale(home.tonic, "dorian")
    return home


def _readings(chart: Chart, spans: Sequence[Span]) -> Iterator[Reading]:
    events, place = chart.events, 0
    for number, event in enumerate(events):
        while place + 1 < len(spans) and spans[place + 1].onset_beats <= event.onset_beats:
            place += 1
        span, chord = spans[place], event.chord
        following, after = next_chords(events, number)
        before = events[number - 1].chord if number else None
        scales = scales_for(chord, span.scale, following, after, before=before)
        scale = scales[0] if scales else span.scale
        next_event = events[(number + 1) % len(events)]
        yield Reading(
            chord=chord,
            onset_beats=event.onset_beats,
            duration_beats=event.duration_beats,
            key=span.key,
            home=span.scale,
            numeral=numeral(chord, span.key),
            role=role(chord, span.scale, following, after),
            scale=scale,
            alternatives=scales[1:],
            guide_tones=guide_tones(chord),
            tensions=tensions(chord, scale) if chord.root else (),
            avoid=avoid_notes(chord, scale) if chord.root else (),
            moves=moves(chord, next_event.chord),
        )


def next_chords(events: Sequence[Event], number: int) -> tuple[Chord | None, Chord | None]:
    """The two chords to which an event leads, round the loop: what sounds like the chord before it is skipped."""
    found: list[Chord] = []
    last = events[number].chord
    for far in range(1, len(events) + 1):
        chord = events[(number + far) % len(events)].chord
        is_rest = chord.root is None or last.root is None
        if is_rest or sound_of(chord) == sound_of(last):
            continue
        found.append(chord)
        last = chord
        if len(found) == 2:
            break
    return (found[0] if found else None), (found[1] if len(found) > 1 else None)


def moves(chord: Chord | Arpeggio | str, following: Chord | str) -> tuple[Move, ...]:
    """For each tone of `chord` (or of an arpeggio) the nearest tone of `following` (downward where two are as near)."""
    chord, following = as_arpeggio(chord), as_chord(following)
    others = [(tone.name.pitch_class, tone.name) for tone in following.tones]
    found = []
    for tone in chord.tones if others else ():
        here = tone.name.pitch_class
        ways = [(_signed(here, there), name) for there, name in others]
        semitones, name = min(ways, key=_shortest)
        found.append(Move(tone.name, name, semitones))
    return tuple(found)


def guide_tones(chord: Chord | str) -> tuple[NoteName, ...]:
    """The names of the chord's guide tones, in the order of its `guide_degrees`."""
    chord = as_chord(chord)
    names = {tone.degree: tone.name for tone in chord.tones}
    return tuple(names[degree] for degree in chord.guide_degrees)


def _signed(here: int, there: int) -> int:
    """Semitones from one pitch class to the other by the shorter way, -5 to 6."""
    return (there - here + 5) % 12 - 5


def _shortest(way: tuple[int, NoteName]) -> tuple[int, int]:
    """The order of ways: the shorter first, of two as short the one downward."""
    return abs(way[0]), way[0]
