"""Bends in a lesson: the area where they lie over the first chord, and the drill that puts the goal first."""

from __future__ import annotations

from theorylib.changes.charts import Chart
from theorylib.changes.meters import COMMON_TIME
from theorylib.necks.shapes import Shape
from theorylib.practice.touch import BEND_TEMPO
from theorylib.reading.chordscales import counted_degree

from . import prose
from .derived import bend_area, two_chords
from .first_drills import BEGINNER
from .places import bends_at
from .sections import Plan, Section, says


def _bend_area(plan: Plan) -> Shape:
    """The bends over the first chord."""
    choices = plan.choices
    return bend_area(two_chords(plan.read)[0], bends_at(plan), choices.level, choices.tuning)


def _bends(plan: Plan) -> str:
    chord, _ = two_chords(plan.read)
    if not _bend_area(plan).bends:
        return f"## Target notes over {chord.pretty}\n\nA small area. Play each note, hold it and sing it."
    return (f"## Bends over {chord.pretty}\n\nThe arrows show where each bend arrives. Play the place of arrival "
            f"first, sing it, then bend up to it.{_high_degrees(plan)}")


def _high_degrees(plan: Plan) -> str:
    """A beginner's scale has a 2 and a 4, which the bends call by their place over the octave."""
    if plan.choices.level not in BEGINNER:
        return ""
    chord, _ = two_chords(plan.read)
    shown = {counted_degree(place.degree, chord) for place in _bend_area(plan).places}
    said = [f"the {high} is the {low}" for high, low in _SAME_NOTE.items() if high in shown]
    told = prose.listed(said)
    return f" {told[0].upper()}{told[1:]} of the scale, an octave up." if told else ""


_SAME_NOTE = {"9": "2", "11": "4", "13": "6"}  # degrees over the octave and under it


def _bent(plan: Plan) -> bool:
    return bool(_bend_area(plan).bends)


def _goal_first(plan: Plan) -> str:
    curls = any(bend.semitones % 1 for bend in _bend_area(plan).bends)
    straight = " A quarter tone has no fret: there the straight note comes first." * curls
    return (f"### Goal first\n\n{_own_time(plan.chart)}In each bar the goal comes first, on its own fret. Keep it in "
            "your ear, rest, then bend up to meet it and let it down slowly. A finger that has others behind it on the "
            f"neck lets them push with it.{straight}")


def _own_time(chart: Chart) -> str:
    """What is said where the bends do not stand in the time of the changes."""
    meter = "" if chart.meter == COMMON_TIME else "four quarters a bar"
    tempo = f"♩ = {BEND_TEMPO}" if chart.tempo > BEND_TEMPO else ""
    said = prose.listed(filter(None, (meter, tempo)))
    return f"This drill has its own time, {said}: a bend is heard before it is fast. " if said else ""


BENDS = (
    Section("targets", _bends, says(
        "first, second = two_chords(read)\n"
        "bent = phrase_position(read, kind, hand, neck, level)\n"
        "area = bend_area(first, bent, level, neck)\n"
        "plot_neck(area, over=first, tuning=neck)"), least=15, part="Technique", does="bends in tune",
        at=bends_at),
    Section("targets-bends", code=says("bends(area, over=first)"), least=15),
    Section("bend-drill", _goal_first,
        says("up = as_drill(bend_drill(first, area, chart=chart, tuning=neck))\nup.score()"), when=_bent, least=15,
        aim=says("Bend to a pitch in tune, with the goal heard first.")),
)
