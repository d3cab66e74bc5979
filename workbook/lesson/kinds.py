"""What a new lesson is made of after its harmony: drills, touch, a solo outline and a plan, by kind of lesson.

Each kind makes its lines here first, so that a lesson which could not be played is refused before it is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Protocol

from theorylib.changes.charts import Chart
from theorylib.names.arpeggios import GROUPS
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.necks.shapes import near_fret, target_shapes
from theorylib.necks.tunings import Tuning
from theorylib.playing.fingering import finger
from theorylib.playing.lines import Line
from theorylib.practice.approaches import approach_targets
from theorylib.practice.outline import outline
from theorylib.practice.sequences import sequence
from theorylib.practice.subdivisions import bursts, subdivision_ladder
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.through import guide_tone_line
from theorylib.practice.touch import bend_drill, held_vibrato
from theorylib.reading.chordscales import is_altered
from theorylib.reading.harmony import Harmony
from theorylib.reading.sources import judging_scale
from theorylib.reading.substitutes import Substitute, substitutes

from . import prose
from .cells import block, code_cell, literal, text_cell

Cells = Iterator[dict[str, Any]]
# What a guide tone is called beside its chord: the 4th and the 2nd are those of sus chords.
_GUIDE_WORDS = {"9": "2nd", "3": "3rd", "11": "4th", "5": "5th", "6": "6th", "7": "7th"}
SOLO_MINUTES = 1  # fits on one page at any usual tempo


class Chosen(Protocol):
    """The choices that a section asks about."""

    @property
    def per_chord(self) -> int: ...
    @property
    def passes(self) -> int: ...
    @property
    def tuning(self) -> Tuning: ...
    @property
    def substitutes(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Plan:
    """A lesson being written: its chart, the reading of it, the position and the teacher's choices."""

    chart: Chart
    read: Harmony
    position: int
    choices: Chosen

    def holds(self, line: Line) -> None:
        """Raise where a line of the lesson cannot be fingered."""
        finger(line, self.choices.tuning, line.position)


def _groove(plan: Plan) -> Cells:
    yield from _arpeggio(plan)
    if plan.choices.substitutes:
        yield from _substitutes(plan.read)
    yield text_cell("plan-words", "## Practice plan")
    yield code_cell("plan", "drill.plan()")
    yield text_cell("next-words", "## Make it yours\n\n"
                    "- [ ] Play the drill from the highest note down.\n"
                    "- [ ] Leave out every second note and let the others ring in time.\n"
                    f"- [ ] Improvise {prose.number(max(4, len(plan.chart.order)))} bars that end on "
                    f"{guide_words(plan.chart)}.")


def _blues(plan: Plan) -> Cells:
    chord, following = _two_chords(plan.read)
    degrees = "1 9 6" if "3" in chord.degrees else "1 11 5"
    shape = near_fret(target_shapes(chord, degrees.split(), plan.choices.tuning), plan.position + 2)
    near = shape.low_fret
    plan.holds(bend_drill(chord, degrees.split(), near, tuning=plan.choices.tuning))
    plan.holds(approach_targets(plan.chart, "both", plan.position, tuning=plan.choices.tuning))
    said = prose.listed(degrees.split())
    yield text_cell("targets-words", f"## Target notes over {chord.pretty}\n\nA small area with the {said}. Play each "
                    "note, hold it and sing it. The arrows show where a bend arrives.")
    yield code_cell("targets", f"area = targets({literal(chord)}, {literal(degrees)}, {near}, tuning)\n"
                    f"plot_neck(area, over={literal(chord)}, tuning=tuning)")
    yield code_cell("targets-bends", "bends(area)")
    if following != chord:
        yield text_cell("steps-words", f"When {following.pretty} comes in, each target moves a little:")
        yield code_cell("steps", f"target_steps(area, {literal(following)}, {literal(degrees)}, tuning)")
    yield text_cell("bends-words", "## Bends in tune\n\nIn each bar the goal comes first, on its own fret. Keep it in "
                    "your ear, rest, then bend up to meet it and let it down slowly. Support the bending finger with "
                    "the fingers behind it.")
    yield code_cell("bend-drill", f"up = as_drill(bend_drill({literal(chord)}, {literal(degrees)}.split(), {near}, "
                    "tuning=tuning))\nup.score()")
    yield text_cell("aim-words", "## Through the chorus\n\nA chord tone on every strong beat, approached from both "
                    "sides. Say the degree of each target aloud before you play it.")
    yield code_cell("aim", 'line = as_drill(approach_targets(chart, "both", position, tuning=tuning))\nline.score()')
    yield text_cell("plan-words", "## Practice plan")
    yield code_cell("plan", "line.plan()")
    yield from _solo(plan)


