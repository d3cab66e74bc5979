"""In which position the parts of a lesson are played: most where the hand stands, some where bends or frets lie."""

from __future__ import annotations

from functools import lru_cache

from theorylib.changes.charts import Chart
from theorylib.levels import LEVELS, Level
from theorylib.necks.tunings import Tuning
from theorylib.practice.tapping import tapped_arpeggio

from .areas import areas_position
from .derived import phrase_position
from .sections import Plan


def hand_at(plan: Plan) -> int:
    """Where the lesson has the hand."""
    return plan.position


def phrases_at(plan: Plan) -> int:
    """Where the phrases lie: with the bends, but a beginner's, which bend nothing, in the shape that was learnt."""
    return plan.position if plan.choices.level == LEVELS[0] else bends_at(plan)


def bends_at(plan: Plan) -> int:
    """Where the bends of a blues lie."""
    choices = plan.choices
    return phrase_position(plan.read, choices.kind, plan.position, choices.tuning, choices.level)


def areas_at(plan: Plan) -> int:
    """Where the pictures of the areas lie."""
    choices = plan.choices
    return areas_position(plan.read, choices.kind, choices.level, plan.position, choices.tuning)


def taps_from(plan: Plan) -> int:
    """The lowest fret that the fretting hand holds in the tapped arpeggios."""
    return _lowest_held(plan.chart, plan.position, plan.choices.level, plan.choices.tuning)


@lru_cache(maxsize=64)
def _lowest_held(chart: Chart, position: int, level: Level, tuning: Tuning) -> int:
    line = tapped_arpeggio(chart, position=position, level=level, tuning=tuning)
    return min(note.fret for note in line.notes if note.fret and not note.marked("tap"))
