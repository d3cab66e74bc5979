"""How drills lie under a hand: approaches, vibrato, pairs of guide tones, three notes a string, joins, a free hand.

What players do is common practice, no source, typed here; tones come from intervals counted in semitones.
"""

from __future__ import annotations

import os
from fractions import Fraction
from itertools import pairwise

import pytest
from support.changes import forms

from theorylib import Chart, Line, Mark, Note, Pitch, continuous_arpeggio, finger
from theorylib.errors import VampError
from theorylib.necks.areas import in_position
from theorylib.necks.shapes import Target
from theorylib.playing.joins import joins
from theorylib.practice.approaches import APPROACHES, approach_targets, strong_beats
from theorylib.practice.phrasing import phrases_over
from theorylib.practice.sequences import sequence, three_a_string
from theorylib.practice.through import guide_tone_line
from theorylib.practice.touch import held_vibrato

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))
KEYS = range(12)


def charts() -> list[Chart]:
    """Charts of the table of changes, at most sixteen bars long, each in the next key (all keys when exploring)."""
    short = [form.chart for form in forms() if form.chart.form_bars <= 16]
    if EXPLORE:
        return [chart.transpose(key) for chart in short[:100] for key in KEYS]
    return [chart.transpose(number % 12) for number, chart in enumerate(short[::5][:30])]


def each(make):
    """The line of each chart that has one, in a position that moves on from chart to chart."""
    for number, chart in enumerate(charts()):
        try:
            line = make(chart, 1 + number % 9)
        except VampError:  # another test counts refusals
            continue
        yield chart, line


@pytest.mark.parametrize("approach", APPROACHES)
def test_a_target_is_not_heard_before_it_is_reached(approach):
    met = 0
    for chart, line in each(lambda chart, position: approach_targets(chart, approach, position)):
        strong = strong_beats(chart.meter)
        starts = sorted({event.onset_beats for event in chart.events} | {
            note.onset_beats for note in line.notes if note.onset_beats % chart.bar_beats in strong})
        notes = {note.onset_beats: note for note in line.notes}
        for start, goal in pairwise(starts):
            if start not in notes or goal not in notes:
                continue
            between = [note.pitch.midi for onset, note in notes.items() if start < onset < goal]
            met += bool(between)
            assert notes[goal].pitch.midi not in between, (str(chart), goal)
    assert met > 100


def test_where_there_is_no_chord_no_target_is_approached():
    for key in KEYS:
        chart = Chart.parse("| Bb7 | N.C. | Eb7 / N.C. / |").transpose(key)
        sounding = [note.onset_beats for note in approach_targets(chart, "both", 5, passes=2).notes]
        assert not [onset for onset in sounding if 4 <= onset % 12 < 8 or onset % 12 >= 10]
        assert len(sounding) == 2 * (8 + 4)


def test_vibrato_rests_on_the_first_three_fingers():
    every = little = 0
    for _, line in each(lambda chart, position: finger(held_vibrato(chart, "2", "3", position))):
        every += len(line.notes)
        little += sum(note.finger == 4 for note in line.notes)
        assert all(note.fret for note in line.notes)
    assert every > 150
    assert little / every < 0.1


def test_a_note_with_vibrato_takes_a_stronger_finger_where_it_can():
    """The lowest place of the hand would take Eb4, string 2 fret 4, with the little finger."""
    chart, pitch = Chart.parse("| Cm |"), Pitch.parse("Eb4")
    plain = finger(Line((Note(pitch, Fraction(0), Fraction(1)),), chart), position="free").notes[0]
    shaken = (Mark("vibrato", Fraction(40)),)
    sung = finger(Line((Note(pitch, Fraction(0), Fraction(1), marks=shaken),), chart), position="free").notes[0]
    assert (plain.string, plain.fret, plain.finger) == (2, 4, 4)
    assert (sung.string, sung.fret, sung.finger) == (2, 4, 3)


def test_guide_tones_in_twos_lie_on_neighbouring_strings():
    pairs = 0
    for _, line in each(lambda chart, position: finger(guide_tone_line(chart, position, voices=2))):
        for low, high in zip(line.notes[::2], line.notes[1::2], strict=True):
            assert low.string - high.string == 1
            assert abs(low.fret - high.fret) <= 3
            pairs += 1
    assert pairs > 100


def test_two_voices_keep_their_strings():
    line = finger(guide_tone_line("| Dm7 | G7 | Cmaj7 |", 5, voices=2))
    assert len({(note.string, index % 2) for index, note in enumerate(line.notes)}) == 2


@pytest.mark.parametrize(("frets", "fingers"), [
    ((5, 7, 9), (1, 2, 4)), ((5, 6, 8), (1, 2, 4)), ((5, 7, 8), (1, 3, 4)), ((5, 6, 7), (1, 2, 3))])
def test_three_notes_a_string(frets, fingers):
    shape = [Target(6, fret, "1") for fret in frets]
    assert tuple(three_a_string(shape)[6, fret] for fret in frets) == fingers


