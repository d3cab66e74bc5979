"""The kinds of lesson: what each level plays of a kind, in order, with its routine, its aims and what to do at home.

A row of a kind is a section (sections.py): its id, a maker of words, a maker of code, and when it is there. Code makers
name no chord, scale, fret or tempo: what they need the cell of choices says, or derived.py derives from it. What of a
kind is whose: a beginner has one shape, roots and 3rds in plain beats; the intermediate scales, arpeggios and guide
tones; the advanced approaches, substitutes and accents across the beat (common practice, no source).
"""

from __future__ import annotations

from functools import lru_cache
from math import ceil

from theorylib.changes.chart_text import tempo_words
from theorylib.changes.charts import Chart
from theorylib.levels import LEVELS
from theorylib.names.chords import Chord
from theorylib.practice.pace import fast_value, most_a_beat, note_value, value_words
from theorylib.practice.solo_ends import leads_back
from theorylib.practice.subdivisions import rung_words, rungs_of
from theorylib.practice.touch import beat_of

from . import phrase_kind, prose
from .advanced import ADVANCED, AGAINST, COLOURS, DISPLACED, TRIADS
from .bending import BENDS
from .calls import PHRASES, WAVY_LINE
from .chosen import PHRASE
from .derived import pentatonic
from .ear import HEARD
from .first_drills import BEGINNER, HIGHER, LANDINGS, STEADY
from .lines import can_tap, has_guides
from .opening import HERE, HOME, INTERMEDIATE, KIT, TITLE, TRACK
from .places import hand_at, taps_from
from .rhythm import CLAP, PLAYING, strokes_said
from .routine import EAR, next_week_words, routine_words
from .sections import Plan, Section, says

SOLO_MINUTES = 1  # fits on one page at any usual tempo
MOST_AIMS = 5
FEWEST_BARS = 4  # to improvise over
SIX_NOTES = 6
# What a guide tone is called beside its chord: the 4th and the 2nd are those of sus chords.
_GUIDE_WORDS = {"9": "2nd", "3": "3rd", "11": "4th", "5": "5th", "6": "6th", "7": "7th"}


# -- arpeggios -------------------------------------------------------------------------------------------------------
def _drill(plan: Plan) -> str:
    values = value_words(note_value(plan.chart, plan.choices.per_chord))
    return (f"## The arpeggios, without a stop\n\n"
            f"{values.capitalize()} throughout, always on to the next chord tone in the direction of travel. "
            "The line turns at the edge of the position without repeating the edge note, and it never stops at a "
            "bar line: when the chord changes, take the nearest tone of the new chord that lies ahead. "
            "It comes to rest on the first beat after the last bar. "
            "Say the degree of the first note of every bar aloud.")


def _drill_aim(plan: Plan) -> str:
    values = value_words(note_value(plan.chart, plan.choices.per_chord))
    tempo = tempo_words(plan.chart.tempo, plan.chart.meter)
    return (f"Run through the arpeggios of the changes in {values} at {tempo}, and cross "
            "every change to the nearest chord tone.")


ARPEGGIO = Section("drill", _drill, says(
    "through = continuous_arpeggio(chart, per_chord, hand, tuning=neck, passes=passes)\n"
    "drill = as_drill(landed(through))\ndrill.score()"),
    levels=INTERMEDIATE, part="Technique", does="the arpeggios, without a stop", aim=_drill_aim, at=hand_at)


# -- the note that tells each chord -----------------------------------------------------------------------------------
def _telling(plan: Plan) -> str:
    return (f"## To the note that tells each chord\n\n{guide_words(plan.chart, 'the ').capitalize()}, struck "
            "where the chord comes in, with the notes that lead to it. Rest as long as the line rests, and hear the "
            "next target before you go.")


TELLING = Section("telling", _telling, says(
    "telling = as_drill(aim_at_changes(chart, hand, tuning=neck))\ntelling.score()"), levels=INTERMEDIATE,
    part="Changes", does="the telling note of each chord", at=hand_at,
    aim=says("Strike the telling note of each chord where it comes in, and hear it before."))


# -- through the changes, aimed --------------------------------------------------------------------------------------
AIM = Section("aim", says(
    "## Aimed from both sides\n\nA chord tone on every strong beat, approached from above and from below. Say the "
    "degree of each target aloud before you play it."), says(
    'line = as_drill(landed(approach_targets(chart, "both", hand, tuning=neck)))\nline.score()'), levels=ADVANCED,
    part="Technique", does="targets from both sides", at=hand_at,
    aim=says("Aim at a chord tone on every strong beat, from above and from below, without losing the line."))


def _guides(plan: Plan) -> str:
    return (f"## Guide tones\n\nOne note a chord, {guide_words(plan.chart)}, each led to the nearest of the next "
            "chord. Hum the line before you play it: it is the shortest way to hear these changes.")


