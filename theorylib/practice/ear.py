"""Tasks for the ear over some changes: did it change, which chord, which degree, an echo, a note to sing and find.

What is asked grows with the level: a beginner hears bright and dark, roots, 3rds and 5ths; the intermediate the tones
of seventh chords and which change of the lesson it was; the advanced the colours on top. Common practice, no source.
The same changes, level and seed give the same tasks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random

from ..changes.charts import Chart, as_chart
from ..errors import one_of
from ..levels import LEVELS, Level
from ..limits import is_whole
from ..names.chords import Chord
from ..names.spelling import Interval, NoteName, Pitch, pretty_accidentals
from ..necks.tunings import STANDARD, Tuning, as_tuning
from ..reading.chordscales import counted_degree
from ..reading.harmony import Reading, harmony
from .ear_text import EarError, EarTask, Sound

MOST_SEEDS = 9999
EACH = 2  # tasks of a kind
OCTAVE = 12
LOWEST_ROOT = 48  # C3: chords are struck with their root from here to the B above
STRUCK, AFTER = (
    Fraction(2),
    Fraction(5, 2),
)  # beats that a chord rings, and at which the next sound comes
MOST_CHANGES = 4  # to choose among
MOST_TONES = 7  # of a chord, a 13th among them
_THIRDS = ("3", "b3")
# level: suffixes of chords to tell apart, the lesson's own among them where they are known here.
_QUALITIES = {
    "beginner": ("", "m"),
    "intermediate": ("maj7", "7", "m7"),
    "advanced": ("7", "7b9", "7#9", "m7b5", "mMaj7"),
}
# Over changes of triads alone nobody is asked about sevenths.
_TRIADS = {
    "beginner": ("", "m"),
    "intermediate": ("", "m", "dim"),
    "advanced": ("", "m", "dim", "aug", "sus4"),
}
_CALLED = {
    "": "bright: a major chord",
    "m": "dark: a minor chord",
    "5": "neither: a power chord, without a 3rd",
    "dim": "tight: a diminished triad",
    "aug": "wide: an augmented triad",
    "sus4": "open: a 4th in place of the 3rd",
}
PLAIN = ("1", "b3", "3", "5")  # degrees that a beginner hears


@dataclass(frozen=True, slots=True)
class _Ear:
    """What all tasks are made from."""

    readings: tuple[Reading, ...]
    level: Level
    chance: Random
    tuning: Tuning
    position: int


def ear_tasks(
    chart: Chart | str,
    level: Level = "intermediate",
    position: int = 5,
    *,
    seed: int = 1,
    tuning: Tuning | str = STANDARD,
) -> tuple[EarTask, ...]:
    """Two tasks of each kind over a chart: change, quality, degree, echo, sing; `position` says where a note is found.

    `seed` is a number from 0 to MOST_SEEDS; another gives other tasks of the same kinds.

    >>> [(task.kind, task.answer) for task in ear_tasks("| Gm7 | C9 |", "beginner", 3)][:2]
    [('change', 'it stays'), ('change', 'it changes')]
    """
    chart, tuning = as_chart(chart), as_tuning(tuning)
    one_of(level, LEVELS, "level", EarError)
    if not is_whole(seed, 0, MOST_SEEDS):
        raise EarError(
            "this is no seed", value=seed, expected=f"a whole number from 0 to {MOST_SEEDS}"
        )
    if not is_whole(position, 1, tuning.last_fret):
        raise EarError("this is no position", value=position, expected=f"1 to {tuning.last_fret}")
    found: dict[Chord, Reading] = {}
    for reading in harmony(chart).chords:
        if reading.chord.root is not None:
            found.setdefault(reading.chord.without_bass(), reading)
    ear = _Ear(tuple(found.values()), level, Random(f"{seed} {level} {chart}"), tuning, position)
    return (*_changes(ear, chart), *_qualities(ear), *_degrees(ear), *_echoes(ear), *_sung(ear))


# -- sounds ------------------------------------------------------------------------------------------------------------
def _root_midi(chord: Chord) -> int:
    assert chord.root is not None
    return LOWEST_ROOT + (chord.root.pitch_class - LOWEST_ROOT) % 12


def _midis(chord: Chord, among: Sequence[str] = ()) -> list[int]:
    """A chord from its root up, each tone at its own degree, a 9th above the octave; `among` some degrees alone."""
    degrees = [tone.degree for tone in chord.tones if not among or tone.degree in among]
    root = _root_midi(chord)
    return [
        root + step for step in sorted(Interval.of_degree(degree).semitones for degree in degrees)
    ]


def _struck(
    midis: Iterable[int], onset: Fraction = Fraction(0), length: Fraction = STRUCK
) -> tuple[Sound, ...]:
    return tuple(Sound(onset, length, midi) for midi in midis)


def _heard(ear: _Ear, chord: Chord) -> list[int]:
    return _midis(chord, PLAIN if ear.level == LEVELS[0] else ())


def _named(ear: _Ear, chord: Chord) -> str:
    """A chord as somebody is told to play it: by its notes where a beginner hears only some of them."""
    plain = [tone.name.pretty for tone in chord.tones if tone.degree in PLAIN]
    if ear.level == LEVELS[0] and len(chord.tones) > len(plain):
        return " ".join(plain)
    return chord.pretty


# -- did it change, and which change was it ----------------------------------------------------------------------------
def _changes(ear: _Ear, chart: Chart) -> Iterator[EarTask]:
    """Two chords in a row: a beginner says whether it changed, the others which change of the lesson it was."""
    sounding = [
        event.chord.without_bass() for event in chart.events if event.chord.root is not None
    ]
    around = [*sounding, sounding[0]]
    pairs = list(dict.fromkeys((one, two) for one, two in pairwise(around) if one != two))
    if not pairs:
        return
    if ear.level == LEVELS[0] or len(pairs) < 2:
        for changes in ear.chance.sample((True, False), EACH):
            one, two = ear.chance.choice(pairs)
            second = two if changes else one
            yield EarTask(
                "change",
                "Two chords in a row. Does the chord change, or does it stay?",
                _struck(_heard(ear, one)) + _struck(_heard(ear, second), AFTER),
                "it changes" if changes else "it stays",
                ("it changes", "it stays"),
                plays=f"{_named(ear, one)}, then {_named(ear, second)}",
            )
        return
    offered = sorted(ear.chance.sample(pairs, min(MOST_CHANGES, len(pairs))), key=pairs.index)
    for one, two in ear.chance.sample(offered, min(EACH, len(offered))):
        yield EarTask(
            "change",
            "Which change of the lesson is it?",
            _struck(_heard(ear, one)) + _struck(_heard(ear, two), AFTER),
            _arrow(one, two),
            tuple(_arrow(*pair) for pair in offered),
        )


def _arrow(one: Chord, two: Chord) -> str:
    return f"{one.pretty} – {two.pretty}"


# -- which kind of chord -----------------------------------------------------------------------------------------------
def _qualities(ear: _Ear) -> Iterator[EarTask]:
    """A chord on a root of the lesson, of one of the kinds that the level tells apart."""
    kinds = list(_QUALITIES[ear.level])
    own = [reading.chord.suffix for reading in ear.readings]
    if ear.level == LEVELS[0] or set(own) == {
        "5"
    }:  # over power chords a 3rd is what there is to hear
        kinds = [*_QUALITIES[LEVELS[0]], *["5"] * ("5" in own)]
    elif not any(map(_has_a_seventh, own)):
        kinds = [*_TRIADS[ear.level], *["5"] * ("5" in own)]
    else:
        kinds = list(
            dict.fromkeys([*[suffix for suffix in own if _has_a_seventh(suffix)][:3], *kinds])
        )[:5]
    for suffix in ear.chance.sample(kinds, EACH):
        root = ear.chance.choice(ear.readings).chord.root
        chord = Chord.parse(f"{root}{suffix}")
        yield EarTask(
            "quality",
            "What kind of chord is it?",
            _struck(_midis(chord)),
            _called(suffix),
            tuple(map(_called, kinds)),
            plays=chord.pretty,
        )


def _has_a_seventh(suffix: str) -> bool:
    """A 6th counts as one: who hears neither hears triads, whatever is added to them."""
    return bool({"6", "bb7", "b7", "7"} & set(Chord.parse(f"C{suffix}").degrees))


def _called(suffix: str) -> str:
    return _CALLED.get(suffix) or Chord.parse(f"C{suffix}").pretty[1:]


# -- which degree was it -----------------------------------------------------------------------------------------------
def _degrees(ear: _Ear) -> Iterator[EarTask]:
    """The chord, then one of its notes alone, an octave above."""
    for reading in _some(ear):
        chord = reading.chord.without_bass()
        offered = _offered(ear, reading)
        degree = ear.chance.choice(list(offered))
        midi = _root_midi(chord) + 12 + Interval.of_degree(degree).semitones % 12
        yield EarTask(
            "degree",
            f"{_shown(ear, chord)}, then one note. Which is it in the chord?",
            _struck(_heard(ear, chord)) + _struck([midi], AFTER),
            _counted(degree, chord),
            tuple(_counted(one, chord) for one in offered),
            plays=f"{_named(ear, chord)}, then {_plainly(offered[degree])}",
        )


def _offered(ear: _Ear, reading: Reading) -> dict[str, NoteName]:
    """The degrees to choose among, from the root up."""
    tones = {tone.degree: tone.name for tone in reading.chord.tones}
    if ear.level == LEVELS[0]:
        return {degree: name for degree, name in tones.items() if degree in PLAIN}
    if ear.level == LEVELS[1]:
        return dict(list(tones.items())[:4])
    is_whole_chord = len(tones) > 2  # over a power chord a colour may be anything
    # The 3rd that a 4th or a 2nd holds back is no colour of the chord.
    colours = {degree: name for name, degree in reading.tensions if degree not in _THIRDS}
    offered = dict(list(tones.items())[:MOST_TONES])
    for degree, name in colours.items():
        if is_whole_chord and len(offered) <= MOST_TONES:
            offered.setdefault(degree, name)
    return dict(sorted(offered.items(), key=lambda one: int(one[0].lstrip("b#"))))


def _counted(degree: str, chord: Chord) -> str:
    """The 4 of a sus chord is its own; a colour is heard high above and stays a 9, 11 or 13."""
    own = degree in chord.degrees
    return pretty_accidentals(counted_degree(degree, chord) if own else degree)


def _shown(ear: _Ear, chord: Chord) -> str:
    """A chord as it is heard: a beginner hears its plain tones, so that it is called by its root alone."""
    assert chord.root is not None
    return f"A chord on {chord.root.pretty}" if ear.level == LEVELS[0] else chord.pretty


def _some(ear: _Ear) -> list[Reading]:
    """EACH chords of the lesson, different ones where there are."""
    if len(ear.readings) >= EACH:
        return ear.chance.sample(ear.readings, EACH)
    return [ear.readings[0]] * EACH


# -- echo --------------------------------------------------------------------------------------------------------------
_ECHO_BEATS = {
    "beginner": ("1", "1", "2"),
    "intermediate": ("1", "1/2", "1/2", "1", "1"),
    "advanced": ("1/2", "1", "1/2", "1/2", "1/2", "1"),
}


def _echoes(ear: _Ear) -> Iterator[EarTask]:
    """A few notes of a chord, to be sung and played back: from the root, by step through its tones, in one octave.

    An octave is what a voice without training has wherever it begins (common practice, no source).
    """
    for reading in _some(ear):
        chord = reading.chord.without_bass()
        named = {
            _root_midi(chord) + Interval.of_degree(degree).semitones % 12: name
            for degree, name in _offered(ear, reading).items()
        }
        lowest = min(named)
        named[lowest + OCTAVE] = named[lowest]
        order = sorted(named)
        at, before, onset, sounds, said = 0, -1, Fraction(0), [], []
        for length in map(Fraction, _ECHO_BEATS[ear.level]):
            sounds.append(Sound(onset, length, order[at]))
            said.append(Pitch.of_midi(order[at], _plain(named[order[at]])).pretty)
            onset += length
            ways = [at + step for step in (-2, -1, 1, 2) if 0 <= at + step < len(order)]
            # Two notes to and fro are no tune.
            onward = [way for way in ways if way != before] or ways
            before, at = at, ear.chance.choice(onward)
        first = Pitch.of_midi(order[0], named[order[0]]).pretty
        yield EarTask(
            "echo",
            f"It begins on {first}. Hear it twice, sing it, play it back.",
            tuple(sounds),
            " ".join(said),
        )


def _plain(name: NoteName) -> NoteName:
    """The simple name of a note with a double accidental: an echo is heard, not spelled."""
    return name.simple() if abs(name.accidental) > 1 else name


def _plainly(name: NoteName) -> str:
    """A note with the plain name that it has on the neck beside an odd one: “C♭ (sounds as B)”."""
    plain = name.simple()
    return name.pretty if name == plain else f"{name.pretty} (sounds as {plain.pretty})"


# -- sing and find -----------------------------------------------------------------------------------------------------
def _sung(ear: _Ear) -> Iterator[EarTask]:
    """The root sounds; a degree is sung, then found on the neck."""
    for reading in _some(ear):
        chord = reading.chord.without_bass()
        offered = {degree: name for degree, name in _offered(ear, reading).items() if degree != "1"}
        if not offered:
            continue
        degree = ear.chance.choice(list(offered))
        midi = _root_midi(chord) + Interval.of_degree(degree).semitones % 12
        place = _place(ear, midi)
        assert chord.root is not None
        yield EarTask(
            "sing",
            f"You hear the root, {chord.root.pretty}. Sing the {_counted(degree, chord)} above it, then "
            "find it on the neck.",
            _struck([_root_midi(chord)]),
            f"{_plainly(offered[degree])}{place}",
            after=_struck([_root_midi(chord)]) + _struck([midi], Fraction(1)),
        )


def _place(ear: _Ear, midi: int) -> str:
    """Where a pitch lies nearest to the hand, in words; nothing where the neck has it nowhere."""
    places = ear.tuning.places(midi)
    if not places:
        return ""
    place = min(places, key=lambda one: (abs(one.fret - ear.position - 1), one.string))
    return f", string {place.string} {'open' if place.fret == 0 else f'fret {place.fret}'}"
