"""The sections of a lesson about a phrase: hear it, what it is made of, by hand and by ear, on through the changes."""

from __future__ import annotations

from .sections import Maker, Plan, Section

AIMS = (
    "Sing the phrase, then play it from memory, slow to fast.",
    "Say what each of its notes is over its chord, and where it lands when the chord changes.",
    "Play it through all the changes, and make it your own.",
)


def _says(text: str) -> Maker:
    return lambda plan: text


def _plan(plan: Plan) -> str:
    return "## Slow to fast"


SECTIONS = (
    Section("phrase", _says(
        "## The phrase\n\nHear it first, sing it second, play it third. Numbers under the staff are fingers."), _says(
        "lick = phrase(phrase_text, chart, tuning=neck, up=up, title=title)\nlick.score()")),
    Section("made-of", _says(
        "## What it is made of\n\nEvery note over its chord, and what it does there. Play the chord, then the note, "
        "and listen before you read on."), _says("lick.notes()")),
    Section("lands", _says(
        "### Where it lands\n\nThe ear remembers the note that meets a new chord. Play these alone first."), _says(
        "lick.landings()")),
    Section("ear-words", _says(
        "## By ear\n\n- [ ] Sing the first note, then the phrase, without the instrument.\n"
        "- [ ] Play it from memory, starting from any finger.\n"
        "- [ ] Play it along the thickest string it fits on, by ear alone.")),
    Section("hands", _says("## By hand"), _says("lick.hands()")),
    Section("plan", _plan, _says("lick.plan()")),
    Section("through", _says(
        "## Through the changes\n\nThe same phrase over each chord in turn: every note becomes the same number of its "
        "new chord."), _says("through = lick.through()\nthrough.score()")),
    Section("later", _says(
        "## Make it yours\n\n- [ ] Begin half a beat later, as here.\n- [ ] Play it backwards: `lick.backwards()`.\n"
        "- [ ] Begin from another degree: `lick.from_degree(2)`.\n- [ ] Keep the rhythm and choose other notes."),
        _says('later = lick.displaced("1/2")\nlater.score()')),
)