@pytest.mark.parametrize("kind", ["major", "dorian", "natural minor", "mixolydian", "phrygian"])
@pytest.mark.parametrize("tonic", ["F", "A", "C#", "Eb"])
def test_a_run_takes_each_place_with_one_finger(tonic, kind):
    line = finger(sequence(f"{tonic} {kind}", "groups of 4", 4, a_string=3, way="up and down"))
    fingers: dict[tuple[int, int], set[int]] = {}
    for note in line.notes:
        fingers.setdefault((note.string, note.fret), set()).add(note.finger)
    assert all(len(used) == 1 for used in fingers.values())
    for string in range(1, 7):
        on = sorted((fret, *used) for (other, fret), used in fingers.items() if other == string)
        assert tuple(used for _, used in on) in ((1, 2, 4), (1, 3, 4))
        assert (on[1][0] - on[0][0] == 2 and on[2][0] - on[1][0] == 1) == (on[1][1] == 3)


@pytest.mark.parametrize("low", [2, 3, 5, 7])
@pytest.mark.parametrize("tonic", ["A", "C", "F#"])
def test_the_hand_stays_until_the_slide(tonic, low):
    """Fret p + n belongs to finger n + 1; index and little finger reach one fret further."""
    own = {-1: 1, 0: 1, 1: 2, 2: 3, 3: 4, 4: 4}
    slid = 0
    for join in joins(f"{tonic} minor", low, low + 4):
        notes = join.line.notes
        at = next((index for index, note in enumerate(notes) if note.marked("slide")), None)
        if at is None:
            continue
        slid += 1
        assert all(note.finger == own[note.fret - low] for note in notes[:at])
        assert notes[at].finger == notes[at - 1].finger
        assert all(note.fret >= low + 3 for note in notes[at:])
    assert slid


def index_frets(line: Line) -> list[tuple[Fraction, int]]:
    return [(note.onset_beats, note.fret - note.finger + 1) for note in line.notes if note.finger]


def test_a_free_hand_moves_in_its_stride():
    """No leap of more than an octave's half, seven frets, between notes that follow each other in eighths."""
    moves = leaps = 0
    for chart in charts()[:12]:
        line = finger(continuous_arpeggio(chart, 8, None), position="free")
        for (_, one), (_, two) in pairwise(index_frets(line)):
            moves += one != two
            leaps += abs(one - two) > 7
    assert moves > 100
    assert leaps <= 0.02 * moves


def test_a_free_hand_moves_with_the_bars_and_chords():
    """Of eight notes in a bar one begins it: by chance an eighth of the shifts would fall there, more than twice as
    many are wanted."""
    shifts = with_the_music = 0
    for chart in charts()[:12]:
        line = finger(continuous_arpeggio(chart, 8, None), position="free")
        begins = {event.onset_beats for event in chart.events} | set(range(0, int(chart.length_beats), 4))
        for (_, one), (onset, two) in pairwise(index_frets(line)):
            shifts += one != two
            with_the_music += one != two and onset in begins
    assert shifts > 100
    assert with_the_music > 0.3 * shifts


def test_gm7_with_a_free_hand():
    """It went from an open string to fret 18."""
    line = finger(continuous_arpeggio("| Gm7 | C7 | Fmaj7 | Bbmaj7 |", 8, None), position="free")
    for one, two in pairwise(line.notes):
        assert abs(one.fret - two.fret) <= 9, (one, two)


def test_first_position_has_its_open_strings():
    line = finger(continuous_arpeggio("| Em7 | Am7 |", 8, 1, passes=2), position=1)
    opens = {note.pitch.midi for note in line.notes if note.fret == 0}
    assert opens <= {40, 45, 50, 55, 59, 64}  # E2 A2 D3 G3 B3 E4, MIDI 1.0
    assert len(opens) >= 5
    assert max(note.fret for note in line.notes) <= 5
    assert {place.fret for place in in_position("E minor pentatonic", 1, stretch=False)} == {0, 2, 3}


# -- one note again ----------------------------------------------------------------------------------------------------
def test_a_note_struck_again_stays_where_it_was():
    """On its string and under its finger, whatever comes before and after (common practice, no source).

    Over diminished chords in every key: there a finger that would jump made the note change its string.
    """
    again = 0
    for key in KEYS:
        chart = Chart.parse("| Am7 | E°7 | D9 | F#°7 | Am7 | E°7 |").transpose(key)
        for level, style in (("intermediate", "blues"), ("advanced", "groove"), ("beginner", "rock")):
            for position in (3, 5, 8):
                line = finger(phrases_over(chart, style, level, position).line)
                for one, two in pairwise(line.notes):
                    if one.pitch.midi == two.pitch.midi:
                        again += 1
                        assert (one.string, one.finger) == (two.string, two.finger), (str(chart), two)
    assert again > 150


@pytest.mark.parametrize("words", ["q E4 G4 r B3 B3 D4 B3", "q C4 Bb3 r Bb3 C#4 E4 E4", "q G4 E4 E4 r E4 C#4 C#4"])
def test_a_note_struck_again_stays_through_a_rest(words):
    for position in range(2, 10):
        try:
            notes = finger(Line.parse(words, chart="| E°7 | % |"), position=position).notes
        except VampError:
            continue
        for one, two in pairwise(notes):
            assert one.pitch != two.pitch or one.place == two.place
