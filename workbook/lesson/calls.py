"""Calls and answers in a lesson: the phrases over its changes, where a hand holds them, and what each of them does."""

from __future__ import annotations

from functools import lru_cache

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.levels import Level
from theorylib.necks.tunings import Tuning
from theorylib.playing.fingering import finger
from theorylib.practice.idioms import Style
from theorylib.practice.phrasing import phrases_over

from .derived import phrase_style
from .first_drills import BEGINNER, HIGHER
from .places import phrases_at
from .sections import Plan, Section, says

VIBRATO_KIND = "modern"  # the kind of lesson with a drill of vibrato, which comes before its phrases
WAVY_LINE = "A wavy line is a vibrato: the held note wavers, evenly and never below its pitch."

_PHRASES = {
    "beginner": "## Calls and answers\n\nOne phrase calls, the next answers, the last comes home. Play it as it "
                "stands until it goes by itself; then keep the call and find an answer of your own in the same rhythm. "
                "The silence belongs to the phrase.",
    "intermediate": "## Calls and answers\n\nSing each call before you play it. When they sit in the hand, keep the "
                    "rhythm of a call and choose other notes of the chord; the list says what each of them does.",
    "advanced": "## Calls and answers, to be changed\n\nLearn one call and its answer by heart. Then let the call "
                "begin an eighth later, and answer it with one note fewer each time round.",
}


def _phrases(plan: Plan) -> str:
    new = plan.choices.level in BEGINNER and plan.choices.kind != VIBRATO_KIND
    return _PHRASES[plan.choices.level] + f" {WAVY_LINE}" * new


def _can_be_phrased(plan: Plan) -> bool:
    style = phrase_style(plan.read, plan.choices.kind)
    return _phrased(plan.chart, style, plan.choices.level, phrases_at(plan), plan.choices.tuning)


@lru_cache(maxsize=64)
def _phrased(chart: Chart, style: Style, level: Level, position: int, tuning: Tuning) -> bool:
    try:
        finger(phrases_over(chart, style, level, position, tuning=tuning).line, tuning, position)
    except VampError:
        return False
    return True


def _phrases_code(plan: Plan) -> str:
    if plan.choices.level in BEGINNER:
        return "calls = phrase_chorus(chart, phrase_style(read, kind), level, hand, tuning=neck)\ncalls.score()"
    return ("calls = phrase_chorus(chart, phrase_style(read, kind), level,\n"
            "                      phrase_position(read, kind, hand, neck, level), tuning=neck)\ncalls.score()")


PHRASES = (
    Section("phrases", _phrases, _phrases_code,
        when=_can_be_phrased, least=15, part="Music", does="calls and answers", at=phrases_at,
        aim=says("Answer a short phrase with one of your own that comes home.")),
    Section("phrases-told", code=says("calls.told()"), when=_can_be_phrased, least=15, levels=HIGHER),
)
