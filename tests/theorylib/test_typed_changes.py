"""Changes as guitarists type them: what is read, and what is refused with a word that helps (common practice)."""

from __future__ import annotations

import pytest

from theorylib.changes.charts import Chart
from theorylib.errors import VampError
from theorylib.names.chords import Chord

TWO_BARS = "| Am7 | D7 |"
# typed: the same chart in the plainest writing
TYPED = {
    "Am7, D7": TWO_BARS, "Am7,D7": TWO_BARS, "Am7; D7": TWO_BARS, "Am7，D7": TWO_BARS, "Am7, D7,": TWO_BARS,
    "Am7 → D7": TWO_BARS, "Am7 -> D7": TWO_BARS, "Am7 / / /, D7 / / /": "| Am7 / / / | D7 / / / |",
    "Am7 D7, Gmaj7": "| Am7 D7 | Gmaj7 |", "Am7, D7\nGmaj7, C7": "| Am7 | D7 | Gmaj7 | C7 |",
    "| Am7, D7 | Gmaj7 |": "| Am7 D7 | Gmaj7 |", "C7(b9,#11), Fmaj7": "| C7b9#11 | Fmaj7 |",
    "C7(b9, #11) | Fmaj7": "| C7b9#11 | Fmaj7 |",
    "｜Am7｜D7｜": TWO_BARS, "│Am7│D7│": TWO_BARS, "Am7 ¦ D7": TWO_BARS, "𝄆 Am7 | D7 𝄇": "|: Am7 | D7 :|",
    "Am7 ‖ D7": "| Am7 || D7 |", "| Am7 | ./. |": "| Am7 | % |", "| Am7 | 𝄎 |": "| Am7 | % |",
    "|: Am7 | D7 :| 4x": "|: Am7 | D7 :| x4", "|: Am7 | D7 :| (x4)": "|: Am7 | D7 :| x4",
    "|: Am7 | D7 :| X4": "|: Am7 | D7 :| x4", "||: Am7 | D7 :||": "|: Am7 | D7 :|",
    "A: | Am7 | D7 |": "[A] | Am7 | D7 |", "Verse 1: Am7 | D7": "[Verse 1] | Am7 | D7 |",
    "A: |: Am7 | D7 :|": "[A] |: Am7 | D7 :|",
    "tempo: 92 bpm\n| Am7 | D7 |": "tempo: 92\n| Am7 | D7 |", "tempo: ♩ = 92\n| Am7 | D7 |": "tempo: 92\n| Am7 | D7 |",
    "AΔ | A△7 | A∆7 | Aj7 | AMA7": "| Amaj7 | Amaj7 | Amaj7 | Amaj7 | Amaj7 |",
    "A-7 | Am7(b5) | Aø | A7alt | A7/13": "| Am7 | Am7b5 | Am7b5 | A7alt | A7add13 |",
    "NC | N.C. | n.c": "| N.C. | N.C. | N.C. |",
}
# typed: what the refusal says
REFUSED = {
    "Am7, D7\n| Gmaj7 | C7 |": "line 1, column 4: “,” may part bars or the chords of one here",
    ", Am7": "line 1, column 1: “,” has no chord before it",
    "Am7 - D7": "| between bars", "| Am7 . . . |": "/ for one more beat", "Am7-D7": "did you mean Am7 | D7",
    "| C maj7 |": "did you mean Cmaj7", "6/8 | Am7 |": "a line “meter: 6/8”", "tempo=92\n| Am7 |": "a line “tempo: 92”",
    "Intro | Am7 |": "[Intro] for the name of a section", "time: 3/4\n| Am7 |": "did you mean meter",
    "| Am7 | D7 | x4": "as in |: Am7 | D7 :| x4", "| H7 | E |": "did you mean B7", "| Fis7 |": "did you mean F#7",
    "| Es |": "did you mean Eb", "| C2 |": "did you mean Csus2 or Cadd9", "| am7 |": "did you mean Am7",
    "titel: Slow tide\n| Am7 |": "did you mean title", "Verse: Xm7 | D7": "line 1, column 8",
    "| Am7 | C7,b9 |": "line 1, column 9",
}


@pytest.mark.parametrize("typed", TYPED)
def test_changes_as_they_are_typed(typed):
    assert Chart.parse(typed) == Chart.parse(TYPED[typed])
    assert Chart.parse(str(Chart.parse(typed))) == Chart.parse(typed)


@pytest.mark.parametrize("typed", REFUSED)
def test_what_is_not_clear_is_refused_with_a_word_that_helps(typed):
    with pytest.raises(VampError) as refused:
        Chart.parse(typed)
    assert REFUSED[typed] in str(refused.value)


@pytest.mark.parametrize(("typed", "meant"), {
    "C Maj 7": "Cmaj7", "Cm add9": "Cmadd9", "C7 sus": "C7sus4", "C6 9": "C6/9", "CDom7": "C7", "C7＃9": "C7#9",
}.items())
def test_spaces_and_signs_within_a_symbol(typed, meant):
    assert Chord.parse(typed) == Chord.parse(meant)


def test_a_bar_line_in_a_title_does_not_tell_how_commas_are_read():
    assert Chart.parse("title: A | B\nAm7, D7") == Chart.parse("title: A | B\n| Am7 | D7 |")
    assert Chart.parse("title: 夜｜昼\nAm7").title == "夜｜昼"  # a title is taken as it is
