"""The section of phrases: a chorus of calls and answers in the style of the lesson, and what each of them does."""

from __future__ import annotations

from theorylib.levels import LEVELS
from theorylib.practice.phrasing import phrase_count

from .derived import phrase_style
from .sections import Plan, Section

_LAST_FRETS = 5  # of the neck, from where on a hand has no room for phrases
_BEGINNERS_MINUTES = 40  # a beginner's shorter lesson has one call and one answer
_TASKS = {
    "beginner": "Keep the question as it is, and find an answer of your own from the same three notes.",
    "intermediate": "Keep the rhythm of the question, and choose other chord tones for it.",
    "advanced": "Begin each question half a beat later, and answer where the answer stands.",
}


def _phrases(plan: Plan) -> str:
    style = phrase_style(plan.read, plan.choices.kind)
    sung = ("\n\nThe first question comes back over the next chords, the third phrase says something else: so a blues "
            "is sung." if phrase_count(plan.chart) == 3 and "blues" in style else "")
    return ("## Phrases that ask and answer\n\nTwo bars ask and stay open, two bars answer. Sing each pair before you "
            f"play it, and count on through the rests: they belong to the phrase.{sung}\n\n"
            f"- [ ] {_TASKS[plan.choices.level]}")


def _code(plan: Plan) -> str:
    return ("said = phrase_chorus(chart, phrase_style(read, kind), level, hand, tuning=neck)\n"
            "said.score()")


def _stands(plan: Plan) -> bool:
    has_room = plan.position <= plan.choices.tuning.last_fret - _LAST_FRETS
    return has_room and (plan.choices.level != LEVELS[0] or plan.choices.minutes >= _BEGINNERS_MINUTES)


PHRASES = (
    Section("chorus", _phrases, _code, when=_stands, least=15, part="Music", does="phrases that ask and answer",
            aim=lambda plan: "Ask and answer in phrases that rest, and come home on the home chord."),
    Section("chorus-told", lambda plan: "### What they do", lambda plan: "said.told()", when=_stands, least=15),
)
