"""What colours the chords of some changes: triads over each, and the chord that asks for a substitute arpeggio."""

from __future__ import annotations

from dataclasses import dataclass

from theorylib.changes.charts import Chart
from theorylib.names.arpeggios import GROUPS, Arpeggio
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.reading.chordscales import is_altered
from theorylib.reading.harmony import Harmony
from theorylib.reading.judging import Reach
from theorylib.reading.substitutes import Substitute, substitutes, with_new_notes

from . import prose
from .derived import as_harmony
from .door import LessonError

_TRIADS = ("", "m")  # kinds of triad that a student knows by hand


def triads_of(read: Harmony | Chart | str) -> tuple[tuple[Chord, Substitute], ...]:
    """Which triad to play over each chord: the best one on another root, without a clash.

    Each chord comes once; the triads are major or minor. One that adds a note of the key to the chord comes first, then
    one that is part of it.

    >>> [(chord.pretty, one.arpeggio.pretty, one.degrees) for chord, one in triads_of("| Gm7 | C7 |")]
    [('Gm7', 'Dm', ('5', 'b7', '9')), ('C7', 'Gm', ('5', 'b7', '9'))]
    """
    read = as_harmony(read)
    found: dict[Chord, Substitute] = {}
    for reading in prose.readings(read):
        fitting = [one for one in substitutes(reading.chord, reading.home, scale=reading.scale)
                   if one.kind in _TRIADS and one.step and not one.clashes and one.reach != "outside"]
        adding = [one for one in fitting if one.tensions and one.reach == "inside"]
        for one in (adding or fitting)[:1]:
            found.setdefault(reading.chord.without_bass(), one)
    return tuple(found.items())


@dataclass(frozen=True, slots=True)
class Colour:
    """A chord of some changes that asks for a substitute arpeggio, its home, its scale, the chord after it (None: no
    chord) and the best substitutes, the best first."""

    chord: Chord
    key: Scale
    scale: Scale
    following: Chord | None
    found: tuple[Substitute, ...]

    @property
    def arpeggio(self) -> Arpeggio | Chord:
        return self.found[0].arpeggio


def colour_of(read: Harmony | Chart | str) -> Colour:
    """Where to try a colour: the chord that asks for it most, and arpeggios on three other roots.

    They are the best on each root, and bring other notes.

    >>> found = colour_of("key: C minor\\n| Cm7 | G7#9 |")
    >>> found.chord.pretty, found.arpeggio.pretty
    ('G7♯9', 'D♭7')
    """
    read = as_harmony(read)
    index = _colour_wanted(read)
    reading, following = read.chords[index], read.chords[(index + 1) % len(read.chords)].chord
    reach: Reach | None = "inside" if prose.is_power(reading.chord) else None  # two notes bear no colour from afar
    fitting = (one for one in substitutes(reading.chord, reading.home, following, scale=reading.scale, reach=reach)
               if one.step and GROUPS[one.kind] in ("triad", "seventh", "sixth") and not one.clashes)
    best: dict[int, Substitute] = {}  # the best on each root but the chord's own
    for one in with_new_notes(fitting):
        best.setdefault(one.step, one)
    return Colour(reading.chord, reading.home, reading.scale, following if following.root else None,
                  tuple(best.values())[:3])


def _colour_wanted(read: Harmony) -> int:
    """The last altered dominant, else the last dominant, else the first chord."""
    order = [index for index, reading in enumerate(read.chords) if reading.chord.root is not None]
    if not order:
        raise LessonError("the changes hold no chord", value=str(read.chart), expected="a chord beside N.C.")
    dominants = [index for index in order if read.chords[index].chord.is_dominant]
    altered = [index for index in dominants if is_altered(read.chords[index].chord)]
    return (altered or dominants or order[:1])[-1]