GUIDES = Section("guides", _guides, says(
    "guides = as_drill(guide_tone_line(chart, hand, tuning=neck))\nguides.score()"),
    when=lambda plan: has_guides(plan.chart), levels=INTERMEDIATE, least=20, part="Changes",
    does="the line of guide tones", at=hand_at,
    aim=says("Hum the line of guide tones over the changes, then play it."))


# -- time ------------------------------------------------------------------------------------------------------------
def _rungs(plan: Plan) -> tuple[int, ...]:
    """The rungs of the ladder: what the meter has and the tempo leaves the level."""
    return rungs_of(plan.chart.meter, most_a_beat(plan.chart, plan.choices.level))


def _rungs_said(plan: Plan) -> str:
    """“in quarters, eighths and sixteenths”."""
    return f"in {prose.listed(rung_words(plan.chart.meter, rung) for rung in _rungs(plan))}"


def _ladder(plan: Plan) -> str:
    return (f"## One pulse, {prose.number(len(_rungs(plan)))} speeds\n\nThe "
            f"{pentatonic(plan.read.homes[0].scale).pretty} scale {_rungs_said(plan)}. The foot never changes. "
            "Change gear without a gap.")


def _ladder_aim(plan: Plan) -> str:
    return f"Change speed over one pulse without a gap, {_rungs_said(plan)}."


def _short(plan: Plan) -> str:
    """What the short notes of a run and a burst are called: sixteenths where the tempo leaves the level time."""
    return value_words(fast_value(plan.chart, plan.choices.level)).removesuffix(" notes") + "s"


def _run(plan: Plan) -> str:
    where = "three notes on each string" if _three_a_string(plan) else "within the position"
    return (f"## A run of {_short(plan)}, strictly in time\n\n{plan.read.homes[0].scale.pretty} in groups of four, "
            f"{where}. {strokes_said(plan)}")


def _three_a_string(plan: Plan) -> bool:
    """A scale of seven notes lies so under a hand; the six of a blues would be torn apart."""
    return len(plan.read.homes[0].scale.names) > SIX_NOTES


def _run_code(plan: Plan) -> str:
    rule = "alternate" if plan.choices.level in INTERMEDIATE else "economy"
    three = "a_string=3, " if _three_a_string(plan) else ""
    return ('home = read.homes[0].scale\n'
            'short = fast_value(chart, level)\n'
            f'fours = sequence(home, "groups of 4", hand, {three}way="in bars",\n'
            '                 length_beats=short, chart=chart, tuning=neck)\n'
            f'run = as_drill(with_strokes(landed(fours), "{rule}", short))\n'
            "run.score()")


def _burst(plan: Plan) -> str:
    short = fast_value(plan.chart, plan.choices.level)
    calm = value_words(2 * short).removesuffix(" notes") + "s"
    return (f"## Bursts\n\n{calm.capitalize()} in comfort, then five fast notes that land on the last beat. Rest on "
            "the landing note; the hand must be loose before the next one.")


LADDER = Section("ladder", _ladder, says(
    "home = read.homes[0].scale\n"
    "steps = as_drill(landed(subdivision_ladder(pentatonic(home), hand, bars=None, level=level, chart=chart,\n"
    "                                            tuning=neck)))\n"
    "steps.score()"), when=lambda plan: len(_rungs(plan)) > 1, levels=(*BEGINNER, *INTERMEDIATE), part="Technique",
    does="one pulse at several speeds", aim=_ladder_aim, at=hand_at)
RUN = Section("run", _run, _run_code, levels=HIGHER, part="Technique",
    does="a run in groups of four", at=hand_at,
    aim=lambda plan: f"Play a run of {_short(plan)} with every stroke where the beat has it.")
BURST = Section("burst", _burst, says(
    "burst = as_drill(bursts(pentatonic(read.homes[0].scale), hand, level=level, chart=chart, tuning=neck))\n"
    "burst.score()"),
    levels=ADVANCED, part="Technique", does="bursts", aim=says("Land each burst of fast notes on the beat, at rest."),
    at=hand_at)


# -- vibrato, taps ---------------------------------------------------------------------------------------------------
def _vibrato(plan: Plan) -> str:
    held = "3rd" if all({"3", "b3"} & set(event.chord.degrees) for event in plan.chart.events
                        if event.chord.root is not None) else "note"
    beat = beat_of("2", plan.chart.meter)
    short = any(event.duration_beats <= beat for event in plan.chart.events if event.chord.root is not None)
    then = " A chord that lasts no longer sings from its middle." if short else ""
    wavy = f" {WAVY_LINE}" * (plan.choices.level in BEGINNER)
    return (f"## A note that waits\n\nHold each {held} quite still for one beat; then the vibrato begins, and lasts as "
            f"long as the chord.{then} {_WIDTH[plan.choices.level]}{wavy}")




