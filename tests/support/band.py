"""What a backing track is like, counted: what repeats, what the bass does, what the comping holds, where fills stand.

Everything is counted from the hits alone, as a listener would; nothing here asks the code that made them why. A bar of
drums is the set of its (place in the bar, key), a bar of comping the set of its places: loudness and voicing do not
make two bars different.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, groupby, pairwise
from typing import Any

from workbook.play.backing import BASS, CLICK, COMP, DRUMS, Backing, Hit

METERS = ("4/4", "3/4", "6/8", "5/4", "7/8", "12/8")
CRASH, SNARE = 49, 38                     # General MIDI 1 percussion map
GHOST = 60                                # the highest velocity of a ghost note
TOMS = (41, 43, 45, 47, 48, 50)
CHARTS = (
    "tempo: 104\nkey: A dorian\n| Am7 | D7 |",
    "tempo: 84\nkey: E minor\n| Em7 | Em7/D | Cmaj7 | B7alt |",
    "tempo: 112\nkey: G major\n[A] | G7 | C7 | G7 | G7 | C7 | C7 | G7 | E7 | Am7 | D7 | G7 E7 | Am7 D7 |",
    "tempo: 152\nkey: D minor\n[A] | Dm | Bb | C | Dm | Dm | Bb | C | A7 |",
    "tempo: 92\nkey: C# minor\n[A] | C#m9 | Amaj7 | E | B/D# | F#m7 | C#m7 | Amaj7 | G#7b9 |",
    "tempo: 138\nkey: Bb major\n[A] | Cm7 | F7 | Bbmaj7 | G7b9 |\n[B] | Cm7 | F13 | Bb6 | Ebmaj7 |",
    "tempo: 70\nkey: F major\n| Fmaj9 | Dm7 | Gm9 | C9sus4 C9 |",
    "tempo: 128\nkey: E mixolydian\n| E7 | D | A | E7 |",
    ("tempo: 96\nkey: F minor\n[A] | Fm7 | Bbm7 | Eb7 | Abmaj7 |\n[B] | Dbmaj7 | Gm7b5 | C7#9 | Fm6 |\n"
    "[C] | Fm7 | Bbm7 | Gm7b5 C7b9 | Fm7 |"),
    ("tempo: 176\nkey: C major\n[A] | Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |\n"
    "[B] | Fmaj7 | Fm6 | Em7 | A7b9 | Dm7 | G7 | C6 | Dm7 G7 |"),
)


@dataclass(frozen=True, slots=True)
class Repeats:
    """Of the bars of a part: the share of the commonest, of those like the bar before, and bits a chorus."""

    commonest: float
    like_before: float
    entropy_bits: float
    passes_alike: float  # share of passes that are just like the pass before


def played(track: Backing, part: str) -> list[Hit]:
    """The hits of a part inside the passes, ending apart."""
    end = track.passes * track.chart.length_beats
    return [hit for hit in track.of(part) if 0 <= hit.start_beats < end]


def bars_of(track: Backing, part: str) -> list[frozenset[tuple[Any, ...]]]:
    """What each bar of the passes holds of a part: (place, key) of drums, (place,) of others."""
    bar_beats = track.chart.bar_beats
    found: list[set[tuple[Any, ...]]] = [set() for _ in range(track.passes * track.chart.form_bars)]
    for hit in played(track, part):
        number, place = divmod(hit.start_beats, bar_beats)
        found[int(number)].add((place, hit.midi) if part == DRUMS else (place,))
    return [frozenset(bar) for bar in found]


def repeats(track: Backing, part: str) -> Repeats:
    bars, form = bars_of(track, part), track.chart.form_bars
    counts = Counter(bars)
    choruses = [tuple(bars[start:start + form]) for start in range(0, len(bars), form)]
    # Of a short form several passes make a chorus of at least eight bars.
    long = max(1, -(-8 // form))
    together = [sum(choruses[at:at + long], ()) for at in range(0, len(choruses) - long + 1, long)] or [tuple(bars)]
    alike = [one == two for one, two in pairwise(together)]
    return Repeats(max(counts.values()) / len(bars), share(one == two for one, two in pairwise(bars)),
                   sum(map(entropy, together)) / len(together), share(alike))


def entropy(bars: Sequence[object]) -> float:
    """Bits a bar (Shannon): 0 where all are alike."""
    counts = Counter(bars).values()
    return -sum(one / len(bars) * math.log2(one / len(bars)) for one in counts)


def share(found: Iterable[bool]) -> float:
    all_of = list(found)
    return sum(all_of) / len(all_of) if all_of else 0.0


# -- bass ------------------------------------------------------------------------------------------------------------
def changes(track: Backing) -> list[tuple[Fraction, int]]:
    """(beat, pitch class of root or slash bass) of each place where another bass note is due."""
    found: list[tuple[Fraction, int]] = []
    for turn in range(track.passes):
        for event in track.chart.events:
            low = event.chord.bass or event.chord.root
            if low is not None and (not found or found[-1][1] != low.pitch_class):
                found.append((turn * track.chart.length_beats + event.onset_beats, low.pitch_class))
    return found


def roots_on_changes(track: Backing, early: Fraction = Fraction(1, 2)) -> float:
    """Share of changes on which the bass sounds the root or slash bass, there or pushed by up to half a beat.

    A change on an off-beat sounds later where eighths swing: by a sixth of a beat where the first is twice as long.
    """
    bass = played(track, BASS)
    return share(any(at - early <= hit.start_beats <= at + Fraction(1, 6) and hit.midi % 12 == low for hit in bass)
                 for at, low in changes(track))


@dataclass(frozen=True, slots=True)
class BassWays:
    leaps: float          # share of moves over a fifth that are no octave
    octaves: float        # share of moves by an octave
    low: int
    high: int
    approaches: Counter[str]


def bass_ways(track: Backing) -> BassWays:
    notes = [hit.midi for hit in played(track, BASS)]
    moves = [abs(two - one) for one, two in pairwise(notes)] or [0]
    return BassWays(share(move > 7 and move != 12 for move in moves), share(move == 12 for move in moves),
                    min(notes, default=0), max(notes, default=0), Counter(_approaches(track)))


_KINDS = {-1: "semitone below", 1: "semitone above", -2: "step below", 2: "step above", 7: "fifth", -5: "fifth",
          5: "fourth", -7: "fourth", 0: "same", 12: "same", -12: "same"}


def _approaches(track: Backing) -> Iterable[str]:
    bass = played(track, BASS)
    due = dict(changes(track))
    for one, two in pairwise(bass):
        if two.start_beats in due and two.midi % 12 == due[two.start_beats]:
            yield _KINDS.get(one.midi - two.midi, "other")


# -- comping ---------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Voicings:
    """Counts of faults among the different chords that the comping strikes, and of what it doubles."""

    struck: int
    minor_ninths: int
    top_semitones: int
    sharp_nine_low: int
    roots: int            # voicings of four-note chords that hold the root
    low: int
    high: int


def voicings(track: Backing, part: str = COMP) -> Voicings:
    found = [(at, tuple(sorted(hit.midi for hit in hits)))
             for at, hits in groupby(played(track, part), lambda hit: hit.start_beats)]
    ninths = tops = nines = roots = 0
    for at, notes in found:
        ninths += any(two - one in (13, 25) for one, two in combinations(notes, 2))
        tops += len(notes) > 1 and notes[-1] - notes[-2] == 1
        chord = track.chart.chord_at(at)
        if chord is None or chord.root is None:
            continue
        # A chord that is pushed, by a beat at most, belongs to the change after it.
        after = (track.chart.chord_at(at + early) for early in (Fraction(1, 2), Fraction(1)))
        near = [one for one in (chord, *after) if one is not None and one.root]
        roots += all(len(one.tones) >= 4 and one.root is not None
                     and any(note % 12 == one.root.pitch_class for note in notes) for one in near)
        degrees = {tone.degree: tone.name.pitch_class for tone in chord.tones}
        if {"#9", "3"} <= set(degrees):
            sharp = [note for note in notes if note % 12 == degrees["#9"]]
            third = [note for note in notes if note % 12 == degrees["3"]]
            nines += bool(sharp and third and min(sharp) < min(third))
    every = [note for _, notes in found for note in notes] or [0]
    return Voicings(len(found), ninths, tops, nines, roots, min(every), max(every))


# -- drums and time --------------------------------------------------------------------------------------------------
def section_starts(track: Backing) -> set[int]:
    """Bars of the track with which a section or the form begins, the ending's among them."""
    chart = track.chart
    inside = {int(section.onset_beats / chart.bar_beats) for section in chart.sections} | {0}
    return ({turn * chart.form_bars + bar for turn in range(track.passes) for bar in inside}
            | {track.passes * chart.form_bars})


