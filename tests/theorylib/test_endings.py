"""Where lines come to rest: on what chord, on what beat, and that nothing of a form is left without music.

Chord tones are music21's (BSD-3); homes and where an ending belongs are common practice, no source, typed by hand.
"""

from __future__ import annotations

import os
from fractions import Fraction
from functools import lru_cache
from itertools import product

import pytest
from support.changes import forms
from support.music21_chords import pitch_classes

from theorylib import Chart, Chord, Line, Scale, continuous_arpeggio, finger
from theorylib.levels import LEVELS
from theorylib.practice.approaches import approach_targets
from theorylib.practice.idioms import STYLES
from theorylib.practice.landings import landed, steady_scale
from theorylib.practice.phrasing import Chorus, phrases_over
from theorylib.practice.sequences import sequence
from theorylib.practice.subdivisions import subdivision_ladder
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


# -- where phrases come to rest ----------------------------------------------------------------------------------------
ODD = ("| Fm7 | Bb9 | Ebmaj7 | Fm7 | C7#9 |", "| Cm7 | Fm7 | Cm7 | Ab7 | Fm7 | Dm7b5 | G7#9 |",
       "key: Eb major\n| Fm7 | % | Bb9 | % | Ebmaj7 | % | C7#9 | % |", "| C7 | F7 | C7 | F7 | C7 | G7 | F7 | C7 | G7 |",
       "| Dm7 | G7 | Cmaj7 | A7 |", "| F | C | G | Am |", "| Am | F | C | Am | Am |", "| Dm7 G7 | Cmaj7 | A7 |")
METERS = ("4/4", "3/4", "6/8", "12/8", "5/4", "7/8")


@lru_cache(maxsize=1)
def phrased() -> list[tuple[Chart, Chorus]]:
    """Forms of any length in all keys, styles, levels and meters by turns, each with its chorus."""
    found: list[tuple[Chart, Chorus]] = []
    for number, (changes, key) in enumerate(product(ODD, range(12))):
        for meter in METERS if EXPLORE else (METERS[(key + number // 12) % len(METERS)],):
            chart = Chart.parse(changes, meter=meter).transpose(key)
            style, level = STYLES[len(found) % len(STYLES)], LEVELS[len(found) // len(STYLES) % 3]
            found.append((chart, phrases_over(chart, style, level, 1 + number % 10)))
    return found


def test_every_chord_of_a_bar_or_more_has_its_music() -> None:
    """The last dominant of an odd form as well (common practice, no source)."""
    tried = 0
    for chart, chorus in phrased():
        runs: list[list] = []
        for event in chart.events:
            if runs and runs[-1][0] == event.chord:
                runs[-1][2] += event.duration_beats
            else:
                runs.append([event.chord, event.onset_beats, event.duration_beats])
        for turn in range(int(chorus.line.length_beats // chart.length_beats)):
            for chord, onset, length in runs:
                begins = onset + turn * chart.length_beats
                inside = [note for note in chorus.line.notes if begins <= note.onset_beats < begins + length]
                tried += 1
                assert inside or length < chart.bar_beats, (str(chart), str(chord), begins)
    assert tried > 400


def test_a_call_and_an_answer_end_on_a_beat_and_hold_it() -> None:
    """The beats that a foot taps: dotted ones in 6/8, in 7/8 two twos and a three (common practice, no source)."""
    strong = tried = 0
    for chart, chorus in phrased():
        beats = {"6/8": (0, 3), "12/8": (0, 3, 6, 9), "7/8": (0, 2, 4)}.get(str(chart.meter))
        onsets = {Fraction(beat, 2) for beat in beats} if beats else set(range(chart.meter.beats))
        for one in chorus.statements:
            span = (one.first - 1) * chart.bar_beats, one.last * chart.bar_beats
            notes = [note for note in chorus.line.notes if span[0] <= note.onset_beats < span[1]]
            if not notes:
                continue
            tried += 1
            last = notes[-1]
            at = last.onset_beats % chart.bar_beats
            assert at in onsets, (str(chart), one.idiom.name, at)
            assert last.duration_beats >= 1, (str(chart), one.idiom.name)
            strong += at in (0, chart.bar_beats / 2)
    assert tried > 300
    assert strong > 0.6 * tried


@pytest.mark.parametrize("up", range(12))
def test_bars_after_the_home_chord_lead_back(up: int) -> None:
    """Home on the third chord of four: its note is held, the bars after it ask and lie over the last chord."""
    chart = Chart.parse(ODD[2]).transpose(up)
    chorus = phrases_over(chart, "groove", "advanced", 5)
    back = [one for one in chorus.statements if one.leads_back]
    assert [(one.first, one.last, one.idiom.role) for one in back] == [(7, 8, "call")]
    home = [note for note in chorus.line.notes if note.onset_beats < 24][-1]
    assert (home.pitch.midi - 3 - up) % 12 in (0, 4)
    assert home.duration_beats >= 2
    asked = Chart.parse("| Cm7 | Ab7 | Fm7 | Dm7b5 | G7#9 |").transpose(up)
    last = phrases_over(asked, "groove", "advanced", 5).statements[-1]
    assert (last.first, last.last, last.idiom.role) == (5, 5, "call")


# -- where drills come to rest -----------------------------------------------------------------------------------------
def test_a_drill_lands_on_a_stable_tone_of_the_chord_that_comes() -> None:
    """On a beat, held to the end of its bar, on root, 3rd or 5th (common practice, no source)."""
    tried = 0
    for number, meter in enumerate(METERS):
        for key in range(12):
            chart = Chart.parse("| Am7 | D9 | Fmaj7 | E7 |", meter=meter).transpose(key)
            scale = Scale(chart.events[0].chord.root, "minor pentatonic")
            position = 1 + (key + number) % 10
            for line in (continuous_arpeggio(chart, 8, position), approach_targets(chart, "both", position),
                         sequence(scale, "groups of 4", position, length_beats="1/4", chart=chart),
                         subdivision_ladder(scale, position, chart=chart)):
                done = landed(line)
                last, before = done.notes[-1], line.notes[-1]
                tried += 1
                assert done.notes[:-1] == line.notes
                beats = {"6/8": (0, 3), "12/8": (0, 3, 6, 9), "7/8": (0, 2, 4)}.get(meter)
                onsets = {Fraction(beat, 2) for beat in beats} if beats else set(range(chart.meter.beats))
                assert last.onset_beats % chart.bar_beats in onsets
                assert last.onset_beats - before.end_beats < 2
                assert (last.end_beats % chart.bar_beats, last.duration_beats >= 1) == (0, True)
                chord = chart.chord_at(last.onset_beats)
                above = (last.pitch.midi - chord.root.pitch_class) % 12
                assert above in (0, 3, 4, 7), (str(chart), str(last.pitch))
                assert abs(last.pitch.midi - before.pitch.midi) <= 7
                assert finger(done).notes[-1].place is not None
    assert tried == 4 * 12 * len(METERS)


def test_what_ends_on_a_beat_and_is_held_lands_already() -> None:
    for words in ("q A3 C4 E4 h A4 over Am7", "h A3 C4 over Am7", "e A3 C4 E4 G4 h A4 over Am7"):
        line = Line.parse(words)
        assert landed(line) is line or landed(line) == line
    assert len(landed("e A3 C4 over Am7").notes) == 3
    assert landed("q. A3 e C4 over Am7").notes[-1].duration_beats == 2
