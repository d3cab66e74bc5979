"""Where an arpeggio can be used: the chords over which it works, in a key and in the open; the fewest for a chart.

The other way round of substitutes, by the same judgement: a chord qualifies when the arpeggio over it is inside or
colour, clashes with nothing and states a guide tone of it (a power chord has none to state). Chords that are
seldom met, such as the tritone's dominant in a key, come after their like. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from ..changes.charts import Chart, as_chart
from ..errors import ChordError, listed, shown
from ..limits import MOST_BARS, is_whole
from ..names.arpeggios import Arpeggio, as_arpeggio
from ..names.chords import Chord
from ..names.scales import Scale, as_scale
from ..names.spelling import NoteName, pretty_accidentals
from .harmony import Harmony, harmony
from .numerals import numeral
from .substitutes import Substitute, judge_one

# Chords in the open: kinds that changes are made of, and how much less the score of a seldom one counts in the order.
OPEN_KINDS = {
    "maj7": 0.0,
    "6": 0.0,
    "7": 0.0,
    "9": 0.0,
    "7sus4": 1.5,
    "7b9": 0.0,
    "7#9": 1.5,
    "7alt": 1.5,
    "m7": 0.0,
    "m6": 0.0,
    "mMaj7": 0.0,
    "m7b5": 0.0,
    "dim7": 3.0,
    "maj7#11": 1.5,
}
# Chords by function in a key: (semitones above the tonic, suffix) for major and minor (common practice, no source).
_IN_KEY = {
    False: (
        (0, "maj7"),
        (2, "m7"),
        (4, "m7"),
        (5, "maj7"),
        (7, "7"),
        (7, "7b9"),
        (9, "m7"),
        (11, "m7b5"),
        (1, "7"),
        (5, "m6"),
        (10, "7"),
    ),
    True: (
        (0, "m7"),
        (0, "m6"),
        (2, "m7b5"),
        (3, "maj7"),
        (5, "m7"),
        (7, "7b9"),
        (7, "7alt"),
        (8, "maj7"),
        (10, "7"),
        (11, "dim7"),
        (1, "7"),
    ),
}
# In a key, chords that are named late: the tritone's dominant, and in major what is borrowed for a cadence.
_SELDOM = {False: {(1, "7"), (5, "m6"), (10, "7")}, True: {(1, "7")}}
_LATE = 3.0


@dataclass(frozen=True, slots=True)
class Use:
    """One chord over which an arpeggio works, what its notes become there, and its function in a key, if any."""

    chord: Chord
    numeral: str
    substitute: Substitute

    @property
    def degrees(self) -> tuple[str, ...]:
        return self.substitute.degrees

    @property
    def reach(self) -> str:
        return self.substitute.reach

    @property
    def score(self) -> float:
        return self.substitute.score

    @property
    def sound(self) -> str:
        """What it sounds like there, in a sentence."""
        tones = " ".join(map(pretty_accidentals, self.substitute.chord_tones)) or "no chord tone"
        colours = " ".join(map(pretty_accidentals, self.substitute.tensions))
        return f"{tones} of {self.chord.pretty}" + (
            f" with the {colours} as colour" if colours else ""
        )


def uses_of(value: Chord | Arpeggio | str, key: Scale | str | None = None) -> tuple[Use, ...]:
    """Where an arpeggio can be used: every chord over which it works without a clash, best first.

    With a `key` only the chords that have a function there; without one, all of OPEN_KINDS on every root. Ties are
    broken by the chord's name.

    >>> [str(one.chord) for one in uses_of("F")[:3]]
    ['Dm7', 'G7sus4', 'B7#9']
    """
    found = as_arpeggio(value)
    if found.root is None:
        raise ChordError("no chord has no uses", value=str(value), expected="an arpeggio")
    home = None if key is None else as_scale(key)
    uses = []
    for chord in _chords(found.root, home):
        judged = judge_one(found, chord, home)
        if judged is not None and _serves(judged, chord):
            uses.append(Use(chord, numeral(chord, home) if home else "", judged))
    return tuple(sorted(uses, key=lambda use: (_late(use.chord, home) - use.score, str(use.chord))))


def _serves(judged: Substitute, chord: Chord) -> bool:
    """Does the arpeggio say the chord: in a scale of it, without a clash, with a guide tone?"""
    telling = not chord.guide_degrees or not set(chord.guide_degrees).isdisjoint(judged.degrees)
    return telling and judged.reach != "outside" and not judged.clashes


def _late(chord: Chord, home: Scale | None) -> float:
    if home is None or chord.root is None:
        return OPEN_KINDS[chord.suffix]
    place = ((chord.root.pitch_class - home.tonic.pitch_class) % 12, chord.suffix)
    return _LATE if place in _SELDOM[home.is_minor] else 0.0


def _chords(root: NoteName, home: Scale | None) -> Iterable[Chord]:
    if home is None:
        for step in range(12):
            name = NoteName.at((root.fifths + 7 * step + 6) % 12 - 6 + 12 * round(root.fifths / 12))
            yield from (Chord.parse(f"{name}{kind}") for kind in OPEN_KINDS)
        return
    for semitones, suffix in _IN_KEY[home.is_minor]:
        degree = {0: 0, 1: -5, 2: 2, 3: -3, 4: 4, 5: -1, 7: 1, 8: -4, 9: 3, 10: -2, 11: 5}[
            semitones
        ]
        yield Chord.parse(f"{NoteName.at(home.tonic.fifths + degree)}{suffix}")


@dataclass(frozen=True, slots=True)
class Repertoire:
    """A set of known arpeggios that serves a chart: which one over each chord, and the sum of their scores."""

    arpeggios: tuple[str, ...]
    plan: tuple[tuple[Chord, str, Substitute], ...]
    shifts: int
    score: float


def common_arpeggios(
    chart: Chart | str,
    known: Iterable[str],
    *,
    root_frets: dict[str, int] | None = None,
    most_shifts: int | None = None,
    key: Scale | str | None = None,
) -> Repertoire:
    """The smallest set of the known arpeggios that serves every chord of a chart, the best-sounding of equals.

    `root_frets` says at which position a student plays each arpeggio; with `most_shifts` only plans are taken that
    change it no more often than that. Raises ChordError naming the chords that no known arpeggio serves.
    """
    read = harmony(as_chart(chart), key)
    given = listed(known, "list of arpeggios", "such as [“Am7”, “D quartal triad”]", ChordError)
    written = (name if isinstance(name, str) else str(as_arpeggio(name)) for name in given)
    names = list(dict.fromkeys(written))
    if most_shifts is not None and not is_whole(most_shifts, 0, MOST_BARS):
        raise ChordError(
            f"“{shown(most_shifts)}” is no number of shifts",
            value=most_shifts,
            expected="0 or more",
        )
    served = _served(read, names)
    bare = [str(chord) for chord, ways in served if not ways]
    if bare:
        raise ChordError(
            f"no known arpeggio serves {', '.join(dict.fromkeys(bare))}",
            value=", ".join(names),
            expected="an arpeggio in a scale of the chord, without a clash, that states a guide tone",
        )
    best: Repertoire | None = None
    for size in range(1, len(names) + 1):
        for chosen in combinations(names, size):
            plan = _plan(served, frozenset(chosen), root_frets or {}, most_shifts)
            if plan is not None and (best is None or plan.score > best.score):
                best = plan
        if best is not None:
            return best
    raise ChordError(
        f"no plan keeps to {most_shifts} shifts",
        value=most_shifts,
        expected="more shifts or arpeggios",
    )


def _served(read: Harmony, names: list[str]) -> list[tuple[Chord, dict[str, Substitute]]]:
    found = []
    for reading in read.chords:
        if reading.chord.root is None:
            continue
        ways = {}
        for name in names:
            judged = judge_one(as_arpeggio(name), reading.chord, reading.home, reading.scale)
            if judged is not None and _serves(judged, reading.chord):
                ways[name] = judged
        found.append((reading.chord, ways))
    return found


def _plan(
    served: list[tuple[Chord, dict[str, Substitute]]],
    chosen: frozenset[str],
    frets: dict[str, int],
    most_shifts: int | None,
) -> Repertoire | None:
    """The best plan with these arpeggios, all of them used: by dynamic programming over (arpeggio, shifts so far)."""
    states: dict[tuple[str, int], tuple[float, tuple[str, ...]]] = {}
    for index, (_, ways) in enumerate(served):
        now: dict[tuple[str, int], tuple[float, tuple[str, ...]]] = {}
        for name in sorted(chosen & ways.keys()):
            worth = ways[name].score
            befores = states.items() if index else [((name, 0), (0.0, ()))]
            for (last, shifts), (score, path) in befores:
                moves_hand = frets.get(last, 0) != frets.get(name, 0)
                total = shifts + moves_hand
                if most_shifts is not None and total > most_shifts:
                    continue
                state, better = (name, total), score + worth
                if state not in now or better > now[state][0]:
                    now[state] = (better, (*path, name))
        states = now
        if not states:
            return None
    (_, shifts), (score, path) = min(
        states.items(), key=lambda row: (-row[1][0], row[0][1], row[1][1])
    )
    plan = tuple(
        (chord, name, ways[name]) for (chord, ways), name in zip(served, path, strict=True)
    )
    return Repertoire(
        tuple(sorted(set(path))),
        plan,
        shifts,
        round(float(Fraction(score).limit_denominator(1000)), 3),
    )