_WIDTH = {
    "beginner": "Narrow and even first, wider later.",
    "intermediate": "Keep the width the same on thick strings and thin ones.",
    "advanced": "Then let it begin an eighth earlier, and an eighth later: the moment is yours to choose.",
}


VIBRATO = Section("vibrato", _vibrato, says(
    'held = as_drill(held_vibrato(chart, "2", "3", hand, tuning=neck))\nheld.score()'), part="Technique",
    does="a note that waits", aim=says("Hold a note still, then begin its vibrato in time."), at=hand_at)


def _taps(plan: Plan) -> str:
    return ("## Tapped arpeggios on skipped strings\n\nThe fretting hand holds two chord tones on a string, the "
            "picking hand taps the next one above them; both follow the chords along the neck, "
            f"from fret {taps_from(plan)} on. H is a hammer-on, P a pull-off, T in a ring a tap. A string that begins "
            "with a hammer-on is not picked at all. Damp the strings between with the palm and keep every note as loud "
            "as the last.")


TAPS = Section("taps", _taps, says(
    "taps = as_drill(landed(tapped_arpeggio(chart, position=hand, level=level, tuning=neck)))\ntaps.score()"),
    levels=ADVANCED, part="Technique", does="tapped arpeggios", when=lambda plan: can_tap(plan.chart), at=taps_from,
    aim=says("Tap an arpeggio across skipped strings through the changes."))


# -- music -----------------------------------------------------------------------------------------------------------
def _solo(plan: Plan) -> str:
    then = ("Say the limit aloud before each phrase." if plan.choices.level in INTERMEDIATE
            else "The second take goes without the sheet: record both, and keep the better one.")
    return ("## A solo with a beginning and an end\n\nThe first note and the last are given: hear both before you "
            f"begin. Between them play through the form with one limit a phrase. {then}")


SOLO = Section("solo", _solo, says(
    '# For lines of your own: print(plan) shows its text, which may stand here between """ and """ instead.\n'
    f"plan = outline(chart, {SOLO_MINUTES})\n"
    "outline_sheet(plan, chart)"), levels=HIGHER, least=20, part="Music",
    does="a solo on an outline", aim=says("Plan and play a solo with a beginning and an end."))


def _next(plan: Plan) -> str:
    ending = _last_guide_tones(plan.chart)
    form = len(plan.chart.order)
    bars = prose.number(form * ceil(FEWEST_BARS / form))  # whole choruses
    tasks = {
        "beginner": ["Play the landing notes again and start each one with a slide from below.",
                     "Choose three notes of the shape and improvise with them for a minute.",
                     f"Improvise {bars} bars and end on the root of {_where_it_rests(plan.chart)}."],
        "intermediate": ["Play the arpeggios from the highest note down.",
                         "Leave out every second note and let the others ring in time.",
                         f"Improvise {bars} bars and end on {ending}."],
        "advanced": ["Aim from below alone, then with the scale note above.",
                     "Begin each phrase a beat later than you would.",
                     f"Improvise {bars} bars with one triad a chord, and end on {ending}."],
    }[plan.choices.level]
    return "## Make it yours\n\n" + "\n".join(f"- [ ] {task}" for task in tasks)


NEXT = Section("next-words", _next, part="Music", does="your own bars")


def _where_it_rests(chart: Chart) -> str:
    """The chord on which a first improvisation ends: the last, or where that leads back, the first as it returns."""
    if leads_back(chart):
        return f"{chart.events[0].chord.pretty} as the first bar comes round again"
    return f"the last chord, {_last_chord(chart).pretty}"


def _last_chord(chart: Chart) -> Chord:
    return [event.chord for event in chart.events if event.chord.root is not None][-1].without_bass()


def _last_guide_tones(chart: Chart) -> str:
    """On what a chorus ends: “the 3rd or the 7th of A7”; of a power chord “the root or the 5th of A5”.

    Of a last chord that leads back, nobody rests on its 7th: the chorus ends on the first as it returns.
    """
    if leads_back(chart):
        home = chart.events[0].chord.without_bass()
        return f"{_guides_of(home)} as the first bar comes round again"
    return _guides_of(_last_chord(chart))


def _guides_of(chord: Chord) -> str:
    numbers = {degree.lstrip("b#") for degree in chord.guide_degrees}
    words = [f"the {word}" for number, word in _GUIDE_WORDS.items() if number in numbers] or ["the root or the 5th"]
    return f"{' or '.join(words)} of {chord.pretty}"


