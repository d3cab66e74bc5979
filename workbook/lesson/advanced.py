"""What the advanced hear beside a chord's own notes: another arpeggio, a triad on top, an accent that walks."""

from __future__ import annotations

from functools import lru_cache

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.spelling import pretty_accidentals
from theorylib.necks.tunings import Tuning
from theorylib.practice.through import against_substitute, doubles_of

from . import prose
from .chord_words import chord_notes
from .colours import colour_of, triads_of
from .places import hand_at
from .sections import Maker, Plan, Section

ADVANCED = ("advanced",)
LONGEST_FORM = 8  # bars that are played twice each: longer ones fill pages


def _says(text: str) -> Maker:
    """A maker of a text that no choice changes."""
    return lambda plan: text


# -- another arpeggio --------------------------------------------------------------------------------------------------
def _colours(plan: Plan) -> str:
    colour = colour_of(plan.read)
    chord, following = colour.chord, colour.following
    head = (f"## Another arpeggio over {chord.pretty}\n\nAn arpeggio that belongs to another chord can say more than "
            "the chord's own: hear what each of its notes becomes here. Let the bass ring under one row of the table "
            "at a time.")
    if following is None or not any(one.half_steps for one in colour.found):
        return head
    return (f"{head} Then lead it into {following.pretty}: end on a note of the last column, and take its half step "
            "into the chord.")


def _wants_colour(plan: Plan) -> bool:
    wanted = plan.choices.substitutes or plan.choices.level in ADVANCED
    return wanted and bool(colour_of(plan.read).found)


COLOURS = (
    Section("colours", _colours, _says(
        "colour = colour_of(read)\n"
        "other_colours(colour.chord, colour.key, colour.following, scale=colour.scale)"), when=_wants_colour,
        part="Changes", does="another arpeggio over one chord", at=hand_at,
        aim=_says("Let the arpeggio of another chord be heard over one chord of the changes, and lead it on.")),
    Section("colours-neck", code=_says("colour_necks(read, hand, tuning=neck)"),
            when=_wants_colour),
)


# -- triads on top -----------------------------------------------------------------------------------------------------
def _has_triads(plan: Plan) -> bool:
    return bool(triads_of(plan.read))


TRIADS = Section("triads", _says(
    "## A triad on top\n\nThree notes are enough when the bass has the root. Play each chord, let it ring, and play "
    "its triad over it in three places on the neck; then improvise a chorus with these triads alone."),
    _says("triads_over(read)"), when=_has_triads, levels=ADVANCED, least=30, part="Changes",
    does="triads over the chords",
    aim=_says("Improvise with a triad on top of a chord: three notes that are another chord's."))


# -- both in turn ------------------------------------------------------------------------------------------------------
def _can_be_compared(plan: Plan) -> bool:
    return plan.chart.form_bars <= LONGEST_FORM and _compared(plan.chart, plan.position, plan.choices.tuning)


@lru_cache(maxsize=64)
def _compared(chart: Chart, position: int, tuning: Tuning) -> bool:
    try:
        return bool(against_substitute(chart, position=position, tuning=tuning).notes)
    except VampError:
        return False


def _against(plan: Plan) -> str:
    rows = ["| Chord | The second time | Its notes become |", "|---|---|---|"]
    named = [(chord.without_bass().pretty, one.arpeggio.pretty, " ".join(map(pretty_accidentals, one.degrees)))
             for chord, one in doubles_of(plan.chart)]
    rows += [f"| {chord} | **{other}** | {degrees} |" for chord, other, degrees in dict.fromkeys(named)]
    return ("## The chord and its double\n\nEach bar comes twice: first the arpeggio of the chord, then one that takes "
            "its place. The bass does not change. Say which of the notes are new before you play the second.\n\n"
            + "\n".join(rows))


AGAINST = Section("against", _against,
    _says("against = as_drill(landed(against_substitute(chart, position=hand, tuning=neck)))\nagainst.score()"),
    when=_can_be_compared, levels=ADVANCED, least=45, part="Technique", does="each arpeggio and its substitute",
    at=hand_at)


# -- the accent walks --------------------------------------------------------------------------------------------------
DISPLACED = Section("displaced", _says(
    "## The accent walks\n\nThe scales of the chords without a stop, with an accent that falls elsewhere in each bar. "
    "The foot keeps the beat, the accent does not. Count the beats aloud while the hand accents against them."),
    _says("across = accents_across(continuous_scale(chart, per_chord, hand, tuning=neck))\n"
          "walking = as_drill(landed(across))\nwalking.score()"),
    levels=ADVANCED, least=30, part="Technique", does="accents against the beat", at=hand_at,
    aim=_says("Move the accent against the beat and still begin every chorus on its first beat."))


# -- where the scale changes -------------------------------------------------------------------------------------------
def leaving(plan: Plan) -> list[prose.Reading]:
    """The chords whose scale has other notes than the home."""
    return [reading for reading in prose.readings(plan.read)
            if reading.scale.pitch_classes != reading.home.pitch_classes and reading.home.kind != "blues"
            and not prose.is_power(reading.chord)]  # over a power chord the home stays


def _where_the_scale_changes(plan: Plan) -> str:
    return "## Where the scale changes\n\n" + "\n".join(chord_notes(plan.read, leaving(plan), against_home=True))


LEAVING = Section("chords-words", _where_the_scale_changes, when=lambda plan: bool(leaving(plan)), levels=ADVANCED)
