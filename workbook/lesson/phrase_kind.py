"""The sections of a lesson about a phrase: hear it, what it is made of, by hand and by ear, on through the changes."""

from __future__ import annotations

from .phrase_lines import placed_phrase
from .sections import Maker, Plan, Section

AIMS = (
    "Sing the phrase, then play it from memory, slow to fast.",
    "Say what each of its notes is over its chord, and where it lands when the chord changes.",
    "Play it through all the changes, and make it your own.",
)


def _says(text: str) -> Maker:
    return lambda plan: text


def _has_chords_to_come(plan: Plan) -> bool:
    """Are there chords that the phrase does not stand over yet? Said again over its own it would be the same."""
    choices = plan.choices
    line = placed_phrase(choices.phrase, plan.chart, choices.tuning, up=choices.up)
    chords = {event.chord for event in plan.chart.events}
    return line.length_beats < plan.chart.length_beats and len(chords) > 1


def _plan(plan: Plan) -> str:
    return "## Slow to fast"


SECTIONS = (
    Section("phrase", _says(
        "## The phrase\n\nHear it first, sing it second, play it third. Numbers under the staff are fingers."), _says(
        "lick = phrase(phrase_text, chart, tuning=neck, up=up, title=title)\nlick.score()"),
        part="Technique", does="the phrase, slow to fast"),
    Section("made-of", _says(
        "## What it is made of\n\nEvery note over its chord, and what it does there. Play the chord, then the note, "
        "and listen before you read on."), _says("lick.notes()")),
    Section("lands", _says(
        "### Where it lands\n\nThe ear remembers the note that meets a new chord. Play these alone first."), _says(
        "lick.landings()")),
    Section("ear-words", _says(
        "## By ear\n\n- [ ] Sing the first note, then the phrase, without the instrument.\n"
        "- [ ] Play it from memory, starting from any finger.\n"
        "- [ ] Play it on one string, by ear."), part="Ear", does="the phrase from memory"),
    Section("hands", _says("## By hand"), _says("lick.hands()")),
    Section("plan", _plan, _says("lick.plan()")),
    Section("through", _says(
        "## Through the changes\n\nThe same phrase over each chord in turn: every note becomes the same number of its "
        "new chord."), _says("through = lick.through()\nthrough.score()"),
        when=_has_chords_to_come, part="Changes", does="the phrase through the changes"),
    Section("later", _says(
        "## Make it yours\n\n- [ ] Begin half a beat later, as here.\n- [ ] Play it backwards, from the last note "
        "to the first.\n- [ ] Begin two steps of the scale higher, and keep its outline.\n"
        "- [ ] Keep the rhythm and choose other notes."),
        _says('later = lick.displaced("1/2")\nlater.score()'), part="Music", does="the phrase made yours"),
)
