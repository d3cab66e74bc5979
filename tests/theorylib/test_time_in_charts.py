"""The chord at a beat, the bars as they sound and the events of a bar: one definition each, counted here by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from theorylib import Chart
from theorylib.changes.form import shaped, unrolled
from theorylib.playing.lines import line_of
from theorylib.practice.outline import outline
from theorylib.practice.phrases import motif
from theorylib.practice.through import doubled

CHART = Chart.parse("key: C major\n|: Am7 | % | D7 / / G7 :| Cmaj7 Am7 |")
# The form written out by hand: its bars, repeated once, and the beats on which each chord begins.
SOUNDED = ["Am7", "Am7", "D7 / / G7"] * 2 + ["Cmaj7 Am7"]
ONSETS = [(0, "Am7"), (4, "Am7"), (8, "D7"), (11, "G7"), (12, "Am7"), (16, "Am7"), (20, "D7"), (23, "G7"),
          (24, "Cmaj7"), (26, "Am7")]
FORM_BEATS = 28


def by_hand(beat: Fraction) -> str:
    """The last chord that begins at or before the beat, the form played over and over."""
    inside = beat - FORM_BEATS * (beat // FORM_BEATS)
    return [chord for onset, chord in ONSETS if onset <= inside][-1]


@pytest.mark.parametrize("quarters", range(0, 4 * 3 * FORM_BEATS, 3))
def test_the_chord_at_a_beat(quarters: int) -> None:
    beat = Fraction(quarters, 4)
    assert str(CHART.chord_at(beat)) == by_hand(beat)
    event = CHART.event_at(beat)
    assert event is not None
    assert event.onset_beats <= beat % FORM_BEATS < event.onset_beats + event.duration_beats


def test_an_empty_chart_has_no_chord_at_a_beat() -> None:
    assert Chart(()).chord_at(Fraction(0)) is None
    assert line_of("A2 C3", Chart(())).problems() == ()


@pytest.mark.parametrize("bar", range(21))
def test_the_events_of_a_bar(bar: int) -> None:
    here = [chord for onset, chord in ONSETS if onset // 4 == bar % 7]
    assert [str(event.chord) for event in CHART.events_in(bar)] == here
    assert [str(chord) for chord in outline(CHART, bars=21).chords_in(bar + 1)] == here


def test_the_bars_as_they_sound() -> None:
    def words(chart: Chart) -> list[str]:
        return [" ".join(map(str, bar.cells)) for bar in chart.bars]

    assert CHART.form_bars == len(SOUNDED)
    assert [" ".join(map(str, bar.cells)) for bar in CHART.sounded] == SOUNDED
    assert words(unrolled(CHART)) == SOUNDED
    assert words(doubled(CHART)) == [word for bar in SOUNDED for word in (bar, "%")]
    assert [" ".join(map(str, bar.cells)) for bar in shaped(CHART).sounded] == SOUNDED


def test_keys_go_with_the_bars_as_they_sound() -> None:
    chart = Chart.parse("key: C major\n|: C | % :|\nkey: E minor\n| Em | % |")
    assert [str(bar.key) for bar in chart.sounded] == ["C major"] * 4 + ["E minor"] * 2
    assert [str(key) for key in doubled(chart).stated_keys] == ["C major"] * 8 + ["E minor"] * 4


def test_what_is_played_over_the_form_again_meets_the_same_chords() -> None:
    """A line over three passes and a drill of two: every degree is that of the chord counted by hand."""
    line = motif(CHART, passes=2)
    assert line.problems() == ()
    for note in line.notes:
        tones = {tone.name.pitch_class: tone.degree for tone in Chart.parse(f"| {by_hand(note.onset_beats)} |"
                                                                            ).events[0].chord.tones}
        assert tones[note.pitch.midi % 12] == note.degree
