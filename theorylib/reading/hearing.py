"""Several readings of one stretch of changes, ranked, where practice allows more than one.

A two-chord vamp may be heard as a mode of its first chord, as a mode of its second, or as ii and V of a key that never
arrives. Each reading takes one home for the whole chart; its cost is that of keys, so that the first is the one that
`harmony` takes when nothing changes on the way. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import takewhile

from ..changes.charts import Chart, as_chart
from ..errors import ChartError
from ..names.scales import Scale
from ..names.spelling import NoteName
from .harmony import Harmony, harmony, runs_of
from .homes import MODES, Home
from .keys import costs_of

MOST, MARGIN = 4, 2.5  # readings given at most, and how much dearer than the first one may be


@dataclass(frozen=True, slots=True)
class WholeReading:
    """One way to hear the changes: a home scale, the harmony read in it, its cost and why it may be heard so."""

    home: Scale
    harmony: Harmony
    cost: float
    why: str


def readings(chart: Chart | str) -> tuple[WholeReading, ...]:
    """The readings of a chart in one home each, one of each tonic, best first; at most MOST, none much dearer.

    Homes with the same notes are told apart by their tonic: D dorian, G mixolydian and C major all hold Dm7 | G7.
    """
    chart = as_chart(chart)
    chords = [event.chord for event in chart.events if event.chord.root is not None]
    if not chords:
        raise ChartError(
            "the chart has no chord", value=str(chart), expected="at least one chord besides N.C."
        )
    roots = {chord.root.pitch_class: chord.root for chord in reversed(chords) if chord.root}
    found: dict[int, WholeReading] = {}
    for cost, home in _homes_in_reach(chart):
        if len(found) == MOST:
            break
        is_nearest_of_its_tonic = home.tonic not in found
        if is_nearest_of_its_tonic and _can_be_heard(home, roots):
            read = _read_at_home(chart, home, roots, cost)
            if read is not None:
                found[home.tonic] = read
    return tuple(found.values())


def _homes_in_reach(chart: Chart) -> Iterator[tuple[float, Home]]:
    """(cost, home), the nearest first, none much dearer than it."""
    costs = [round(cost, 6) for cost in costs_of([run for run, _ in runs_of(chart)])]
    homes = [Home(tonic, mode) for mode in MODES for tonic in range(12)]
    ranked = sorted(zip(costs, homes, strict=True), key=lambda row: row[0])
    best = ranked[0][0]
    return takewhile(lambda row: row[0] <= best + MARGIN, ranked)


def _read_at_home(
    chart: Chart, home: Home, roots: Mapping[int, NoteName], cost: float
) -> WholeReading | None:
    """The chart read in one home, its tonic spelled as the chords spell it; None where it leaves that home."""
    tonic = roots.get(home.tonic) or NoteName.at((home.tonic * 7 + 5) % 12 - 5)
    scale = Scale(tonic, home.mode).simple()
    read = harmony(chart, scale)
    stays_at_home = len(read.homes) == 1 and str(read.homes[0].scale) == str(scale)
    return WholeReading(scale, read, cost, _why(scale, read)) if stays_at_home else None


def _can_be_heard(home: Home, roots: Mapping[int, NoteName]) -> bool:
    """A home that never sounds is heard only where its dominant points to it."""
    fifth_of_it = (home.tonic + 7) % 12
    return home.tonic in roots or (home.mode == "major" and fifth_of_it in roots)


def _why(home: Scale, read: Harmony) -> str:
    """A sentence on what speaks for the reading."""
    sounding = [reading for reading in read.chords if reading.chord.root is not None]
    first, last = sounding[0].chord, sounding[-1].chord
    tonic = home.tonic.pitch_class
    said = []
    if first.root is not None and first.root.pitch_class == tonic:
        said.append(f"{first} opens and is home")
    if last.root is not None and last.root.pitch_class == tonic and len(sounding) > 1:
        said.append(f"{last} closes")
    if not any(
        reading.chord.root and reading.chord.root.pitch_class == tonic for reading in sounding
    ):
        said.append(f"{home.tonic} itself never sounds as a chord: everything leans towards it")
    if home.kind == "blues":
        said.append("its I and IV are both dominant sevenths: a blues")
        return "; ".join(said)[:1].upper() + "; ".join(said)[1:] + "."
    inside = sum(reading.chord.pitch_classes <= home.pitch_classes for reading in sounding)
    said.append(
        "every chord lies in the scale"
        if inside == len(sounding)
        else f"{inside} of {len(sounding)} chords lie in the scale"
    )
    text = "; ".join(said)
    return text[0].upper() + text[1:] + "."
