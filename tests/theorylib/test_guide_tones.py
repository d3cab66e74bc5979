"""Guide tones: one definition on the chord, held against tables typed by hand (common practice, no source).

The practice: the 3rd and the 7th; the 3rd and the 6th of a sixth chord; the 4th and the 7th of a sus dominant; the 3rd,
5th and 7th of a diminished seventh. A triad has its 3rd alone (its perfect 5th says nothing of its kind), with the
altered 5th where that names the kind; a power chord has none. Semitones are counted here, with music21 for the notes.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.music21_chords import INTERVALS

from theorylib import Chart, Chord, Line, guide_tones
from theorylib.errors import DrillError
from theorylib.names.qualities import QUALITIES
from theorylib.playing.lines import line_of
from theorylib.practice.through import guide_tone_line
from workbook.lesson.chosen import Choices
from workbook.lesson.kinds import guide_words
from workbook.lesson.writing import new_lesson

TAUGHT = {
    "C": "3", "Cm": "b3", "Cdim": "b3 b5", "Caug": "3 #5", "C(b5)": "3 b5", "Csus4": "11", "Csus2": "9", "C5": "",
    "C6": "3 6", "Cm6": "b3 6", "C6/9": "3 6", "Cm6/9": "b3 6", "Cadd9": "3", "Cmadd9": "b3", "Cadd11": "3",
    "C7": "3 b7", "Cmaj7": "3 7", "Cm7": "b3 b7", "CmMaj7": "b3 7", "Cm7b5": "b3 b7", "Cdim7": "b3 b5 bb7",
    "CdimMaj7": "b3 7", "C9": "3 b7", "Cmaj9": "3 7", "Dm9": "b3 b7", "CmMaj9": "b3 7", "C13": "3 b7", "Cm11": "b3 b7",
    "C11": "11 b7", "Cmaj11": "11 7", "C7add11": "3 b7", "C7sus4": "11 b7", "C9sus4": "11 b7", "C13sus4": "11 b7",
    "C7sus4b9": "11 b7", "C7sus2": "9 b7", "Cmaj7sus4": "11 7", "C7alt": "3 b7", "C7#9": "3 b7", "C7b5": "3 b7",
    "C7#5": "3 b7", "C7b9b13": "3 b7", "Cmaj7#5": "3 7", "Cmaj7#11": "3 7", "C7no3": "b7", "C9no3": "b7",
    "Cmaj7no5": "3 7", "G7/B": "3 b7", "Dm9/A": "b3 b7", "N.C.": "",
}
SEMITONES = {"3": 4, "b3": 3, "11": 5, "9": 2, "b5": 6, "#5": 8, "6": 9, "bb7": 9, "b7": 10, "7": 11}


@pytest.mark.parametrize(("symbol", "degrees"), TAUGHT.items())
def test_what_is_taught(symbol: str, degrees: str) -> None:
    assert Chord.parse(symbol).guide_degrees == tuple(degrees.split())


@pytest.mark.parametrize("root", ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"])
def test_the_names_sound_so_far_above_the_root(root: str) -> None:
    from music21 import interval, pitch

    below = pitch.Pitch(root.replace("b", "-"))
    for symbol, degrees in TAUGHT.items():
        if symbol[0] != "C" or "/" in symbol:
            continue
        names = guide_tones(Chord.parse(root + symbol[1:]))
        right = [interval.Interval(INTERVALS[degree]).transposePitch(below).name.replace("-", "b")
                 for degree in degrees.split()]
        assert list(names) == right, symbol


@pytest.mark.parametrize("quality", QUALITIES)
def test_every_quality_tells_its_third_and_what_stands_seventh(quality: str) -> None:
    """By semitones: the tone 3 or 4 above the root is among them, then the highest of 9, 10 and 11 that is no 13th."""
    chord = Chord.parse(f"C{quality}")
    found = {SEMITONES[degree] for degree in chord.guide_degrees}
    sounding = {degree: INTERVALS[degree] for degree in chord.degrees}
    thirds = {3, 4} & {SEMITONES[degree] for degree in ("3", "b3") if degree in sounding}
    assert thirds <= found
    assert not thirds or not found & {2, 5}
    assert (11 in found) == ("7" in sounding)
    assert (10 in found) == ("b7" in sounding)
    assert (9 in found) == ("6" in sounding or "bb7" in sounding)
    assert 0 not in found
    assert 7 not in found


def test_a_stored_promise_is_held_to_the_chord() -> None:
    """The 9th of Dm9 is no guide tone, nor the 11th of Cm11; the 4th of a sus dominant and the 6th of a 6 chord are."""
    def problems(chord: str, pitch: str) -> tuple[str, ...]:
        line = line_of([pitch], Chart.parse(f"| {chord} |"))
        return replace(line, promise="guide tones").problems()

    assert "note 1 (E4, bar 1): breaks the promise" in problems("Dm9", "E4")[0]
    for chord, pitch in (("Cm11", "F4"), ("C9", "D4"), ("C", "G4"), ("C13", "A4"), ("C6", "G4"), ("G7sus4", "D4")):
        assert len(problems(chord, pitch)) == 1, (chord, pitch)
    for chord, pitch in (("Dm9", "F4"), ("Dm9", "C4"), ("C6", "A4"), ("Cm6", "A4"), ("C6/9", "A4"), ("G7sus4", "C4"),
                         ("G7sus4", "F4"), ("Csus2", "D4"), ("Bdim7", "F4"), ("Bdim7", "Ab4"), ("Bdim7", "D4")):
        assert problems(chord, pitch) == (), (chord, pitch)


@pytest.mark.parametrize(("changes", "semitones"), [
    ("| Dm9 | G13 | Cmaj9 |", [{3, 10}, {4, 10}, {4, 11}]), ("| C6 | Fm6 | Bbm6/9 |", [{4, 9}, {3, 9}, {3, 9}]),
    ("| G9sus4 | F9sus4 | Em11 |", [{5, 10}, {5, 10}, {3, 10}]), ("| Bdim7 | C | Dsus2 |", [{3, 6, 9}, {4}, {2}]),
])
@pytest.mark.parametrize("voices", [1, 2])
def test_the_drill_plays_nothing_else(changes: str, semitones: list[set[int]], voices: int) -> None:
    chart = Chart.parse(changes)
    if voices == 2 and min(map(len, semitones)) < 2:
        with pytest.raises(DrillError, match="C has one guide tone"):
            guide_tone_line(chart, voices=2)
        return
    line: Line = guide_tone_line(chart, voices=voices)
    assert line.problems() == ()
    assert len(line.notes) == voices * len(chart.events)
    for note in line.notes:
        number = int(note.onset_beats // 4)
        root = chart.events[number].chord.root
        assert root is not None
        assert (note.pitch.midi - root.pitch_class) % 12 in semitones[number]


@pytest.mark.parametrize(("changes", "words"), [
    ("| Dm9 | G7 |", "a 3rd or a 7th"), ("| C6 | Dm7 |", "a 3rd, a 6th or a 7th"),
    ("| G7sus4 | F7sus4 |", "a 4th or a 7th"),
    ("| C | G | Am |", "a 3rd"), ("| C5 | Bb5 |", "a chord tone"), ("| Bdim7 | Cm6 |", "a 3rd, a 5th, a 6th or a 7th"),
    ("| Csus2 | Dm7 |", "a 2nd, a 3rd or a 7th"),
])
def test_the_words_come_from_the_definition(changes: str, words: str) -> None:
    assert guide_words(Chart.parse(changes)) == words


@pytest.mark.parametrize(("changes", "ending"), [
    ("| Dm9 | G7 | C6 | % |", "four bars and end on the 3rd or the 6th of C6"),
    ("| G7sus4 | F7sus4 | C5 |", "six bars and end on the root or the 5th of C5"),
    ("| Csus2 | Dm7 |", "four bars and end on the 2nd of Csus2 as the first bar comes round again"),  # Dm7 leads there
])
def test_what_is_improvised_ends_with_a_chorus_at_rest(changes: str, ending: str) -> None:
    """Whole choruses, four bars at least; the guide tones by hand, as above (common practice, no source)."""
    written = new_lesson(Chart.parse(f"tempo: 80\n{changes}"), Choices("Words"))
    text = "\n".join("".join(cell["source"]) for cell in written["cells"])
    assert f"Improvise {ending}." in text
