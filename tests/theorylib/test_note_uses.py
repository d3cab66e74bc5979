"""What the notes of a phrase do over their chords: against music21's three-note segments, and examples typed by hand.

The examples' answers are those of harmony textbooks (common practice, no source), worked out by hand.
"""

from __future__ import annotations

from itertools import pairwise, product

import pytest

from theorylib import Line
from theorylib.playing.note_uses import NEIGHBOUR, PASSING, landings, note_uses


@pytest.mark.parametrize("chord", ["C", "Dm7", "G7"])
def test_passing_and_neighbour_notes_are_those_of_music21(chord: str) -> None:
    from music21 import interval, note, voiceLeading

    pitches = ("G3", "A3", "Bb3", "B3", "C4", "C#4", "D4", "E4", "F4", "F#4")
    compared = 0
    for one, two, three in product(pitches, repeat=3):
        found = note_uses(f"q {one} {two} {three} over {chord}")[1]
        if found.use not in (PASSING, NEIGHBOUR):
            continue
        played = [note.Note(name.replace("b", "-")) for name in (one, two, three)]
        steps = [interval.Interval(*pair) for pair in pairwise(played)]
        # To music21 a step has two letters, or is one half step of two; ours is one or two half steps, however spelled.
        if any(step.generic.undirected != 2 for step in steps) and any(abs(step.semitones) != 1 for step in steps):
            continue
        theirs = voiceLeading.ThreeNoteLinearSegment(*played)
        assert theirs.couldBePassingTone() if found.use == PASSING else theirs.couldBeNeighborTone(), (one, two, three)
        compared += 1
    assert compared > 30


@pytest.mark.parametrize("chord", ["C", "Dm7"])
def test_what_music21_calls_a_diatonic_passing_or_neighbour_tone_is_one(chord: str) -> None:
    from music21 import note, voiceLeading

    for one, two, three in product(("G3", "A3", "B3", "C4", "D4", "E4", "F4"), repeat=3):
        found = note_uses(f"q {one} {two} {three} over {chord}")[1]
        theirs = voiceLeading.ThreeNoteLinearSegment(*map(note.Note, (one, two, three)))
        if found.use == "chord tone":
            continue
        if theirs.couldBeNeighborTone():
            assert found.use == NEIGHBOUR, (one, two, three)
        elif theirs.couldBeDiatonicPassingTone():
            assert found.use == PASSING, (one, two, three)


# (words, over, what each note does), worked out by hand.
EXAMPLES = [
    ("q C4 D4 E4 G4", "| C |", "chord tone, passing note, chord tone, chord tone"),
    ("q E4 F4 E4 C4", "| C |", "chord tone, neighbour, chord tone, chord tone"),
    ("q C4 D#4 E4 G4", "| C |", "chord tone, approach, chord tone, chord tone"),
    ("h C4 q C4 B3 | w D4", "| Am7 / G / | G |", "chord tone, suspension, chord tone, chord tone"),
    # G4 was no tone of Am: what is struck again there is held over from nothing, and only approaches.
    ("h C4 q G4 G4 | q F4 r h r", "| Am / / G | F |", "chord tone, colour, chord tone, chord tone"),
    ("h C4 q D4 D4 | w C4", "| Am7 / / G6 | C |", "chord tone, colour, chord tone, chord tone"),
    ("h A3 q B3 B3 | w C4", "| Am / / F | C |", "chord tone, colour, approach, chord tone"),
    ("q G4 A4 C5 G4", "| C |", "chord tone, colour, chord tone, chord tone"),
    ("q C4 E4 G#4 C4", "| C |", "chord tone, chord tone, outside, chord tone"),
    ("q E4 F4 F#4 G4", "| C |", "chord tone, passing note, passing note, chord tone"),
    ("q D4[b2] C4 A3 r", "| Am7 |", "chord tone, chord tone, chord tone"),
    ("q C4 r D4 E4", "| C |", "chord tone, passing note, chord tone"),
    ("q C4 D4 r r | h r E4 | E4 r", "| C | % | % |", "chord tone, colour, chord tone, chord tone"),
    ("q C4 D4", "| N.C. |", "no chord, no chord"),
]


@pytest.mark.parametrize(("words", "over", "uses"), EXAMPLES)
def test_examples(words: str, over: str, uses: str) -> None:
    found = note_uses(Line.parse(words, chart=f"key: C major\n{over}"))
    assert [one.use for one in found] == uses.split(", ")


def test_a_bend_has_two_degrees_and_a_leading_note_says_where_it_goes() -> None:
    bent, passing = note_uses(Line.parse("q D4[b2] C4 B3 A3", chart="key: A minor\n| Am7 |"))[0:3:2]
    assert (bent.degree, bent.bent_degree) == ("11", "5")
    assert (passing.degree, passing.use, str(passing.to)) == ("9", "passing note", "A3")


def test_landings_on_before_after_and_none() -> None:
    line = Line.parse("h E4 q C4 h F#4 r q r | e r G4 q B4 h B4 | w r",
                      chart="key: G major\n| Am7 | D7 | Gmaj7 | C |")
    said = [(str(one.chord), one.bar, None if one.note is None else str(one.note.pitch), one.degree, one.is_guide_tone,
             str(one.late_beats)) for one in landings(line)]
    assert said == [("Am7", 1, "E4", "5", False, "0"), ("D7", 2, "F#4", "3", True, "-1"),
                    ("Gmaj7", 3, "G4", "1", False, "1/2"), ("C", 4, None, "", False, "0")]
