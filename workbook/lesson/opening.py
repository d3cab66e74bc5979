"""What every lesson begins with: title, aims, its choices, the changes, their home, each chord, and the neck."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from theorylib.changes.chart_text import print_tempo
from theorylib.changes.charts import Chart

from . import phrase_kind, prose
from .cells import as_markdown
from .chosen import PHRASE
from .rhythm import PLAYING
from .sections import Plan, Section

KIT = "from workbook.kit import *"
_HERE = """chart = lesson_chart(changes, title=title, key=key, meter=meter, tempo=tempo, feel=feel)
neck = Tuning.parse(tuning, capo)
hand = position or best_position(chart, kind, tuning=neck, per_chord=per_chord)
chart"""
_MOVES = ("### From chord to chord\n\n"
          "Play these moves slowly, one voice at a time: they are what the ear follows through the changes.")
SOLO = "Plan and play a solo with a beginning and an end."
# kind of lesson: the aims that its sections add.
AIMS: dict[str, tuple[str, ...]] = {
    "groove": (SOLO,),
    "blues": ("Bend to a pitch in tune, with the goal heard first.", SOLO),
    "rock": ("Change from eighths to sixteenths without a gap, and land each burst on the beat.", SOLO),
    "modern": ("Begin a vibrato on the beat you choose.", "Tap an arpeggio across skipped strings through the changes.",
               SOLO),
}


def aims(plan: Plan) -> list[str]:
    """What the student can do afterwards, a sentence each."""
    chart, read, choices = plan.chart, plan.read, plan.choices
    chords = prose.listed(dict.fromkeys(reading.chord.pretty for reading in prose.readings(read)))
    homes = list(dict.fromkeys(home.scale.pretty for home in read.homes))
    said = f"home scale{'' if len(homes) == 1 else 's'} of these changes ({prose.listed(homes)})"
    if choices.kind == PHRASE:
        return [f"Name the {said} and the scale of each chord.", *phrase_kind.AIMS]
    return [
        f"Name the {said} and the scale of each chord.",
        f"Play the arpeggios of {chords} in position {plan.position} and cross every change to the nearest chord tone.",
        f"Keep {_note_words(chart, choices.per_chord)} steady at ♩ = {print_tempo(chart.tempo)}, feel {chart.feel}.",
        *AIMS[choices.kind],
    ]


def _title(plan: Plan) -> str:
    choices, chart = plan.choices, plan.chart
    return (f"# {as_markdown(choices.title)}\n\n"
            f"*Level: {choices.level} · about {choices.minutes} minutes · ♩ = {print_tempo(chart.tempo)} · "
            f"{chart.feel} · home scale {plan.read.homes[0].scale.pretty}*")


def _aims(plan: Plan) -> str:
    return aims_words(aims(plan))


def aims_words(said: Iterable[str]) -> str:
    """The cell of some aims."""
    return "## Aims\n\n" + "\n".join(f"- {aim}" for aim in said)


def _changes(plan: Plan) -> str:
    chart, read = plan.chart, plan.read
    count = len(chart.order)
    chords = list(dict.fromkeys(reading.chord.pretty for reading in read.chords))
    kinds = sorted({_sound(reading.chord.degrees) for reading in prose.readings(read)})
    return (f"## The changes\n\n{prose.number(count).capitalize()} bar{'' if count == 1 else 's'} of {chart.meter} "
            f"with {prose.number(len(chords))} chord{'' if len(chords) == 1 else 's'}: {prose.listed(chords)}. "
            f"Listen for {prose.listed(kinds)}. Play each chord once and sing its 3rd before you read on.")


def _home(plan: Plan) -> str:
    return f"## The home scale\n\n{prose.homes(plan.read)} {prose.numerals(plan.read)}"


def _chords(plan: Plan) -> str:
    paragraphs = [prose.chord_paragraph(reading, prose.other_basses(plan.read, reading))
                  for reading in prose.readings(plan.read)]
    return "\n\n".join(["## Each chord in turn", *paragraphs])


def _neck(plan: Plan) -> str:
    return (f"## On the neck\n\nStay in position {plan.position}: the first finger belongs to fret {plan.position}. "
            "Shapes show the function of each chord tone; small rings are the other scale notes.")


def _note_words(chart: Chart, per_chord: int) -> str:
    """The drill's note value by name where all its chords give one ("eighth notes"), else in general words."""
    names = {Fraction(1): "quarter notes", Fraction(1, 2): "eighth notes", Fraction(1, 4): "sixteenth notes",
             Fraction(1, 3): "eighth-note triplets", Fraction(1, 6): "sixteenth-note triplets",
             Fraction(2, 3): "quarter-note triplets"}
    lengths = {event.duration_beats / per_chord for event in chart.events if event.chord.root}
    return names.get(lengths.pop(), "the notes") if len(lengths) == 1 else "the notes"


def _sound(degrees: tuple[str, ...]) -> str:
    """A chord's kind by ear (common practice, no source)."""
    has = set(degrees)
    if "b3" in has:
        if "b5" in has:
            return "the tight, leaning sound of a diminished fifth"
        return "the dark, settled sound of a minor third"
    if "b7" in has and {"b9", "#9", "b5", "#5", "b13"} & has:
        return "the bite of an altered dominant that wants to go home"
    if "b7" in has and "3" in has:
        return "the pull of a dominant seventh"
    if "3" in has:
        return "the open, bright sound of a major third"
    return "the hovering sound of a chord without a third"


HEAD = (Section("title", words=_title), Section("aims", words=_aims), Section("kit", code=lambda plan: KIT))
# Between the two stands the cell of choices, which is the teacher's.
OPENING = (
    Section("changes", _changes, lambda plan: _HERE),
    *PLAYING,
    Section("home-words", _home),
    Section("harmony", code=lambda plan: "read = harmony(chart)\nread"),
    Section("chords-words", _chords),
    Section("moves", lambda plan: _MOVES, lambda plan: "moves(read)"),
    Section("neck", _neck, lambda plan: "necks(read, hand, tuning=neck)"),
)
