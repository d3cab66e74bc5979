"""The kinds of lesson: the sections that follow the opening, drills, touch, a solo outline and a plan.

A row of a kind is a section (sections.py): its id, a maker of words, a maker of code, and when it is there. Code makers
name no chord, scale, fret or tempo: what they need the cell of choices says, or derived.py derives from it.
"""

from __future__ import annotations

from theorylib.changes.charts import Chart

from . import phrase_kind, prose
from .chosen import PHRASE
from .derived import colour_of, pentatonic, target_area, target_degrees, two_chords
from .opening import HEAD, OPENING
from .sections import Maker, Plan, Section

SOLO_MINUTES = 1  # fits on one page at any usual tempo
# What a guide tone is called beside its chord: the 4th and the 2nd are those of sus chords.
_GUIDE_WORDS = {"9": "2nd", "3": "3rd", "11": "4th", "5": "5th", "6": "6th", "7": "7th"}


def _says(text: str) -> Maker:
    """A maker of a text that no choice changes."""
    return lambda plan: text


# -- arpeggios -------------------------------------------------------------------------------------------------------
def _drill(plan: Plan) -> str:
    count = prose.number(plan.choices.per_chord)
    return (f"## The drill: continuous arpeggio\n\n"
            f"{count.capitalize()} notes a chord, always on to the next chord tone in the direction of travel. "
            "The line turns at the edge of the position without repeating the edge note, and it never stops at a "
            "bar line: when the chord changes, take the nearest tone of the new chord that lies ahead. "
            "Say the degree of the first note of every bar aloud.")


def _next(plan: Plan) -> str:
    return ("## Make it yours\n\n"
            "- [ ] Play the drill from the highest note down.\n"
            "- [ ] Leave out every second note and let the others ring in time.\n"
            f"- [ ] Improvise {prose.number(max(4, len(plan.chart.order)))} bars that end on "
            f"{guide_words(plan.chart)}.")


ARPEGGIO = Section("drill", _drill, _says(
    "drill = arpeggio_drill(chart, hand, tuning=neck, per_chord=per_chord, passes=passes)\ndrill.score()"))
NEXT = Section("next-words", _next)


# -- substitutes -----------------------------------------------------------------------------------------------------
def _colours(plan: Plan) -> str:
    colour = colour_of(plan.read)
    reasons = "\n\n".join(one.reason for one in colour.found)
    return (f"## Another arpeggio over {colour.chord.pretty}\n\n"
            "An arpeggio that belongs to another chord can say more than the chord's own: hear what each of its notes "
            f"becomes here.\n\n{reasons}")


def _wants_colour(plan: Plan) -> bool:
    return plan.choices.substitutes and bool(colour_of(plan.read).found)


COLOURS = (
    Section("colours", _colours, _says(
        "colour = colour_of(read)\n"
        "other_colours(colour.chord, colour.key, colour.following, scale=colour.scale)"), when=_wants_colour),
    Section("colours-neck", code=_says("plot_neck(colour.arpeggio, over=colour.chord, position=hand, tuning=neck)"),
            when=_wants_colour),
)


# -- targets and bends -----------------------------------------------------------------------------------------------
def _targets(plan: Plan) -> str:
    chord, _ = two_chords(plan.read)
    area = target_area(chord, plan.position + 2, plan.choices.tuning)
    return (f"## Target notes over {chord.pretty}\n\nA small area with the {prose.listed(target_degrees(chord))}. "
            "Play each note, hold it and sing it." + " The arrows show where a bend arrives." * bool(area.bends))


def _steps(plan: Plan) -> str:
    return f"When {two_chords(plan.read)[1].pretty} comes in, each target moves a little:"


def _another(plan: Plan) -> bool:
    first, second = two_chords(plan.read)
    return first != second


TARGETS = (
    Section("targets", _targets, _says(
        "first, second = two_chords(read)\n"
        "degrees = target_degrees(first)\n"
        "area = target_area(first, hand + 2, neck)\n"
        "plot_neck(area, over=first, tuning=neck)")),
    Section("targets-bends", code=_says("bends(area)")),
    Section("steps", _steps, _says("target_steps(area, second, degrees, neck)"), when=_another),
)
BENDS = Section("bend-drill", _says(
    "## Bends in tune\n\nIn each bar the goal comes first, on its own fret. Keep it in your ear, rest, then bend up to "
    "meet it and let it down slowly. Support the bending finger with the fingers behind it."), _says(
    "up = as_drill(bend_drill(first, degrees, area.low_fret, tuning=neck))\nup.score()"))
AIM = Section("aim", _says(
    "## Through the chorus\n\nA chord tone on every strong beat, approached from both sides. Say the degree of each "
    "target aloud before you play it."), _says(
    'line = as_drill(approach_targets(chart, "both", hand, tuning=neck))\nline.score()'))


