"""The first thing to play in a lesson: the grips of its changes, and the rhythm part of its feel."""

from __future__ import annotations

from functools import lru_cache

from theorylib.changes.chart_text import tempo_words
from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.levels import Level
from theorylib.names.chords import Chord
from theorylib.necks.grip_leading import Led, led_grips
from theorylib.necks.tunings import Tuning
from theorylib.practice.pace import fast_value
from theorylib.practice.strumming import pattern_of, strummed

from . import prose
from .sections import Plan, Section

_HOW = {"beginner": "every grip in time and every string heard", "intermediate": "in the rhythm of the style",
        "advanced": "so that a solo could be played over them"}
FEWEST_STRINGS = 6  # a bass plays no grips


# level: which grips these are, and how they are practised.
_GRIPS = {
    "beginner": ("A grip for each chord, to be learnt by itself",
                 "Press, pluck the strings one by one until each rings, let go, press again."),
    "intermediate": ("A grip for each chord, led so that the hand has little to travel",
                     "Change from one to the next in time, and look for the finger that may stay where it is."),
    "advanced": ("Grips of few notes, led so that each voice has little to travel",
                 "Sing the highest note from chord to chord while you play: it is the tune of the accompaniment."),
}


def strokes_said(plan: Plan) -> str:
    """How the pick moves through a run."""
    if plan.choices.level != "intermediate":
        return "The pick goes on to the next string the way that it moves anyway: read the strokes over the notes."
    if _beats_come_down(plan):
        return "Down on the beat, up between: the strokes stand over the notes."
    return "Down and up by turns, so that some beats come on an upstroke: the strokes stand over the notes."


def _beats_come_down(plan: Plan) -> bool:
    """Do the strokes of a run, by turns, come down on every beat, as they do not on the eighths of a 7/8 or 12/8?"""
    meter, short = plan.chart.meter, fast_value(plan.chart, plan.choices.level)
    return all(onset / short % 2 == 0 for onset in (*meter.beat_onsets, meter.bar_beats))


def _grips(plan: Plan) -> str:
    """How the grips are to be read; what a simpler one stands for is said."""
    simpler = {one.chord: one.grip.chord for one in _led(plan) if one.simpler}
    stands = "".join(f" {easy.pretty} stands for {full.pretty} here: it is the same chord "
                     + (f"without the {full.bass.pretty} in the bass." if full.without_bass() == easy and full.bass
                        else "with less in it.") for full, easy in simpler.items())
    which, then = _GRIPS[plan.choices.level]
    return (f"## Play the changes first\n\n{which}. The number in a sign is the finger, the row below names what each "
            f"string is in the chord.{_signs_over_strings(plan)} {then}{stands}")


def _signs_over_strings(plan: Plan) -> str:
    """What stands over the strings of the grips, told to a beginner."""
    if plan.choices.level != "beginner":
        return ""
    grips = [one.grip.places for one in _led(plan)]
    strings = len(plan.choices.tuning.open_strings)
    said = ["× over a string leaves it out"] * any(len(places) < strings for places in grips)
    said += ["a sign over the first line is an open string"] * any(not place.fret for one in grips for place in one)
    told = prose.listed(said)
    return f" {told[0].upper()}{told[1:]}." if told else ""


def _rhythm(plan: Plan) -> str:
    """What the signs of the part say, those alone that stand in it."""
    row = pattern_of(plan.chart, plan.choices.level)
    struck = "a slash" if _with_slashes(plan) else "what stands in one column"  # strings of two notes are written out
    said = [f"Then the rhythm: {struck} is a stroke over all strings of the grip"]
    if "x" in row:
        said.append(", a cross a stroke over strings that the fretting hand damps")
    if set(row) & _WEIGHTY:
        said.append("; under > it is louder")
    if set(row) & set("Uu"):
        said.append(". The signs above say which way, ⊓ down and ∨ up; the hand keeps swinging through the strokes "
                    "that are left out.")
    else:
        said.append(". The sign ⊓ says that every stroke goes down.")
    said.append(" Play it until the changes go by without a thought: only then play over them.")
    return "".join(said)


