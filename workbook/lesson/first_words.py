"""The words of lessons of the kit's first form, as it wrote them then: by them it knows what nobody has changed since.

They stand still: a lesson that is carried over is written in the words of today.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from theorylib.changes.chart_text import print_tempo
from theorylib.changes.charts import Chart
from theorylib.names.arpeggios import GROUPS
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import NoteName
from theorylib.reading.harmony import Harmony, Reading
from theorylib.reading.substitutes import Substitute, substitutes

from . import prose
from .cells import as_markdown
from .chord_words import WHY_PASSED, other_scales, passed_through
from .colours import Colour, colour_of
from .derived import pentatonic, target_area, target_degrees, two_chords
from .sections import Plan

_SOLO = "Plan and play a solo with a beginning and an end."
_AIMS: dict[str, tuple[str, ...]] = {
    "groove": (),
    "blues": ("Bend to a pitch in tune, with the goal heard first.", _SOLO),
    "rock": ("Change from eighths to sixteenths without a gap, and land each burst on the beat.", _SOLO),
    "modern": (
        "Begin a vibrato on the beat you choose.",
        "Tap an arpeggio across skipped strings through the changes.",
        _SOLO,
    ),
}
_GUIDE_WORDS = {"9": "2nd", "3": "3rd", "11": "4th", "5": "5th", "6": "6th", "7": "7th"}
_VALUES = {
    Fraction(1): "quarter notes",
    Fraction(1, 2): "eighth notes",
    Fraction(1, 4): "sixteenth notes",
    Fraction(1, 3): "eighth-note triplets",
    Fraction(1, 6): "sixteenth-note triplets",
    Fraction(2, 3): "quarter-note triplets",
}
# Words that no choice changed; where the kit came to say something else, both.
_ALWAYS: dict[str, tuple[str, ...]] = {
    "moves-words": (
        (
            "### From chord to chord\n\nPlay these moves slowly, one voice at a time: they are what the ear "
            "follows through the changes."
        ),
    ),
    "bend-drill-words": (
        (
            "## Bends in tune\n\nIn each bar the goal comes first, on its own fret. Keep it in your ear, rest, then "
            "bend up to meet it and let it down slowly. Support the bending finger with the fingers behind it."
        ),
    ),
    "aim-words": (
        (
            "## Through the chorus\n\nA chord tone on every strong beat, approached from both sides. Say the "
            "degree of each target aloud before you play it."
        ),
    ),
    "burst-words": (
        (
            "## Bursts\n\nEighths in comfort, then five fast notes that land on the last beat. Rest on the "
            "landing note; the hand must be loose before the next one."
        ),
    ),
    "vibrato-words": (
        (
            "## A note that waits\n\nHold each 3rd quite still for one beat; the vibrato begins on beat 2 and "
            "lasts to the end of the bar. Narrow and even first, wider later."
        ),
    ),
    "taps-words": tuple(
        f"## Tapped arpeggios on skipped strings\n\nThe {hand} hand holds two chord tones on a string, "
        "the picking hand taps a third above them. A string that begins with a hammer-on is not picked at all. "
        "Damp the strings between with the palm and keep every note as loud as the last."
        for hand in ("left", "fretting")
    ),
    "plan-words": ("## Practice plan",),
    "solo-words": (
        (
            "## A solo with a beginning and an end\n\nPlay through the form with one limit a phrase. The plan is "
            "text: change a line and run the cell again."
        ),
        "## A solo with a beginning and an end\n\nPlay through the form with one limit a phrase.",
    ),
}

_OPENING = ("title", "aims", "kit", "changes", "home", "harmony", "chords", "moves", "neck")
# kind: the sections that the first form wrote after the opening.
_ROWS = {
    "groove": ("drill", "plan", "next"),
    "blues": ("targets", "targets-bends", "steps", "bend-drill", "aim", "plan", "solo"),
    "rock": ("drill", "ladder", "run", "burst", "plan", "solo"),
    "modern": ("drill", "guides", "vibrato", "taps", "plan", "solo"),
}
_COLOURS = ("colours", "colours-neck")


def written_then(plan: Plan) -> frozenset[str]:
    """The makers of the cells that the first form wrote for a plan: one that is not there was taken out since."""
    sections = (*_OPENING, *_ROWS[plan.choices.kind], *(_COLOURS if plan.choices.substitutes else ()))
    return frozenset([*sections, *(f"{section}-words" for section in sections)])


def words_then(plan: Plan, by: str) -> tuple[str, ...]:
    """What the first form may have written in a cell of words for a plan; nothing where it wrote no such cell."""
    if by in _ALWAYS:
        return _ALWAYS[by]
    return (_MAKERS[by](plan),) if by in _MAKERS else ()


def aims_then(plan: Plan) -> list[str]:
    """The aims of a lesson of the first form."""
    chart, read, choices = plan.chart, plan.read, plan.choices
    chords = prose.listed(dict.fromkeys(reading.chord.pretty for reading in prose.readings(read)))
    homes = list(dict.fromkeys(home.scale.pretty for home in read.homes))
    said = f"home scale{'' if len(homes) == 1 else 's'} of these changes ({prose.listed(homes)})"
    return [
        f"Name the {said} and the scale of each chord.",
        f"Play the arpeggios of {chords} in position {plan.position} and cross every change to the nearest chord tone.",
        f"Keep {_note_words(chart, choices.per_chord)} steady at ♩ = {print_tempo(chart.tempo)}, feel {chart.feel}.",
        *_AIMS.get(choices.kind, ()),
    ]


def _note_words(chart: Chart, per_chord: int) -> str:
    lengths = {event.duration_beats / per_chord for event in chart.events if event.chord.root}
    return _VALUES.get(lengths.pop(), "the notes") if len(lengths) == 1 else "the notes"


def _title(plan: Plan) -> str:
    choices, chart = plan.choices, plan.chart
    return (
        f"# {as_markdown(choices.title)}\n\n"
        f"*Level: {choices.level} · about {choices.minutes} minutes · ♩ = {print_tempo(chart.tempo)} · "
        f"{chart.feel} · home scale {plan.read.homes[0].scale.pretty}*"
    )


def _changes(plan: Plan) -> str:
    chart, read = plan.chart, plan.read
    count = len(chart.order)
    chords = list(dict.fromkeys(reading.chord.pretty for reading in read.chords))
    kinds = sorted({_sound(reading.chord.degrees) for reading in prose.readings(read)})
    return (
        f"## The changes\n\n{prose.number(count).capitalize()} bar{'' if count == 1 else 's'} of {chart.meter} "
        f"with {prose.number(len(chords))} chord{'' if len(chords) == 1 else 's'}: {prose.listed(chords)}. "
        f"Listen for {prose.listed(kinds)}. Play each chord once and sing its 3rd before you read on."
    )


def _sound(degrees: tuple[str, ...]) -> str:
    has = set(degrees)
    if "b3" in has:
        if "b5" in has:
            return "the tight, leaning sound of a diminished fifth"
        return "the dark, settled sound of a minor third"
    if "b7" in has and {"b9", "#9", "b5", "#5", "b13"} & has:
        return "the bite of an altered dominant that wants to go home"
    if "b7" in has and "3" in has:
        return "the pull of a dominant seventh"
    return (
        "the open, bright sound of a major third" if "3" in has else "the hovering sound of a chord without a third"
    )


def _home(plan: Plan) -> str:
    said = prose.homes(plan.read, first_form=True)
    if said.startswith("**") and plan.read.homes[0].scale.kind == "blues":
        home = plan.read.homes[0].scale
        origin = f"{prose.ordinal(home.parent_degree)} mode of {home.parent.pretty}"
        notes = f"Its notes are {prose.names(home.names)}."
        outside = prose.steps_out(plan.read, first_form=True)
        said = " ".join([f"**{home.pretty}** is the home scale ({origin}).", notes, *outside])
    return f"## The home scale\n\n{said} {prose.numerals(plan.read)}"


def _chords(plan: Plan) -> str:
    read: Harmony = plan.read
    return "\n\n".join(
        [
            "## Each chord in turn",
            *(_chord(reading, prose.other_basses(read, reading)) for reading in prose.readings(read)),
        ]
    )


def _chord(reading: Reading, basses: Sequence[Chord] = ()) -> str:
    """What lessons of the first form say of a chord: its scale, its tones, its colours, what to pass through."""
    chord, scale = reading.chord, reading.scale
    lines = [f"**{chord.pretty}** takes **{scale.pretty}** ({_origin(scale)}).",
             f"The chord sounds {prose.tones(chord)}."]
    if chord.bass is not None:
        lines.append(f"The bass plays {chord.bass.pretty}.")
    lines += map(_over_another_bass, basses)
    missing = [tone.name for tone in chord.tones if tone.name.pitch_class not in scale.pitch_classes]
    if missing:
        lines.append(_missing_words(missing))
    if reading.tensions:
        lines.append(f"Colour it with {prose.with_degrees(reading.tensions)}.")
    if passed := passed_through(reading):
        through = prose.listed(note.pretty for note in passed)
        lines.append(f"Pass through {through}, {WHY_PASSED}, without resting there.")
    if missing and reading.alternatives:
        lines.append(other_scales(reading))
    return " ".join(lines)


def _over_another_bass(other: Chord) -> str:
    return f"{other.pretty} is the same chord with {other.bass.pretty if other.bass else 'its root'} in the bass."


def _missing_words(missing: Sequence[NoteName]) -> str:
    return (f"Its {prose.listed(name.pretty for name in missing)} lies outside that scale: "
            "play it with the arpeggio and leave it out of the scale.")


def _origin(scale: Scale) -> str:
    """Where a scale comes from, the parent named letter by letter."""
    said, parent = prose.origin(scale), scale.parent
    return said.replace(prose.everyday(parent).pretty, parent.pretty)


def _neck(plan: Plan) -> str:
    return (
        f"## On the neck\n\nStay in position {plan.position}: the first finger belongs to fret {plan.position}. "
        "Shapes show the function of each chord tone; small rings are the other scale notes."
    )


def _drill(plan: Plan) -> str:
    return (
        f"## The drill: continuous arpeggio\n\n{prose.number(plan.choices.per_chord).capitalize()} notes a chord, "
        "always on to the next chord tone in the direction of travel. The line turns at the edge of the position "
        "without repeating the edge note, and it never stops at a bar line: when the chord changes, take the "
        "nearest tone of the new chord that lies ahead. Say the degree of the first note of every bar aloud."
    )


def _colours(plan: Plan) -> str:
    colour = colour_of(plan.read)
    return "\n\n".join(
        [
            f"## Another arpeggio over {colour.chord.pretty}",
            (
                "An arpeggio that belongs to another chord can say more than "
                "the chord's own: hear what each of its notes becomes here."
            ),
            *(one.reason_by_itself for one in _found_then(colour)),
        ]
    )


def _found_then(colour: Colour) -> list[Substitute]:
    """The best on each of three other roots, the same notes under two names among them."""
    best: dict[int, Substitute] = {}
    for one in substitutes(colour.chord, colour.key, colour.following, scale=colour.scale):
        if one.step and GROUPS[one.kind] in ("triad", "seventh", "sixth") and not one.clashes:
            best.setdefault(one.step, one)
    return list(best.values())[:3]


def _targets(plan: Plan) -> str:
    chord, _ = two_chords(plan.read)
    area = target_area(chord, plan.position + 2, plan.choices.tuning)
    return (
        f"## Target notes over {chord.pretty}\n\nA small area with the {prose.listed(target_degrees(chord))}. "
        "Play each note, hold it and sing it." + " The arrows show where a bend arrives." * bool(area.bends)
    )


def _steps(plan: Plan) -> str:
    return f"When {two_chords(plan.read)[1].pretty} comes in, each target moves a little:"


def _ladder(plan: Plan) -> str:
    return (
        f"## One pulse, four speeds\n\nThe same notes of the {pentatonic(plan.read.homes[0].scale).pretty} scale "
        "in quarters, eighths, triplets and sixteenths. The foot never changes. Change gear without a gap."
    )


def _run(plan: Plan) -> str:
    return (
        f"## Sixteenths, strictly in time\n\n{plan.read.homes[0].scale.pretty} in groups of four, three notes on "
        "each string. Down on the beat, up between: the strokes stand over the notes."
    )


def _guides(plan: Plan) -> str:
    return (
        f"## Guide tones\n\nOne note a chord, {_guide_words(plan.chart)}, each led to the nearest of the next "
        "chord. Hum the line before you play it: it is the shortest way to hear these changes."
    )


def _next(plan: Plan) -> str:
    return (
        "## Make it yours\n\n- [ ] Play the drill from the highest note down.\n"
        "- [ ] Leave out every second note and let the others ring in time.\n"
        f"- [ ] Improvise {prose.number(max(4, len(plan.chart.order)))} bars that end on "
        f"{_guide_words(plan.chart)}."
    )


def _guide_words(chart: Chart) -> str:
    found = {degree.lstrip("b#") for event in chart.events for degree in event.chord.guide_degrees}
    words = [f"a {word}" for number, word in _GUIDE_WORDS.items() if number in found] or ["a chord tone"]
    return prose.listed(words).replace(" and ", " or ")


def _aims(plan: Plan) -> str:
    return "## Aims\n\n" + "\n".join(f"- {aim}" for aim in aims_then(plan))


_MAKERS = {
    "title": _title,
    "aims": _aims,
    "changes-words": _changes,
    "home-words": _home,
    "chords-words": _chords,
    "neck-words": _neck,
    "drill-words": _drill,
    "colours-words": _colours,
    "targets-words": _targets,
    "steps-words": _steps,
    "ladder-words": _ladder,
    "run-words": _run,
    "guides-words": _guides,
    "next-words": _next,
}