def _rock(plan: Plan) -> Cells:
    home = plan.read.homes[0].scale
    scale = Scale(home.tonic, "minor pentatonic" if home.is_minor else "major pentatonic")
    tuning, position = plan.choices.tuning, plan.position
    plan.holds(sequence(home, "groups of 4", position, a_string=3, chart=plan.chart, tuning=tuning,
                        length_beats=Fraction(1, 4)))
    plan.holds(subdivision_ladder(scale, position, (1, 2, 3, 4), chart=plan.chart, tuning=tuning))
    plan.holds(bursts(scale, position, chart=plan.chart, tuning=tuning))
    yield from _arpeggio(plan)
    yield text_cell("ladder-words", f"## One pulse, four speeds\n\nThe same notes of the {scale.pretty} scale in "
                    "quarters, eighths, triplets and sixteenths. The foot never changes. Change gear without a gap.")
    yield code_cell("ladder", f"steps = as_drill(subdivision_ladder(Scale.parse({literal(scale)}), position, "
                    "(1, 2, 3, 4), chart=chart, tuning=tuning))\nsteps.score()")
    yield text_cell("run-words", f"## Sixteenths, strictly in time\n\n{home.pretty} in groups of four, three notes on "
                    "each string. Down on the beat, up between: the strokes stand over the notes.")
    yield code_cell("run", f'run = as_drill(with_strokes(sequence({literal(home)}, "groups of 4", position, '
                    'a_string=3, length_beats="1/4", chart=chart, tuning=tuning), "alternate", Fraction(1, 4)))\n'
                    "run.score()")
    yield text_cell("burst-words", "## Bursts\n\nEighths in comfort, then five fast notes that land on the last beat. "
                    "Rest on the landing note; the hand must be loose before the next one.")
    yield code_cell("burst", f"burst = as_drill(bursts(Scale.parse({literal(scale)}), position, chart=chart, "
                    "tuning=tuning))\nburst.score()")
    yield text_cell("plan-words", "## Practice plan")
    yield code_cell("plan", "run.plan()")
    yield from _solo(plan)


def _modern(plan: Plan) -> Cells:
    tuning, position = plan.choices.tuning, plan.position
    plan.holds(guide_tone_line(plan.chart, position, tuning=tuning))
    plan.holds(held_vibrato(plan.chart, "2", "3", position, tuning=tuning))
    plan.holds(tapped_arpeggio(plan.chart, position=position, tuning=tuning))
    yield from _arpeggio(plan)
    yield text_cell("guides-words", f"## Guide tones\n\nOne note a chord, {guide_words(plan.chart)}, each led to the "
                    "nearest of the next chord. Hum the line before you play it: it is the shortest way to hear these "
                    "changes.")
    yield code_cell("guides", "guides = as_drill(guide_tone_line(chart, position, tuning=tuning))\nguides.score()")
    yield text_cell("vibrato-words", "## A note that waits\n\nHold each 3rd quite still for one beat; the vibrato "
                    "begins on beat 2 and lasts to the end of the bar. Narrow and even first, wider later.")
    yield code_cell("vibrato", 'held = as_drill(held_vibrato(chart, "2", "3", position, tuning=tuning))\nheld.score()')
    yield text_cell("taps-words", "## Tapped arpeggios on skipped strings\n\nThe left hand holds two chord tones on "
                    "a string, the picking hand taps a third above them. A string that begins with a hammer-on is not "
                    "picked at all. Damp the strings between with the palm and keep every note as loud as the last.")
    yield code_cell("taps", "taps = as_drill(tapped_arpeggio(chart, position=position, tuning=tuning))\ntaps.score()")
    yield text_cell("plan-words", "## Practice plan")
    yield code_cell("plan", "taps.plan()")
    yield from _solo(plan)


def _arpeggio(plan: Plan) -> Cells:
    choices = plan.choices
    yield text_cell("drill-words", "## The drill: continuous arpeggio\n\n" + _drill_words(choices.per_chord))
    passes = f", passes={choices.passes}" if choices.passes > 1 else ""
    per_chord = f", per_chord={choices.per_chord}" if choices.per_chord != 8 else ""
    yield code_cell("drill", f"drill = arpeggio_drill(chart, position, tuning=tuning{per_chord}{passes})\n"
                    "drill.score()")