def _with_slashes(plan: Plan) -> bool:
    """Does the part show its strokes alone, as it does where each has strings enough?"""
    near = None if plan.choices.level == "beginner" else plan.position
    return _shows_strokes(plan.chart, plan.choices.level, plan.choices.tuning, near)


@lru_cache(maxsize=64)
def _shows_strokes(chart: Chart, level: Level, tuning: Tuning, near: int | None) -> bool:
    return strummed(chart, level, tuning=tuning, near=near).is_rhythm_part


def _led(plan: Plan) -> tuple[Led, ...]:
    """The chords with their grips, wherever these lie: the level alone says which chords a simpler one stands for."""
    chords = tuple(event.chord for event in plan.chart.events if event.chord.root is not None)
    return _led_through(chords, plan.choices.tuning, plan.choices.level)


@lru_cache(maxsize=64)  # words, code and whether they are there ask the same
def _led_through(chords: tuple[Chord, ...], tuning: Tuning, level: Level) -> tuple[Led, ...]:
    return led_grips(chords, tuning, level)


def _can_be_gripped(plan: Plan) -> bool:
    if len(plan.choices.tuning.open_strings) < FEWEST_STRINGS:
        return False
    try:
        return bool(_led(plan))
    except VampError:
        return False


def _call(name: str, tail: str = "") -> str:
    return f"{name}(chart, level, tuning=neck, near=None if level == \"beginner\" else hand){tail}"


# steps a pulse: how the parts of a beat are counted aloud (common practice, no source).
_SYLLABLES = {1: ("",), 2: ("", "and"), 3: ("", "and", "a"), 4: ("", "e", "and", "a")}
_SOUNDING = set("DdUu")
_WEIGHTY = set("DU")


def counted_aloud(chart: Chart, level: Level) -> str:
    """A bar of the rhythm part as it is counted, what is clapped in bold: "**1** and **2** **and**".

    Where every beat is struck and nothing between, the clap goes on the beats between the strong ones.
    """
    pulses = pattern_of(chart, level).split()
    counted = []
    for number in range(len(chart.meter.felt_beats)):
        steps = pulses[number % len(pulses)]
        syllables = _SYLLABLES.get(len(steps), _SYLLABLES[1])
        counted += [(syllable or str(number + 1), sign in _SOUNDING)
                    for syllable, sign in zip(syllables, steps, strict=False)]
    if all(struck for _, struck in counted):
        counted = [(word, number % 2 == 1 or (len(counted) == 3 and number > 0))
                   for number, (word, _) in enumerate(counted)]
    return " ".join(f"**{word}**" if struck else word for word, struck in counted)


def _clap(plan: Plan) -> str:
    row = counted_aloud(plan.chart, plan.choices.level)
    again = {"beginner": "Twice through the changes, then with your eyes shut.",
             "intermediate": "Then clap it alone and only think the count.",
             "advanced": "Then count silently, and clap all that is not in bold."}[plan.choices.level]
    return ("## Warm up: count and clap\n\nShoulders down, hands loose; a minute of slow single notes, each on its "
            f"own. Then, without the guitar, count this bar aloud and clap what is in bold:\n\n{row}\n\n{again}")


def _rhythm_aim(plan: Plan) -> str:
    tempo = tempo_words(plan.chart.tempo, plan.chart.meter)
    return f"Play the changes from beginning to end at {tempo}, {_HOW[plan.choices.level]}."


CLAP = Section("clap-words", _clap, part="Warm-up", does="count and clap")
PLAYING = (
    Section("grips", _grips, lambda plan: _call("play_along"), when=_can_be_gripped, part="Changes", does="the grips"),
    Section("rhythm", _rhythm, lambda plan: f"comping = {_call('rhythm_part')}\ncomping.score()",
            when=_can_be_gripped, part="Changes", does="the rhythm part",
            aim=_rhythm_aim),
)
