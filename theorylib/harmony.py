"""Harmony of a chart: key, numeral and scale of each chord, and the home scales of the whole.

Conventions
-----------
A home is a span of the chart with one home scale (see keys). A home in major or minor is its own key; a modal home
takes the major or minor key of its tonic, except where its chords are only the ii and V of its parent: then the key
is the parent (Am7 | D7 is A dorian at home, ii7 and V7 of G major). Numerals are written against the major scale of
the key's tonic (bVI in minor too), small for a minor third; after a slash stands the bass as a degree of the key.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from .charts import Chart, Event, as_chart
from .chords import Chord, Tone
from .chordscales import avoid_notes, chord_scales, tensions
from .errors import ChartError
from .keys import DOMINANT, MODES, SUSPENDED, Home, facts_of, find_homes, home_mask
from .roles import role
from .scales import Scale, as_scale
from .spelling import NoteName, degree_of

_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")


class HasTones(Protocol):
    """A chord, or an arpeggio that no chord symbol writes."""

    @property
    def tones(self) -> tuple[Tone, ...]: ...


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
    """Read a chart: homes, keys, numerals, chord scales and voice moves.

    `key` (or, without it, the chart's own) fixes the tonic and the side, major or minor, in which the chart begins;
    a mode's name ("A dorian") fixes the home scale itself.
    """
    chart = as_chart(chart)
    given = chart.key if key is None else as_scale(key)
    sounding = [event for event in chart.events if event.chord.root is not None]
    if not sounding:
        raise ChartError("the chart has no chord", value=str(chart), expected="at least one chord besides N.C.")
    found = find_homes([facts_of(event.chord) for event in sounding], None if given is None else _allowed(given))
    spans: list[Span] = []
    for start, end in _runs(found):
        events = sounding[start:end]
        home = _spelled(found[start], events, given)
        spans.append(Span(home, _key_of(home, events), events[0].onset_beats, Fraction(0)))
    spans = _close(spans, chart.length_beats)
    readings = tuple(_read(chart, number, spans) for number in range(len(chart.events)))
    return Harmony(chart, tuple(spans), readings)


def numeral(chord: Chord, key: Scale) -> str:
    """The chord's roman numeral in a key: "ii7", "V7alt", "bVImaj7", "viiø7"."""
    if chord.root is None:
        return ""
    degree = degree_of(chord.root.fifths - key.tonic.fifths)
    accidental, number = degree[:-1], int(degree[-1])
    roman, suffix = _ROMAN[number - 1], chord.pretty_suffix
    if chord.is_minor:
        roman = roman.lower()
        suffix = suffix[1:] if suffix.startswith("m") and not suffix.startswith("maj") else suffix
    suffix = suffix.replace("♯", "#").replace("♭", "b")
    bass = "" if chord.bass is None else "/" + degree_of(chord.bass.fifths - key.tonic.fifths)
    return accidental + roman + suffix + bass


def moves(chord: HasTones, following: Chord) -> tuple[Move, ...]:
    """For each tone of `chord` (or of an arpeggio) the nearest tone of `following` (downward where two are as near)."""
    found = []
    for tone in chord.tones:
        if not following.tones:
            break
        ways = [(_signed(tone.name, other.name), other.name) for other in following.tones]
        semitones, name = min(ways, key=lambda way: (abs(way[0]), way[0]))
        found.append(Move(tone.name, name, semitones))
    return tuple(found)


def guide_tones(chord: Chord) -> tuple[NoteName, ...]:
    """The names of the chord's guide tones, in the order of its `guide_degrees`."""
    names = {tone.degree: tone.name for tone in chord.tones}
    return tuple(names[degree] for degree in chord.guide_degrees)


def _signed(one: NoteName, two: NoteName) -> int:
    """Semitones from one name to the other by the shorter way, -5 to 6."""
    return (two.pitch_class - one.pitch_class + 5) % 12 - 5


def _runs(found: Sequence[Home]) -> list[tuple[int, int]]:
    starts = [index for index, home in enumerate(found) if not index or home != found[index - 1]]
    return list(zip(starts, [*starts[1:], len(found)], strict=True))


def _allowed(key: Scale) -> frozenset[Home]:
    """The homes that a given key leaves open at the start."""
    tonic = key.tonic.pitch_class
    sides = {"major": ("major", "mixolydian", "lydian", "blues"), "minor": ("minor", "dorian", "phrygian")}
    if key.kind in sides:
        return frozenset(Home(tonic, mode) for mode in sides[key.kind])
    modes = [mode for mode, (scale, _, _) in MODES.items() if scale == key.kind]
    if not modes:
        modes = list(sides["minor" if key.is_minor else "major"])
    return frozenset(Home(tonic, mode) for mode in modes)


def _spelled(home: Home, events: Sequence[Event], given: Scale | None) -> Scale:
    """The home as a scale, spelled as the chart spells its tonic, else near the chords' own spelling."""
    kind = MODES[home.mode][0]
    names = [event.chord.root for event in events if event.chord.root is not None]
    if given is not None:
        names.insert(0, given.tonic)
    same = [name for name in names if name.pitch_class == home.tonic]
    if same and abs(Scale(same[0], kind).parent.tonic.fifths) <= 7:
        return Scale(same[0], kind)
    near = sum(name.fifths for name in names) / len(names)
    choices = [NoteName.at((home.tonic * 7) % 12 + shift) for shift in (-12, 0, 12)]
    choices.sort(key=lambda name: (abs(Scale(name, kind).parent.tonic.fifths) > 6, abs(name.fifths - near)))
    return Scale(choices[0], kind)


def _key_of(home: Scale, events: Sequence[Event]) -> Scale:
    if home.kind in ("major", "minor"):
        return home
    if home.family == "major":
        parent = home.parent
        degrees = {degree_of(event.chord.root.fifths - parent.tonic.fifths): event.chord
                   for event in events if event.chord.root}
        if set(degrees) == {"2", "5"} and degrees["2"].is_minor \
                and facts_of(degrees["5"]).kind in (DOMINANT, SUSPENDED):
            return parent
    return Scale(home.tonic, "minor" if home.is_minor and home.kind != "blues" else "major")


def _close(spans: list[Span], length_beats: Fraction) -> list[Span]:
    ends = [span.onset_beats for span in spans[1:]] + [length_beats]
    starts = [Fraction(0)] + [span.onset_beats for span in spans[1:]]
    return [Span(span.scale, span.key, start, end - start)
            for span, start, end in zip(spans, starts, ends, strict=True)]


def _read(chart: Chart, number: int, spans: Sequence[Span]) -> Reading:
    event = chart.events[number]
    span = next(span for span in reversed(spans) if span.onset_beats <= event.onset_beats)
    chord = event.chord
    following = chart.events[(number + 1) % len(chart.events)].chord
    scales = chord_scales(chord, _context_mask(span), "lydian dominant" if _falls_a_semitone(chord, following) else "")
    scale = scales[0] if scales else span.scale
    after = chart.events[(number + 2) % len(chart.events)].chord
    return Reading(
        chord, event.onset_beats, event.duration_beats, span.key, span.scale, numeral(chord, span.key),
        role(chord, span.scale, following, after), scale, scales[1:], guide_tones(chord),
        tensions(chord, scale) if chord.root else (), avoid_notes(chord, scale) if chord.root else (),
        moves(chord, following),
    )


def _falls_a_semitone(chord: Chord, following: Chord) -> bool:
    """A dominant that resolves down a half step: a tritone substitute, whose scale is the lydian dominant."""
    if chord.root is None or following.root is None or not chord.is_dominant:
        return False
    return (chord.root.pitch_class - following.root.pitch_class) % 12 == 1


def _context_mask(span: Span) -> int:
    mode = next((mode for mode, (kind, _, _) in MODES.items() if kind == span.scale.kind), None)
    return span.scale.mask if mode is None else home_mask(Home(span.scale.tonic.pitch_class, mode))