def _solo(plan: Plan) -> Cells:
    """The outline, on a page of its own, as text that a teacher edits."""
    yield text_cell("solo-words", "## A solo with a beginning and an end\n\nPlay through the form with one limit a "
                    "phrase. The plan is text: change a line and run the cell again.", "page-break")
    text = block(f"\n{outline(plan.chart, SOLO_MINUTES)}\n")
    yield code_cell("solo", f"outline_sheet({text}, chart)")


def _two_chords(read: Harmony) -> tuple[Chord, Chord]:
    """The first chord and the next other one."""
    sounding = [reading.chord for reading in read.chords if reading.chord.root is not None]
    return sounding[0], next((chord for chord in sounding if chord != sounding[0]), sounding[0])


def _substitutes(read: Harmony) -> Iterator[dict[str, Any]]:
    """The section on substitute arpeggios over the chord that asks for colour most."""
    index = _colour_wanted(read)
    reading, following = read.chords[index], read.chords[(index + 1) % len(read.chords)].chord
    best: dict[int, Substitute] = {}  # the best on each root but the chord's own
    for one in substitutes(reading.chord, reading.home, following, scale=reading.scale):
        if one.step and GROUPS[one.kind] in ("triad", "seventh", "sixth") and not one.clashes:
            best.setdefault(one.step, one)
    found = list(best.values())[:3]
    words = "\n\n".join(one.reason for one in found)
    yield text_cell("colours-words", f"## Another arpeggio over {reading.chord.pretty}\n\n"
                    "An arpeggio that belongs to another chord can say more than the chord's own: hear what each of "
                    f"its notes becomes here.\n\n{words}")
    after = f", next_chord={literal(following)}" if following.root is not None else ""
    judged = [judging_scale(reading.chord, reading.home, following, own) for own in (None, reading.scale)]
    own = "" if judged[0] == judged[1] else f", scale={literal(reading.scale)}"
    yield code_cell("colours", f"other_colours({literal(reading.chord)}, key={literal(reading.home)}{after}{own})")
    yield code_cell("colours-neck", f"plot_neck({literal(found[0].arpeggio)}, over={literal(reading.chord)}, "
                    "position=position, tuning=tuning)")


def guide_words(chart: Chart) -> str:
    """The kinds of guide tone that the changes have, in words: “a 3rd or a 7th”; for power chords “a chord tone”."""
    found = {degree.lstrip("b#") for event in chart.events for degree in event.chord.guide_degrees}
    words = [f"a {word}" for number, word in _GUIDE_WORDS.items() if number in found] or ["a chord tone"]
    return prose.listed(words).replace(" and ", " or ")


def _colour_wanted(read: Harmony) -> int:
    """The last altered dominant, else the last dominant, else the first chord."""
    order = [index for index, reading in enumerate(read.chords) if reading.chord.root is not None]
    dominants = [index for index in order if read.chords[index].chord.is_dominant]
    altered = [index for index in dominants if is_altered(read.chords[index].chord)]
    return (altered or dominants or order[:1])[-1]


def _drill_words(per_chord: int) -> str:
    count = prose.number(per_chord)
    return (f"{count.capitalize()} notes a chord, always on to the next chord tone in the direction of travel. "
            "The line turns at the edge of the position without repeating the edge note, and it never stops at a "
            "bar line: when the chord changes, take the nearest tone of the new chord that lies ahead. "
            "Say the degree of the first note of every bar aloud.")


# kind of lesson: its sections, and the aims that they add.
SECTIONS: dict[str, Callable[[Plan], Cells]] = {"groove": _groove, "blues": _blues, "rock": _rock, "modern": _modern}
_SOLO_AIM = "Plan and play a solo with a beginning and an end."
AIMS: dict[str, tuple[str, ...]] = {
    "groove": (),
    "blues": ("Bend to a pitch in tune, with the goal heard first.", _SOLO_AIM),
    "rock": ("Change from eighths to sixteenths without a gap, and land each burst on the beat.", _SOLO_AIM),
    "modern": ("Begin a vibrato on the beat you choose.", "Tap an arpeggio across skipped strings through the changes.",
               _SOLO_AIM),
}
