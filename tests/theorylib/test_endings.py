"""Where lines come to rest: on what chord, on what beat, and that nothing of a form is left without music.

Chord tones are music21's (BSD-3); homes and where an ending belongs are common practice, no source, typed by hand.
"""

from __future__ import annotations

import os

import pytest
from support.changes import forms
from support.music21_chords import pitch_classes

from theorylib import Chart, Chord, Scale
from theorylib.practice.landings import steady_scale
from theorylib.reading.harmony import harmony
from workbook.kit import shape_position

EXPLORE = bool(os.environ.get("VAMPBOOK_EXPLORE"))


# -- where a scale comes to rest ---------------------------------------------------------------------------------------
def test_a_steady_scale_ends_on_a_tone_of_the_chord_that_sounds() -> None:
    """The tones are music21's (BSD-3), the home of a form what the table of changes says; all forms, in twelve keys.

    A home tonic held over V7 sounds wrong; the bar after it, home again, is where it belongs (common practice, no
    source).
    """
    tried = led_back = 0
    for number, form in enumerate(forms()):
        if (number % 7 or form.chart.form_bars > 16) and not EXPLORE:
            continue
        for semitones in range(12) if EXPLORE else (number % 12,):
            chart = form.chart.transpose(semitones)
            home = harmony(chart).homes[0].scale
            scale = Scale(home.tonic, "minor pentatonic" if home.is_minor else "major pentatonic")
            line = steady_scale(scale, shape_position(home), chart=chart)
            last, before = line.notes[-1], line.notes[-2]
            chord = chart.chord_at(last.onset_beats)
            shape = {name.pitch_class for name in scale.names}
            if chord.root is None or not shape & pitch_classes(chord):
                continue
            tried += 1
            assert last.pitch.midi % 12 in pitch_classes(chord), (form.name, str(last.pitch), str(chord))
            assert last.end_beats == line.length_beats
            assert before.end_beats == last.onset_beats
            assert last.onset_beats % chart.length_beats in {event.onset_beats for event in chart.events} | {
                bar * chart.bar_beats for bar in range(chart.form_bars)}
            led_back += line.length_beats % chart.length_beats == chart.bar_beats and chart.form_bars > 1
    assert tried > 20
    assert led_back > 5


@pytest.mark.parametrize(("changes", "bars_more", "degrees", "chord"), [
    ("| Am7 | D7 | Am7 | E7 |", 1, "1", "Am7"), ("| C | Am | F | G7 |", 1, "1", "C"),
    ("| Am7 | Dm7 | E7 | Am7 |", 0, "1", "Am7"), ("| Dm7 | G7 | Cmaj7 | A7 |", 0, "1 5", "A7"),
    ("| Am7 | E7 Am7 |", 0, "1", "Am7")])
def test_where_a_steady_scale_ends(changes: str, bars_more: int, degrees: str, chord: str) -> None:
    """By hand: the closing bar is the home chord's; a last chord that is home keeps the last note."""
    for up in range(12):
        chart = Chart.parse(changes).transpose(up)
        home = harmony(chart).homes[0].scale
        scale = Scale(home.tonic, "minor pentatonic" if home.is_minor else "major pentatonic")
        line = steady_scale(scale, shape_position(home), chart=chart)
        last = line.notes[-1]
        assert line.length_beats // chart.bar_beats % chart.form_bars == bars_more
        assert last.degree in degrees.split()
        under, wanted = chart.chord_at(last.onset_beats), Chord.parse(chord)
        assert under.suffix == wanted.suffix
        assert under.root.pitch_class == (wanted.root.pitch_class + up) % 12
        assert last.duration_beats == (2 if "E7 Am7" in changes else 4)
