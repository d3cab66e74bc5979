"""Every drill by name as a function of a key, a tuning and a feel, for the property tests and the gallery test."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from theorylib import Chart, Line, Scale, Tuning, continuous_arpeggio
from theorylib.necks.blues_bends import blues_area
from theorylib.practice.approaches import approach_targets
from theorylib.practice.changes import aim_at_changes
from theorylib.practice.landings import landings, steady_scale
from theorylib.practice.phrases import call_and_answer, motif, play_and_rest
from theorylib.practice.phrasing import phrases_over
from theorylib.practice.sequences import sequence, with_legato, with_strokes
from theorylib.practice.subdivisions import bursts, displaced_accents, moving_rest, subdivision_ladder
from theorylib.practice.superimposed import superimposed_arpeggio
from theorylib.practice.tapping import tapped_arpeggio
from theorylib.practice.through import against_substitute, continuous_scale, guide_tone_line
from theorylib.practice.touch import bend_drill, held_vibrato, slide_drill, with_swell

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
TUNINGS = ("standard", "drop D", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "seven-string")
FEELS = ("straight 8", "swing", "funk")
BLUES = "| C7 | F7 | C7 | % | F7 | % | C7 | % | G7 | F7 | C7 | G7alt |"
MINOR = "| Cm7 | Ab7/C | Dm7b5 | G7alt |"


def chart_in(key: str, feel: str, bars: str = MINOR) -> Chart:
    chart = Chart.parse(bars, feel=feel, tempo="96", key="C minor" if bars == MINOR else "C major")
    return chart.transpose(KEYS.index(key))


Make = Callable[[Chart, Scale, Tuning], Line]
# name: the drill over a chart in the key, the key's minor pentatonic, and the tuning.
DRILLS: dict[str, Make] = {
    "continuous arpeggio": lambda chart, scale, tuning: continuous_arpeggio(chart, tuning=tuning),
    "continuous arpeggio, whole neck": lambda chart, scale, tuning: continuous_arpeggio(
        chart, 6, None, direction="down", start=None, tuning=tuning),
    "continuous scale": lambda chart, scale, tuning: continuous_scale(chart, tuning=tuning),
    "guide-tone line": lambda chart, scale, tuning: guide_tone_line(chart, tuning=tuning),
    "guide tones in twos": lambda chart, scale, tuning: guide_tone_line(chart, None, voices=2, tuning=tuning),
    "targets from below": lambda chart, scale, tuning: approach_targets(chart, "below", tuning=tuning),
    "targets from above": lambda chart, scale, tuning: approach_targets(chart, "above", tuning=tuning),
    "targets from both sides": lambda chart, scale, tuning: approach_targets(chart, "both", tuning=tuning),
    "targets by step": lambda chart, scale, tuning: approach_targets(chart, "scale", tuning=tuning),
    "3rds and 7ths at the changes": lambda chart, scale, tuning: aim_at_changes(chart, tuning=tuning),
    "arpeggio and substitute": lambda chart, scale, tuning: against_substitute(chart, tuning=tuning),
    "superimposed arpeggio": lambda chart, scale, tuning: superimposed_arpeggio(
        chart, f"{scale.names[1]}maj7", tuning=tuning),
    "thirds": lambda chart, scale, tuning: sequence(scale, "thirds", 5, chart=chart, tuning=tuning),
    "groups of 4, three a string": lambda chart, scale, tuning: with_strokes(sequence(
        Scale(scale.tonic, "minor"), "groups of 4", 5, a_string=3, way="up and down", length_beats=Fraction(1, 4),
        chart=chart, tuning=tuning), "economy", Fraction(1, 4)),
    "legato pattern": lambda chart, scale, tuning: with_legato(sequence(
        scale, "1 2 3 2", 7, way="down", length_beats=Fraction(1, 3), chart=chart, tuning=tuning)),
    "two strings": lambda chart, scale, tuning: with_strokes(sequence(
        Scale(scale.tonic, "dorian"), "straight", 3, a_string=6, strings=(1, 2), chart=chart, tuning=tuning)),
    "string skipping": lambda chart, scale, tuning: sequence(
        Scale(scale.tonic, "minor"), "straight", 5, a_string=3, strings=(5, 3, 1), way="up and down", chart=chart,
        tuning=tuning),
    "steady scale": lambda chart, scale, tuning: steady_scale(scale, chart=chart, tuning=tuning),
    "landings": lambda chart, scale, tuning: landings(chart, tuning=tuning),
    "ladder": lambda chart, scale, tuning: subdivision_ladder(scale, chart=chart, tuning=tuning),
    "displaced accents": lambda chart, scale, tuning: displaced_accents(subdivision_ladder(
        scale, 5, (4,), bars=2, chart=chart, tuning=tuning)),
    "moving rest": lambda chart, scale, tuning: moving_rest(subdivision_ladder(
        scale, 5, (4,), bars=2, chart=chart, tuning=tuning)),
    "bursts": lambda chart, scale, tuning: bursts(scale, chart=chart, tuning=tuning),
    "held vibrato": lambda chart, scale, tuning: held_vibrato(chart, "and of 2", tuning=tuning),
    "bends": lambda chart, scale, tuning: bend_drill(chart.events[0].chord, ("1", "9", "5"), 7, tuning=tuning),
    "pre-bends": lambda chart, scale, tuning: bend_drill(
        chart.events[0].chord, ("1", "9", "5"), 9, way="pre-bend and release", tuning=tuning),
    "classic bends": lambda chart, scale, tuning: bend_drill(
        chart.events[0].chord, blues_area(chart.events[0].chord, 7, "advanced", tuning=tuning), tuning=tuning),
    "slides": lambda chart, scale, tuning: slide_drill(Scale(scale.tonic, "minor"), 3, tuning=tuning),
    "legato slides": lambda chart, scale, tuning: slide_drill(
        Scale(scale.tonic, "dorian"), 2, kind="legato slide", tuning=tuning),
    "swell": lambda chart, scale, tuning: with_swell(continuous_arpeggio(chart, tuning=tuning)),
    "tapped arpeggio": lambda chart, scale, tuning: tapped_arpeggio(chart, tuning=tuning),
    "play and rest": lambda chart, scale, tuning: play_and_rest(continuous_scale(chart, tuning=tuning), 1, 1),
    "motif": lambda chart, scale, tuning: motif(chart, tuning=tuning),
    "phrases of a blues": lambda chart, scale, tuning: phrases_over(chart, "blues", "advanced", 5, tuning=tuning).line,
    "phrases in sixteenths": lambda chart, scale, tuning: phrases_over(
        chart, "groove", "advanced", 5, tuning=tuning).line,
    "call and answer": lambda chart, scale, tuning: call_and_answer(chart, tuning=tuning),
}


def made(name: str, key: str, tuning: str, feel: str) -> Line:
    chart = chart_in(key, feel)
    tonic = chart.events[0].chord.root
    assert tonic is not None
    return DRILLS[name](chart, Scale(tonic, "minor pentatonic"), Tuning.parse(tuning))