def guide_words(chart: Chart, article: str = "a ") -> str:
    """The kinds of guide tone that the changes have, in words: “a 3rd or a 7th”; for power chords “a chord tone”."""
    found = {degree.lstrip("b#") for event in chart.events for degree in event.chord.guide_degrees}
    words = [f"{article}{word}" for number, word in _GUIDE_WORDS.items() if number in found] or [f"{article}chord tone"]
    return prose.listed(words).replace(" and ", " or ")


# -- how to practise ---------------------------------------------------------------------------------------------------
# kind: by level, the line that it works up to and what the plan for the week calls it.
_WORKS_UP_TO = {
    "groove": (("steady", "The scale shape"), ("drill", "The arpeggios"), ("line", "The line aimed from both sides")),
    "blues": (("steady", "The scale shape"), ("drill", "The arpeggios"), ("line", "The line aimed from both sides")),
    "rock": (("steps", "The speeds"), ("run", "The run"), ("burst", "The bursts")),
    "modern": (("steady", "The scale shape"), ("drill", "The arpeggios"), ("taps", "The tapped arpeggios")),
}


def _line_of(plan: Plan) -> tuple[str, str]:
    found = _WORKS_UP_TO[plan.choices.kind][LEVELS.index(plan.choices.level)]
    if found[0] == "steps" and not LADDER.when(plan):
        return "steady", "The scale shape"
    return ("held", "The notes that wait") if found[0] == "taps" and not can_tap(plan.chart) else found


def _plan_words(plan: Plan) -> str:
    """A heading alone, which stays with the steps below it."""
    name = _line_of(plan)[1]
    return f"## Practice plan: {name[0].lower()}{name[1:]}, slow to fast"


PLAN = Section("plan", _plan_words,
               lambda plan: f"{_line_of(plan)[0]}.plan()")


def _week(plan: Plan) -> str:
    return next_week_words(plan, standing(plan), _line_of(plan)[1])


WEEK = Section("week-words", _week)

# kind of lesson: its sections after the opening.
SECTIONS: dict[str, tuple[Section, ...]] = {
    "groove": (STEADY, LANDINGS, ARPEGGIO, GUIDES, AIM, *COLOURS, TRIADS, AGAINST, DISPLACED, PLAN, *HEARD, *PHRASES,
               NEXT, SOLO, WEEK),
    "blues": (STEADY, LANDINGS, *BENDS, ARPEGGIO, TELLING, AIM, *COLOURS, TRIADS, DISPLACED, PLAN, *HEARD, *PHRASES,
              SOLO, WEEK),
    "rock": (STEADY, LADDER, LANDINGS, ARPEGGIO, RUN, BURST, *COLOURS, TRIADS, DISPLACED, PLAN, *HEARD, *PHRASES,
             SOLO, WEEK),
    "modern": (STEADY, LANDINGS, ARPEGGIO, GUIDES, VIBRATO, TAPS, *COLOURS, TRIADS, AGAINST, DISPLACED, PLAN, *HEARD,
               *PHRASES, SOLO, WEEK),
}


@lru_cache(maxsize=4)
def standing(plan: Plan) -> tuple[Section, ...]:
    """The sections that stand in the lesson of a plan, in order."""
    return tuple(section for section in sections_of(plan.choices.kind) if section.stands(plan))


# -- title and aims ----------------------------------------------------------------------------------------------------
def aims(plan: Plan) -> list[str]:
    """What can be heard of the student at the end, a sentence each, from what stands in the lesson."""
    if plan.choices.kind == PHRASE:
        several = len({home.scale for home in plan.read.homes}) > 1
        return [f"Name the home scale{'s' * several} of these changes and the scale of each chord.", *phrase_kind.AIMS]
    every = [(section.part, section.aim(plan)) for section in standing(plan) if section.aim is not None]
    found = [(part, aim) for part, aim in every if aim]
    if len(found) > MOST_AIMS:  # what comes first, what is for the ear, and what it all leads to
        heard = [one for one in found[MOST_AIMS - 2:-1] if one[0] == EAR][:1]
        first = found[: MOST_AIMS - 1 - len(heard)]
        found = [*first, *heard, found[-1]]
    return [aim for _, aim in found]


def _aims(plan: Plan) -> str:
    return "## Aims\n\n" + "\n".join(f"- {aim}" for aim in aims(plan))


HEAD = (TITLE, Section("aims", words=_aims), Section("kit", code=lambda plan: KIT))
# Between the two stands the cell of choices, which is the teacher's.
OPENING = (HERE, TRACK, Section("routine-words", lambda plan: routine_words(plan, standing(plan))), CLAP, *PLAYING,
           *HOME)


def sections_of(kind: str) -> tuple[Section, ...]:
    """All sections of a kind of lesson, in order, but for the cell of choices."""
    return (*HEAD, *OPENING, *((*phrase_kind.SECTIONS, SOLO) if kind == PHRASE else SECTIONS[kind]))
