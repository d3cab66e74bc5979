"""The part of a lesson for the ear: tasks to answer by ear, their answers, and a line to read without TAB."""

from __future__ import annotations

from . import prose
from .routine import EAR
from .sections import Plan, Section

_HOW = {
    "beginner": "Somebody plays, you answer without looking; what to play stands under the answers at the end. Alone, "
                "let the practice page play them. Sing each note softly before you decide.",
    "intermediate": "Somebody plays what stands under the answers at the end, or the practice page does. Sing the root "
                    "first, then what you heard, and only then answer.",
    "advanced": "Answer each at the first hearing, then say how you knew. What to play stands under the answers at the "
                "end; the practice page plays it too.",
}
_READ = {
    "beginner": "Name the notes aloud in time, then play them: the staff alone says which they are.",
    "intermediate": "Look it through in silence for as long as it lasts, then play it once, without a stop.",
    "advanced": "One look at the rhythm, one at the accidentals; then play it at the tempo of the lesson, and go on "
                "whatever happens.",
}


def _ear(plan: Plan) -> str:
    return f"## With the ear alone\n\n{_HOW[plan.choices.level]}"


def _aim(plan: Plan) -> str:
    sorts = "bright, dark or neither" if any(map(prose.is_power, prose.bars_of_chords(plan.read))) else "bright or dark"
    return {
        "beginner": f"Tell by ear whether a chord is {sorts} and when it changes, and find a note that you sing.",
        "intermediate": "Tell by ear which change of the lesson it was and which tone of a chord you heard.",
        "advanced": "Tell by ear which colour lies on a chord of the lesson, and play back what you heard once.",
    }[plan.choices.level]


def _reading(plan: Plan) -> str:
    return f"## Read it\n\n{_READ[plan.choices.level]}"


HEARD = (
    Section("ear", _ear, lambda plan: "ear = ear_training(chart, level, hand, tuning=neck)\near", least=15, part=EAR,
            does="tasks for the ear", aim=_aim),
    Section("ear-answers", lambda plan: "### With the ear alone", lambda plan: "ear.answers()", least=15,
            tags=("answer",)),
    Section("reading", _reading, lambda plan: "reading = as_drill(reading_line(chart, level, hand, tuning=neck))\n"
                                              "reading.score(tab=False, fingers=False)", least=30, part=EAR,
            does="a line to read"),
)
