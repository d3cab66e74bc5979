"""How the minutes of a lesson are spent, part by part, and what of it to repeat in the week that follows.

Shares are common practice, no source: a few minutes to warm up, the changes before the solo, the ear in every lesson,
music at the end; beginners spend most on the changes, the advanced on music. In a long lesson hands and ears rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from theorylib.changes.chart_text import print_tempo, tempo_words
from theorylib.practice.drills import tempo_ladder

from .sections import Plan, Section

WARM_UP, CHANGES, TECHNIQUE, EAR, MUSIC, REST = "Warm-up", "Changes", "Technique", "Ear", "Music", "Rest"
PARTS = (WARM_UP, CHANGES, TECHNIQUE, EAR, MUSIC)
# level: how the minutes are shared among PARTS.
_SHARES = {
    "beginner": (3, 8, 5, 3, 4),
    "intermediate": (2, 5, 7, 3, 6),
    "advanced": (2, 3, 7, 3, 8),
}
LONG_MINUTES, REST_EVERY = 40, 30  # from where on a lesson has a rest, and a minute of it for so many minutes
_OWN = "what you like, over the changes"


def minutes_of(plan: Plan, sections: Sequence[Section]) -> list[tuple[str, int, list[str]]]:
    """(part, minutes, what is done in it) of a lesson's routine; the minutes add up to the lesson's."""
    done: dict[str, list[str]] = {}
    for section in sections:
        if section.part:
            done.setdefault(section.part, []).append(section.does)
    done.setdefault(MUSIC, [_OWN])
    done[WARM_UP] = ["slow single notes", *done.get(WARM_UP, [])]
    whole = plan.choices.minutes
    rest = 1 + whole // REST_EVERY if whole >= LONG_MINUTES else 0
    shares = dict(zip(PARTS, _SHARES[plan.choices.level], strict=True))
    parts = [part for part in PARTS if part in done]
    if whole < len(parts):  # too short for every part: the changes and the music stay
        parts = [part for part in (CHANGES, MUSIC, TECHNIQUE) if part in done][:whole]
    found = _shared(whole - rest, [shares[part] for part in parts])
    rows = [(part, minutes, done[part]) for part, minutes in zip(parts, found, strict=True)]
    if rest:
        before_music = next(number for number, (part, *_) in enumerate(rows) if part == MUSIC)
        rows.insert(before_music, (REST, rest, ["put the guitar down, and let the ears rest too"]))
    return rows


def _shared(whole: int, shares: Sequence[int]) -> list[int]:
    """Whole minutes in these shares, at least one each; what rounding leaves goes where most is missing."""
    total = sum(shares)
    spare = whole - len(shares)
    exact = [Fraction(share * spare, total) for share in shares]
    found = [1 + int(one) for one in exact]
    order = sorted(range(len(shares)), key=lambda index: (int(exact[index]) - exact[index], index))
    for index in order[: whole - sum(found)]:
        found[index] += 1
    return found


def routine_words(plan: Plan, sections: Sequence[Section]) -> str:
    """The routine as a table; its minutes add up to the lesson's."""
    rows = ["| Minutes | Part | What |", "|---|---|---|"]
    rows += [f"| {minutes} | **{part}** | {'; '.join(done)} |" for part, minutes, done in minutes_of(plan, sections)]
    return f"## How to use {plan.choices.minutes} minutes\n\n" + "\n".join(rows)


def next_week_words(plan: Plan, sections: Sequence[Section], line: str) -> str:
    """What to repeat until the next lesson: the warm-up, the line that the plan is for, the ear, the music."""
    tempos = tempo_ladder(plan.chart.tempo, 4)
    begin = tempo_words(Fraction(tempos[min(1, len(tempos) - 1)]), plan.chart.meter)
    goal = print_tempo(plan.chart.tempo)
    days = {"beginner": "five days, ten minutes a day", "intermediate": "five days, fifteen minutes a day",
            "advanced": "five days, twenty minutes a day"}[plan.choices.level]
    comping = any(section.id == "rhythm" for section in sections)
    tasks = ["- [ ] The changes once through, with the rhythm part, before anything else." if comping
             else "- [ ] The roots of the changes, once through.",
             f"- [ ] {line} from {begin} on; the highest tempo that was clean twice: ______ (goal {goal})."]
    if any(section.part == EAR for section in sections):
        tasks.append("- [ ] The tasks for the ear again, in another order; note which one still goes wrong.")
    tasks.append("- [ ] One minute of music over the changes, recorded; listen to it the day after.")
    return f"## Until next week\n\nShort and often: {days}, rather than all at once.\n\n" + "\n".join(tasks)
