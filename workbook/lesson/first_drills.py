"""What a beginner plays over the changes: one scale shape in steady beats, then the notes on which each chord lands."""

from __future__ import annotations

from theorylib.changes.charts import Chart
from theorylib.practice.solo_ends import home_chords, rest_of
from theorylib.reading.chordscales import counted_degree

from . import prose
from .areas import area_scale
from .places import hand_at
from .sections import Plan, Section

BEGINNER = ("beginner",)
HIGHER = ("intermediate", "advanced")
_THIRDS = {"3", "b3"}


def third_words(chart: Chart) -> str:
    """What a landing aims at beside the root: “3rd”, “5th” where no chord has a 3rd, else both in words."""
    chords = [event.chord for event in chart.events if event.chord.root is not None]
    with_third = [bool(_THIRDS & set(chord.degrees)) for chord in chords]
    if all(with_third):
        return "3rd"
    if any(with_third):
        return "3rd, or on the note that stands for it"
    return "5th" if all("5" in chord.degrees for chord in chords) else "note beside the root"


# -- what each chord is made of ----------------------------------------------------------------------------------------
def _tones(plan: Plan) -> str:
    """A row a chord: its bars and its notes with what they are."""
    rows = ["| Bars | Chord | Notes, from the root up |", "|---|---|---|"]
    for chord, bars in prose.bars_of_chords(plan.read).items():
        notes = " · ".join(prose.called(tone.name, counted_degree(tone.degree, chord)) for tone in chord.tones)
        under = f" · over {chord.bass.pretty}" if chord.bass is not None else ""
        rows.append(f"| {bars} | **{chord.pretty}** | {notes}{under} |")
    says = ("The 3rd says whether it sounds bright (3) or dark (♭3). " if _has_thirds(plan.chart)
            else "The 5th makes it full and says nothing of bright or dark. ")
    return ("## What the chords are made of\n\nThe 1 is the root, which gives the chord its name. " + says
            + "Find each root on the two lowest strings first.\n\n" + "\n".join(rows))


def _has_thirds(chart: Chart) -> bool:
    return any(_THIRDS & set(event.chord.degrees) for event in chart.events)


TONES = Section("tones", _tones, levels=BEGINNER)


# -- one shape, steady -------------------------------------------------------------------------------------------------
def _steady(plan: Plan) -> str:
    scale, rest = area_scale(plan.read, plan.choices.kind), rest_of(plan.chart)
    ends = "home again at the end" if rest.chord in home_chords(plan.chart) else f"to rest on {rest.chord.pretty}"
    return (f"## {scale.pretty}, one note a beat\n\nUp and down the shape that you just saw, from its lowest root, and "
            f"{ends}. Let each note last until the next one begins. When a finger has to look for its "
            "place, the tempo is too high.")


STEADY = Section(
    "steady", _steady,
    lambda plan: "steady = as_drill(steady_scale(area_scale(read, kind), hand, chart=chart, tuning=neck))\n"
                 "steady.score()",
    levels=BEGINNER, part="Technique", does="the scale shape, one note a beat", at=hand_at,
    aim=lambda plan: "Play one scale shape up and down in one place, a note a beat, each as long as the last.")


# -- landing -----------------------------------------------------------------------------------------------------------
def _landings(plan: Plan) -> str:
    aimed = third_words(plan.chart)
    return ("## Land on the chord\n\nOne note a chord, struck exactly when the chord comes in and held until the next. "
            f"The first time round it is the root, the second time the {aimed.split(',')[0]}"
            f"{' or the note that stands for it' if ',' in aimed else ''}. "
            "Say the name of the next chord aloud before it comes.")


LANDINGS = Section(
    "land", _landings,
    lambda plan: 'land = as_drill(landings(chart, ("1", "3"), hand, tuning=neck))\nland.score()',
    levels=BEGINNER, part="Changes", does="landing notes", at=hand_at,
    aim=lambda plan: f"Land on the root of every chord when it comes in, then on its {third_words(plan.chart)}.")
