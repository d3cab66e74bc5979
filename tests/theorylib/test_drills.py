"""The continuous arpeggio: its rule as properties, and the worked example of common practice (no source)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from theorylib import Chart, Pitch, Tuning, continuous_arpeggio, tempo_ladder
from theorylib.errors import DrillError
from theorylib.practice.drills import Reach

CHANGES = st.lists(
    st.sampled_from(("Am7", "D7", "Cmaj7", "F#m7b5", "B7b9", "Ebmaj7", "Ab7#9", "Gsus4", "Bdim7", "Cm6", "F/G", "E5")),
    min_size=1, max_size=6,
).map(" | ".join)


def test_worked_example() -> None:
    line = continuous_arpeggio("Am7 | D7", position=5, start="A2", passes=2)
    found = " ".join(str(note.pitch) for note in line.notes)
    assert found.startswith("A2 C3 E3 G3 A3 C4 E4 G4 A4 C5 A4 F#4 D4 C4 A3 F#3 E3 C3 A2 C3")
    assert all(note.duration_beats == Fraction(1, 2) for note in line.notes)


@settings(max_examples=120, deadline=None)
@given(CHANGES, st.integers(1, 12), st.integers(3, 9), st.sampled_from(["up", "down"]))
def test_the_rule_holds(changes: str, per_chord: int, position: int, direction: str) -> None:
    """Recomputed from pitch classes alone: chord tones only, always the nearest ahead, turning only at an edge."""
    chart = Chart.parse(changes)
    line = continuous_arpeggio(chart, per_chord, position, direction=direction)
    reach = Reach.of(line.tuning, position).midis
    assert len(line.notes) == per_chord * len(chart.events)
    way = 1 if direction == "up" else -1
    for one, two in pairwise(line.notes):
        chord = next(event.chord for event in reversed(chart.events) if event.onset_beats <= two.onset_beats)
        pool = [midi for midi in reach if midi % 12 in {tone.name.pitch_class for tone in chord.tones}]
        ahead = [midi for midi in pool if (midi - one.pitch.midi) * way > 0]
        if not ahead:
            way = -way
            ahead = [midi for midi in pool if (midi - one.pitch.midi) * way > 0]
        if ahead:
            assert two.pitch.midi == min(ahead, key=lambda midi: abs(midi - one.pitch.midi))
    assert line.problems() == ()
    assert line.notes[-1].end_beats == chart.length_beats


def test_notes_know_their_degree_and_spelling() -> None:
    line = continuous_arpeggio("E7#9", position=7)
    spelled = {str(note.pitch.name): note.degree for note in line.notes}
    assert spelled.items() <= {"E": "1", "G#": "3", "B": "5", "D": "b7", "F##": "#9"}.items()


@pytest.mark.parametrize(("make", "message"), [
    (lambda: continuous_arpeggio("Am7", start="B2"), "not a note of Am7.*did you mean"),
    (lambda: continuous_arpeggio("Am7", direction="sideways"), "expected up or down"),
    (lambda: continuous_arpeggio("Am7", per_chord=0), "0 is no number of notes a chord; expected 1 to 64"),
    (lambda: continuous_arpeggio("Am7 D7 Am7 D7", per_chord=64), "64 notes over Am7 in a bar of 4 beats are too short"),
    (lambda: continuous_arpeggio("Am7", position=40), "no position 40"),
    (lambda: continuous_arpeggio("A5", position=None, within=("B3", "C4")), "bar 1: no note of A5"),
])
def test_refusals_name_value_place_and_choice(make: object, message: str) -> None:
    with pytest.raises(DrillError, match=message):
        make()  # type: ignore[operator]


def test_range_and_tuning_bound_the_line() -> None:
    line = continuous_arpeggio("Am7 | D7", position=None, within=("A2", "E4"), passes=3)
    assert {note.pitch.midi for note in line.notes} <= set(range(Pitch.parse("A2").midi, Pitch.parse("E4").midi + 1))
    low = continuous_arpeggio("Dm7", position=1, tuning=Tuning.parse("drop D"), passes=4)
    assert min(note.pitch.midi for note in low.notes) < Pitch.parse("E2").midi + 3


def test_tempo_ladder_rises_evenly_to_the_target() -> None:
    assert tempo_ladder(88) == (53, 65, 76, 88)
    assert tempo_ladder(60, 1) == (60,)
    assert all(one < two for one, two in pairwise(tempo_ladder(240, 8)))
