"""Nothing hangs: long texts take time in proportion, and a number that no music holds is refused before it is counted.

Each door is given one piece of text over and over, at one length and at four times that; of the pieces every second
one, the door beside it the others (all of them with VAMPBOOK_EXPLORE=1). A reader that looks at every sign a few times
needs about four times as long, one that takes the square sixteen times as long.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from typing import Any

import pytest
from support.doors import DOORS, Door, line_text

from theorylib.changes.bars import Bar
from theorylib.changes.charts import Chart
from theorylib.changes.meters import Meter
from theorylib.errors import VampError
from theorylib.limits import BEND, MOST_BARS, TEMPO, exact
from theorylib.names.chords import Chord
from theorylib.names.scales import Scale
from theorylib.names.spelling import Pitch
from theorylib.necks.areas import per_string
from theorylib.necks.tunings import STANDARD, Tuning
from theorylib.playing.difficulty import line_difficulty
from theorylib.playing.lines import Line, Mark, Note
from theorylib.practice.approaches import approach_targets
from theorylib.practice.drills import continuous_arpeggio, tempo_ladder
from theorylib.practice.outline import outline
from theorylib.practice.phrases import call_and_answer, motif, read_contour, read_rhythm
from theorylib.practice.sequences import read_pattern, sequence
from theorylib.practice.subdivisions import bursts, subdivision_ladder
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.through import continuous_scale, guide_tone_line
from theorylib.practice.touch import held_vibrato, slide_drill, with_swell
from workbook.play.backing import backing, passes_in

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
SHORT = 8000 if EXPLORE else 2000  # signs; the long text has four times as many
MOST_GROWTH = 9.0                  # between four (in proportion) and sixteen (the square)
NOTICED_SECONDS = 0.25             # what is quicker is not compared: chance would decide
STOPPED_SECONDS = 20.0
ALIKE = frozenset({"metadata level", "metadata feel", "metadata minutes", "metadata home"})  # read as others are

# (before, the piece that is repeated, after).
PUMPS: tuple[tuple[str, str, str], ...] = tuple((("", piece, "") if isinstance(piece, str) else piece) for piece in (
    "a", "A", " ", "\t", "\n", "#", "b", "(", ")", "[", "]", "{", "|", "/", "%", ",", ".", "-", "_", "*", "`", "~",
    ">", "<",
    "9", "1 ", "C ", "A ", "A, ", "Am ", "C#", "C/", "(C", "C(9", "(9,", "{=", "{= ", "{=x=}", "=}", "[a](b", "[a](",
    "![](",
    "[](a ", "](", "`` ", "```\n", "`a", "*a ", "**a", "_a_", "> ", "- ", "1. ", "|a", "|-", "a|b\n", "# \n",
    "#\n\n", "<a ",
    "<!--", "&amp;", "\\", "fret 1, ", "frets 1 and ", "string 1 fret ", "1st ", "A\n\n", "A - ", "A!", "is ",
    " over ", "A over ",
    " gives 1 ", "has ", ",", '"', '""', ";", "a.", "[[a]]\n", "[", "title: x\n", "x3 ", "|: C :|", ":|", "|:", "1.",
    "1,", "a=1\n",
    "C | ", "E2 ", " capo 2", "bars 1-2: ", "♩ = 1", "é", "李", "😀", "\u2028",
    ("{=", " ", ""), ("{= x", " ", "y"), ("key:", " ", "x"), ("title: x", " ", "y"), ("string 1", " ", "x"),
    ("fret", " ", "x"),
    ("# x", "#", "y"), ("# x", " #", "y"), ("A", " ", "x"), ("x", " ", "A"), ("x", "\n", "A "),
    ("[](", "a", ""), ("[", "a", ""),
    ("C over ", "C#", ""),
    ("C7", "(", ""), ("C/", " ", "x"), ("bar 1", " ", ":"), ("♩", " ", "="), ("{= C is ", "is ", "=}"),
    ("{= ", "x is 1 of ", "=}"), ("{= ", "C over ", "=}"), ('"', "[", '"'), ("a = ", "[", ""), ("a = ", "{a=", ""),
    ('{"notes": ', "[", ""), ('{"a":', '{"a":', ""), ("<!DOCTYPE a [<!ENTITY a '", "&b;", "'>]><a/>"),
    ("<a>", "<b>", ""), ("[", "a.", "a]"), ("x = {", "a . ", "a=1}"),
))


class Hung(BaseException):
    """Raised by the alarm: no error of ours, and none that a reader would catch."""


@contextmanager
def stopped_after(seconds: float) -> Iterator[None]:
    def ring(*_: Any) -> None:
        raise Hung(f"longer than {seconds:g} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def seconds_for(door: Door, text: str) -> float:
    """Processor time that a door takes for a text."""
    started = time.process_time()
    with stopped_after(STOPPED_SECONDS), suppress(VampError):
        door.enter(text)
    return time.process_time() - started


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="this system has no alarm")
@pytest.mark.parametrize("name", [name for name in DOORS if EXPLORE or name not in ALIKE])
def test_a_long_text_takes_time_in_proportion(name: str) -> None:
    door = DOORS[name]
    for before, piece, after in PUMPS if EXPLORE else PUMPS[list(DOORS).index(name) % 2 :: 2]:
        count = SHORT // len(piece)
        long = before + piece * (4 * count) + after
        taken = seconds_for(door, long)
        if taken < NOTICED_SECONDS:
            continue
        short = min(seconds_for(door, before + piece * count + after) for _ in range(3))
        again = min(taken, seconds_for(door, long))
        assert again < MOST_GROWTH * short, (before, piece, after, short, again)


# -- impossible numbers ----------------------------------------------------------------------------------------------
HUGE = 10**9
_CHART = Chart.parse("key: G minor\ntempo: 92\n| Gm7 | C9 |")
_LINE = continuous_arpeggio(_CHART, 8, 5)
_SCALE = Scale.parse("G dorian")


def stored(**changes: Any) -> Callable[[], Any]:
    """A stored line with fields of its head changed."""
    return lambda: line_difficulty(Line.from_json(json.dumps(json.loads(line_text()) | changes)))


def with_mark(kind: str, value: Any, at: Any = "0") -> Callable[[], Any]:
    def enter() -> Any:
        line = json.loads(line_text())
        line["notes"][0][7] = [[kind, str(value), str(at)]]
        return line_difficulty(Line.from_json(json.dumps(line)))
    return enter


def with_note(place: int, value: Any) -> Callable[[], Any]:
    def enter() -> Any:
        line = json.loads(line_text())
        line["notes"][-1][place] = value
        return line_difficulty(Line.from_json(json.dumps(line)))
    return enter


# What is entered, and words of the range that the refusal must name.
IMPOSSIBLE: dict[str, tuple[Callable[[], Any], str]] = {
    "a tempo without end": (lambda: Chart.parse("tempo: 1e99999999\n| C |"), "20 to 400"),
    "a tempo as a number": (lambda: Chart((Bar((Chord.parse("C"),)),), tempo=Fraction(HUGE)), "20 to 400"),
    "no tempo": (lambda: Chart((Bar((Chord.parse("C"),)),), tempo=Fraction(0)), "20 to 400"),
    "a number without end": (lambda: exact("1e99999999"), "ten digits"),
    "a fraction of nothing": (lambda: exact("1/0"), "ten digits"),
    "a meter of many beats": (lambda: Meter(HUGE, 4), "1 to 32"),
    "a meter of no beats": (lambda: Meter(0, 4), "1 to 32"),
    "a meter in thirds": (lambda: Meter(4, 3), "1, 2, 4, 8, 16"),
    "many repeats in text": (lambda: Chart.parse(f"|: C :| x{HUGE}"), "x2 to x99"),
    "many repeats": (lambda: Chart((Bar((Chord.parse("C"),), opens=True, plays=HUGE),)), f"1 to {MOST_BARS}"),
    "many bars": (lambda: Chart.parse("| C " * (MOST_BARS + 1) + "|"), f"1 to {MOST_BARS}"),
    "many bars by repeats": (lambda: Chart.parse("|: C :| x99\n" * 41), f"1 to {MOST_BARS}"),
    "many chords a bar": (lambda: Chart.parse("| " + "C " * 33 + "|"), "1 to 32"),
    "a line without end": (stored(length_beats="1000000000"), f"0 to {MOST_BARS}"),
    "a line without end, in short": (stored(length_beats="1e99999999"), "ten digits"),
    "a negative length": (stored(length_beats="-4"), "0 beats or more"),
    "a note at the end of time": (with_note(1, "999999999"), f"0 to {MOST_BARS}"),
    "a note without end": (with_note(2, "999999999"), f"0 to {MOST_BARS}"),
    "a note of negative length": (with_note(2, "-1"), "above 0"),
    "a fret beyond counting": (with_note(4, HUGE), "0 to 99"),
    "a finger beyond counting": (with_note(5, HUGE), "0 to 99"),
    "a position beyond counting": (stored(position=HUGE), "0 to 99"),
    "a bend without end": (with_mark("bend", HUGE), f"{BEND[0]} to {BEND[1]}"),
    "a bend of 7": (with_mark("bend", 7), f"{BEND[0]} to {BEND[1]}"),
    "a bend downward": (with_mark("bend", -2), f"{BEND[0]} to {BEND[1]}"),
    "a bend of nothing": (with_mark("pre-bend", 0), f"{BEND[0]} to {BEND[1]}"),
    "a release upward": (with_mark("release", -2), f"{BEND[0]} to {BEND[1]}"),
    "a vibrato of an octave": (with_mark("vibrato", 1200), "1 to 300"),
    "a velocity of 128": (with_mark("dynamic", 128), "1 to 127"),
    "a grace note from afar": (with_mark("grace", HUGE), "-24 to 24"),
    "a mark before its note": (with_mark("bend", 2, -1), "0 or more"),
    "a capo beyond the neck": (stored(tuning={"strings": "E2 A2 D3 G3 B3 E4", "capo": 30, "frets": 22,
                                              "scale_length_mm": 648.0}), "capo"),
    "a neck of many frets": (stored(tuning={"strings": "E2 A2 D3 G3 B3 E4", "capo": 0, "frets": 99,
                                            "scale_length_mm": 648.0}), "36 frets"),
    "a string of a kilometre": (stored(tuning={"strings": "E2 A2 D3 G3 B3 E4", "capo": 0, "frets": 22,
                                               "scale_length_mm": 1e6}), "2000"),
    "a newer line": (stored(version=2), "newer kit"),
    "a capo in words": (lambda: Tuning.parse(f"standard capo {HUGE}"), "a fret number"),
    "many notes a chord": (lambda: continuous_arpeggio(_CHART, HUGE), "1 to 64"),
    "many passes": (lambda: continuous_arpeggio(_CHART, passes=HUGE), "1 to 64"),
    "many passes of scales": (lambda: continuous_scale(_CHART, passes=HUGE), "1 to 64"),
    "many passes of guide tones": (lambda: guide_tone_line(_CHART, passes=HUGE), "1 to 64"),
    "many passes of targets": (lambda: approach_targets(_CHART, passes=HUGE), "1 to 64"),
    "targets without a step": (lambda: approach_targets(_CHART, every_beats=Fraction(1, HUGE)), "1/2 to 32"),
    "many passes of a motif": (lambda: motif(_CHART, passes=HUGE), "1 to 64"),
    "many passes of an answer": (lambda: call_and_answer(_CHART, passes=HUGE), "1 to 64"),
    "many taps": (lambda: tapped_arpeggio(_CHART, per_chord=HUGE), "1 to 64"),
    "many bars a rung": (lambda: subdivision_ladder(_SCALE, bars=HUGE), f"1 to {MOST_BARS}"),
    "many bars of bursts": (lambda: bursts(_SCALE, bars=HUGE), f"1 to {MOST_BARS}"),
    "a burst without speed": (lambda: bursts(_SCALE, fast=0), "1 to 16"),
    "many slides": (lambda: slide_drill("G dorian", count=HUGE), "2 to 64"),
    "a swell of no bars": (lambda: with_swell(_LINE, bars=0), f"1 to {MOST_BARS}"),
    "a wide vibrato": (lambda: held_vibrato(_CHART, width_cents=HUGE), "1 to 300"),
    "a position off the neck": (lambda: continuous_arpeggio(_CHART, position=HUGE), "1 to 22"),
    "many notes a string": (lambda: per_string(_SCALE, HUGE, 5, STANDARD), "off the neck"),
    "a sequence of many notes a string": (lambda: sequence("G dorian", a_string=HUGE), "off the neck"),
    "a pattern of big steps": (lambda: read_pattern("9" * 5000), "1 to 16"),
    "a rhythm without end": (lambda: read_rhythm("1e99999999", Fraction(4)), "beats"),
    "a contour without end": (lambda: read_contour("9" * 5000), "steps"),
    "many steps of a plan": (lambda: tempo_ladder(120, HUGE), "0 to 64"),
    "a solo without end": (lambda: outline(_CHART, bars=HUGE), f"1 to {MOST_BARS}"),
    "a solo of many minutes": (lambda: outline(_CHART, float("inf")), "60"),
    "a track without end": (lambda: backing(_CHART, passes=HUGE), "1 to 2000"),
    "a track of many minutes": (lambda: passes_in(_CHART, float("inf")), "180"),
    "a long count-in": (lambda: backing(_CHART, count_in_bars=HUGE), "0 to 16"),
}


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="this system has no alarm")
@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_an_impossible_number_is_refused_with_its_range(name: str) -> None:
    enter, words = IMPOSSIBLE[name]
    with stopped_after(STOPPED_SECONDS), pytest.raises(VampError) as caught:
        enter()
    assert words in str(caught.value)
    assert len(str(caught.value)) < 1000


def test_what_is_possible_is_taken() -> None:
    """Just within each range, so that no refusal above is for another reason."""
    for tempo in TEMPO:
        assert Chart.parse(f"tempo: {tempo}\n| C |").tempo == tempo
    assert Meter(32, 16).bar_beats == 8
    assert len(Chart.parse("|: C :| x80\n" * (MOST_BARS // 80)).order) == MOST_BARS
    for kind, value in (("bend", "1/4"), ("bend", "5"), ("release", "5"), ("vibrato", "300"), ("dynamic", "1"),
                        ("dynamic", "127"), ("grace", "-24")):
        assert Mark(kind, exact(value)).value == Fraction(value)
    notes = (Note(Pitch.parse("A3"), Fraction(4 * MOST_BARS - 1), Fraction(1)),)
    assert Line(notes, _CHART).bar_count == MOST_BARS
    assert exact("92.5") == Fraction(185, 2)
    assert exact("-0.25") == Fraction(-1, 4)
    assert exact("-3/4") == Fraction(-3, 4)
    assert len(continuous_arpeggio(_CHART, passes=64).notes) == 64 * 16


def test_what_cannot_be_interrupted_ends_too() -> None:
    """A power of ten is worked out where no alarm is heard: in a process of its own, so that a hang is seen."""
    code = """
from contextlib import suppress
from support.doors import DOORS
from theorylib.errors import VampError

names = ["metadata tempo", "rhythm", "outline", "beat", "contour", "line", "MusicXML", "student's tempo", "chart"]
for name in names:
    texts = ["1e99999999", "1E+99999999", "0.1e99999999", "1_0"]
    for number in ("92", "1/2", "beat 1", "1.0"):
        texts += [text.replace(number, number[:-1] + "1e99999999") for text in DOORS[name].takes]
    for text in texts:
        with suppress(VampError):
            DOORS[name].enter(text)
"""
    folders = [folder for folder in sys.path if folder]
    done = subprocess.run([sys.executable, "-c", code], env=os.environ | {"PYTHONPATH": os.pathsep.join(folders)},
                          timeout=60, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