# -- time ------------------------------------------------------------------------------------------------------------
def _ladder(plan: Plan) -> str:
    return (f"## One pulse, four speeds\n\nThe same notes of the {pentatonic(plan.read.homes[0].scale).pretty} scale "
            "in quarters, eighths, triplets and sixteenths. The foot never changes. Change gear without a gap.")


def _run(plan: Plan) -> str:
    return (f"## Sixteenths, strictly in time\n\n{plan.read.homes[0].scale.pretty} in groups of four, three notes on "
            "each string. Down on the beat, up between: the strokes stand over the notes.")


SPEED = (
    Section("ladder", _ladder, _says(
        "home = read.homes[0].scale\n"
        "steps = as_drill(subdivision_ladder(pentatonic(home), hand, (1, 2, 3, 4), chart=chart, tuning=neck))\n"
        "steps.score()")),
    Section("run", _run, _says(
        'fours = sequence(home, "groups of 4", hand, a_string=3, length_beats="1/4", chart=chart, tuning=neck)\n'
        'run = as_drill(with_strokes(fours, "alternate", Fraction(1, 4)))\n'
        "run.score()")),
    Section("burst", _says(
        "## Bursts\n\nEighths in comfort, then five fast notes that land on the last beat. Rest on the landing note; "
        "the hand must be loose before the next one."), _says(
        "burst = as_drill(bursts(pentatonic(home), hand, chart=chart, tuning=neck))\nburst.score()")),
)


# -- guide tones, vibrato, taps --------------------------------------------------------------------------------------
def _guides(plan: Plan) -> str:
    return (f"## Guide tones\n\nOne note a chord, {guide_words(plan.chart)}, each led to the nearest of the next "
            "chord. Hum the line before you play it: it is the shortest way to hear these changes.")


TOUCH = (
    Section("guides", _guides, _says(
        "guides = as_drill(guide_tone_line(chart, hand, tuning=neck))\nguides.score()")),
    Section("vibrato", _says(
        "## A note that waits\n\nHold each 3rd quite still for one beat; the vibrato begins on beat 2 and lasts to the "
        "end of the bar. Narrow and even first, wider later."), _says(
        'held = as_drill(held_vibrato(chart, "2", "3", hand, tuning=neck))\nheld.score()')),
    Section("taps", _says(
        "## Tapped arpeggios on skipped strings\n\nThe fretting hand holds two chord tones on a string, the picking "
        "hand taps a third above them. A string that begins with a hammer-on is not picked at all. Damp the strings "
        "between with the palm and keep every note as loud as the last."), _says(
        "taps = as_drill(tapped_arpeggio(chart, position=hand, tuning=neck))\ntaps.score()")),
)


# -- how to practise, and what to play -------------------------------------------------------------------------------
def _plan(line: str) -> Section:
    """The practice plan of the line that a kind of lesson works up to."""
    return Section("plan", _says("## Practice plan"), _says(f"{line}.plan()"))


SOLO = Section("solo", _says(
    "## A solo with a beginning and an end\n\nThe first note and the last are given: hear both before you begin. "
    "Between them play through the form with one limit a phrase."), _says(
    '# For lines of your own: print(plan) shows its text, which may stand here between """ and """ instead.\n'
    f"plan = outline(chart, {SOLO_MINUTES})\n"
    "outline_sheet(plan, chart)"), tags=("page-break",))


def guide_words(chart: Chart) -> str:
    """The kinds of guide tone that the changes have, in words: “a 3rd or a 7th”; for power chords “a chord tone”."""
    found = {degree.lstrip("b#") for event in chart.events for degree in event.chord.guide_degrees}
    words = [f"a {word}" for number, word in _GUIDE_WORDS.items() if number in found] or ["a chord tone"]
    return prose.listed(words).replace(" and ", " or ")


# kind of lesson: its sections after the opening.
SECTIONS: dict[str, tuple[Section, ...]] = {
    "groove": (ARPEGGIO, *COLOURS, _plan("drill"), NEXT, SOLO),
    "blues": (*TARGETS, BENDS, AIM, _plan("line"), SOLO),
    "rock": (ARPEGGIO, *SPEED, _plan("run"), SOLO),
    "modern": (ARPEGGIO, *TOUCH, _plan("taps"), SOLO),
}


def sections_of(kind: str) -> tuple[Section, ...]:
    """All sections of a kind of lesson, in order, but for the cell of choices."""
    return (*HEAD, *OPENING, *((*phrase_kind.SECTIONS, SOLO) if kind == PHRASE else SECTIONS[kind]))