def crashes(track: Backing) -> list[int]:
    return sorted({int(hit.start_beats / track.chart.bar_beats) for hit in played(track, DRUMS) if hit.midi == CRASH})


def fills(track: Backing) -> list[int]:
    """Bars with toms or a run on the snare: four strokes or more in the last two beats of the bar, ghosts apart."""
    bar_beats = track.chart.bar_beats
    toms = {int(hit.start_beats / bar_beats) for hit in played(track, DRUMS) if hit.midi in TOMS}
    late = Counter(int(hit.start_beats / bar_beats) for hit in played(track, DRUMS)
                   if hit.midi == SNARE and hit.velocity > GHOST and hit.start_beats % bar_beats >= bar_beats - 2)
    return sorted(toms | {bar for bar, count in late.items() if count >= 4})


def off_the_grid(track: Backing, part: str) -> tuple[float, float]:
    """(mean, standard deviation) in milliseconds of a part's distance from the swung grid, late is positive.

    A chord that is strummed stands where its first string does.
    """
    moments: dict[Any, float] = {}
    for hit in played(track, part):
        stroke = hit.start_beats if part == COMP else hit
        moments[stroke] = min(moments.get(stroke, 1000.0), float(hit.late_ms))
    late = list(moments.values())
    if not late:
        return 0.0, 0.0
    mean = sum(late) / len(late)
    return mean, math.sqrt(sum((one - mean) ** 2 for one in late) / len(late))


def notes_a_minute(track: Backing) -> float:
    return len([hit for hit in track.hits if hit.part != CLICK]) / (track.seconds / 60)
