"""Claims in words, judged; against music21's intervals and scales (BSD-3) and the design's trade facts."""

from __future__ import annotations

import pytest
from support.music21_chords import INTERVALS, pitch_classes

from theorylib import Chord
from theorylib.claims import FORMS, ClaimError, judge, marked, unmarked, without_marks
from theorylib.errors import VampError
from theorylib.necks.tunings import Tuning


@pytest.mark.parametrize("words", [words for _, words, _ in FORMS])
def test_every_form_reads_its_own_example(words: str) -> None:
    assert judge(words).true


@pytest.mark.parametrize("claim", [  # common practice, no source
    "F over G gives b7 9 11", "Dm7b5 over E7 gives b7 b9 3 b13", "E altered is mode 7 of F melodic minor",
    "A dorian is the 2nd mode of G major", "**Dm7b5** over **E7** gives ♭7, ♭9, 3 and ♭13.",
    "E7#9 has E G♯ B D F♯♯", "string 2 fret 10 bent 1 is Bb", "B is the 3 of G7",
])
def test_what_is_true(claim: str) -> None:
    assert judge(claim).true, judge(claim)


@pytest.mark.parametrize("above", ["F", "Dm7b5", "Bbmaj7", "G#dim7", "Abm", "C6"])
@pytest.mark.parametrize("below", ["G7", "E7#9", "Am7", "Ebmaj7"])
def test_over_a_chord_by_intervals(above: str, below: str) -> None:
    """The right sentence that a false claim is answered with, its degrees sounded by music21's intervals."""
    from music21 import interval, pitch

    right = judge(f"{above} over {below} gives 1 b9").right
    assert judge(right).true
    root = pitch.Pitch(str(Chord.parse(below).root).replace("b", "-") + "4")
    sounded = {interval.Interval(INTERVALS[degree]).transposePitch(root).pitchClass
               for degree in right.split(" gives ")[1].split()}
    assert sounded == pitch_classes(Chord.parse(above))


@pytest.mark.parametrize("mode", ["dorian", "phrygian", "lydian", "mixolydian"])
@pytest.mark.parametrize("tonic", ["C", "F", "Bb", "E"])
def test_modes_by_music21(mode: str, tonic: str) -> None:
    from music21 import scale

    other = {"dorian": scale.DorianScale, "phrygian": scale.PhrygianScale, "lydian": scale.LydianScale,
             "mixolydian": scale.MixolydianScale}[mode](tonic.replace("b", "-"))
    names = [one.name.replace("-", "b") for one in other.pitches[:7]]
    assert judge(f"{tonic} {mode} has {' '.join(names)}").true
    number = {"dorian": 2, "phrygian": 3, "lydian": 4, "mixolydian": 5}[mode]
    assert judge(f"{tonic} {mode} is mode {number} of {names[-(number - 1)]} major").true
    assert not judge(f"{tonic} {mode} is mode {number % 7 + 1} of {names[-(number - 1)]} major").true


def test_a_false_claim_says_what_is_true() -> None:
    verdict = judge("A dorian is mode 3 of G major")
    assert (verdict.true, verdict.right) == (False, "A dorian is mode 2 of G major")
    assert judge("A# is the b3 of Gm7").right == "Bb is the b3 of Gm7"
    assert judge("string 1 fret 0 is E", Tuning.parse("drop D")).true
    assert not judge("string 6 fret 0 is E", Tuning.parse("drop D")).true


@pytest.mark.parametrize("claim", ["the drill is hard", "Hm7 over E7 gives b7 b9", "string 9 fret 1 is A", "",
                                   "A dorien is mode 2 of G major"])
def test_what_cannot_be_read_is_refused(claim: str) -> None:
    with pytest.raises(VampError):
        judge(claim)
    with pytest.raises(ClaimError, match="can be judged"):
        judge("the drill is hard")


def test_marks_and_offers() -> None:
    text = "One.\n\n{= A dorian is mode 2\nof G major =} and\nF over G gives b7 9 11."
    assert list(marked(text)) == [(3, "A dorian is mode 2\nof G major")]
    assert judge(next(marked(text))[1]).true
    assert list(unmarked(text)) == [(5, "F over G gives b7 9 11")]
    assert "{=" not in without_marks(text)
    assert list(unmarked("{= F over G gives b7 9 11 =}")) == []
