"""Lines to music21 (BSD-3) and back, and music21's own corpus in other formats (Humdrum, ABC) as lines."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest
from support.drills import DRILLS, made
from support.music import INVENTED
from support.techniques import long_bend, one_of_each

from theorylib import Line, finger
from theorylib.errors import MusicFileError
from workbook.exchange.music21_streams import LOST, from_music21, to_music21

LINES = {**{name: INVENTED[name] for name in ("triplets", "twelve-eight", "swing", "drop D", "capo", "seven strings")},
         "one of each": one_of_each(), "long bend": long_bend()}


ABC = """X:1
T:Invented
M:6/8
L:1/8
K:Am
E|:A2c e2d|c2A B2G|A3 (3ABc d|e6-|e2z A2E:|
A2G E2D|C2D E3|
"""


def kept(line: Line) -> Counter:
    """What must come back of each note, tied ones apart."""
    return Counter((note.onset_beats, str(note.pitch), note.string, note.fret, note.finger,
                    tuple(sorted((mark.kind, mark.value) for mark in note.marks
                                 if mark.kind not in (*LOST, "vibrato"))))
                   for note in line.notes if not note.marked("tie"))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", [*LINES, *list(DRILLS)[::6]])
def test_a_line_comes_back_from_music21(name: str) -> None:
    line = LINES[name] if name in LINES else finger(made(name, "Bb", "standard", "swing"))
    back = from_music21(to_music21(line), tuning=line.tuning).line
    assert kept(back) == kept(line)
    assert [(one.chord, one.onset_beats) for one in back.chords()] == [
        (one.chord, one.onset_beats) for one in line.chords()]
    assert (back.chart.meter, back.chart.tempo, back.chart.feel) == (
        line.chart.meter, line.chart.tempo, line.chart.feel)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", LOST)
def test_what_is_said_to_be_lost_is_lost(name: str) -> None:
    back = from_music21(to_music21(one_of_each())).line
    assert not any(note.marked(name) for note in back.notes)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("kind", ["abc", "humdrum"])
def test_music21_s_other_formats_become_lines(kind: str) -> None:
    """Every struck note stands where music21 says, repeats played out as it plays them."""
    from music21 import converter, corpus

    score = converter.parse(ABC, format="abc") if kind == "abc" else corpus.parse("bach/bwv281.krn")
    part = score.parts[0]
    read = from_music21(part)
    played = part.expandRepeats() if kind == "abc" else part
    struck = played.stripTies().flatten().notes
    theirs = [Fraction(one.offset).limit_denominator(96) for one in struck if not one.duration.isGrace]
    ours = [note.onset_beats for note in read.line.notes]
    pickup = ours[0] - theirs[0]
    assert ours == [onset + pickup for onset in theirs]
    assert len(ours) > 20
    assert not read.line.problems()


def test_what_is_no_stream_is_refused() -> None:
    with pytest.raises(MusicFileError, match=r"music21 cannot write"):
        from_music21(object())  # type: ignore[arg-type]
